"""What ``decode`` shows: the JSON document and the text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from pdcheck.bits.header import HEADER
from pdcheck.bits.message import RESETS
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import Offer, offer_problems
from pdcheck.bits.problems import Problem
from pdcheck.bits.sequence import Told
from pdcheck.intake.sniff import Intake
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hex_word, volts

if TYPE_CHECKING:
    from pdcheck.bits.catalogue import BlockReading

SCHEMA = "pdcheck/decode/1"
# The bits that make an object its kind are told by "kind".
_KIND_KEYS = ("supply", "augmented")


def document(intake: Intake) -> dict[str, Any]:
    """The JSON document of ``decode``: plain values only."""
    return {
        "schema": SCHEMA,
        "form": intake.form,
        "messages": [message_json(told, index) for index, told in enumerate(intake.told)],
        "offers": [offer_json(offer) for offer in intake.offers if not offer.is_gap],
        "objects": [reading_json(reading) for reading in intake.objects],
        "doubtful": intake.doubtful,
        "problems": problems_json(intake.problems),
    }


def problems_json(problems: Iterable[Problem]) -> list[dict[str, str]]:
    """Problems as objects with code, where and text."""
    return [{"code": each.code, "where": each.where, "text": each.text} for each in problems]


def offer_json(offer: Offer) -> dict[str, Any]:
    """One offer; which figures it carries depends on its kind."""
    values = offer.fields()
    figures = {key: value for key, value in values.items() if not isinstance(value, bool) and key not in _KIND_KEYS}
    if offer.kind == "spr-avs":
        figures |= {"min_voltage_mv": offer.min_mv, "max_voltage_mv": offer.max_mv}
    return {
        "position": offer.position,
        "kind": offer.kind,
        "word": hex_word(offer.word),
        **figures,
        "flags": list(offer.flags),
        "problems": problems_json(offer_problems(offer, epr_message=offer.is_epr)),
    }


def reading_json(reading: Reading) -> dict[str, Any]:
    """One object that is no offer: its figures by key, its flags, the names of its codes."""
    figures = {key: value for key, value in reading.fields.items() if not isinstance(value, bool)}
    if reading.kind in ("fixed", "battery", "variable", "pps", "spr-avs", "epr-avs"):
        for key in _KIND_KEYS:
            figures.pop(key, None)
    meanings = {key: text for key, text in reading.meanings().items() if key in figures}
    out = {"kind": reading.kind, "word": hex_word(reading.word), **figures, "flags": reading.flags()}
    if meanings:
        out["meanings"] = meanings
    marks = reading.marks()
    if any("[memory]" in mark for mark in marks.values()):
        out["marks"] = marks
    if any(problem.code == "ambiguous" for problem in reading.problems):
        out["ambiguous"] = True
    out["problems"] = problems_json(reading.problems)
    return out


def message_json(told: Told, index: int) -> dict[str, Any]:
    """One message with header, objects, CRC, raw bytes and problems."""
    message = told.message
    crc: dict[str, Any] | None = None
    raw = message.raw
    if message.crc_given is not None:
        crc = {"given": hex_word(message.crc_given), "computed": hex_word(message.crc_computed), "ok": message.crc_ok}
        raw += message.crc_given.to_bytes(4, "little")
    objects = [offered_json(offer) for offer in told.offers]
    objects += [reading_json(reading) for reading in told.objects]
    out: dict[str, Any] = {
        "index": index,
        "time_s": message.time_s,
        "sop": message.sop,
        "header": None if message.sop in RESETS else header_json(told),
        "objects": objects,
        "crc": crc,
        "raw": raw.hex(),
        "problems": problems_json(told.problems),
    }
    if message.extended:
        out["extended_header"] = message.extended_fields()
    if told.block is not None:
        block = told.block
        out["block"] = {
            "kind": block.kind,
            "data": block.data.hex(),
            **block.fields,
            "meanings": block.meanings(),
            "marks": block.marks(),
            "problems": problems_json(block.problems),
        }
    return out


def offered_json(offer: Offer) -> dict[str, Any]:
    """An object of a list of offers: an offer, or the gap that stands in its place."""
    if offer.is_gap:
        return {"position": offer.position, "kind": "gap", "word": hex_word(0), "flags": [], "problems": []}
    return offer_json(offer)


def header_json(told: Told) -> dict[str, Any]:
    """The header with its codes by name."""
    message = told.message
    fields: Mapping[str, Any] = message.header_fields()
    cable = message.sop != "SOP"
    return {
        "type": message.type,
        "id": fields["id"],
        "revision": message.revision,
        "power_role": _cable_role(fields) if cable else HEADER.field("power_role").meaning(fields["power_role"]),
        "data_role": None if cable else HEADER.field("data_role").meaning(fields["data_role"]),
        "object_count": fields["object_count"],
        "extended": fields["extended"],
        "word": hex_word(message.header, 4),
    }


def _cable_role(fields: Mapping[str, Any]) -> str:
    return "cable plug" if fields["power_role"] else "port"


def offer_cells(offer: Offer) -> list[str]:
    """Position, kind, voltage, current, power and word of an offer, for a table."""
    span = volts(offer.max_mv) if offer.min_mv == offer.max_mv else f"{offer.min_mv / 1000:g}..{volts(offer.max_mv)}"
    if offer.kind == "augmented-reserved":
        span = "?"
    if offer.current_ma is not None:
        current = f"{offer.current_ma / 1000:g} A"
        power = f"{offer.max_mv * offer.current_ma / 1e6:.4g} W"
    elif offer.power_mw is not None:
        current, power = "by power", f"{offer.power_mw / 1000:g} W"
    elif offer.pdp_w is not None:
        current, power = "by power", f"{offer.pdp_w} W"
    elif offer.current_15v_ma is not None and offer.current_20v_ma is not None:
        current = f"{offer.current_15v_ma / 1000:g} A"
        if offer.current_20v_ma:
            current += f" (to 15 V), {offer.current_20v_ma / 1000:g} A"
        power = f"{max(15 * offer.current_15v_ma, 20 * offer.current_20v_ma) / 1000:.4g} W"
    else:
        current = power = "?"
    return [str(offer.position), offer.kind, span, current, power, hex_word(offer.word)]


def offers_table(offers: Iterable[Offer]) -> str:
    """The offers as a table."""
    rows = [offer_cells(offer) for offer in offers if not offer.is_gap]
    return table(["at", "kind", "voltage", "current", "power", "word"], rows)


def text(intake: Intake) -> str:
    """What a person reads."""
    parts: list[str] = []
    for told in intake.told:
        parts += _message_lines(told)
    for reading in intake.objects:
        parts.append(paragraph(_reading_line(reading), indent=2, hang=2))
    listed = [each.offers for each in intake.told if each.offers]
    if intake.offers and (not listed or listed[-1] != intake.offers):
        parts.append(offers_table(intake.offers))
    shown = {problem for told in intake.told for problem in told.problems}
    parts += [paragraph(f"! {problem}", indent=2, hang=2) for problem in intake.problems if problem not in shown]
    if intake.power_w:
        parts.append(f"  printed power: {intake.power_w:g} W")
    if intake.doubtful:
        parts.append("  ! The CRC is wrong: these offers are doubtful. Capture them again before you rely on them.")
    return "\n".join(parts)


def _message_lines(told: Told) -> list[str]:
    message = told.message
    stamp = "" if message.time_s is None else f"{message.time_s:.6f} s  "
    if message.sop in RESETS:
        return [f"{stamp}{message.sop.replace('_', ' ')}"]
    header = header_json(told)
    crc = {None: "no CRC given", True: "CRC good", False: "CRC WRONG"}[message.crc_ok]
    role = ", ".join(str(each) for each in (header["power_role"], header["data_role"]) if each)
    line = f"{stamp}{message.sop}  {message.type}  #{header['id']}, Revision {header['revision']}, {role}, {crc}"
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
        f"{key} {meanings.get(key, 'unknown' if value is None else value)}"
        for key, value in block.fields.items()
        if not isinstance(value, bool)
    ]
    figures += [key for key, value in block.fields.items() if value is True]
    recalled = sorted(key for key, mark in block.marks().items() if "[memory]" in mark)
    line = ", ".join(figures) or f"data {block.data.hex(' ')}"
    return f"{line} (from memory of the standard: {', '.join(recalled)})" if recalled else line


def _reading_line(reading: Reading) -> str:
    meanings = reading.meanings()
    figures = [
        f"{key} {meanings.get(key, value)}"
        for key, value in reading.fields.items()
        if not isinstance(value, bool) and key not in _KIND_KEYS
    ]
    return f"{reading.kind} {hex_word(reading.word)}: {', '.join(figures + reading.flags()) or 'no fields'}"
