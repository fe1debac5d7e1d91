"""Rules on the cable: its current, its voltage, its marker, its resistance."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.cable import (
    CABLE_VDO,
    EPR_MARKER_CURRENT,
    EPR_MARKER_VOLTAGE,
    IR_DROP,
    LEGACY,
    LEGACY_VOLTAGE,
    MARKED_CURRENT,
    PD_CABLES,
    UNMARKED_CURRENT,
    UNMARKED_VOLTAGE,
    loop_limit_ohm,
)
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.facts.voltage import SPR_MAX
from pdcheck.parts.request import NoRequest, request_text
from pdcheck.quantities import format_quantity, over
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rig_rule


@rig_rule(
    "stop",
    CABLE_VDO,
    f"More than {UNMARKED_VOLTAGE.value:g} V needs a cable whose e-marker says {EPR_MARKER_VOLTAGE.value:g} V, "
    f"{EPR_MARKER_CURRENT.value:g} A and EPR.",
    scope="supply",
)
def cable_voltage(case: Case, find: Find) -> Iterator[Finding]:
    """Too much voltage for the cable."""
    nominal, rated = case.contract.voltage_v, case.cable.voltage_v
    # 20 V on a marker covers PPS up to its 21 V [checked: PD R3.2 V1.1, Table 6.41].
    covered = max(rated, SPR_MAX.value) if case.contract.kind == "pps" else rated
    if case.contract.kind != "type-c" and over(nominal, covered):
        yield find("cable", f"gets {nominal:g} V and is rated for {rated:g} V", nominal, rated, "V")


@rig_rule(
    "warn",
    LEGACY,
    f"Use a C-to-C cable. A Type-A port gives nothing but {LEGACY_VOLTAGE.value:g} V, whatever the trigger is set to.",
    scope="supply",
)
def cable_no_pd(case: Case, find: Find) -> Iterator[Finding]:
    """A cable without the CC wire: no PD."""
    if not case.cable.pd and not isinstance(case.rig.trigger.request, NoRequest):
        asked = request_text(case.rig.trigger.request)
        yield find(
            "cable",
            f"PD does not work with this cable: the trigger asks for {asked} and stays at {LEGACY_VOLTAGE.value:g} V",
        )


@rig_rule(
    "note",
    PD_CABLES,
    f"With a {MARKED_CURRENT.value:g} A e-marker in the cable (EPR for more than {UNMARKED_VOLTAGE.value:g} V) the "
    "charger offers the rest.",
    scope="supply",
)
def cable_bounds_offer(case: Case, find: Find) -> Iterator[Finding]:
    """A cable that holds back some of the charger's offers."""
    if case.seen.bounded:
        listed = ", ".join(f"{offer.max_mv / 1000:g} V" for offer in case.seen.bounded)
        text = f"with this cable the charger offers no more than {case.cable.current_a:g} A at {listed}"
        yield find("cable", text, None, case.cable.current_a, "A")
    if case.seen.hidden:
        listed = ", ".join(dict.fromkeys(f"{offer.max_mv / 1000:g} V" for offer in case.seen.hidden))
        yield find("cable", f"this cable is not EPR: the charger does not offer {listed}")


@rig_rule(
    "note",
    PD_CABLES,
    f"Read its e-marker, or count on {UNMARKED_CURRENT.value:g} A and {UNMARKED_VOLTAGE.value:g} V.",
    scope="cable",
)
def cable_marker_missing(case: Case, find: Find) -> Iterator[Finding]:
    """A cable whose e-marker nobody has read."""
    for text in case.cable.assumed:
        yield find("cable", text, None, case.cable.current_a, "A")


@rig_rule(
    "note",
    CABLE_VDO,
    "Count on the lesser reading; a cable that contradicts itself is a poor choice above "
    f"{UNMARKED_CURRENT.value:g} A.",
    scope="cable",
)
def cable_marker_odd(case: Case, find: Find) -> Iterator[Finding]:
    """An e-marker that contradicts itself or the standard."""
    for text in case.cable.problems:
        yield find("cable", text)


@rig_rule(
    "warn",
    IR_DROP,
    "Replace the cable: it drops more than the standard lets it, and turns the difference into heat.",
    scope="cable",
)
def cable_loop(case: Case, find: Find) -> Iterator[Finding]:
    """Too much resistance in the cable."""
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


@rig_rule(
    "note",
    IR_DROP,
    "Measure it: two voltmeter readings at a known current give (V source - V sink) / I.",
    scope="cable",
)
def cable_loop_assumed(case: Case, find: Find) -> Iterator[Finding]:
    """A cable whose resistance nobody has measured."""
    loop, assumed = case.cable.loop_ohm()
    if assumed:
        text = (
            f"resistance not measured: {format_quantity(loop.typ, 'ohm')} assumed, in the worst case "
            f"{format_quantity(loop.max, 'ohm')}, the most that the standard allows"
        )
        yield find("cable", text, loop.typ, loop.max, "ohm", origin=IR_DROP)


@rig_rule(
    "note",
    COMMON_PRACTICE,
    f"Look for a rating on the board or its sheet; without one stay at {UNMARKED_CURRENT.value:g} A and feel for heat.",
    scope="supply",
)
def trigger_rating_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """A trigger whose current rating is not known."""
    if case.rig.trigger.rating_a is None and case.contract.outcome != "off":
        yield find("trigger", "its current rating is not stated: not judged")
