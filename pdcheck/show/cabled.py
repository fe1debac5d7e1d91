"""What ``cable`` shows: the JSON document and the text."""

from __future__ import annotations

from typing import Any

from pdcheck.bits.cable import NO_VENDOR, CableReading
from pdcheck.circuit.drop import drop
from pdcheck.parts.cable import Cable
from pdcheck.quantities import Triple, format_quantity, over
from pdcheck.show.check import triple_json
from pdcheck.show.columns import paragraph
from pdcheck.show.decoded import reading_json

SCHEMA = "pdcheck/cable/1"


def document(cable: Cable, reading: CableReading | None, at_a: float | None) -> dict[str, Any]:
    """The JSON document of ``cable``."""
    if reading is not None:
        problems = [{"code": each.code, "where": each.where, "text": each.text} for each in reading.problems]
    else:
        problems = [{"code": "description", "where": "", "text": each} for each in cable.problems]
    out: dict[str, Any] = {
        "schema": SCHEMA,
        "construction": cable.construction,
        "emarker": cable.emarker,
        "pd": cable.pd,
        "current_ma": round(cable.current_a * 1000),
        "voltage_mv": round(cable.voltage_v * 1000),
        "epr": cable.is_epr,
        "loop_mohm": None if cable.loop is None else triple_json(_thousand(cable.loop)),
        "vendor_id": None if reading is None else reading.vendor_id,
        "problems": problems,
        "assumed": assumptions(cable, at_a),
    }
    if reading is not None:
        out |= {
            "revision": reading.revision,
            "revision_from": reading.decided_by,
            "product_id": reading.product_id,
            "certification": reading.certification,
            "plug_type": reading.plug_type,
            "speed": reading.speed,
            "latency": reading.latency,
            "objects": [reading_json(each) for each in reading.readings],
        }
    if at_a is not None:
        drops, losses = cost(cable, at_a)
        out |= {"at_a": at_a, "drop_v": triple_json(drops), "loss_w": triple_json(losses)}
        if over(at_a, cable.current_a):
            problems.append({"code": "over-current", "where": "", "text": _too_much(cable, at_a)})
    return out


def _thousand(triple: Triple) -> Triple:
    return Triple(*(round(each * 1000, 9) for each in triple))


def cost(cable: Cable, at_a: float) -> tuple[Triple, Triple]:
    """Drop [V] and loss [W] of a cable at a current [A]."""
    pairs = [drop(each, at_a) for each in cable.loop_ohm()[0]]
    return Triple(*(each.drop_v for each in pairs)), Triple(*(each.loss_w for each in pairs))


def assumptions(cable: Cable, at_a: float | None) -> list[str]:
    """What nobody said and was counted with."""
    said = list(cable.assumed)
    loop, assumed = cable.loop_ohm()
    if assumed and at_a is not None:
        limit = format_quantity(loop.max, "ohm")
        said.append(f"loop resistance not measured: at worst {limit}, the standard's limit; half of it as typical")
    return said


def _too_much(cable: Cable, at_a: float) -> str:
    return f"{at_a:g} A is more than the {cable.current_a:g} A that this cable carries"


def text(cable: Cable, reading: CableReading | None, at_a: float | None) -> str:
    """What a person reads."""
    names = {
        "passive": "Passive C-to-C cable",
        "active": "Active C-to-C cable",
        "unmarked": "C-to-C cable without e-marker",
        "legacy": "A-to-C cable",
        "captive": "Cable fixed to its source",
    }
    reach = "5 V only, no PD" if not cable.pd else f"up to {cable.voltage_v:g} V"
    epr = ", EPR" if cable.is_epr else ""
    parts = [paragraph(f"{names[cable.construction]}: {cable.current_a:g} A, {reach}{epr}", hang=2)]
    if reading is not None:
        parts += [paragraph(line, indent=2, hang=2) for line in _marker_lines(reading)]
    if cable.loop is not None:
        least, typical, most = (format_quantity(each, "ohm") for each in cable.loop)
        shown = typical if least == most else f"{typical} ({least}..{most})"
        parts.append(f"  loop resistance {shown}")
    if at_a is not None:
        drops, losses = cost(cable, at_a)
        worst = "" if drops.min == drops.max else f", at worst {format_quantity(drops.max, 'V', 3)}"
        lost = "" if losses.min == losses.max else f", at worst {format_quantity(losses.max, 'W', 3)}"
        typical = f"{format_quantity(drops.typ, 'V', 3)}{worst}, and {format_quantity(losses.typ, 'W', 3)}{lost}"
        parts.append(paragraph(f"at {at_a:g} A it costs {typical}", indent=2, hang=2))
        if over(at_a, cable.current_a):
            parts.append(paragraph(f"! {_too_much(cable, at_a)}", indent=2, hang=2))
    problems = [str(each) for each in reading.problems] if reading is not None else list(cable.problems)
    parts += [paragraph(f"! {each}", indent=2, hang=2) for each in problems]
    parts += [paragraph(f"counted with: {each}", indent=2, hang=2) for each in assumptions(cable, at_a)]
    return "\n".join(parts)


def _marker_lines(reading: CableReading) -> list[str]:
    lines = [f"read as Revision {reading.revision} ({reading.decided_by})"]
    if reading.vendor_id is not None:
        held = "none held" if reading.vendor_id in NO_VENDOR else f"0x{reading.vendor_id:04X}"
        lines.append(f"vendor {held}, product 0x{reading.product_id or 0:04X}, plug {reading.plug_type or 'not said'}")
    if reading.speed:
        lines.append(f"{reading.speed}, latency {reading.latency}")
    return lines
