"""A capture, as people name it, followed and judged."""

from __future__ import annotations

from collections.abc import Callable

from pdcheck.errors import InputError
from pdcheck.intake.sniff import read_input
from pdcheck.intake.waveform.options import waveform_options
from pdcheck.parts.cable import Cable, read_cable_description
from pdcheck.parts.kept_source import keep_source
from pdcheck.verdict.audit.auditing import AuditResult, audit, captured_over, last_offers


def audit_capture(
    capture: str,
    form: str | None = None,
    *,
    channel: str | None = None,
    rate: str | float | None = None,
    threshold: str | float | None = None,
    cable: str | Cable | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> AuditResult:
    """Follow and judge a capture: the path of a hex log or of a waveform, hex text, or ``-`` for standard input.

    The options are as ``decode`` has them; ``cable`` describes the cable where the capture does not show it. Raises
    ``InputError`` for what cannot be read, and where there is no message in it.

    >>> audit_capture("6111 2c910108 5cb81f2e")
    <AuditResult: 1 messages, no contract, 0 findings>
    """
    intake = read_input(capture, form, progress=progress, **waveform_options(channel, rate, threshold))
    if not intake.told and not intake.lost:
        raise InputError("holds no message", expected="a conversation: a hex log or a waveform of the CC line")
    held = read_cable_description(cable) if isinstance(cable, str) else cable
    cable_ma = None if held is None else round(held.current_a * 1000)
    return audit(intake.told, intake.resolution_s, intake.lost, cable_ma=cable_ma)


def keep_audited(audited: AuditResult, kit: str, id: str, *, replace: bool = False) -> str:
    """Add the offers of an audited source to a kit file; what was done to it.

    Raises ``InputError`` as ``keep_source`` does.
    """
    return keep_source(kit, id, last_offers(audited.log), captured_over=captured_over(audited), replace=replace)
