"""What ``talk`` shows: the text and the JSON document, the hex log and the VCD of a conversation."""

from __future__ import annotations

from typing import Any

from pdcheck.bits.sequence import Listener
from pdcheck.contract.talk.conversation import Conversation
from pdcheck.intake.waveform.writing import Sent, write_vcd
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple
from pdcheck.show.check import contract_json, contract_line, shown_triple, triple_json
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hex_word
from pdcheck.show.talk.lines import Shown, folded, lines
from pdcheck.show.talk.spans import Span, spans
from pdcheck.show.talk.words import says

SCHEMA = "pdcheck/talk/1"
HEADLINES = {
    "contract": "a contract stands",
    "off": "a contract stands at 5 V, and the trigger gives nothing",
    "type-c": "5 V without PD",
    "failed": "no contract",
}


def document(rig: Rig, talk: Conversation) -> dict[str, Any]:
    """The JSON document of ``talk``."""
    return {
        "schema": SCHEMA,
        "rig": rig.title,
        "source": talk.source.id,
        "cable": talk.cable.id,
        "request": request_text(talk.trigger.request),
        "until_s": talk.until_s,
        "result": talk.result,
        "reason": talk.reason,
        "contract": None if talk.contract is None else contract_json(talk.contract),
        "contracts": [
            {"time_s": stand.time_s, "contract": None if stand.contract is None else contract_json(stand.contract)}
            for stand in talk.stands
        ],
        "messages": _messages_json(talk),
        "states": [change._asdict() for change in talk.changes],
        "remarks": [remark._asdict() for remark in talk.remarks],
        "voltage": [segment._asdict() for segment in talk.voltage],
        "branches": [_span_json(span) for span in spans(rig, talk)],
        "assumed": list(talk.assumed),
    }


def _messages_json(talk: Conversation) -> list[dict[str, Any]]:
    listener = Listener()
    out: list[dict[str, Any]] = []
    for index, packet in enumerate(talk.packets):
        row: dict[str, Any] = {
            "index": index,
            "time_s": packet.time_s,
            "end_s": packet.end_s,
            "sop": packet.sop,
            "sender": packet.sender,
            "type": packet.sop,
            "raw": packet.raw.hex(),
        }
        if packet.is_reset:
            listener = Listener()
        else:
            message = packet.message()
            header = message.header_fields()
            row |= {
                "type": message.type,
                "id": header["id"],
                "revision": message.revision,
                "extended": message.extended,
                "words": [hex_word(word) for word in message.words],
                "data": message.data.hex(),
                "text": says(listener.hear(message)),
                "attempt": packet.attempt,
                "good_crc_s": packet.answered_s,
            }
        out.append(row)
    return out


def _span_json(span: Span) -> dict[str, Any]:
    def triple(value: Triple | None) -> dict[str, float] | None:
        return None if value is None else triple_json(value)

    return {
        "start_s": span.segment.start_s,
        "end_s": span.segment.end_s,
        "voltage_v": span.segment.to_v,
        "current_a": span.contract.current_a,
        "bus_v": triple(span.bus_v),
        "branches": [
            {
                "branch": view.branch,
                "input_v": triple(view.input_v),
                "load_v": triple(view.load_v),
                "load_a": triple(view.load_a),
                "text": view.text,
            }
            for view in span.branches
        ],
    }


def text(rig: Rig, talk: Conversation, *, states: bool = False) -> str:
    """What a person reads: how it ends, the course of it, what the branches see."""
    parts = [paragraph(f"{talk.source.id} over {talk.cable.id}, trigger set to {request_text(talk.trigger.request)}: "
                       f"{HEADLINES[talk.result]}.", hang=2)]  # fmt: skip
    if talk.contract is not None:
        parts.append(paragraph(f"in the end: {contract_line(talk.contract)}", indent=2, hang=2))
    else:
        parts.append(paragraph(f"! {talk.reason}", indent=2, hang=2))
    parts += [paragraph(f"assumed: {each}", indent=2, hang=2) for each in talk.assumed]
    parts.append("")
    parts += [_line(shown) for shown in folded(lines(talk, states=states))]
    listed = spans(rig, talk)
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


def _branches(listed: list[Span]) -> str:
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


def log(talk: Conversation) -> str:
    """The packets as a hex log: seconds, ordered set, bytes with CRC; a reset is its name alone."""
    return "".join(f"{packet.time_s:.6f} {packet.sop} {packet.raw.hex()}".rstrip() + "\n" for packet in talk.packets)


def vcd(talk: Conversation) -> str:
    """The CC line as a value change dump (IEEE 1364)."""
    return write_vcd(Sent(packet.time_s, packet.raw, packet.sop) for packet in talk.packets)
