"""All rules on a rig, causes before what follows from them: a cable bounds the offer, the offer the load."""

from __future__ import annotations

from pdcheck.verdict import rules_cable, rules_contract, rules_converter, rules_load, rules_source
from pdcheck.verdict.finding import Rule

RIG_RULES: tuple[Rule, ...] = (
    *rules_cable.RULES,
    *rules_contract.RULES,
    *rules_converter.RULES,
    *rules_load.RULES,
    *rules_source.RULES,
)
