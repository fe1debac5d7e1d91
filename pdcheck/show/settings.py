"""What ``settings`` shows: what each position of a trigger would give on a source, as one table."""

from __future__ import annotations

from pdcheck.contract.trigger_settings import Settings
from pdcheck.parts.request import request_text
from pdcheck.result import shows
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import pair_named

OUTCOMES = {"as-asked": "as asked", "fallback": "falls back", "type-c": "no PD", "off": "output off"}


@shows(Settings)
def text(found: Settings) -> str:
    """One table: setting, what stands then, the request word, why."""
    pair = pair_named(found.source.id, found.cable.id)
    head = f"{pair}; without its voltage the trigger falls back to: {found.fallback}"
    rows = []
    for each in found.settings:
        contract = each.contract
        off = contract.outcome == "off"
        rows.append(
            [
                request_text(each.request),
                "-" if off else f"{contract.voltage_v:g} V",
                "-" if off else f"{contract.current_a:g} A",
                OUTCOMES[contract.outcome] + (", mismatch" if contract.mismatch else ""),
                " ".join(f"{word:08X}" for word in contract.request_words) or "-",
                contract.reason,
            ]
        )
    parts = [paragraph(head, hang=2), table(["set to", "gives", "up to", "how", "request", "why"], rows)]
    if not found.seen.typec_known and any(each.contract.kind == "type-c" for each in found.settings):
        parts.append(paragraph(f"assumed: {found.seen.typec_a:g} A by Type-C, as the source does not state it", hang=2))
    return "\n".join(parts)
