"""Messages to the signal on CC: transitions of a packet, and a value change dump (IEEE 1364) of several."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.bits.line import BIT_RATE_NOMINAL, packet_bits
from pdcheck.errors import InputError
from pdcheck.named import NamedTuple

_NANOSECONDS = 1_000_000_000


class Sent(NamedTuple):
    """A packet to draw: start in seconds, bytes with CRC as sent (empty for a reset), ordered set."""

    time_s: float
    raw: bytes
    sop: str = "SOP"


def packet_levels(
    raw: bytes, sop: str = "SOP", bit_rate: float = BIT_RATE_NOMINAL.value, *, idle: int = 0
) -> list[tuple[float, int]]:
    """Transitions of one packet as (time in seconds from its start, level from then on).

    ``raw`` is header, payload and CRC as sent, empty for Hard_Reset and Cable_Reset; ``bit_rate`` in bit/s; ``idle`` is
    the level before, which the line goes back to one bit after the end where the last bit leaves it at the other.
    Raises ValueError for an unknown ordered set. Source: PD R3.2 V1.1, Tables 5.1 to 5.17 [checked].

    >>> [(round(time * 1e6, 2), level) for time, level in packet_levels(b"", "Hard_Reset", 250e3)[:4]]
    [(0.0, 1), (4.0, 0), (6.0, 1), (8.0, 0)]
    """
    level = idle
    levels: list[tuple[float, int]] = []
    place = 0
    for bit in packet_bits(raw, sop):
        for half in range(2 if bit else 1):
            level ^= 1
            levels.append(((place + half / 2) / bit_rate, level))
        place += 1
    level ^= 1
    levels.append((place / bit_rate, level))
    if level != idle:
        levels.append(((place + 1) / bit_rate, idle))
    return levels


def write_vcd(
    packets: Iterable[Sent | tuple[float, bytes, str]],
    *,
    bit_rate: float = BIT_RATE_NOMINAL.value,
    idle: int = 0,
    name: str = "CC",
    tail_s: float = 100e-6,
) -> str:
    """A value change dump of packets on one wire, in steps of 1 ns.

    ``packets`` are (start in seconds, bytes with CRC, ordered set) by rising time; one that begins before
    the end of the one before raises InputError. ``tail_s`` of idle line follow the last.

    >>> print(write_vcd([(0.0, b"", "Hard_Reset")]).split("$enddefinitions $end")[1][:22].split())
    ['#0', '$dumpvars', '0!', '$end']
    """
    lines = [
        "$timescale 1 ns $end",
        "$scope module line $end",
        f"$var wire 1 ! {name} $end",
        "$upscope $end",
        "$enddefinitions $end",
    ]
    changes: list[tuple[int, int]] = []
    free_s = 0.0
    for time_s, raw, sop in packets:
        if time_s < free_s:
            raise InputError(f"a packet at {time_s:g} s begins before {free_s:g} s, where the one before it ends")
        levels = packet_levels(raw, sop, bit_rate, idle=idle)
        changes += [(round((time_s + at) * _NANOSECONDS), level) for at, level in levels]
        free_s = time_s + levels[-1][0]
    lines += ["#0", "$dumpvars", f"{idle}!", "$end"]
    lines += [f"#{at}\n{level}!" for at, level in changes]
    lines.append(f"#{round((free_s + tail_s) * _NANOSECONDS)}")
    return "\n".join(lines) + "\n"
