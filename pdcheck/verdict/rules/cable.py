"""Rules on the cable: its current, its voltage, its marker, its resistance."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.cable import CABLE_VDO, IR_DROP, LEGACY, PD_CABLES, loop_limit_ohm
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.facts.voltage import SPR_MAX
from pdcheck.parts.request import NoRequest, request_text
from pdcheck.quantities import format_quantity, over
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rule


@rule(
    "cable-voltage",
    "stop",
    "The contract stays within the cable's voltage",
    CABLE_VDO,
    "More than 20 V needs a cable whose marker says 50 V, 5 A and EPR.",
    scope="supply",
)
def cable_voltage(case: Case, find: Find) -> Iterator[Finding]:
    """Nominal contract voltage against the cable's."""
    nominal, rated = case.contract.voltage_v, case.cable.voltage_v
    # 20 V on a marker covers PPS up to its 21 V [checked: PD R3.2 V1.1, Table 6.41].
    covered = max(rated, SPR_MAX.value) if case.contract.kind == "pps" else rated
    if case.contract.kind != "type-c" and over(nominal, covered):
        yield find("cable", f"a contract of {nominal:g} V over a cable for {rated:g} V", nominal, rated, "V")


@rule(
    "cable-no-pd",
    "warn",
    "The cable passes the CC wire on, without which there is no PD",
    LEGACY,
    "Use a C-to-C cable. From a Type-A port nothing but 5 V can be had, whatever the trigger is set to.",
    scope="supply",
)
def cable_no_pd(case: Case, find: Find) -> Iterator[Finding]:
    """A-to-C cables, and plain wires: 5 V only."""
    if not case.cable.pd and not isinstance(case.rig.trigger.request, NoRequest):
        asked = request_text(case.rig.trigger.request)
        yield find("cable", f"no PD over this cable: the trigger asks for {asked} and stays at 5 V")


@rule(
    "cable-bounds-offer",
    "note",
    "The cable lets the source show all that it has",
    PD_CABLES,
    "A cable with a 5 A e-marker (and EPR for more than 20 V) lets the source offer the rest.",
    scope="supply",
)
def cable_bounds_offer(case: Case, find: Find) -> Iterator[Finding]:
    """Offers that the cable cuts or hides."""
    if case.seen.bounded:
        listed = ", ".join(f"{offer.max_mv / 1000:g} V" for offer in case.seen.bounded)
        text = f"over this cable the source offers no more than {case.cable.current_a:g} A at {listed}"
        yield find("cable", text, None, case.cable.current_a, "A")
    if case.seen.hidden:
        listed = ", ".join(dict.fromkeys(f"{offer.max_mv / 1000:g} V" for offer in case.seen.hidden))
        yield find("cable", f"this cable is not EPR: the source keeps back {listed}")


@rule(
    "cable-marker-missing",
    "note",
    "What the cable may carry is known from its e-marker",
    PD_CABLES,
    "Read its e-marker, or count on 3 A and 20 V.",
    scope="cable",
)
def cable_marker_missing(case: Case, find: Find) -> Iterator[Finding]:
    """What was assumed about the cable."""
    for text in case.cable.assumed:
        yield find("cable", text, None, case.cable.current_a, "A")


@rule(
    "cable-marker-odd",
    "note",
    "The e-marker says what the standard lets it say, and does not contradict itself",
    CABLE_VDO,
    "Count on the lesser reading; a cable that contradicts itself is a poor choice above 3 A.",
    scope="cable",
)
def cable_marker_odd(case: Case, find: Find) -> Iterator[Finding]:
    """Problems of the cable's words or of its description."""
    for text in case.cable.problems:
        yield find("cable", text)


@rule(
    "cable-loop",
    "warn",
    "The cable's loop resistance stays within what its rating allows",
    IR_DROP,
    "Replace the cable: it drops more than the standard lets it, and turns the difference into heat.",
    scope="cable",
)
def cable_loop(case: Case, find: Find) -> Iterator[Finding]:
    """Measured loop resistance against 750 mV at the rated current."""
    loop = case.cable.loop
    rated = case.cable.current_a
    if loop is None or rated <= 0:
        return
    limit = loop_limit_ohm(rated)
    if over(loop.max, limit):
        text = (
            f"its loop resistance {format_quantity(loop.max, 'ohm')} is above the "
            f"{format_quantity(limit, 'ohm')} that a {rated:g} A cable may have"
        )
        yield find("cable", text, loop.max, limit, "ohm")


@rule(
    "cable-loop-assumed",
    "note",
    "The cable's loop resistance is known",
    IR_DROP,
    "Measure it: two voltmeter readings at a known current give (V source - V sink) / I.",
    scope="cable",
)
def cable_loop_assumed(case: Case, find: Find) -> Iterator[Finding]:
    """An unmeasured cable is taken at the standard's limit at worst."""
    loop, assumed = case.cable.loop_ohm()
    if assumed:
        text = (
            f"loop resistance not measured: taken as {format_quantity(loop.typ, 'ohm')}, "
            f"at worst {format_quantity(loop.max, 'ohm')}, the standard's limit"
        )
        yield find("cable", text, loop.typ, loop.max, "ohm", origin=IR_DROP)


@rule(
    "trigger-rating-unknown",
    "note",
    "What the trigger carries is known",
    COMMON_PRACTICE,
    "Look for a rating on the board or its sheet; without one stay at 3 A and feel for heat.",
    scope="supply",
)
def trigger_rating_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """A trigger without a stated current."""
    if case.rig.trigger.rating_a is None and case.contract.outcome != "off":
        yield find("trigger", "no current rating is stated for the trigger: not judged")
