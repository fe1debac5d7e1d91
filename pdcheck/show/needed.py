"""What ``need`` shows: the least source, cable and wires, settings and fall-backs, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.bits.offers import Offer
from pdcheck.facts.capabilities import EPR_POWER_MAX
from pdcheck.facts.copper import awg_ohm_per_m
from pdcheck.facts.power_rules import FIXED_RULES, row_for
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.quantities import format_quantity
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hex_word
from pdcheck.show.judged import contract_json
from pdcheck.verdict.need.around import FallbackNeed, Needs, SettingNeed, Spared, best_fallback
from pdcheck.verdict.need.least import CableClass, Need, class_limit_ohm

SCHEMA = "pdcheck/need/1"
GAUGES = (28, 24, 22, 20)
"""Gauges of the conductors in cables that are sold [common practice]."""

CABLES = {
    "3A": "C to C, 3 A, no e-marker needed",
    "5A": "C to C with a 5 A e-marker",
    "EPR": "C to C with an EPR e-marker (50 V, 5 A)",
}
STATES = {
    "works": "everything works",
    "off": "what does not work stays off",
    "overload": "something is asked too much",
    "unsafe": "unsafe: do not connect",
}


def greatest_length_m(loop_ohm: float, awg: int) -> float:
    """The greatest length of a cable [m] whose conductors, out and back, are of a gauge; contacts not counted.

    >>> round(greatest_length_m(0.25, 24), 2)
    1.48
    """
    return loop_ohm / (2 * awg_ohm_per_m(awg))


def document(rig: Rig, needs: Needs) -> dict[str, Any]:
    """The JSON document of ``need``: the least source and cable at the top, everything else beside them."""
    least = need_json(needs.least) if needs.least is not None else _NOTHING
    best = best_fallback(needs.fallbacks, rig.trigger.fallback)
    return {
        "schema": SCHEMA,
        "rig": rig.title,
        "setting": request_text(rig.trigger.request),
        "fallback": rig.trigger.fallback,
        "possible": needs.least is not None,
        "reasons": list(needs.reasons),
        **least,
        "as_set": None if needs.as_set is None else need_json(needs.as_set),
        "in_hand": None if needs.in_hand is None else need_json(needs.in_hand),
        "wires": [
            {"branch": each.branch, "part": each.place, "awg": each.awg, "loop_ohm": needs.wires_loop_ohm}
            for each in needs.wires
        ],
        "settings": [
            {
                "setting": request_text(each.request),
                "pdp_w": each.pdp_w,
                "cable": each.cable_class,
                "unsafe_from_w": each.unsafe_from_w,
            }
            for each in needs.settings
        ],
        "fallbacks": [
            {
                "fallback": each.fallback,
                "safe": each.safe,
                "lesser": [lesser._asdict() for lesser in each.lesser],
            }
            for each in needs.fallbacks
        ],
        "best_fallback": None if best is None else best.fallback,
        "changes": [each._asdict() for each in needs.spared],
    }


_NOTHING = {
    "pdp_w": None,
    "up_to_w": None,
    "any_cable_w": None,
    "pps": None,
    "epr": None,
    "verdict": None,
    "needed": None,
    "contract": None,
    "source": None,
    "cable": None,
}


def need_json(need: Need) -> dict[str, Any]:
    """One need: a source and cable made from ``source`` and ``cable`` are exactly what was judged."""
    case = need.case
    loop = need.loop_ohm
    return {
        "pdp_w": need.pdp_w,
        "up_to_w": need.up_to_w,
        "any_cable_w": need.any_cable_w,
        "pps": need.contract.kind == "pps",
        "epr": need.contract.epr,
        "verdict": need.judgement.verdict,
        "needed": {"voltage_v": need.contract.voltage_v, "current_a": case.worst_current("source")},
        "contract": contract_json(need.contract),
        "source": {
            "offers": [_offer_json(offer) for offer in case.source.offers],
            "label": label(case.source.offers),
            "hex": " ".join(f"0x{hex_word(offer.word)}" for offer in case.source.offers),
            "typec_current_a": case.source.typec_current_a,
            "origin": str(FIXED_RULES),
        },
        "cable": {
            "class": need.cable_class,
            "current_a": case.cable.current_a,
            "voltage_v": case.cable.voltage_v,
            "epr": case.cable.is_epr,
            "loop_ohm": loop,
            "lengths": []
            if loop is None
            else [{"awg": awg, "length_m": greatest_length_m(loop, awg)} for awg in GAUGES],
        },
    }


def _offer_json(offer: Offer) -> dict[str, Any]:
    out: dict[str, Any] = {"position": offer.position, "kind": offer.kind}
    if offer.min_mv == offer.max_mv:
        out["voltage_mv"] = offer.max_mv
    else:
        out |= {"min_voltage_mv": offer.min_mv, "max_voltage_mv": offer.max_mv}
    for key in ("current_ma", "power_mw", "current_15v_ma", "current_20v_ma", "pdp_w"):
        value = getattr(offer, key)
        if value is not None:
            out[key] = value
    return out


def label(offers: Sequence[Offer]) -> str:
    """Offers as a label, which every command reads back.

    >>> from pdcheck.bits.offers import epr_avs, fixed, spr_avs
    >>> label([fixed(9000, 2220), spr_avs(3000, 2250), epr_avs(15000, 28000, 140)])
    '9V 2.22A; AVS 9-20V 3A/2.25A; AVS 15-28V 140W'
    """
    plain = [f"{offer.max_mv / 1000:g}V {_amps(offer.current_ma)}" for offer in offers if offer.kind == "fixed"]
    ranges: list[str] = []
    for offer in offers:
        span = f"{offer.min_mv / 1000:g}-{offer.max_mv / 1000:g}V"
        if offer.kind == "pps":
            ranges.append(f"PPS {span} {_amps(offer.current_ma)}")
        elif offer.kind == "spr-avs":
            more = f"/{_amps(offer.current_20v_ma)}" if offer.current_20v_ma else ""
            ranges.append(f"AVS {span} {_amps(offer.current_15v_ma)}{more}")
        elif offer.kind == "epr-avs":
            ranges.append(f"AVS {span} {offer.pdp_w}W")
    return "; ".join([", ".join(plain), *ranges])


def _amps(milliamperes: int | None) -> str:
    return f"{(milliamperes or 0) / 1000:g}A"


def text(rig: Rig, needs: Needs) -> str:
    """What a buyer reads."""
    setting = f"its trigger set to {request_text(rig.trigger.request)}, else {rig.trigger.fallback}"
    parts = [paragraph(f"{rig.title or 'The rig'}, {setting}"), ""]
    if needs.least is None:
        parts.append(paragraph("No source by the power rules will do, over no cable:", hang=2))
        parts += [paragraph(f"- {reason}", indent=2, hang=2) for reason in needs.reasons]
    else:
        parts += _least_text(rig, needs, needs.least)
    parts += ["", *_settings_text(needs.settings)]
    if needs.fallbacks:
        parts += ["", *_fallbacks_text(rig, needs.fallbacks)]
    if needs.spared:
        parts += ["", "One change that would lower it"]
        parts += [paragraph(_spared_text(each), indent=2, hang=2) for each in needs.spared]
    return "\n".join(parts)


def _least_text(rig: Rig, needs: Needs, least: Need) -> list[str]:
    rows = [["it works", *_need_row(least)]]
    if needs.as_set is not None and needs.as_set.pdp_w != least.pdp_w:
        rows.append(["it works as set", *_need_row(needs.as_set)])
    if needs.in_hand is not None and needs.in_hand != least:
        rows.append(["with 20 % in hand", *_need_row(needs.in_hand)])
    parts = ["The least to buy", "", table(["so that", "source", "cable", "gets"], rows), ""]
    case = least.case
    facts = [
        f"{least.pdp_w} W ({row_for(least.pdp_w).text()}) must offer {label(case.source.offers)} [{FIXED_RULES}].",
        f"Used: {least.contract.voltage_v:g} V and {case.worst_current('source'):.4g} A at worst. "
        f"PPS {'is' if least.contract.kind == 'pps' else 'is not'} needed, "
        f"EPR {'is' if least.contract.epr else 'is not'} needed.",
        f"Cable: {CABLES[least.cable_class]}; {_loop_text(least)}",
    ]
    if least.any_cable_w != least.pdp_w:
        more = "no source does" if least.any_cable_w is None else f"{least.any_cable_w} W"
        facts.append(f"Over a cable of less resistance a plain resistance draws more: over any such cable {more}.")
    if least.up_to_w < EPR_POWER_MAX.value:
        facts.append(f"Works up to {least.up_to_w} W: beyond that the trigger ends up with something else.")
    parts += [paragraph(fact, indent=2, hang=2) for fact in facts]
    if needs.wires and needs.wires_loop_ohm is not None:
        stated = {(branch.name, place): wire for branch in rig.branches for place, wire in
                  (("wire", branch.wire), ("lead", branch.lead))}  # fmt: skip
        rows = []
        for each in needs.wires:
            wire = stated[each.branch, each.place]
            now = "" if wire is None else f"AWG {wire.awg}" if wire.awg is not None else f"{wire.mm2:g} mm2"
            rows.append([each.branch, each.place, now, "none" if each.awg is None else f"AWG {each.awg}"])
        loop = format_quantity(needs.wires_loop_ohm, "ohm")
        parts += ["", f"Thinnest wires on it, over a cable of {loop}, one at a time", ""]
        parts.append(table(["branch", "what", "now", "thinnest"], rows))
    return parts


def _need_row(need: Need) -> list[str]:
    loop = "any" if need.loop_ohm is None else f"up to {format_quantity(need.loop_ohm, 'ohm')}"
    gets = f"{need.contract.voltage_v:g} V, {need.judgement.verdict}"
    return [f"{need.pdp_w} W", f"{need.cable_class}, {loop}", gets]


def _loop_text(need: Need) -> str:
    if need.loop_ohm is None:
        return "no loop resistance is too much."
    limit = class_limit_ohm(need.cable_class)
    what = f"loop resistance at most {format_quantity(need.loop_ohm, 'ohm')}"
    inside = "any cable that keeps the standard does" if need.loop_ohm >= limit else "less than the standard allows"
    listed = ", ".join(f"AWG {awg} {greatest_length_m(need.loop_ohm, awg):.2g} m" for awg in GAUGES)
    return f"{what} ({inside}, {format_quantity(limit, 'ohm')}). At most, contacts not counted: {listed}."


def _settings_text(settings: Sequence[SettingNeed]) -> list[str]:
    rows = []
    for each in settings:
        does = "no source does" if each.pdp_w is None else f"{each.pdp_w} W, {each.cable_class} cable"
        danger = "" if each.unsafe_from_w is None else f"unsafe on sources from {each.unsafe_from_w} W"
        rows.append([request_text(each.request), does, danger])
    return [
        "Other settings of the trigger (works as set, over any cable of the class)",
        "",
        table(["set to", "from", "mind"], rows),
    ]


def _fallbacks_text(rig: Rig, fallbacks: Sequence[FallbackNeed]) -> list[str]:
    rows = []
    for each in fallbacks:
        for at, lesser in enumerate(each.lesser):
            span = f"{lesser.from_w}..{lesser.to_w} W"
            why = f"{STATES[lesser.state]}" + (f" ({lesser.rule})" if lesser.rule else "")
            rows.append([each.fallback if at == 0 else "", span, f"{lesser.bus_v:g} V", why])
    best = best_fallback(fallbacks, rig.trigger.fallback)
    advice = (
        "No fall-back rule keeps everything working or safely off."
        if best is None
        else f"Fall back to: {best.fallback}. Everything works or stays safely off."
    )
    return [
        "On lesser sources, over a cable at its limit",
        "",
        table(["falls back to", "source", "bus", "what happens"], rows),
        "",
        f"  {advice}",
    ]


def _spared_text(change: Spared) -> str:
    before = "nothing does" if change.before_pdp_w is None else _class_text(change.before_pdp_w, change.before_class)
    return f"{change.change}: {_class_text(change.pdp_w, change.cable_class)} instead of {before}"


def _class_text(pdp_w: int, cable_class: CableClass | None) -> str:
    return f"{pdp_w} W and a {cable_class} cable"
