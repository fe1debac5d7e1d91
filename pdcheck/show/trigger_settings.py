"""What ``settings`` shows: what each position of a trigger would give on a source, as JSON and as one table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.contract.available import Available
from pdcheck.contract.trigger_settings import Setting
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import request_text
from pdcheck.parts.source import Source
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hex_word
from pdcheck.show.judged import contract_json

SCHEMA = "pdcheck/settings/1"
OUTCOMES = {"as-asked": "as asked", "fallback": "falls back", "type-c": "no PD", "off": "output off"}


def document(
    source: Source, cable: Cable, seen: Available, settings: Sequence[Setting], fallback: str
) -> dict[str, Any]:
    """The JSON document of ``settings``."""
    return {
        "schema": SCHEMA,
        "source": source.id,
        "cable": cable.id,
        "fallback": fallback,
        "pd": seen.pd,
        "settings": [
            {"setting": request_text(each.request), "contract": contract_json(each.contract)} for each in settings
        ],
    }


def text(source: Source, cable: Cable, seen: Available, settings: Sequence[Setting], fallback: str) -> str:
    """One table: setting, what stands then, the request word, why."""
    head = f"{source.id} over {cable.id}; a trigger without its voltage falls back to: {fallback}"
    rows = []
    for each in settings:
        contract = each.contract
        off = contract.outcome == "off"
        rows.append(
            [
                request_text(each.request),
                "-" if off else f"{contract.voltage_v:g} V",
                "-" if off else f"{contract.current_a:g} A",
                OUTCOMES[contract.outcome] + (", mismatch" if contract.mismatch else ""),
                " ".join(hex_word(word) for word in contract.request_words) or "-",
                contract.reason,
            ]
        )
    parts = [paragraph(head, hang=2), table(["set to", "gives", "up to", "how", "request", "why"], rows)]
    if not seen.typec_known and any(each.contract.kind == "type-c" for each in settings):
        parts.append(paragraph(f"assumed: {seen.typec_a:g} A by Type-C, as the source does not state it", hang=2))
    return "\n".join(parts)
