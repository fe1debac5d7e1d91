"""Messages that are there already, audited as an input that says them in turn."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from pdcheck.bits.sequence import Told
from pdcheck.errors import InputError
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.stream import Gap, Intake, Stream
from pdcheck.verdict.audit.auditing import AuditResult, audit_stream


def audit(
    told: Iterable[Told],
    resolution_s: float | None = None,
    lost: Sequence[BadPacket] = (),
    *,
    gaps: Sequence[Gap] = (),
    cable_ma: int | None = None,
) -> AuditResult:
    """The audit of messages, of packets that were not decoded and of lines that could not be read."""
    items: list[Any] = [each.message for each in told]
    for gap in reversed(gaps):
        items.insert(gap.after + 1, InputError(gap.reason, where=gap.where))
    return audit_stream(Stream(Intake("log", resolution_s=resolution_s), [*lost, *items]), cable_ma)
