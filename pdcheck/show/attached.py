"""What ``decode --list`` says of the ports of this machine, as people read it."""

from __future__ import annotations

from pdcheck.intake.sysfs.attached import AttachedResult, Plugged, Port, Table
from pdcheck.intake.sysfs.vendor import vendor_text
from pdcheck.result import shows
from pdcheck.show.columns import paragraph
from pdcheck.show.decode import cable_line
from pdcheck.show.offers import offers_table


@shows(AttachedResult)
def text(attached: AttachedResult) -> str:
    lines: list[str] = []
    for port in attached.ports:
        roles = [each for each in (port.power_role, port.data_role) if each]
        roles += [port.mode.replace("_", " ")] if port.mode else []
        lines.append(paragraph(f"{port.name}  {', '.join(roles)}".rstrip(), hang=2))
        lines += _partner_lines(port)
        if port.cable is not None:
            lines.append(paragraph(f"cable: {_plugged(port.cable)}", indent=2, hang=2))
    for table in attached.loose:
        lines.append(f"{table.name}  of no port that is told of")
        lines += _table_lines(table)
    if not attached.ports and not attached.loose:
        lines.append("no USB-C port is told of")
    lines += [paragraph(f"! {problem}", indent=2, hang=2) for problem in attached.problems]
    return "\n".join(lines)


def _partner_lines(port: Port) -> list[str]:
    partner = port.partner
    if partner is None:
        return ["  nothing attached"]
    bits = [partner.type.replace("_", " ")] if partner.type and partner.type != "undefined" else []
    bits.append({True: "with PD", False: "without PD", None: "PD not known"}[partner.pd])
    bits += [f"Revision {partner.revision}"] if partner.revision else []
    bits += [f"vendor {vendor_text(partner.vendor_id)}"] if partner.vendor_id is not None else []
    lines = [paragraph(f"attached: {', '.join(bits)}", indent=2, hang=2)]
    return lines + ([] if partner.table is None else _table_lines(partner.table))


def _table_lines(table: Table) -> list[str]:
    lines: list[str] = []
    if table.offers:
        lines += [f"  offers ({table.name}):", offers_table(table.offers)]
    if table.needs:
        lines.append(f"  wants power itself ({table.name}): {len(table.needs)} objects")
    return lines


def _plugged(cable: Plugged) -> str:
    if cable.reading is not None:
        return cable_line(cable.reading)
    bits = [f"{cable.type} by name"] if cable.type and cable.type != "undefined" else []
    bits += [f"plug {cable.plug_type}"] if cable.plug_type else []
    return ", ".join([*bits, "e-marker not read"])
