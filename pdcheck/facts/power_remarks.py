"""What is missing from a list of offers or odd about it: one small check each, over the power rules of a PDP."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from pdcheck.facts import power_rules as rules
from pdcheck.facts.cable import EPR_MARKER_CURRENT, EPR_MARKER_VOLTAGE, PD_CABLES, UNMARKED_CURRENT
from pdcheck.facts.capabilities import (
    EPR_POWER_MAX,
    FIRST_OBJECT_VOLTAGE,
    SPR_AVS_MOST,
    SPR_AVS_SPLIT,
    SPR_POWER_MAX,
    UNREGULATED,
)
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.origin import Origin
from pdcheck.facts.voltage import EPR_MAX, NEW_TOLERANCE, SPR_FIXED_MAX
from pdcheck.named import NamedTuple

_OPTIONAL = f"{rules.OPTIONAL_VOLTAGE_MAX.value:g} V of optional offers"
_BAND = f"{100 * NEW_TOLERANCE.value:g} %"
_A_BIT = 1e-9  # less than any step of an object, more than the last bits of a float
_PPS_TOP_SLACK_V = 0.05  # half a step of the object's voltage
_TWELVE_VOLTS = (11.4, 12.6)


class PowerRuleRemark(NamedTuple):
    """One thing that is missing from a list of offers or odd about it.

    ``code`` is a fixed word for programs, ``level_hint`` is ``warn`` where the list breaks the rules of its own PDP and
    ``note`` where an older design, an optional offer, shared power or a cable explains it.
    """

    code: str
    text: str
    origin: Origin
    level_hint: str


class Case(NamedTuple):
    """A list of offers and what it is held against.

    ``pdp_w`` [W] is what the list shows, None where it fits no PDP; ``judged_w`` [W] the PDP whose rules apply;
    ``most_w`` [W] the greatest that would show the same. ``wide`` is True for a 5 A cable, False for 3 A, None unknown.
    """

    offers: Sequence[rules.OfferedSupply]
    pdp_w: float | None
    judged_w: float | None
    most_w: float | None
    wide: bool | None
    printed_w: float | None

    @property
    def has_epr(self) -> bool:
        """Whether any offer can be had in EPR mode only, so that the EPR part of the list is known."""
        return any(offer.is_epr for offer in self.offers)

    @property
    def cable_a(self) -> float:
        """The greatest current that the list can be blamed for not showing [A]."""
        return CONTRACT_MAX.value if self.wide else UNMARKED_CURRENT.value

    def of_kind(self, *kinds: str) -> list[rules.OfferedSupply]:
        """The offers of ``kinds`` that offer anything, in their order."""
        return [o for o in self.offers if o.kind in kinds and (o.largest_current_a() or o.power_w)]

    def fixed_at(self, nominal_v: float) -> rules.OfferedSupply | None:
        """The fixed offer that serves as ``nominal_v`` [V], the exact one before one within 5 %."""
        near = [o for o in self.of_kind("fixed") if rules.normative_near(o.max_v) == nominal_v]
        return min(near, key=lambda o: abs(o.max_v - nominal_v), default=None)


Remarks = Iterator[PowerRuleRemark]


def _n(value: float) -> str:
    return f"{round(value, 3):g}"


def _first_is_5v(case: Case) -> Remarks:
    if not case.offers:
        yield PowerRuleRemark("no-offer", "nothing is offered", rules.FIXED_RULES, "warn")
        return
    first = case.offers[0]
    if first.kind != "fixed" or rules.normative_near(first.max_v) != FIRST_OBJECT_VOLTAGE.value:
        due = f"{_n(FIRST_OBJECT_VOLTAGE.value)} V fixed"
        text = f"the first offer is {first.kind} at {_n(first.max_v)} V, where {due} must be"
        yield PowerRuleRemark("first-not-5v", text, FIRST_OBJECT_VOLTAGE.origin, "warn")
    span = rules.strongest_span(case.offers)
    if span is None or span[2] < rules.LEAST_PDP.value:
        text = f"less than {_n(rules.LEAST_PDP.value)} W in all: the source has nothing to give at the moment"
        yield PowerRuleRemark("no-power", text, rules.FIXED_RULES, "warn")


def _outer_bounds(case: Case) -> Remarks:
    for offer in case.offers:
        if offer.largest_current_a() > CONTRACT_MAX.value + _A_BIT:
            most = f"{_n(CONTRACT_MAX.value)} A"
            text = f"{_n(offer.largest_current_a())} A at {_n(offer.max_v)} V, where no contract exceeds {most}"
            yield PowerRuleRemark("over-5-a", text, CONTRACT_MAX.origin, "warn")
        if offer.max_v > EPR_MAX.value + _A_BIT:
            text = f"{_n(offer.max_v)} V, where PD stops at {_n(EPR_MAX.value)} V"
            yield PowerRuleRemark("over-48-v", text, EPR_MAX.origin, "warn")
    span = rules.strongest_span(case.offers)
    if span is not None and span[1] > EPR_POWER_MAX.value:
        text = f"{_n(span[0])} W, where PD stops at {_n(EPR_POWER_MAX.value)} W"
        yield PowerRuleRemark("over-240-w", text, EPR_POWER_MAX.origin, "warn")


def _printed(case: Case) -> Remarks:
    span = rules.strongest_span(case.offers)
    if case.printed_w is None or case.pdp_w is None or case.most_w is None or span is None:
        return
    # A printed figure is a whole number of watts, most often the whole part.
    if case.printed_w < math.floor(span[1]):
        text = f"the list gives {_n(case.pdp_w)} W, more than the {_n(case.printed_w)} W printed on the source"
        yield PowerRuleRemark("more-than-printed", text, rules.FIXED_RULES, "note")
    elif case.printed_w > case.most_w and case.printed_w >= span[2]:
        text = (
            f"the list gives {_n(case.pdp_w)} W, the source is printed with {_n(case.printed_w)} W: a port that shares "
            "its power, a power bank running down, or a figure for all ports together"
        )
        yield PowerRuleRemark("less-than-printed", text, rules.SHARED_RULES, "note")


def _least_set(case: Case) -> Remarks:
    if case.judged_w is None:
        return
    row = rules.row_for(case.judged_w)
    for nominal, least in rules.fixed_offers_for(case.judged_w):
        if nominal > SPR_FIXED_MAX.value and not case.has_epr:
            continue
        least_a = min(least, case.cable_a)
        offer = case.fixed_at(nominal)
        if offer is None:
            text = f"no {_n(nominal)} V offer, which a source of {_n(case.judged_w)} W must have ({_n(least_a)} A)"
            yield PowerRuleRemark("missing-voltage", text, rules.FIXED_RULES, "warn")
            continue
        if nominal == row.last_v:
            # A source that states 20.3 V gives PDP / 20.3 V.
            least_a = min(least_a, rules.round_down_a(case.judged_w / offer.max_v))
        if (offer.current_a or 0.0) < least_a - _A_BIT:
            text = (
                f"{_n(offer.max_v)} V at {_n(offer.current_a or 0.0)} A, where a source of {_n(case.judged_w)} W must "
                f"give {_n(least_a)} A"
            )
            yield PowerRuleRemark("less-current", text, rules.FIXED_RULES, "warn")


def _fixed_voltages(case: Case) -> Remarks:
    for offer in case.of_kind("fixed"):
        near = rules.normative_near(offer.max_v)
        if near is None and _TWELVE_VOLTS[0] <= offer.max_v <= _TWELVE_VOLTS[1]:
            text = (
                f"{_n(offer.max_v)} V fixed: not a normative voltage, and above the {_OPTIONAL}, so an "
                "older or a non-conforming design; do not count on 12 V from other sources"
            )
            yield PowerRuleRemark("twelve-volt", text, rules.OPTIONAL_RULES, "note")
        elif near is None:
            text = f"{_n(offer.max_v)} V fixed is not a normative voltage"
            if offer.max_v > rules.OPTIONAL_VOLTAGE_MAX.value:
                text += f", and above the {_OPTIONAL}: an older or a non-conforming design"
            yield PowerRuleRemark("voltage-not-normative", text, rules.OPTIONAL_RULES, "note")
        elif near != offer.max_v:
            text = f"{_n(offer.max_v)} V is offered where the standard has {_n(near)} V, within its {_BAND}"
            yield PowerRuleRemark("voltage-off-nominal", text, rules.FIXED_RULES, "note")


def _above_row(case: Case) -> Remarks:
    if case.judged_w is None:
        return
    row = rules.row_for(case.judged_w)
    for offer in case.of_kind("fixed"):
        near = rules.normative_near(offer.max_v)
        if near is None or near <= max(row.last_v, rules.OPTIONAL_VOLTAGE_MAX.value):
            continue
        rule = f"{_n(near)} V from {_n(case.judged_w)} W, where the rules stop at {_n(row.last_v)} V ({row.text()})"
        if near > SPR_FIXED_MAX.value:
            yield PowerRuleRemark("epr-voltage-above-row", f"{rule}: not allowed", rules.FIXED_RULES, "warn")
        else:
            text = f"{rule}: an older design, or a port of more than {_n(_due_above_w(near))} W that shares its power"
            yield PowerRuleRemark("voltage-above-row", text, rules.SHARED_RULES, "note")


def _due_above_w(nominal_v: float) -> float:
    """The PDP above which the rules have ``nominal_v`` [V] as a fixed supply [W]."""
    return next(row.above_w for row in rules.ROWS if row.last_v == nominal_v)


def _optional_kinds(case: Case) -> Remarks:
    for offer in case.of_kind(*UNREGULATED):
        if offer.max_v > rules.OPTIONAL_VOLTAGE_MAX.value:
            text = f"{offer.kind} to {_n(offer.max_v)} V, above the {_OPTIONAL}: an older design"
            yield PowerRuleRemark("optional-above-9v", text, rules.OPTIONAL_RULES, "note")
        if case.has_epr:
            text = f"a {offer.kind} offer from an EPR source, which may have none"
            yield PowerRuleRemark("optional-in-epr", text, rules.OPTIONAL_RULES, "note")


def _pps_nominal(offer: rules.OfferedSupply) -> float | None:
    for prog in (*rules.PPS_PROG, rules.PPS_PROG_5V_OLDER):
        if abs(offer.max_v - prog.max_v) <= _PPS_TOP_SLACK_V:
            return prog.nominal_v
    return None


def _pps(case: Case) -> Remarks:
    supplies = case.of_kind("pps")
    older = [o for o in supplies if abs(o.min_v - rules.PPS_LOWER_END_OLDER.value) <= _PPS_TOP_SLACK_V]
    if older:
        low, now = rules.PPS_LOWER_END_OLDER.value, rules.PPS_PROG[0].min_v
        text = f"PPS from {_n(low)} V up, as R3.0 has it; the lower end is {_n(now)} V in R3.2 V1.1"
        yield PowerRuleRemark("pps-lower-end-older", text, rules.PPS_LOWER_END_OLDER.origin, "note")
    for offer in supplies:
        nominal = _pps_nominal(offer)
        usual_low = offer in older or abs(offer.min_v - rules.PPS_PROG[0].min_v) <= _PPS_TOP_SLACK_V
        if nominal is None or not usual_low:
            tops = [_n(prog.max_v) for prog in rules.PPS_PROG]
            ends = f"{', '.join(tops[:-1])} and {tops[-1]} V"
            text = f"PPS {_n(offer.min_v)} to {_n(offer.max_v)} V is none of the ranges to {ends}"
            yield PowerRuleRemark("pps-range-unusual", text, rules.PPS_RANGES, "note")
        current = offer.current_a or 0.0
        if nominal is not None and case.judged_w is not None:
            most = case.judged_w / nominal + rules.PPS_CURRENT_STEP.value
            if current > most + _A_BIT:
                text = (
                    f"PPS to {_n(offer.max_v)} V at {_n(current)} A would be {_n(nominal * current)} W of "
                    f"{_n(case.judged_w)} W: expect PDP / V at its upper end"
                )
                yield PowerRuleRemark("pps-above-pdp", text, rules.PPS_RULES, "note")
    if supplies and case.judged_w is not None:
        for due, offer in rules.pps_set_for(case.judged_w):
            least_a = min(offer.largest_current_a(), rules.round_down_a(case.cable_a, rules.PPS_CURRENT_STEP.value))
            if not any(
                o.max_v >= due.max_v - _PPS_TOP_SLACK_V and (o.current_a or 0.0) >= least_a - _A_BIT for o in supplies
            ):
                text = (
                    f"no PPS to {_n(due.max_v)} V at {_n(least_a)} A ({due.name}), which goes with PPS at "
                    f"{_n(case.judged_w)} W"
                )
                yield PowerRuleRemark("pps-less", text, rules.PPS_RULES, "note")


def _spr_avs(case: Case) -> Remarks:
    supplies = case.of_kind("spr-avs")
    if case.judged_w is None:
        return
    if not supplies:
        if case.judged_w > rules.SPR_AVS_ABOVE.value:
            above = f"{_n(rules.SPR_AVS_ABOVE.value)} W"
            text = f"no SPR AVS, which R3.2 asks of a source above {above}: built to an older revision"
            yield PowerRuleRemark("avs-missing", text, rules.AVS_RULES, "note")
        return
    stated = (SPR_AVS_SPLIT, supplies[0].current_a), (SPR_AVS_MOST, supplies[0].current_20v_a)
    for nominal, current in ((ends.value, current_a) for ends, current_a in stated):
        fixed = case.fixed_at(nominal)
        fixed_a = 0.0 if fixed is None else fixed.current_a or 0.0
        if abs((current or 0.0) - fixed_a) > _A_BIT:
            text = (
                f"SPR AVS gives {_n(current or 0.0)} A to {_n(nominal)} V, the fixed offer there {_n(fixed_a)} A; "
                "the two are to be equal"
            )
            yield PowerRuleRemark("avs-differs", text, rules.AVS_RULES, "note")


def _epr_avs(case: Case) -> Remarks:
    if not case.has_epr or case.judged_w is None:
        return
    due = rules.epr_avs_for(case.judged_w)
    supplies = case.of_kind("epr-avs")
    if due is None:
        text = f"EPR offers from {_n(case.judged_w)} W, where EPR begins above {_n(SPR_POWER_MAX.value)} W"
        yield PowerRuleRemark("epr-below-100-w", text, rules.FIXED_RULES, "warn")
    elif not supplies:
        text = f"EPR voltages without EPR AVS {_n(due.min_v)} to {_n(due.max_v)} V"
        yield PowerRuleRemark("epr-avs-missing", text, rules.AVS_RULES, "warn")
    elif (supplies[0].min_v, supplies[0].max_v) != (due.min_v, due.max_v):
        text = (
            f"EPR AVS {_n(supplies[0].min_v)} to {_n(supplies[0].max_v)} V, where {_n(case.judged_w)} W has "
            f"{_n(due.min_v)} to {_n(due.max_v)} V"
        )
        yield PowerRuleRemark("epr-avs-range", text, rules.AVS_RULES, "note")


def _cable(case: Case) -> Remarks:
    above = [o for o in case.offers if o.largest_current_a() > UNMARKED_CURRENT.value + _A_BIT and not o.is_epr]
    if above:
        volts = ", ".join(f"{_n(o.max_v)} V {_n(o.largest_current_a())} A" for o in above)
        yield PowerRuleRemark("needs-5a-cable", f"with a 5 A cable only: {volts}", PD_CABLES, "note")
    if case.has_epr:
        marked = f"{_n(EPR_MARKER_VOLTAGE.value)} V, {_n(EPR_MARKER_CURRENT.value)} A, EPR Capable"
        text = f"offers above {_n(SPR_FIXED_MAX.value)} V in EPR mode and with an EPR cable only ({marked})"
        yield PowerRuleRemark("needs-epr-cable", text, PD_CABLES, "note")
    if case.pdp_w is None or case.most_w is None or case.most_w <= case.pdp_w:
        return
    if case.wide:
        text = f"{_n(case.pdp_w)} W is all that SPR can show; the source may have EPR offers beside it"
        yield PowerRuleRemark("may-have-epr", text, rules.FIXED_RULES, "note")
    else:
        text = (
            f"{_n(SPR_FIXED_MAX.value)} V stops at {_n(UNMARKED_CURRENT.value)} A: a source of {_n(case.pdp_w)} W "
            f"shows this, and so does a larger one with a {_n(UNMARKED_CURRENT.value)} A cable"
        )
        yield PowerRuleRemark("may-be-held-by-cable", text, PD_CABLES, "note")


CHECKS: tuple[Callable[[Case], Remarks], ...] = (
    _first_is_5v,
    _outer_bounds,
    _printed,
    _least_set,
    _above_row,
    _fixed_voltages,
    _optional_kinds,
    _pps,
    _spr_avs,
    _epr_avs,
    _cable,
)


def remarks_on(case: Case) -> tuple[PowerRuleRemark, ...]:
    """Every remark on ``case``, in the order of the checks. Source: each remark's origin."""
    return tuple(remark for check in CHECKS for remark in check(case))
