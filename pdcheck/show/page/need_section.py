"""The section on what to buy: the least source, cable and wires, and what other settings would need."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.parts.limits import COMFORTABLE
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.show.need import CABLES, STATES, at_most_ohm
from pdcheck.show.page.section import Section, Sheet
from pdcheck.verdict.need.around import FallbackNeed, Needs, SettingNeed, WireNeed, all_needs, best_fallback
from pdcheck.verdict.need.least import Need
from pdcheck.verdict.need.to_buy import label


def need_section(rig: Rig) -> Section:
    """What a rig needs, and what would change it."""
    needs = all_needs(rig)
    if needs.least is None:
        text = ["No standard charger works with this rig, whatever the cable.", *needs.reasons]
    else:
        offers = label(needs.least.case.source.offers)
        text = [
            "The cheapest charger and cable that will still do the job.",
            f"A charger of {needs.least.pdp_w} W must offer {offers}.",
        ]
    best = best_fallback(needs.fallbacks, rig.trigger.fallback)
    if best is not None:
        text.append(f"Best fall-back: {best.fallback}. Then everything works or stays safely off on smaller chargers.")
    text += [
        f"One change that would let you buy less: {each.change}: {each.pdp_w} W and a {each.cable_class} cable "
        "instead of "
        + ("none that works" if each.before_pdp_w is None else f"{each.before_pdp_w} W and a {each.before_class} cable")
        for each in needs.spared
    ]
    tables = [_least(needs), _wires(needs.wires), _settings(needs.settings), _fallbacks(needs.fallbacks)]
    return Section("need", "What to buy", "What to buy", text, tables=[each for each in tables if each.rows])


def _least(needs: Needs) -> Sheet:
    wanted = [
        ("it works", needs.least),
        ("it works as set", needs.as_set),
        (f"with {COMFORTABLE} to spare", needs.in_hand),
    ]
    rows = [[what, *_row(need)] for what, need in wanted if need is not None]
    return Sheet("The least charger and cable", ["so that", "charger", "cable", "cable's loop", "then"], rows)


def _row(need: Need) -> list[str]:
    loop = "any" if need.loop_ohm is None else f"up to {at_most_ohm(need.loop_ohm)}"
    then = f"{need.contract.voltage_v:g} V, {need.judgement.verdict}"
    return [f"{need.pdp_w} W", CABLES[need.cable_class], loop, then]


def _wires(wires: Sequence[WireNeed]) -> Sheet:
    rows = [
        [each.branch, each.place, "none is thick enough" if each.awg is None else f"AWG {each.awg}"] for each in wires
    ]
    return Sheet("The thinnest wires, each changed by itself", ["branch", "what", "thinnest"], rows)


def _settings(settings: Sequence[SettingNeed]) -> Sheet:
    rows = [
        [
            request_text(each.request),
            "no charger works" if each.pdp_w is None else f"{each.pdp_w} W, {each.cable_class} cable",
            "" if each.unsafe_from_w is None else f"unsafe on chargers from {each.unsafe_from_w} W",
        ]
        for each in settings
    ]
    return Sheet("Other settings of the trigger", ["set to", "from", "beware"], rows)


def _fallbacks(fallbacks: Sequence[FallbackNeed]) -> Sheet:
    rows = [
        [
            each.fallback,
            f"{lesser.from_w} to {lesser.to_w} W",
            f"{lesser.bus_v:g} V",
            STATES[lesser.state] + (f" ({lesser.rule})" if lesser.rule else ""),
        ]
        for each in fallbacks
        for lesser in each.lesser
    ]
    return Sheet("On smaller chargers", ["falls back to", "charger", "bus", "what happens"], rows)
