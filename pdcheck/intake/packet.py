"""Packet and BadPacket: what comes off the CC line, before anyone reads the bytes."""

from __future__ import annotations

from typing import Annotated

from pdcheck.marks import UNTOLD
from pdcheck.named import NamedTuple


class Packet(NamedTuple):
    """One packet: its start and end in seconds, its ordered set, its bytes as sent, what was odd about it.

    ``raw`` is header, payload and CRC; empty for Hard_Reset and Cable_Reset. ``sop`` is a key of
    ``pdcheck.bits.line.ORDERED_SETS``. ``bit_rate`` is the measured mean in bit/s.
    """

    time_s: float
    end_s: float
    sop: str
    raw: bytes
    bit_rate: float
    problems: tuple[str, ...] = ()


class BadPacket(NamedTuple):
    """Something that was a packet and could not be decoded: its start in seconds and the reason.

    ``cut`` is set where the capture begins or ends inside it, so that nobody sent anything wrong.
    """

    time_s: float
    reason: str
    cut: Annotated[bool, UNTOLD] = False
