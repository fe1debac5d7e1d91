"""Decode: what an input says, message by message; what is attached to this machine."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from os import PathLike
from typing import TYPE_CHECKING

from pdcheck.errors import InputError
from pdcheck.intake.sniff import How, Intake, Stream, gathered, open_input
from pdcheck.intake.waveform.options import waveform_options

if TYPE_CHECKING:
    from pdcheck.intake.sysfs.attached import AttachedResult
    from pdcheck.show.decode_result import DecodeResult


def decode(
    input: str | PathLike[str],
    form: str | None = None,
    *,
    request_as: str | None = None,
    channel: str | None = None,
    rate: str | float | None = None,
    threshold: str | float | None = None,
    port: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> DecodeResult:
    """All that an input says.

    Args:
        input: hex text, a charger's label, a path, or ``-`` for standard input; with the form ``sysfs`` the folder to
            read, or nothing for this machine's own.
        form: what it is, where its look would mislead: hex, label, vcd, csv or sysfs.
        request_as: how to read a request whose offers are not in the input: fixed, battery, pps or avs.
        channel: of a waveform, the signal or column that is the CC line.
        rate: of a waveform without times, its sample rate [Hz], as in ``10MHz``.
        threshold: of an analog waveform, the voltage [V] between low and high.
        port: with the form ``sysfs``, the port or the table to read.
        progress: told how many bytes are read, and of how many.

    Raises:
        InputError: what cannot be read, naming file, line and offset.

    >>> result = decode("5V 3A, 9V 3A")
    >>> result
    <DecodeResult: 5 V 3 A, 9 V 3 A>
    >>> [offer.max_mv for offer in result.offers], result.rows()[1]["current_ma"]
    ([5000, 9000], 3000)
    """
    from pdcheck.show.decode_result import DecodeResult

    how = how_to_read(channel, rate, threshold, port, progress)
    return DecodeResult(read_whole(str(input), form if port is None else "sysfs", how, request_as))


def how_to_read(
    channel: str | None,
    rate: str | float | None,
    threshold: str | float | None,
    port: str | None,
    progress: Callable[[int, int], None] | None,
    *,
    whole: bool = True,
    live: bool = False,
    torn: bool = True,
) -> How:
    """How an input is to be read, from arguments as ``decode`` has them.

    Not ``whole``: message by message; ``live``: each as soon as it comes.

    ``torn``: lines that cannot be read are told and the rest is read."""
    how = waveform_options(channel, rate, threshold)
    return how._replace(port=port, progress=progress, gathered=whole, torn=torn, live=live, measured=whole)


def read_whole(input: str, form: str | None, how: How, request_as: str | None) -> Intake:
    """What is in an input; where text is all that is wanted, the result's class need not be loaded."""
    with opened_or_hinted(input, form, how) as stream:
        return gathered(stream, request_as)


@contextmanager
def opened_or_hinted(input: str, form: str | None, how: How) -> Iterator[Stream]:
    """An input to be read; what is no input, but a word that many would take for one, is told with what to type."""
    try:
        with open_input(input, form, how) as stream:
            yield stream
    except InputError as error:
        raise _hinted(error, input) from None


def _hinted(error: InputError, input: str) -> InputError:
    """The error about a typed word that many would take for an input, with what to type instead."""
    word = input.strip()
    if re.fullmatch(r"\d{1,3}(?:[.,]\d{1,2})?\s?W", word):
        return InputError(f"{word} is a power alone", expected="the offers printed beside it, as in 5V 3A, 9V 3A")
    if re.fullmatch(r"[A-Za-z][\w-]{1,40}", word) and not error.where.startswith(word):
        what = f"{word!r} is no file here, no hex and no label"
        return InputError(what, expected="a path, hex, or 5V 3A, 9V 3A; ids of a kit go to --source, with --kit")
    return error


def attached(path: str | PathLike[str] = "", port: str | None = None) -> AttachedResult:
    """What is attached to each port of this machine, or of a copy of its /sys; or to one port alone.

    Raises ``InputError`` where there are no such tables under ``path``.
    """
    from pdcheck.intake.sysfs.attached import read_attached

    return read_attached(path, port)
