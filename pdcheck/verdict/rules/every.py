"""All rules on a rig, causes before what follows from them: a cable bounds the offer, the offer the load."""

from __future__ import annotations

from pdcheck.verdict.finding import Rule
from pdcheck.verdict.rules import cable as rules_cable
from pdcheck.verdict.rules import contract as rules_contract
from pdcheck.verdict.rules import converter as rules_converter
from pdcheck.verdict.rules import load as rules_load
from pdcheck.verdict.rules import source as rules_source

RIG_RULES: tuple[Rule, ...] = (
    *rules_cable.RULES,
    *rules_contract.RULES,
    *rules_converter.RULES,
    *rules_load.RULES,
    *rules_source.RULES,
)
