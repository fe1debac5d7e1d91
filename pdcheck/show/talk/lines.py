"""The course of a conversation as lines: packets, remarks, states and VBUS in the order of time, repetitions once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from pdcheck.bits.sequence import Listener
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.contract.talk.cc_line import Packet
from pdcheck.contract.talk.conversation import Conversation
from pdcheck.show.talk.words import says

_LONGEST_BLOCK = 9
_FEWEST_TIMES = 3


class Line(NamedTuple):
    """One line: when [s], what kind, what it says, hex below it. ``alike`` is equal where only the time differs."""

    time_s: float
    kind: str
    text: str
    raw: str
    alike: str


def lines(talk: Conversation, *, states: bool = False) -> list[Line]:
    """Every line of a conversation; states only where asked for."""
    listed: list[Line] = []
    for remark in talk.remarks:
        text = {"event": "EVENT ", "trouble": "! "}.get(remark.kind, "") + remark.text
        listed.append(Line(remark.time_s, remark.kind, text, "", text))
    listed += [*_packet_lines(talk.packets), *_voltage_lines(talk.voltage)]
    if states:
        for change in talk.changes:
            text = f"{change.side}: {change.state} ({change.because})"
            listed.append(Line(change.time_s, "state", text, "", text))
    return sorted(listed, key=lambda line: line.time_s)


def _packet_lines(packets: Sequence[Packet]) -> Iterator[Line]:
    listener = Listener()
    for packet in packets:
        if packet.is_reset:
            text = f"{packet.sender} sends {packet.sop.replace('_', ' ')}"
            yield Line(packet.time_s, "message", text, "", text)
            listener = Listener()
            continue
        message = packet.message()
        if message.type == "GoodCRC":
            continue
        said = says(listener.hear(message))
        number = message.header_fields()["id"]
        where = "" if packet.sop == "SOP" else f" {packet.sop}"
        head = f"{packet.sender}{where}  {message.type}"
        tail = f": {said}" if said else ""
        if packet.answered_s is None:
            tail += f"  [no GoodCRC, try {packet.attempt}]"
        yield Line(packet.time_s, "message", f"{head} #{number}{tail}", packet.raw.hex(" "), head + tail)


def _voltage_lines(segments: Sequence[Segment]) -> Iterator[Line]:
    for segment in segments:
        limits = f"{segment.min_v:g}..{segment.max_v:g} V"
        if segment.steady:
            text = f"VBUS {segment.to_v:g} V within {limits}: {segment.text}"
        else:
            text = f"VBUS moves from {segment.from_v:g} to {segment.to_v:g} V, within {limits}"
        yield Line(segment.start_s, "voltage", text, "", text)


class Shown(NamedTuple):
    """A line, or with ``times`` how often a block of ``block`` lines before it comes again, until ``line.time_s``."""

    line: Line
    times: int = 0
    block: int = 0


def folded(listed: Sequence[Line]) -> list[Shown]:
    """Lines with blocks that come three times or more shown once."""
    shown: list[Shown] = []
    keys = [line.alike for line in listed]
    at = 0
    while at < len(listed):
        size, times = _repetition(keys, at)
        if not times:
            shown.append(Shown(listed[at]))
            at += 1
            continue
        shown += [Shown(line) for line in listed[at : at + size]]
        end = at + size * times
        shown.append(Shown(listed[end - 1], times - 1, size))
        at = end
    return shown


def _repetition(keys: Sequence[str], at: int) -> tuple[int, int]:
    """The block from ``at`` that comes again at once most often: its size and how often, or (0, 0)."""
    best = (0, 0)
    for size in range(1, _LONGEST_BLOCK + 1):
        block = keys[at : at + size]
        times = 1
        while keys[at + size * times : at + size * (times + 1)] == block:
            times += 1
        if times >= _FEWEST_TIMES and size * times > best[0] * best[1]:
            best = (size, times)
    return best
