"""What ``decode`` says: messages, offers, and what could not be read, as people read them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pdcheck.bits.message import RESETS
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import KIND_KEYS
from pdcheck.bits.sequence import Told
from pdcheck.intake.sniff import Intake
from pdcheck.show.clean import clean
from pdcheck.show.columns import paragraph
from pdcheck.show.offers import offers_table

if TYPE_CHECKING:
    from pdcheck.bits.cable import CableReading
    from pdcheck.bits.catalogue import BlockReading
    from pdcheck.intake.label_energy import Holds
    from pdcheck.intake.stream import BusReading


def works(intake: Intake) -> bool:
    """Whether all could be read, every CRC fits, and a port of this machine offers anything: exit code 0."""
    return not intake.flawed() and (intake.form != "sysfs" or bool(intake.offers))


def text(intake: Intake) -> str:
    """What a person reads."""
    parts: list[str] = []
    beside = readings_after(intake.readings)
    parts += beside.pop(-1, [])
    for at, told in enumerate(intake.told):
        parts += _message_lines(told)
        parts += beside.pop(at, [])
    for reading in intake.objects:
        parts.append(paragraph(_reading_line(reading), indent=2, hang=2))
    listed = [each.offers for each in intake.told if each.offers]
    if intake.offers and (not listed or listed[-1] != intake.offers):
        parts.append(offers_table(intake.offers))
    shown = {problem for told in intake.told for problem in told.problems}
    parts += [paragraph(f"! {problem}", indent=2, hang=2) for problem in intake.problems if problem not in shown]
    if intake.ports is not None:
        from pdcheck.show.ports import ports_text

        parts.append(ports_text(intake.ports))
    if intake.power_w:
        parts.append(f"  printed power: {intake.power_w:g} W")
    if intake.holds is not None:
        parts.append(paragraph(f"energy: {holds_line(intake.holds)}", indent=2, hang=2))
    if intake.doubtful:
        parts.append("  ! The CRC is wrong: these offers are doubtful. Capture them again before you rely on them.")
    if intake.channel is not None and not intake.told and not intake.lost:
        parts.append(f"  no packet on channel {clean(intake.channel)}")
    if intake.lost:
        parts.append(f"Packets that could not be decoded: {len(intake.lost)}")
        parts += [paragraph(f"{one.time_s:.6f} s  {one.reason}", indent=2, hang=2) for one in intake.lost]
    if intake.cable is not None:
        parts.append(paragraph(f"cable: {cable_line(intake.cable)}", indent=2, hang=2))
    return "\n".join(parts)


def holds_line(holds: Holds) -> str:
    """What a power bank's label says of its energy, in one line.

    >>> from pdcheck.intake.label_energy import Holds
    >>> holds_line(Holds(energy_wh=74.0, capacity_ah=20.0, cell_v=3.7, rated_ah=12.0, rated_v=5.0))
    '74 Wh; 20000 mAh in its cells at 3.7 V; rated to give 12000 mAh at 5 V'
    """
    told = [] if holds.energy_wh is None else [f"{holds.energy_wh:g} Wh"]
    if holds.capacity_ah is not None:
        at = "" if holds.cell_v is None else f" at {holds.cell_v:g} V"
        told.append(f"{holds.capacity_ah * 1000:g} mAh in its cells{at}")
    if holds.rated_ah is not None:
        told.append(f"rated to give {holds.rated_ah * 1000:g} mAh at {holds.rated_v:g} V")
    return "; ".join(told)


def readings_after(readings: Sequence[BusReading]) -> dict[int, list[str]]:
    """Readings of the bus as lines by the index of the message that they follow; those of one place in one line.

    >>> from pdcheck.intake.stream import BusReading
    >>> readings_after([BusReading(0.5, 9.02, 0.31, 3), BusReading(0.6, 9.0, None, 3)])
    {3: ['0.500000 s  VBUS 9.00..9.02 V, 0.31 A (2 readings)']}
    """
    groups: dict[int, list[BusReading]] = {}
    for reading in readings:
        groups.setdefault(reading.after, []).append(reading)
    return {after: [_readings_line(group)] for after, group in groups.items()}


def _readings_line(group: list[BusReading]) -> str:
    time_s = group[0].time_s
    stamp = "" if time_s is None else f"{time_s:.6f} s  "
    amps = [each.current_a for each in group if each.current_a is not None]
    line = f"{stamp}VBUS {_span([each.voltage_v for each in group])} V"
    if amps:
        line += f", {_span(amps)} A"
    return line + (f" ({len(group)} readings)" if len(group) > 1 else "")


def _span(figures: list[float]) -> str:
    low, high = f"{min(figures):.2f}", f"{max(figures):.2f}"
    return low if low == high else f"{low}..{high}"


def cable_line(reading: CableReading) -> str:
    """An e-marker in one line."""
    from pdcheck.bits.cable import NO_VENDOR
    from pdcheck.intake.sysfs.vendor import vendor_text

    if not reading.emarker:
        return "no e-marker that can be read: taken as 3 A, 20 V"
    bits = [reading.construction, f"{reading.current_ma / 1000:g} A, {reading.voltage_mv / 1000:g} V"]
    bits += ["EPR"] if reading.epr else []
    bits += [reading.speed] if reading.speed else []
    if reading.vendor_id is not None:
        bits.append("no vendor ID" if reading.vendor_id in NO_VENDOR else f"vendor {vendor_text(reading.vendor_id)}")
    return ", ".join(bits)


def _message_lines(told: Told) -> list[str]:
    message = told.message
    stamp = "" if message.time_s is None else f"{message.time_s:.6f} s  "
    if message.sop in RESETS:
        return [f"{stamp}{message.sop.replace('_', ' ')}"]
    crc = {None: "no CRC given", True: "CRC good", False: "CRC WRONG"}[message.crc_ok]
    role = ", ".join(each for each in (message.power_role, message.data_role) if each)
    number = message.header_fields()["id"]
    line = f"{stamp}{message.sop}  {message.type}  #{number}, Revision {message.revision}, {role}, {crc}"
    lines = [paragraph(line, hang=2)]
    if told.offers:
        lines.append(offers_table(told.offers))
    lines += [paragraph(_reading_line(reading), indent=2, hang=2) for reading in told.objects]
    if told.block is not None:
        lines.append(paragraph(_block_line(told.block), indent=2, hang=2))
    lines += [paragraph(f"! {problem}", indent=2, hang=2) for problem in told.problems]
    return lines


def _block_line(block: BlockReading) -> str:
    meanings = block.meanings()
    figures = [
        f"{key} {meanings.get(key, 'unknown' if value is None else _figure(key, value))}"
        for key, value in block.fields.items()
        if not isinstance(value, bool)
    ]
    figures += [key for key, value in block.fields.items() if value is True]
    recalled = sorted(key for key, mark in block.marks().items() if "[memory]" in mark)
    line = ", ".join(figures) or f"data {block.data.hex(' ')}"
    return f"{line} (from memory of the standard: {', '.join(recalled)})" if recalled else line


_AS_HEX = {"vendor_id": 4, "product_id": 4, "bcd_device": 4, "svid": 4, "svids": 4, "certification": 8}
"""Numbers that people know in hex, with their digits."""


def _figure(key: str, value: object) -> object:
    digits = _AS_HEX.get(key)
    if digits is None:
        return value
    if isinstance(value, list | tuple):
        return " ".join(f"0x{each:0{digits}X}" for each in value)
    return f"0x{value:0{digits}X}"


def _reading_line(reading: Reading) -> str:
    meanings = reading.meanings()
    figures = [
        f"{key} {meanings.get(key, _figure(key, value))}"
        for key, value in reading.fields.items()
        if not isinstance(value, bool) and key not in KIND_KEYS
    ]
    return f"{reading.kind} {reading.word:08X}: {', '.join(figures + reading.flags) or 'no fields'}"
