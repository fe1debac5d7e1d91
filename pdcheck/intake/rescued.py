"""What a line says that the plain reader cannot read: a message that its CRC proves, or a figure of the bus."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pdcheck.intake.content import Layout, message_of
from pdcheck.intake.row import has_bytes, read_row
from pdcheck.intake.stream import BusReading, proved, time_text
from pdcheck.intake.table import NO_HEAD
from pdcheck.intake.times import Times, stamp_of

if TYPE_CHECKING:
    from pdcheck.intake.stream import Item


def rescued(text: str) -> tuple[str, Item] | None:
    """What a row says that the plain reader cannot read: a message that its CRC proves, or a figure of the bus."""
    row = read_row(text)
    found = message_of(row, _ANY)
    stamp = stamp_of(row, 1 << 30 if found is None else found.at, Times())
    time_s = None
    if stamp is not None and (stamp.unit_s or not stamp.whole):
        time_s = stamp.number / round(1 / (stamp.unit_s or 1.0))
    if found is not None and found.data:
        return time_text(time_s), proved(found.sop, found.data, time_s)
    if row.bus is not None and row.says_bus and not has_bytes(row):
        return time_text(time_s), BusReading(time_s, row.bus.volts, row.bus.amps)
    return None


_ANY = Layout(NO_HEAD, None, True, Times())
