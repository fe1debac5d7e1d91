"""Rules on the contract: what the trigger gets, whether the source carries the load, whether the bus stands."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.current import ADVERTISEMENTS, PPS_BEHAVIOUR, PULL_UPS
from pdcheck.facts.origin import COMMON_PRACTICE, PD_TEXT, Origin
from pdcheck.quantities import format_quantity, over
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rig_rule

CC_HINT = ", ".join(
    f"{each.cc_v.require_min():g} to {each.cc_v.require_max():g} V: {each.current_a:g} A" for each in ADVERTISEMENTS
)
PHYSICS = Origin("maximum power transfer, any circuits textbook", "physics")


@rig_rule(
    "warn",
    COMMON_PRACTICE,
    "Set the trigger to a voltage that this charger has, or check that everything behind it works on the fall-back.",
    scope="supply",
)
def contract_fallback(case: Case, find: Find) -> Iterator[Finding]:
    """The charger does not have the voltage that is set."""
    if case.contract.outcome == "fallback":
        yield find("trigger", case.contract.reason, case.contract.voltage_v, None, "V")


@rig_rule("fail", COMMON_PRACTICE, "Use a charger that has the voltage, or set another.", scope="supply")
def contract_off(case: Case, find: Find) -> Iterator[Finding]:
    """The trigger gives nothing."""
    if case.contract.outcome == "off":
        yield find("trigger", case.contract.reason)


@rig_rule("warn", PD_TEXT, "Count on what is offered, not on what was asked.", scope="supply")
def contract_mismatch(case: Case, find: Find) -> Iterator[Finding]:
    """The charger has less current than the trigger asks for."""
    if case.contract.mismatch and case.contract.outcome != "off":
        text = f"{case.contract.reason}: the request says Capability Mismatch"
        yield find("trigger", text, case.contract.current_a, None, "A")


@rig_rule(
    "note", PULL_UPS, f"Measure CC at the sink before a contract ({CC_HINT}) and state typec_current.", scope="supply"
)
def typec_current_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """What the charger gives without PD is not known."""
    if case.contract.kind == "type-c" and not case.seen.typec_known:
        text = f"what it gives at 5 V without PD is not stated: {case.seen.typec_a:g} A assumed, default USB power"
        yield find("source", text, case.seen.typec_a, None, "A")


@rig_rule(
    "fail", PPS_BEHAVIOUR, "Ask for more current, or a higher voltage: at its limit the charger lets the voltage fall."
)
def pps_current_limit(case: Case, find: Find) -> Iterator[Finding]:
    """A PPS charger that has to limit its current."""
    fallen_v = case.held_v()
    if fallen_v is not None:
        held, asked = case.contract.holds_a or 0.0, case.contract.current_a
        text = f"set to {asked:g} A it may limit at {held:g} A already, and its voltage then falls to {fallen_v:.3g} V"
        yield find("source", text, fallen_v, case.source_v.typ, "V")


@rig_rule("fail", PHYSICS, "Use shorter or thicker wires and better contacts, a higher voltage, or less power.")
def bus_collapse(case: Case, find: Find) -> Iterator[Finding]:
    """The voltage collapses."""
    collapse = case.collapse
    if collapse is None:
        return
    passing = {"bus": "cable and wires can pass", "source": "the charger can give"}.get(
        collapse.element, f"the {collapse.element.rpartition('/')[2]} can pass"
    )
    wanted = format_quantity(collapse.wanted_w, "W", 3, beside=collapse.greatest_w)
    passed = format_quantity(collapse.greatest_w, "W", 3, beside=collapse.wanted_w)
    had = format_quantity(collapse.load_w, "W", 3, beside=collapse.wanted_w)
    text = (
        f"the loads want {wanted}, but {passing} only {passed}: the voltage collapses; "
        f"all loads together can have {had}"
        if over(collapse.wanted_w, collapse.greatest_w)
        else f"the loads want {wanted} and can have only {had} in all: the voltage collapses"
    )
    yield find(collapse.element, text, collapse.wanted_w, collapse.greatest_w, "W")


@rig_rule(
    "fail",
    PHYSICS,
    "Use a converter that starts at a higher voltage, ask for more current, or switch the load on later.",
)
def start_latch(case: Case, find: Find) -> Iterator[Finding]:
    """A converter stuck while starting."""
    for latch in case.latches():
        text = (
            f"may never start: on the way up, at {format_quantity(latch.input_v, 'V', 3)}, it wants "
            f"{format_quantity(latch.wanted_a, 'A', 3, beside=latch.available_a)} and only "
            f"{format_quantity(latch.available_a, 'A', 3, beside=latch.wanted_a)} is available"
        )
        yield find(latch.branch, text, latch.wanted_a, latch.available_a, "A")
