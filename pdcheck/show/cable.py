"""What ``cable`` says, as people read it."""

from __future__ import annotations

from pdcheck.bits.cable import NO_VENDOR, CableReading
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.columns import paragraph
from pdcheck.verdict.cable import CableResult

_NAMES = {
    "passive": "Passive C-to-C cable",
    "active": "Active C-to-C cable",
    "unmarked": "C-to-C cable without e-marker",
    "legacy": "A-to-C cable",
    "captive": "Cable fixed to its source",
}


@shows(CableResult)
def text(result: CableResult) -> str:
    cable, reading, cost = result.cable, result.reading, result.cost
    reach = "5 V only, no PD" if not cable.pd else f"up to {cable.voltage_v:g} V"
    epr = ", EPR" if cable.is_epr else ""
    parts = [paragraph(f"{_NAMES[cable.construction]}: {cable.current_a:g} A, {reach}{epr}", hang=2)]
    if reading is not None:
        parts += [paragraph(line, indent=2, hang=2) for line in _marker_lines(reading)]
    if cable.loop is not None:
        least, typical, most = (format_quantity(each, "ohm") for each in cable.loop)
        shown = typical if least == most else f"{typical} ({least}..{most})"
        parts.append(f"  loop resistance {shown}")
    if cost is not None:
        drops, losses = cost.drop_v, cost.loss_w
        worst = "" if drops.min == drops.max else f", at worst {format_quantity(drops.max, 'V', 3)}"
        lost = "" if losses.min == losses.max else f", at worst {format_quantity(losses.max, 'W', 3)}"
        dropped = f"{format_quantity(drops.typ, 'V', 3)}{worst}"
        typical = f"{dropped}, and loses {format_quantity(losses.typ, 'W', 3)}{lost} as heat"
        parts.append(paragraph(f"at {cost.at_a:g} A it drops {typical}", indent=2, hang=2))
        if not result.works:
            parts.append(paragraph(f"! {result.too_much}", indent=2, hang=2))
    problems = [each for each in result.problems if each.code != "over-current"]
    parts += [paragraph(f"! {each}", indent=2, hang=2) for each in problems]
    parts += [paragraph(f"assumed: {each}", indent=2, hang=2) for each in result.assumed]
    return "\n".join(parts)


def _marker_lines(reading: CableReading) -> list[str]:
    lines = [f"read as Revision {reading.revision} ({reading.decided_by})"]
    if reading.vendor_id is not None:
        vendor = "no vendor ID" if reading.vendor_id in NO_VENDOR else f"vendor 0x{reading.vendor_id:04X}"
        lines.append(f"{vendor}, product 0x{reading.product_id or 0:04X}, plug {reading.plug_type or 'not said'}")
    if reading.speed:
        lines.append(f"{reading.speed}, latency {reading.latency}")
    return lines
