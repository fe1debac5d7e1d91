"""What ``need`` shows: the least source, cable and wires, settings and fall-backs."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.facts.cable import EPR_MARKER_CURRENT, EPR_MARKER_VOLTAGE, MARKED_CURRENT, UNMARKED_CURRENT
from pdcheck.facts.capabilities import EPR_POWER_MAX
from pdcheck.facts.power_rules import FIXED_RULES, row_for
from pdcheck.parts.choices import CableClass
from pdcheck.parts.limits import COMFORTABLE, rounded
from pdcheck.parts.request import request_text
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.check import condition_lines
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.need.around import Needs, SettingNeed, Spared
from pdcheck.verdict.need.least import Need, class_limit_ohm
from pdcheck.verdict.need.to_buy import GAUGES, greatest_length_m, label

CABLES = {
    "3A": f"C to C, {UNMARKED_CURRENT.value:g} A, no e-marker needed",
    "5A": f"C to C with a {MARKED_CURRENT.value:g} A e-marker",
    "EPR": f"C to C with an EPR e-marker ({EPR_MARKER_VOLTAGE.value:g} V, {EPR_MARKER_CURRENT.value:g} A)",
}
STATES = {
    "works": "everything works",
    "off": "parts that need more voltage simply stay off",
    "overload": "something is overloaded or gets too little",
    "unsafe": "unsafe: do not connect",
}


@shows(Needs)
def text(needs: Needs) -> str:
    rig = needs.rig
    setting = f"its trigger set to {request_text(rig.trigger.request)}, else {rig.trigger.fallback}"
    parts = [paragraph(f"{rig.title or 'The rig'}, {setting}"), ""]
    if needs.least is None:
        parts.append(paragraph("No standard charger works with this rig, whatever the cable:", hang=2))
        parts += [paragraph(f"- {reason}", indent=2, hang=2) for reason in needs.reasons]
    else:
        parts += _least_text(needs, needs.least)
    parts += ["", paragraph(SETTINGS_TITLE), "", table(SETTING_HEADERS, setting_rows(needs.settings))]
    if needs.fallbacks:
        parts += [
            "",
            FALLBACKS_TITLE,
            "",
            table(FALLBACK_HEADERS, fallback_rows(needs)),
            "",
            f"  {fallback_advice(needs)}",
        ]
    if needs.spared:
        parts += ["", "One change that would let you buy less"]
        parts += [paragraph(spared_text(each), indent=2, hang=2) for each in needs.spared]
    return "\n".join(parts)


def _least_text(needs: Needs, least: Need) -> list[str]:
    parts = ["The least to buy", "", table(LEAST_HEADERS, least_rows(needs, least)), ""]
    parts += [paragraph(fact, indent=2, hang=2) for fact in least_facts(least)]
    parts += condition_lines(needs.not_judged)
    if needs.wires and needs.wires_loop_ohm is not None:
        parts += ["", wires_title(needs), "", table(WIRE_HEADERS, wire_rows(needs))]
    return parts


LEAST_HEADERS = ["so that", "charger", "cable", "gets"]
WIRE_HEADERS = ["branch", "what", "now", "thinnest"]
SETTING_HEADERS = ["set to", "from", "beware"]
SETTINGS_TITLE = "Other settings of the trigger, and the least charger on which each works with any such cable"
FALLBACK_HEADERS = ["falls back to", "charger", "bus", "what happens"]
FALLBACKS_TITLE = "On smaller chargers, with the worst cable that the standard allows"


def least_rows(needs: Needs, least: Need) -> list[list[str]]:
    """The least that works, that works as set, and that leaves something to spare, where they differ."""
    rows = [["it works", *_need_row(least)]]
    if needs.as_set is not None and needs.as_set.pdp_w != least.pdp_w:
        rows.append(["it works as set", *_need_row(needs.as_set)])
    if needs.in_hand is not None and needs.in_hand != least:
        rows.append([f"with {COMFORTABLE} to spare", *_need_row(needs.in_hand)])
    return rows


def least_facts(least: Need) -> list[str]:
    """What the charger must offer, what of it is used, and what the cable may be."""
    case = least.case
    facts = [
        f"{least.pdp_w} W ({row_for(least.pdp_w).text()}) must offer {label(case.source.offers)} [{FIXED_RULES}].",
        f"Used: {least.contract.voltage_v:g} V and {case.worst_current('source'):.3g} A in the worst case. "
        f"PPS {'is' if least.contract.kind == 'pps' else 'is not'} needed, "
        f"EPR {'is' if least.contract.epr else 'is not'} needed.",
        f"Cable: {CABLES[least.cable_class]}; {_loop_text(least)}",
    ]
    if least.up_to_w < EPR_POWER_MAX.value:
        facts.append(f"Works on chargers up to {least.up_to_w} W: from larger ones the trigger gets another voltage.")
    return facts


def wires_title(needs: Needs) -> str:
    """What the thinnest wires hold with."""
    loop = format_quantity(needs.wires_loop_ohm or 0.0, "ohm", 3)
    return f"Thinnest wires, with a cable of {loop}, each changed by itself"


def wire_rows(needs: Needs) -> list[list[str]]:
    """Each wire as it is, and the thinnest that still does."""
    stated = {(branch.name, place): wire for branch in needs.rig.branches for place, wire in
              (("wire", branch.wire), ("lead", branch.lead))}  # fmt: skip
    rows = []
    for each in needs.wires:
        wire = stated[each.branch, each.place]
        now = "" if wire is None else f"AWG {wire.awg}" if wire.awg is not None else f"{wire.mm2:g} mm2"
        rows.append([each.branch, each.place, now, "none" if each.awg is None else f"AWG {each.awg}"])
    return rows


def _need_row(need: Need) -> list[str]:
    loop = "any" if need.loop_ohm is None else f"up to {at_most_ohm(need.loop_ohm)}"
    gets = f"{need.contract.voltage_v:g} V, {need.judgement.verdict}"
    return [f"{need.pdp_w} W", f"{need.cable_class}, {loop}", gets]


def at_most_ohm(loop_ohm: float) -> str:
    """A resistance [ohm] that may be had at most, in three digits, rounded down.

    >>> at_most_ohm(0.3566)
    '356 mΩ'
    """
    return format_quantity(rounded(loop_ohm, up=False, digits=3), "ohm", 3)


def _loop_text(need: Need) -> str:
    if need.loop_ohm is None:
        return "its resistance does not matter."
    limit = class_limit_ohm(need.cable_class)
    what = f"loop resistance at most {at_most_ohm(need.loop_ohm)}"
    enough = "any such cable is good enough" if need.loop_ohm >= limit else "choose a better one than that"
    listed = ", ".join(f"AWG {awg} {greatest_length_m(need.loop_ohm, awg):.2g} m" for awg in GAUGES)
    allowed = f"the standard allows {format_quantity(limit, 'ohm')}: {enough}"
    return f"{what} ({allowed}). Longest, contacts not counted: {listed}."


def setting_rows(settings: Sequence[SettingNeed]) -> list[list[str]]:
    """The least charger at each setting, and from which one on it is unsafe."""
    rows = []
    for each in settings:
        does = "no charger works" if each.pdp_w is None else f"{each.pdp_w} W, {each.cable_class} cable"
        danger = "" if each.unsafe_from_w is None else f"unsafe on chargers from {each.unsafe_from_w} W"
        rows.append([request_text(each.request), does, danger])
    return rows


def fallback_rows(needs: Needs) -> list[list[str]]:
    """What happens on smaller chargers with each fall-back."""
    rows = []
    for each in needs.fallbacks:
        for at, lesser in enumerate(each.lesser):
            span = f"{lesser.from_w}..{lesser.to_w} W"
            why = f"{STATES[lesser.state]}" + (f" ({lesser.rule})" if lesser.rule else "")
            rows.append([each.fallback if at == 0 else "", span, f"{lesser.bus_v:g} V", why])
    return rows


def fallback_advice(needs: Needs) -> str:
    if needs.best_fallback is None:
        return "No fall-back keeps everything working or safely off."
    return f"Best fall-back: {needs.best_fallback}. Everything works or stays safely off."


def spared_text(change: Spared) -> str:
    """One change that would let one buy less."""
    before = "none that works" if change.before_pdp_w is None else _class_text(change.before_pdp_w, change.before_class)
    return f"{change.change}: {_class_text(change.pdp_w, change.cable_class)} instead of {before}"


def _class_text(pdp_w: int, cable_class: CableClass | None) -> str:
    return f"{pdp_w} W and a {cable_class} cable"
