"""What ``kit`` says: what a kit holds, one part of it, or what was changed, as people read it."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.bits.offers import volts
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit_result import KitChange, KitResult
from pdcheck.parts.source import Source
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.clean import clean
from pdcheck.show.columns import paragraph, table
from pdcheck.show.offers import offers_table


@shows(KitResult)
def text(result: KitResult) -> str:
    """What a person reads: one line a part, or all about one."""
    sources, cables = result.parts
    if result.id is not None:
        return "\n\n".join([*(_source(source) for source in sources), *(_cable(cable) for cable in cables)])
    parts = [result.title] if result.title else []
    if sources:
        rows = [[each.id, each.title, _offers_line(each)] for each in sources]
        parts.append(table(["source", "title", "offers"], _short_titles(rows)))
    if cables:
        rows = [[each.id, each.title, _carries(each)] for each in cables]
        parts.append(table(["cable", "title", "carries"], _short_titles(rows)))
    return "\n\n".join(parts) if sources or cables else "the kit is empty"


@shows(KitChange)
def changed(result: KitChange) -> str:
    """What was done, in one line."""
    preposition = {"removed": "from", "replaced": "in", "added": "to"}[result.change]
    told = f"{result.change} {result.kind} {result.id} {preposition} {result.kit}"
    stays = "its capture stays in" if result.change == "removed" else "its capture is kept in"
    return clean(told + (f"; {stays} {result.capture}" if result.capture else ""))


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
        ("offers read with a cable of", source.captured_over),
        ("without PD", None if source.typec_current_a is None else f"5 V {source.typec_current_a:g} A"),
        ("energy", None if source.energy_wh is None else format_quantity(source.energy_wh, "Wh")),
        ("capacity of its cells", None if source.capacity is None else str(source.capacity)),
        ("rated output", None if source.rated_output is None else str(source.rated_output)),
        ("of its energy comes out", None if source.efficiency is None else format_quantity(source.efficiency, "%")),
        ("switches off below", None if source.sleeps_below_a is None else format_quantity(source.sleeps_below_a, "A")),
        ("capture", source.capture),
        ("fixed cable", None if source.cable is None else f"{_carries(source.cable)}"),
    ]
    lines += _figures(figures)
    if source.ports is not None:
        from pdcheck.show.ports import ports_text

        lines += [f"  on its port {source.port_name}, alone", ports_text(source.ports)]
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
    return "\n".join(lines + _remarks(cable.problems) + _remarks(cable.assumed, "assumed: "))


def _figures(figures: Iterable[tuple[str, str | None]]) -> list[str]:
    return [paragraph(f"{name}: {value}", indent=2, hang=2) for name, value in figures if value is not None]


def _remarks(remarks: Iterable[str], mark: str = "! ") -> list[str]:
    return [paragraph(f"{mark}{each}", indent=2, hang=2) for each in remarks]
