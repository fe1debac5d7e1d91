"""A long log shared out among processes: each shows whole pieces of plain lines, and the pieces come out in order.

A piece is shown from its first capabilities on, since all after them is read by them or by later ones; what stands
before them is shown by the process that knows what was offered last. Where a piece holds anything but plain messages,
that piece and all behind it are shown by one process.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable
from typing import Any

from pdcheck.intake.hexlog import HexLog, plain_lines
from pdcheck.intake.stream import Stream
from pdcheck.named import NamedTuple
from pdcheck.show.record_text import RecordText
from pdcheck.show.streamed import Streamed

PIECE_BYTES = 1 << 18
"""Bytes of a piece, about."""
# Below, to start other processes would take longer than they save [bytes].
_SHARED_FROM = 4_000_000
# More could not write faster than one can gather.
_MOST_PROCESSES = 4


def _processes_for(size: int) -> int:
    """How many processes show a log of so many bytes."""
    if size < _SHARED_FROM:
        return 1
    try:
        return min(len(os.sched_getaffinity(0)), _MOST_PROCESSES)
    except AttributeError:
        return min(os.cpu_count() or 1, _MOST_PROCESSES)


class _Piece(NamedTuple):
    """Lines of the log, the index of the first, and what becomes of them."""

    first: int
    lines: bytes
    shown: Any


class _Shown(NamedTuple):
    """The rows before the first capabilities, the text of all others, and what stands offered at their end.

    Without any capabilities all rows are of the first sort, and what stood before stands on.
    """

    before: list[str]
    text: str
    standing: tuple[int, ...] | None


def show(streamed: Streamed, stream: Stream, write: Callable[[str], object]) -> None:
    """Write the text of a stream, with the help of other processes where that saves time."""
    processes = _processes_for(stream.size) if type(stream) is HexLog else 1
    if processes > 1 and isinstance(stream, HexLog):
        show_shared(streamed, stream, write, processes)
    else:
        streamed.show(stream, write)


def show_shared(
    streamed: Streamed, log: HexLog, write: Callable[[str], object], processes: int, size: int = PIECE_BYTES
) -> None:
    """Write the text of a log as ``streamed.show`` does, with the help of other processes; from its beginning only."""
    from pdcheck.intake.several import several

    pieces: deque[_Piece] = deque()
    index = 0
    with several(processes, _begin, type(streamed.text), streamed.request_form) as workers:
        following = 0
        while True:
            while len(pieces) < 2 * processes and (lines := log.take_lines(size)):
                pieces.append(_Piece(following, lines, workers.take(_work, (following, lines))))
                following += lines.count(b"\n")
            if not pieces:
                return
            piece = pieces.popleft()
            shown: _Shown | None = piece.shown.result()
            before = None if shown is None else plain_lines(shown.before)
            if shown is None or before is None:
                index = piece.first
                log.put_back(b"".join([piece.lines, *(each.lines for each in pieces)]), index + 1)
                break
            write(streamed.text_of(before, piece.first) + shown.text)
            if shown.standing is not None:
                streamed.standing = shown.standing
    streamed.show(log, write, index)


_worker: Streamed | None = None


def _begin(text: type[RecordText], request_form: str | None) -> None:
    global _worker  # noqa: PLW0603
    _worker = Streamed(text(), request_form)


def _work(task: tuple[int, bytes]) -> _Shown | None:
    assert _worker is not None
    first, lines = task
    try:
        rows = lines.decode("utf-8").splitlines()
    except UnicodeDecodeError:
        return None
    if len(rows) != lines.count(b"\n") + (not lines.endswith(b"\n")):
        return None
    told = plain_lines(rows)
    if told is None:
        return None
    start = next((at for at, (_, plain) in enumerate(told) if _worker.is_list(plain)), None)
    if start is None:
        return _Shown(rows, "", None)
    text = _worker.text_of(told[start:], first + start)
    return _Shown(rows[:start], text, _worker.standing)
