"""What ``kit`` shows: what a kit holds, or one part of it, as text and JSON."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple, format_quantity
from pdcheck.show.check import triple_json
from pdcheck.show.columns import paragraph, table
from pdcheck.show.decoded import offer_json, offers_table
from pdcheck.show.figures import volts

SCHEMA = "pdcheck/kit/1"
CHANGE_SCHEMA = "pdcheck/kit-change/1"


def parts_named(kit: Kit, id: str | None) -> tuple[tuple[Source, ...], tuple[Cable, ...]]:
    """The sources and cables of a kit, or those of one id; InputError with the ids there are, if there is none."""
    if id is None:
        return kit.sources, kit.cables
    sources = tuple(source for source in kit.sources if source.id == id)
    cables = tuple(cable for cable in kit.cables if cable.id == id)
    if not sources and not cables:
        known = [source.id for source in kit.sources] + [cable.id for cable in kit.cables]
        raise InputError(f"the kit has no {id!r}", expected=nearest(id, known) if known else "a part in it")
    return sources, cables


def document(kit: Kit, id: str | None = None) -> dict[str, Any]:
    """The JSON document of ``kit list`` and ``kit show``."""
    sources, cables = parts_named(kit, id)
    return {
        "schema": SCHEMA,
        "title": kit.title,
        "sources": [source_json(source) for source in sources],
        "cables": [cable_json(cable) for cable in cables],
    }


def source_json(source: Source) -> dict[str, Any]:
    """A source as the kit holds it."""
    return {
        "id": source.id,
        "title": source.title,
        "offers": [offer_json(offer) for offer in source.offers if not offer.is_gap],
        "capture": source.capture,
        "captured_over": source.captured_over,
        "pdp_w": source.pdp_w,
        "typec_current_a": source.typec_current_a,
        "tolerance": source.tolerance,
        "cable": None if source.cable is None else cable_json(source.cable),
        "problems": list(source.problems),
    }


def cable_json(cable: Cable) -> dict[str, Any]:
    """A cable as the kit holds it."""
    loop = None if cable.loop is None else Triple(*(round(each * 1000, 9) for each in cable.loop))
    return {
        "id": cable.id,
        "title": cable.title,
        "construction": cable.construction,
        "emarker": cable.emarker,
        "pd": cable.pd,
        "current_ma": round(cable.current_a * 1000),
        "voltage_mv": round(cable.voltage_v * 1000),
        "epr": cable.is_epr,
        "loop_mohm": None if loop is None else triple_json(loop),
        "length_m": cable.length_m,
        "problems": list(cable.problems),
        "assumed": list(cable.assumed),
    }


def change_json(kit: str, change: str, kind: str, id: str, capture: str | None) -> dict[str, Any]:
    """The JSON document of ``kit add`` and ``kit remove``."""
    return {"schema": CHANGE_SCHEMA, "kit": kit, "change": change, "kind": kind, "id": id, "capture": capture}


def text(kit: Kit, id: str | None = None) -> str:
    """What a person reads: one line a part, or all about one."""
    sources, cables = parts_named(kit, id)
    if id is not None:
        return "\n\n".join([*(_source(source) for source in sources), *(_cable(cable) for cable in cables)])
    parts = [kit.title] if kit.title else []
    if sources:
        rows = [[each.id, each.title, _offers_line(each)] for each in sources]
        parts.append(table(["source", "title", "offers"], _short_titles(rows)))
    if cables:
        rows = [[each.id, each.title, _carries(each)] for each in cables]
        parts.append(table(["cable", "title", "carries"], _short_titles(rows)))
    return "\n\n".join(parts) if sources or cables else "the kit is empty"


def _short_titles(rows: list[list[str]]) -> list[list[str]]:
    """Rows with the titles cut to leave room for what the part can do."""
    return [[id, title if len(title) <= 28 else f"{title[:27]}…", last] for id, title, last in rows]


def _offers_line(source: Source) -> str:
    shown = []
    for offer in source.offers:
        if offer.is_gap:
            continue
        span = volts(offer.max_mv) if offer.min_mv == offer.max_mv else f"{offer.min_mv / 1000:g}-{volts(offer.max_mv)}"
        kind = "" if offer.kind == "fixed" else f"{offer.kind} "
        current = "" if offer.current_ma is None else f" {offer.current_ma / 1000:g} A"
        shown.append(f"{kind}{span}{current}")
    return ", ".join(shown) or f"no PD, 5 V {source.typec_current_a or 0:g} A"


def _carries(cable: Cable) -> str:
    reach = f"{cable.current_a:g} A, {cable.voltage_v:g} V" if cable.pd else f"{cable.current_a:g} A, 5 V without PD"
    loop = "not measured" if cable.loop is None else format_quantity(cable.loop.typ, "ohm")
    return f"{reach}{', EPR' if cable.is_epr else ''}; loop {loop}"


def _heading(part: Source | Cable) -> str:
    return f"{part.id}: {part.title}" if part.title else part.id


def _source(source: Source) -> str:
    lines = [paragraph(_heading(source), hang=2)]
    if source.offers:
        lines.append(offers_table(source.offers))
    figures = [
        ("printed power", None if source.pdp_w is None else f"{source.pdp_w:g} W"),
        ("offers read over a cable of", source.captured_over),
        ("without PD", None if source.typec_current_a is None else f"5 V {source.typec_current_a:g} A"),
        ("capture", source.capture),
        ("fixed cable", None if source.cable is None else f"{_carries(source.cable)}"),
    ]
    lines += _figures(figures)
    return "\n".join(lines + _remarks(source.problems))


def _cable(cable: Cable) -> str:
    lines = [paragraph(_heading(cable), hang=2)]
    figures = [
        ("construction", cable.construction),
        ("carries", _carries(cable)),
        ("e-marker", "yes" if cable.emarker else "no"),
        ("length", None if cable.length_m is None else format_quantity(cable.length_m, "m")),
    ]
    lines += _figures(figures)
    return "\n".join(lines + _remarks(cable.problems) + _remarks(cable.assumed, "counted with: "))


def _figures(figures: Iterable[tuple[str, str | None]]) -> list[str]:
    return [paragraph(f"{name}: {value}", indent=2, hang=2) for name, value in figures if value is not None]


def _remarks(remarks: Iterable[str], mark: str = "! ") -> list[str]:
    return [paragraph(f"{mark}{each}", indent=2, hang=2) for each in remarks]
