"""Audit: a captured conversation followed and judged."""

from __future__ import annotations

from collections.abc import Callable
from os import PathLike

from pdcheck.errors import InputError
from pdcheck.intake.sniff import open_input
from pdcheck.intake.waveform.options import waveform_options
from pdcheck.parts.cable import Cable
from pdcheck.verdict.audit.auditing import UNDECODED, AuditResult, audit_stream


def audit(
    capture: str | PathLike[str],
    form: str | None = None,
    *,
    channel: str | None = None,
    rate: str | float | None = None,
    threshold: str | float | None = None,
    cable: str | Cable | None = None,
    strict: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> AuditResult:
    """Follow and judge a captured conversation.

    Args:
        capture: the path of a hex log or of a waveform, hex text, or ``-`` for standard input.
        form: what it is, where its look would mislead: hex, vcd or csv.
        channel: of a waveform, the signal or column that is the CC line.
        rate: of a waveform without times, its sample rate [Hz].
        threshold: of an analog waveform, the voltage [V] between low and high.
        cable: a Cable or a description of it, where the capture does not show it.
        strict: refuse a log of which a line cannot be read.
        progress: told how many bytes are read, and of how many.

    Raises:
        InputError: what cannot be read, a capture without a message.

    >>> audit("6111 2c910108 5cb81f2e")
    <AuditResult: 1 message, no contract, 0 findings>
    """
    how = waveform_options(channel, rate, threshold)._replace(progress=progress, gathered=False, torn=not strict)
    try:
        held = Cable(cable) if isinstance(cable, str) else cable
    except InputError as error:
        raise error.of("cable") from None
    with open_input(str(capture), form, how) as stream:
        audited = audit_stream(stream, None if held is None else round(held.current_a * 1000))
    if not audited.message_count and not any(each.finding.rule == UNDECODED for each in audited.remarks):
        raise InputError("holds no message", expected="a conversation: a hex log or a waveform of the CC line")
    return audited
