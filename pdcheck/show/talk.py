"""What ``talk`` says, as people read it: how it ends, the course of it, what the branches see."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pdcheck.bits.sequence import Listener
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.contract.talk.cc_line import Packet
from pdcheck.contract.talk.conversation import Conversation
from pdcheck.contract.talk.words import says
from pdcheck.named import NamedTuple
from pdcheck.result import shows
from pdcheck.show.check import contract_line
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import pair_named, shown_triple
from pdcheck.verdict.talk.spans import Span
from pdcheck.verdict.talk.talking import TalkResult

HEADLINES = {
    "contract": "they agree on a contract",
    "off": "they agree on 5 V, and the trigger gives nothing",
    "type-c": "5 V without PD",
    "failed": "no contract",
}
_LONGEST_BLOCK = 9
_FEWEST_TIMES = 3


@shows(TalkResult)
def text(result: TalkResult, *, states: bool = False) -> str:
    """What a person reads: how it ends, the course of it, what the branches see."""
    talk = result.conversation
    parts = [paragraph(f"{pair_named(talk.source.id, talk.cable.id)}, trigger set to {result.setting}: "
                       f"{HEADLINES[talk.result]}.", hang=2)]  # fmt: skip
    if talk.contract is not None:
        parts.append(paragraph(f"in the end: {contract_line(talk.contract)}", indent=2, hang=2))
    else:
        parts.append(paragraph(f"! {talk.reason}", indent=2, hang=2))
    parts += [paragraph(f"assumed: {each}", indent=2, hang=2) for each in talk.assumed]
    parts.append("")
    parts += [_line(shown) for shown in folded(lines(talk, states=states))]
    listed = result.seen
    if listed:
        parts += ["", "What the branches see:", _branches(listed)]
    return "\n".join(parts)


def _line(shown: Shown) -> str:
    line = shown.line
    if shown.times:
        what = "the line above" if shown.block == 1 else f"the {shown.block} lines above"
        return paragraph(f"{'...':>10}  {what} {shown.times} times more, until {line.time_s:.6f} s", hang=12)
    body = paragraph(f"{line.time_s:10.6f}  {line.text}", hang=12)
    return f"{body}\n{paragraph(line.raw, indent=12)}" if line.raw else body


def _branches(listed: Sequence[Span]) -> str:
    blocks: list[str] = []
    before: tuple[object, ...] = ()
    for span in listed:
        same = (span.contract.voltage_v, span.contract.current_a, span.contract.outcome)
        if same == before:
            continue
        before = same
        if span.bus_v is not None:
            bus = shown_triple(span.bus_v, "V")
        else:
            bus = "off" if span.contract.outcome == "off" else "no operating point"
        head = (
            f"from {span.segment.start_s:.3f} s, {span.segment.to_v:g} V up to {span.contract.current_a:g} A: bus {bus}"
        )
        rows = [
            [
                view.branch,
                "-" if view.load_v is None else shown_triple(view.load_v, "V"),
                "-" if view.load_a is None else shown_triple(view.load_a, "A"),
                view.text,
            ]
            for view in span.branches
        ]
        headers = ["branch", "at the load", "current", "remarks"]
        if not any(row[-1] for row in rows):
            headers, rows = headers[:-1], [row[:-1] for row in rows]
        blocks.append(paragraph(head, indent=2, hang=2) + "\n" + table(headers, rows, indent=4))
    return "\n".join(blocks)


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
            text = f"{change.side}: {change.state} ({change.reason})"
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
    for at, size, times in repetitions([line.alike for line in listed], _LONGEST_BLOCK):
        shown += [Shown(line) for line in listed[at : at + size]]
        if times > 1:
            shown.append(Shown(listed[at + size * times - 1], times - 1, size))
    return shown


def repetitions(keys: Sequence[object], longest: int) -> Iterator[tuple[int, int, int]]:
    """Blocks of at most so many keys, one after the other: where each begins, its size, and how often it comes.

    One that comes three times or more, and covers most, is taken together; else a key is a block by itself.
    """
    at = 0
    while at < len(keys):
        best = (1, 1)
        for size in range(1, longest + 1):
            block = keys[at : at + size]
            times = 1
            while keys[at + size * times : at + size * (times + 1)] == block:
                times += 1
            if times >= _FEWEST_TIMES and size * times > best[0] * best[1]:
                best = (size, times)
        yield at, *best
        at += best[0] * best[1]
