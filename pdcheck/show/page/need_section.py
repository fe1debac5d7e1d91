"""The section on what to buy: in the words of ``need``, the least charger, cable and wires, and other settings."""

from __future__ import annotations

from pdcheck.parts.rig import Rig
from pdcheck.show.need import (
    FALLBACK_HEADERS,
    FALLBACKS_TITLE,
    LEAST_HEADERS,
    SETTING_HEADERS,
    SETTINGS_TITLE,
    WIRE_HEADERS,
    fallback_advice,
    fallback_rows,
    least_facts,
    least_rows,
    setting_rows,
    spared_text,
    wire_rows,
    wires_title,
)
from pdcheck.show.page.section import Section, Sheet
from pdcheck.verdict.need.around import Needs, all_needs
from pdcheck.verdict.not_judged import SETTLED_BY


def need_section(rig: Rig) -> Section:
    """What a rig needs, and what would change it."""
    needs = all_needs(rig)
    tables = [
        Sheet("The least to buy", LEAST_HEADERS, [] if needs.least is None else least_rows(needs, needs.least)),
        Sheet(wires_title(needs), WIRE_HEADERS, wire_rows(needs)),
        Sheet(SETTINGS_TITLE, SETTING_HEADERS, setting_rows(needs.settings)),
        Sheet(FALLBACKS_TITLE, FALLBACK_HEADERS, _named(fallback_rows(needs))),
    ]
    return Section(
        "need", "What to buy", "What to buy", _text(needs), tables=[each for each in tables if each.rows],
        terms=_facts(needs), terms_title="More about charger and cable",
    )  # fmt: skip


def _text(needs: Needs) -> list[str]:
    """The least in one line, what it depends on, and what would let one buy less."""
    if needs.least is None:
        text = ["No standard charger works with this rig, whatever the cable.", *needs.reasons]
    else:
        text = [least_facts(needs.least)[0]]
        text += [f"If {each.text} ({SETTLED_BY[each.settle_by]})." for each in needs.not_judged]
    if needs.fallbacks:
        text.append(fallback_advice(needs))
    return text + [f"One change that would let you buy less: {spared_text(each)}." for each in needs.spared]


def _facts(needs: Needs) -> list[tuple[str, str]]:
    """What is used of the charger and what the cable may be, each under its first word."""
    facts = [] if needs.least is None else least_facts(needs.least)[1:]
    pairs = (each.partition(": ") for each in facts)
    return [(name, rest) if rest else ("Chargers", name) for name, _, rest in pairs]


def _named(rows: list[list[str]]) -> list[list[str]]:
    """Rows that each say what they are about, also where a terminal leaves it out below the first."""
    named: list[list[str]] = []
    for row in rows:
        named.append([row[0] or named[-1][0], *row[1:]])
    return named
