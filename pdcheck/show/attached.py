"""What is attached to the ports of this machine, as the operating system tells it: text and JSON."""

from __future__ import annotations

from typing import Any

from pdcheck.bits.cable import NO_VENDOR, CableReading
from pdcheck.intake.sysfs.attached import Attached, Partner, Plugged, Port, Table
from pdcheck.intake.sysfs.vendor import vendor_name, vendor_text
from pdcheck.show.columns import paragraph
from pdcheck.show.decoded import offer_json, offers_table, problems_json, reading_json

SCHEMA = "pdcheck/attached/1"


def document(attached: Attached) -> dict[str, Any]:
    """The JSON document of ``decode --from sysfs --list``."""
    return {
        "schema": SCHEMA,
        "ports": [_port_json(port) for port in attached.ports],
        "unclaimed": [_table_json(table) for table in attached.loose],
        "problems": problems_json(attached.problems),
    }


def _port_json(port: Port) -> dict[str, Any]:
    return {
        "port": port.name,
        "power_role": port.power_role,
        "data_role": port.data_role,
        "power_operation_mode": port.mode,
        "orientation": port.orientation,
        "partner": None if port.partner is None else _partner_json(port.partner),
        "cable": None if port.cable is None else _plugged_json(port.cable),
        "own": None if port.own is None else _table_json(port.own),
    }


def _partner_json(partner: Partner) -> dict[str, Any]:
    return {
        "pd": partner.pd,
        "type": partner.type,
        "revision": partner.revision,
        "vendor_id": partner.vendor_id,
        "vendor": None if partner.vendor_id is None else vendor_name(partner.vendor_id),
        "identity": [reading_json(reading) for reading in partner.identity],
        "table": None if partner.table is None else _table_json(partner.table),
    }


def _plugged_json(cable: Plugged) -> dict[str, Any]:
    reading = cable.reading
    out = {"type": cable.type, "plug_type": cable.plug_type, "revision": cable.revision}
    return out | {"emarker": None if reading is None else cable_json(reading)}


def _table_json(table: Table) -> dict[str, Any]:
    return {
        "table": table.name,
        "revision": table.revision,
        "offers": [offer_json(offer) for offer in table.offers],
        "needs": [reading_json(need) for need in table.needs],
    }


def cable_json(reading: CableReading) -> dict[str, Any]:
    """What an e-marker says, and on what reading of it."""
    return {
        "construction": reading.construction,
        "emarker": reading.emarker,
        "current_ma": reading.current_ma,
        "voltage_mv": reading.voltage_mv,
        "epr": reading.epr,
        "revision": reading.revision,
        "decided_by": reading.decided_by,
        "vendor_id": reading.vendor_id,
        "vendor": None if reading.vendor_id is None else vendor_name(reading.vendor_id),
        "problems": problems_json(reading.problems),
    }


def cable_line(reading: CableReading) -> str:
    """An e-marker in one line."""
    if not reading.emarker:
        return "no e-marker that can be read: taken as 3 A, 20 V"
    bits = [reading.construction, f"{reading.current_ma / 1000:g} A, {reading.voltage_mv / 1000:g} V"]
    bits += ["EPR"] if reading.epr else []
    bits += [reading.speed] if reading.speed else []
    if reading.vendor_id is not None:
        bits.append("no vendor ID" if reading.vendor_id in NO_VENDOR else f"vendor {vendor_text(reading.vendor_id)}")
    return ", ".join(bits)


def text(attached: Attached) -> str:
    """What a person reads."""
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
