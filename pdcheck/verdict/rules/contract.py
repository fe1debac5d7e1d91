"""Rules on the contract: what the trigger gets, whether the source carries the load, whether the bus stands."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.current import PPS_BEHAVIOUR, PULL_UPS
from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.facts.trade import CURRENT_IN_HAND
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, over, rule

PD_CONTRACT = Origin("PD R3.2 V1.1", "checked")
PHYSICS = Origin("maximum power transfer, any circuits textbook", "physics")


@rule(
    "contract-fallback",
    "warn",
    "The trigger gets what it is set to",
    COMMON_PRACTICE,
    "Set the trigger to a voltage that this source has, or see that everything behind it lives with the fall-back.",
    scope="supply",
)
def contract_fallback(case: Case, find: Find) -> Iterator[Finding]:
    """The trigger fell back to another voltage."""
    if case.contract.outcome == "fallback":
        yield find("trigger", case.contract.reason, case.contract.voltage_v, None, "V")


@rule(
    "contract-off",
    "fail",
    "The trigger gives anything at all",
    COMMON_PRACTICE,
    "Use a source that has the voltage, or set another.",
    scope="supply",
)
def contract_off(case: Case, find: Find) -> Iterator[Finding]:
    """The trigger's output stays off."""
    if case.contract.outcome == "off":
        yield find("trigger", case.contract.reason)


@rule(
    "contract-mismatch",
    "warn",
    "The source has the current that the trigger is set to ask for",
    PD_CONTRACT,
    "Count on what is offered, not on what was asked.",
    scope="supply",
)
def contract_mismatch(case: Case, find: Find) -> Iterator[Finding]:
    """Capability Mismatch: less current on offer than asked for."""
    if case.contract.mismatch and case.contract.outcome != "off":
        text = f"{case.contract.reason}: the request says Capability Mismatch"
        yield find("trigger", text, case.contract.current_a, None, "A")


@rule(
    "typec-current-unknown",
    "note",
    "What the source gives at 5 V without PD is known",
    PULL_UPS,
    "Measure CC at the sink before a contract (about 0.4 V: 500 mA, 0.9 V: 1.5 A, 1.7 V: 3 A) and state typec_current.",
    scope="supply",
)
def typec_current_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """5 V by Type-C from a source that does not say how much."""
    if case.contract.kind == "type-c" and not case.seen.typec_known:
        text = f"nobody says what it gives at 5 V without PD: counted on {case.seen.typec_a:g} A, default USB power"
        yield find("source", text, case.seen.typec_a, None, "A")


@rule(
    "source-current",
    "fail",
    "The source carries the load at the worst corner",
    PD_CONTRACT,
    "Ask for a higher voltage, take less, or use a source with more power. A fixed supply trips or droops beyond it.",
)
def source_current(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case current against what the contract grants."""
    worst, granted = case.worst_current("source"), case.contract.current_a
    if over(worst, granted):
        text = f"{worst:.4g} A at worst from an offer of {granted:g} A at {case.contract.voltage_v:g} V"
        yield find("source", text, worst, granted, "A")


@rule(
    "source-in-hand",
    "warn",
    "20 % of the offered current stays in hand",
    CURRENT_IN_HAND.origin,
    "It works, with little to spare: expect a warm charger, and a trip when anything ages.",
)
def source_in_hand(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case current against 80 % of what is granted."""
    worst, granted = case.worst_current("source"), case.contract.current_a
    limit = granted * (1 - CURRENT_IN_HAND.value)
    if over(worst, limit) and not over(worst, granted):
        text = f"{worst:.4g} A at worst of {granted:g} A leaves {(1 - worst / granted):.0%} in hand, less than 20 %"
        yield find("source", text, worst, limit, "A")


@rule(
    "pps-current-limit",
    "fail",
    "A PPS source does not have to limit its current",
    PPS_BEHAVIOUR,
    "Raise the current asked for, or the voltage: in its limit the source lets the bus sag until the load lets go.",
)
def pps_current_limit(case: Case, find: Find) -> Iterator[Finding]:
    """The source holds the current and the voltage falls."""
    fallen_v = case.held_v()
    if fallen_v is not None:
        text = f"the source limits at {case.contract.current_a:g} A and lets its voltage fall to {fallen_v:.4g} V"
        yield find("source", text, fallen_v, case.source_v.typ, "V")


@rule(
    "bus-collapse",
    "fail",
    "The bus stands: the resistances pass on the power that the loads hold",
    PHYSICS,
    "Less resistance (shorter, thicker, better contacts), a higher voltage, or less power.",
)
def bus_collapse(case: Case, find: Find) -> Iterator[Finding]:
    """No operating point at some corner."""
    collapse = case.collapse
    if collapse is None:
        return
    where = {"bus": "the bus", "source": "the source"}.get(collapse.element, collapse.element)
    text = (
        f"{where} collapses: {collapse.wanted_w:.4g} W is asked of it where {collapse.greatest_w:.4g} W can pass; "
        f"the loads together can have {collapse.load_w:.4g} W"
    )
    yield find(collapse.element, text, collapse.wanted_w, collapse.greatest_w, "W")


@rule(
    "start-latch",
    "fail",
    "Every converter gets past its own start on a source that limits its current",
    PHYSICS,
    "Let the converter start at a higher voltage, ask for more current, or switch the load on afterwards.",
)
def start_latch(case: Case, find: Find) -> Iterator[Finding]:
    """A constant-power load that would hold a limited source down while starting."""
    for latch in case.latches():
        text = (
            f"starting, it sticks at {latch.input_v:.4g} V: it wants {latch.wanted_a:.4g} A there "
            f"and can have {latch.available_a:.4g} A"
        )
        yield find(latch.branch, text, latch.wanted_a, latch.available_a, "A")


RULES = (
    contract_off,
    contract_fallback,
    contract_mismatch,
    typec_current_unknown,
    source_current,
    source_in_hand,
    pps_current_limit,
    bus_collapse,
    start_latch,
)
