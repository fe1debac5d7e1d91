"""What ``decode`` says: messages, offers, and what could not be read, as people read them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

from pdcheck.bits.line import RESETS
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import KIND_KEYS, Offer
from pdcheck.bits.problems import Problem
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


def object_line(reading: Reading) -> str:
    """A bare word that is no offer."""
    return paragraph(_reading_line(reading), indent=2, hang=2)


def closing_lines(intake: Intake, listed: tuple[Offer, ...], told: Collection[Problem], messages: int) -> Iterator[str]:
    """What stands behind messages and objects; ``listed`` is the last list of the messages, ``told`` their problems."""
    if intake.offers and listed != intake.offers:
        yield offers_table(intake.offers)
    for problem in intake.problems:
        if problem not in told:
            yield paragraph(f"! {problem}", indent=2, hang=2)
    if intake.ports is not None:
        from pdcheck.show.ports import ports_text

        yield ports_text(intake.ports)
    if intake.power_w:
        yield f"  printed power: {intake.power_w:g} W"
    if intake.holds is not None:
        yield paragraph(f"energy: {holds_line(intake.holds)}", indent=2, hang=2)
    if intake.doubtful:
        yield "  ! The CRC is wrong: these offers are doubtful. Capture them again before you rely on them."
    if intake.channel is not None and not messages and not intake.lost:
        yield f"  no packet on channel {clean(intake.channel)}"
    if intake.lost:
        yield f"Packets that could not be decoded: {len(intake.lost)}"
        for one in intake.lost:
            yield paragraph(f"{one.time_s:.6f} s  {one.reason}", indent=2, hang=2)
    if intake.cable is not None:
        yield paragraph(f"cable: {cable_line(intake.cable)}", indent=2, hang=2)


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


class Readings:
    """Readings of the bus at one place: how many, when the first came, and between which figures they are."""

    __slots__ = ("_amps", "_time_s", "_volts", "count")

    def __init__(self) -> None:
        self.count = 0
        self._time_s: float | None = None
        self._volts: tuple[float, ...] = ()
        self._amps: tuple[float, ...] = ()

    def add(self, reading: BusReading) -> None:
        if not self.count:
            self._time_s = reading.time_s
        self.count += 1
        self._volts = _ends((*self._volts, reading.voltage_v))
        if reading.current_a is not None:
            self._amps = _ends((*self._amps, reading.current_a))

    def line(self) -> str:
        stamp = "" if self._time_s is None else f"{self._time_s:.6f} s  "
        line = f"{stamp}VBUS {_span(self._volts)} V"
        if self._amps:
            line += f", {_span(self._amps)} A"
        return line + (f" ({self.count} readings)" if self.count > 1 else "")


def _ends(figures: tuple[float, ...]) -> tuple[float, ...]:
    return min(figures), max(figures)


def _span(ends: tuple[float, ...]) -> str:
    low, high = f"{ends[0]:.2f}", f"{ends[1]:.2f}"
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


def message_lines(told: Told) -> list[str]:
    """A message, and what is odd about it."""
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
    lines += map(object_line, told.objects)
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
