"""``decode --jsonl`` and ``--csv``: a record a message, written while the input is read."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING

import click

from pdcheck.errors import InputError
from pdcheck.intake.hexlog import HexLog
from pdcheck.intake.open_log import opened_log
from pdcheck.show.record_text import CsvRows, JsonLines
from pdcheck.show.streamed import Streamed

if TYPE_CHECKING:
    from pdcheck.cli.waveform_options import WaveformOptions

# A job that is over sooner needs no bar [s].
_BAR_AFTER = 1.0
_BAR_EVERY = 0.1
# Below, to start other processes would take longer than they save [bytes].
_SHARED_FROM = 4_000_000
# More could not write faster than one can gather.
_MOST_PROCESSES = 4


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


def stream(argument: str, form: str | None, request_form: str | None, options: WaveformOptions, *, as_csv: bool) -> int:
    """Write the messages of an input as JSON Lines or CSV; the exit code.

    A log of hex is read in pieces; any other input is read first and written then.
    """
    streamed = Streamed(CsvRows() if as_csv else JsonLines(), request_form)
    opening = [streamed.text.opening]

    def write(text: str) -> None:
        # The names of the columns come with the first rows: an input that cannot be read leaves no empty table.
        sys.stdout.write(opening.pop() + text if opening else text)
        sys.stdout.flush()

    with _bar() as bar, opened_log(argument, _form(form, options), bar) as log:
        if isinstance(log, HexLog):
            return _stream_log(argument, log, streamed, write, begun=lambda: not opening)
        from pdcheck.intake.sniff import read_input

        intake = read_input(argument, form, request_form=request_form, progress=bar, taken=log, **options)
    if not intake.told and (intake.offers or intake.objects):
        raise _no_messages(argument)
    streamed.show_told(intake.told, write)
    if opening:
        write("")
    if intake.lost:
        _note(f"left out what could not be decoded, {len(intake.lost)} in all; --json lists it")
    return 1 if streamed.bad_crc or intake.lost else 0


def _stream_log(
    argument: str, log: HexLog, streamed: Streamed, write: Callable[[str], None], begun: Callable[[], bool]
) -> int:
    processes = _cores() if log.size >= _SHARED_FROM else 1
    try:
        if processes > 1:
            from pdcheck.show.shared_out import show_shared

            show_shared(streamed, log, write, min(processes, _MOST_PROCESSES))
        else:
            streamed.show(log, write)
    except InputError as error:
        raise error.inside(_name(argument)) from None
    if not begun():
        raise _no_messages(argument)
    if log.words:
        _note(f"bare object words are no messages and are left out, {log.words} time{'s' * (log.words > 1)}")
    return 1 if streamed.bad_crc else 0


def _no_messages(argument: str) -> InputError:
    what = "holds offers or object words, and no message"
    return InputError(what, where=_name(argument), expected="messages; --json shows the rest")


def _name(argument: str) -> str:
    return "standard input" if argument == "-" else argument[:80]


def _note(text: str) -> None:
    click.echo(f"pdcheck: {text}", err=True)


def _form(form: str | None, options: WaveformOptions) -> str | None:
    """The form of the input: that of a waveform where an option for one is given."""
    return form if form is not None or not any(options.values()) else "vcd"


@contextmanager
def _bar() -> Iterator[Callable[[int, int], None] | None]:
    """A callback for bytes done and in all that draws on standard error; ``None`` where that is no terminal.

    The bar comes when the reading has taken a while, and is wiped out at the end.
    """
    if not sys.stderr.isatty():
        yield None
        return
    drawn = ""
    due = monotonic() + _BAR_AFTER

    def advance(done: int, total: int) -> None:
        nonlocal drawn, due
        now = monotonic()
        if now < due:
            return
        due = now + _BAR_EVERY
        share = min(1.0, done / total) if total else 0.0
        told = f"{done / 1e6:.0f} MB"
        drawn = f"reading [{'#' * round(30 * share):30}] {share:4.0%}, {told}" if total else f"reading: {told}"
        sys.stderr.write("\r" + drawn)
        sys.stderr.flush()

    try:
        yield advance
    finally:
        if drawn:
            sys.stderr.write("\r" + " " * len(drawn) + "\r")
            sys.stderr.flush()
