"""All rules on a rig, in the order in which a person would want to hear of them."""

from __future__ import annotations

from pdcheck.verdict import rules_cable, rules_contract, rules_converter, rules_load, rules_source
from pdcheck.verdict.finding import Rule

RIG_RULES: tuple[Rule, ...] = (
    *rules_contract.RULES,
    *rules_cable.RULES,
    *rules_converter.RULES,
    *rules_load.RULES,
    *rules_source.RULES,
)
