"""Rows of a table of samples or of edges: levels of a whole chunk at once, times only where a level changes."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from pdcheck.bits.line import BIT_RATE_NOMINAL
from pdcheck.errors import InputError
from pdcheck.intake.waveform.csv_layout import WORDS, Layout, clock_s, column_of, find_layout
from pdcheck.intake.waveform.edges import (
    HIGH,
    LOW,
    NO_SPAN,
    UNKNOWN,
    Budget,
    EdgeCollector,
    Levels,
    Reader,
    Threshold,
)
from pdcheck.intake.waveform.numbers import Bytes, Floats, Ints, parse_decimals
from pdcheck.intake.waveform.text import CaptureText, Chunk
from pdcheck.named import NamedTuple

COARSEST_STEP_S = 0.6e-6
"""Above this step between samples the half bits of a packet can no longer be told from whole ones."""

_LEAST_SWING = 0.2
"""Of the threshold: what moves less is an idle line with its noise."""
_LOOK = 2000
_FEWEST_COUNTED = 64
_ROUNDED = 0.05
"""Steps that differ by so much of their mean are rounded."""
_TORN_MOST = 10_000
_WORDS = re.compile(rb"(?i)\b(?:" + "|".join(WORDS).encode() + rb")\b")
_UNKNOWN_CELLS = {b"", b"x", b"z", b"nan", b"inf", b"-inf", b"-", b"--", b"---", b"----"}

_CODE = np.full(256, 255, dtype=np.uint8)
for _character, _level in (("0", LOW), ("1", HIGH), ("x", UNKNOWN), ("X", UNKNOWN), ("z", UNKNOWN), ("Z", UNKNOWN),
                          ("L", LOW), ("l", LOW), ("H", HIGH), ("h", HIGH)):  # fmt: skip
    _CODE[ord(_character)] = _level


class Rows(NamedTuple):
    """Rows of a chunk: line numbers, where each starts and ends, ``cells`` separators each from ``marks[first]`` on."""

    buffer: Bytes
    line: Ints
    start: Ints
    end: Ints
    marks: Ints
    first: Ints
    cells: Ints
    even: int = 0
    """Separators of every row where all have as many, else 0."""

    def cell(self, column: int) -> tuple[Ints, Ints]:
        """Start and end of the cells of a column; empty where the row is too short."""
        if self.even:
            start = self.start if column == 0 else self.marks[column - 1 :: self.even] + 1
            return start, self.end if column == self.even else self.marks[column :: self.even]
        last = max(len(self.marks) - 1, 0)
        marks = self.marks if len(self.marks) else np.zeros(1, dtype=np.int64)
        start = self.start if column == 0 else marks[np.minimum(self.first + column - 1, last)] + 1
        end = np.where(self.cells > column, marks[np.minimum(self.first + column, last)], self.end)
        if column:
            start = np.where(self.cells >= column, start, end)
        return start, end


class CsvReader(Reader):
    """One table: its channels, and a scan of some of them."""

    def __init__(
        self, text: CaptureText, sample_rate_hz: float | None, threshold: Threshold, *, forced: bool, torn: bool
    ) -> None:
        super().__init__(text, threshold)
        self._rate = sample_rate_hz
        self._layout: Layout = find_layout(text.head().decode("utf-8", "replace"), sample_rate_hz)
        if self._layout.step_s is not None:
            self._rate = 1 / self._layout.step_s
        self._forced, self._tells_torn = forced, torn
        self._column = {self._layout.names[column]: column for column in self._layout.channels}
        self._decimal = ord(self._layout.decimal)
        self.channels: tuple[str, ...] = tuple(self._column)
        self.all_names = self.channels
        self._counted: Floats | None = None

    def resolve(self, wanted: str) -> str:
        """The full name of a channel as the user wrote it; raises InputError when there is none."""
        return self._layout.names[column_of(self._layout, wanted)]

    def scan(self, names: tuple[str, ...], budget: Budget | None = None) -> list[EdgeCollector]:
        """Read all rows once and collect the edges of the named channels."""
        collectors = [EdgeCollector(name, budget) for name in names]
        self.spans |= dict.fromkeys(names, NO_SPAN)
        before = 0
        for rows in self._rows():
            self._count(rows)
            times = self._ends(rows, before)
            if not before:
                self.start_s = float(times[0])
            self.end_s = max(self.start_s, float(times[1]))
            changed = 0
            for collector in collectors:
                edges = collector.changes(self._levels(rows, collector.name))
                changed += len(edges)
                times = self._times(rows, edges, before)
                if self._tells_torn:
                    times = self._mended(rows, edges, before, times)
                bad = collector.add(times)
                if bad is not None:
                    where = f"line {int(rows.line[edges[bad]])}"
                    raise InputError("time runs backwards", where=where, expected="rising times")
            if not before:
                self._refuse_coarse(rows, changed)
            before += len(rows.start)
        self._refuse_unusable(collectors)
        return collectors

    def _rows(self) -> Iterator[Rows]:
        skip = self._layout.skipped_lines
        for chunk in self._text.chunks():
            text = chunk.text
            line = chunk.first_line
            if skip:
                here = min(skip, text.count(b"\n"))
                text = text.split(b"\n", here)[here]
                line += here
                skip -= here
            if text:
                rows = self._cut(Chunk(self._bare(text), line))
                if len(rows.start):
                    yield rows

    def _bare(self, text: bytes) -> bytes:
        """The text without what stands around cells: quotes, spaces, carriage returns."""
        text = self._plainer(text)
        if self._layout.separator == " ":
            lines = text.replace(b"\t", b" ").replace(b"\r", b"").split(b"\n")
            if b"  " in text or any(line[:1] == b" " or line[-1:] == b" " for line in lines[:50]):
                lines = [b" ".join(line.split()) for line in lines]
            return b"\n".join(lines).replace(b'"', b"")
        unwanted = bytes(byte for byte in b'\r" ' if byte in text)
        return text.translate(None, unwanted) if unwanted else text

    def _plainer(self, text: bytes) -> bytes:
        """The text with words for levels as digits, and without units behind the numbers."""
        if self._layout.signs:
            text = text.translate(None, "".join(self._layout.signs).encode())
        if self._layout.words:
            text = _WORDS.sub(lambda found: WORDS[found[0].decode().lower()].encode(), text)
        return text

    def _cut(self, chunk: Chunk) -> Rows:
        buffer = np.frombuffer(chunk.text, dtype=np.uint8)
        end = np.flatnonzero(buffer == 10)
        start = np.concatenate([[0], end[:-1] + 1])
        line = np.arange(chunk.first_line, chunk.first_line + len(end))
        marks = np.flatnonzero(buffer == ord(self._layout.separator))
        each, remainder = divmod(len(marks), len(end))
        table = marks[: each * len(end)].reshape(len(end), each)
        if not remainder and (not each or ((table[:, 0] >= start) & (table[:, -1] < end)).all()):
            first, cells, even = np.arange(len(end)) * each, np.full(len(end), each), each
        else:
            even = 0
            through = np.searchsorted(marks, end)
            first = np.concatenate([[0], through[:-1]])
            cells = through - first
        needed = max(*self._layout.channels, self._layout.time or 0)
        rows = Rows(buffer, line, start, end, marks, first, cells, even)
        if even and even >= needed:
            return rows
        short = (cells < needed) | (end == start)
        return self._without(rows, short) if short.any() else rows

    def _without(self, rows: Rows, short: Ints) -> Rows:
        """Rows that are blank, a comment, or the torn last one of the file go; any other short row is an error."""
        keep = ~short
        least = min(self._layout.channels)
        for at in np.flatnonzero(short).tolist():
            text = rows.buffer[rows.start[at] : rows.end[at]].tobytes()
            if rows.cells[at] >= least and text:
                keep[at] = True  # a row that ends early leaves its last cells unknown
            elif text and text[:1] not in b"#%;":
                self._tear(
                    InputError(
                        f"row {text[:30].decode('utf-8', 'replace')!r} has too few cells",
                        where=f"line {int(rows.line[at])}",
                        expected=f"{len(self._layout.names)} cells",
                    ),
                    int(rows.line[at]),
                )
        line, start, end = rows.line[keep], rows.start[keep], rows.end[keep]
        return Rows(rows.buffer, line, start, end, rows.marks, rows.first[keep], rows.cells[keep])

    def _count(self, rows: Rows) -> None:
        """Find the times of a chunk by counting its rows, where their stamps have too few digits."""
        self._counted = None
        if self._layout.time is None or not look_rounded(self._times(rows, np.arange(min(len(rows.start), _LOOK)), 0)):
            return
        self._counted = counted_times(self._times(rows, np.arange(len(rows.start)), 0))

    def _tear(self, error: InputError, line: int) -> None:
        """Keep what is wrong with a row, where that need not end the reading."""
        if not self._tells_torn:
            raise error
        if len(self.torn) < _TORN_MOST:
            self.torn.setdefault(line, error)

    def _times(self, rows: Rows, which: Ints, before: int) -> Floats:
        """The times of some rows; NaN for a torn one, where that need not end the reading."""
        if self._layout.time is None:
            return self._layout.start_s + (before + which) / (self._rate or 1.0)
        if self._counted is not None:
            return self._counted[which]
        start, end = rows.cell(self._layout.time)
        if self._layout.clock:
            cells = zip(start[which].tolist(), end[which].tolist(), strict=True)
            times = np.array([clock_s(rows.buffer[a:b].tobytes()) for a, b in cells])
        else:
            times = parse_decimals(rows.buffer, start[which], end[which], self._decimal)
        for wrong in np.flatnonzero(~np.isfinite(times)).tolist():
            at = int(which[wrong])
            self._tear(self._unreadable(rows, at, int(start[at]), int(end[at]), "a time"), int(rows.line[at]))
            times[wrong] = np.nan
        return times * self._layout.unit_s

    def _ends(self, rows: Rows, before: int) -> Floats:
        """The times of the first and the last row that have one."""
        times = self._times(rows, np.array([0, len(rows.start) - 1]), before)
        if np.isnan(times).any():
            some = self._times(rows, np.arange(len(rows.start)), before)
            times = some[np.isfinite(some)][[0, -1]] if np.isfinite(some).any() else np.zeros(2)
        return times

    def _mended(self, rows: Rows, edges: Ints, before: int, times: Floats) -> Floats:
        """Times of edges, those of torn rows taken from the row before: an edge less would turn all levels round."""
        if not np.isnan(times).any() and (np.diff(times) >= 0).all():
            return times
        last = len(rows.start) - 1
        above = self._times(rows, np.maximum(edges - 1, 0), before)
        below = self._times(rows, np.minimum(edges + 1, last), before)
        odd = np.isnan(times) | ((above <= below) & ((times < above) | (times > below)))
        for at in np.flatnonzero(odd & ~np.isnan(times)).tolist():
            line = int(rows.line[edges[at]])
            self._tear(InputError("a time that is not between its neighbours'", where=f"line {line}"), line)
        mended = np.where(odd, above, times)
        return np.maximum.accumulate(np.where(np.isnan(mended), -np.inf, mended))

    def _levels(self, rows: Rows, name: str) -> Levels:
        """Level codes of a column."""
        column = self._column[name]
        start, end = rows.cell(column)
        if not self._forced and ((end - start) <= 1).all():
            codes = np.where(end > start, _CODE[rows.buffer[np.minimum(start, len(rows.buffer) - 1)]], UNKNOWN)
            if (codes <= UNKNOWN).all():
                return codes.astype(np.uint8)
        volts = parse_decimals(rows.buffer, start, end, self._decimal) * self._layout.scale[column]
        volts[np.isinf(volts)] = np.nan
        for at in np.flatnonzero(np.isnan(volts)).tolist():
            text = rows.buffer[start[at] : end[at]].tobytes().lower()
            if text not in _UNKNOWN_CELLS:
                wrong = self._unreadable(rows, at, int(start[at]), int(end[at]), "a level: 0, 1 or a voltage")
                self._tear(wrong, int(rows.line[at]))
        return self.codes_of(name, volts)

    def _refuse_coarse(self, rows: Rows, changed: int) -> None:
        """A table of evenly spaced samples too far apart can hold no packet: say so at once."""
        count = min(len(rows.start), 2000)
        if count < 16 or changed > len(rows.start) // 2:
            return
        steps = np.diff(self._times(rows, np.arange(count), 0))
        step = float(np.median(steps))
        if step > COARSEST_STEP_S and np.abs(steps - step).max() < 0.01 * step:
            raise InputError(
                f"samples {step * 1e6:.4g} µs apart are too coarse for {BIT_RATE_NOMINAL.value / 1000:g} kbit/s",
                where=f"line {int(rows.line[0])}",
                expected="2 million samples a second or more, and the unit of the times in the header when it is not s",
            )

    def _refuse_unusable(self, collectors: list[EdgeCollector]) -> None:
        """Refuse a table whose times are too coarse, and one in which no channel crosses its threshold."""
        for collector in collectors:
            if collector.repeats > 3 and collector.repeats > 0.01 * collector.count:
                raise InputError(
                    f"{collector.repeats} edges of {collector.name!r} share their time with the edge before",
                    expected="times with more digits, or a sample rate",
                )
        if any(collector.count for collector in collectors):
            return
        for collector in collectors:
            span = self.spans[collector.name]
            low_v, high_v = span
            moves = high_v - low_v > _LEAST_SWING * abs(self._threshold.middle_v)
            uncrossed = self.threshold_of(collector.name).crossed(collector.name, span)
            if uncrossed is not None and (moves or not low_v < self._threshold.middle_v < high_v):
                raise uncrossed

    def _unreadable(self, rows: Rows, at: int, start: int, end: int, expected: str) -> InputError:
        word = rows.buffer[start : min(end, start + 24)].tobytes().decode("utf-8", "replace")
        return InputError(f"unreadable {word!r}", where=f"line {int(rows.line[at])}", expected=expected)


def look_rounded(stamps: Floats) -> bool:
    """Whether some first times of a table look as if their last digits were cut off: steps differ, or are none.

    >>> stamps = np.linspace(0.0, 40e-6, 101)
    >>> look_rounded(np.round(stamps, 6)), look_rounded(stamps)
    (True, False)
    """
    steps = np.diff(stamps)
    if len(steps) < _FEWEST_COUNTED or (steps < 0).any():
        return False
    mean = float(steps.mean())
    return mean > 0 and bool(np.abs(steps - mean).max() > _ROUNDED * mean)


def counted_times(stamps: Floats) -> Floats | None:
    """Times [s] on the straight line through all stamps; ``None`` where one is further off it than rounding goes.

    >>> times = counted_times(np.round(np.linspace(0.0, 40e-6, 101), 6))
    >>> None if times is None else round(float(times[9] - times[8]) * 1e6, 2)
    0.4
    """
    count = len(stamps)
    if count < _FEWEST_COUNTED:
        return None
    place = np.arange(count) - (count - 1) / 2
    middle = float(stamps.mean())
    step = float((place * (stamps - middle)).sum() / (place * place).sum())
    steps = np.diff(stamps)
    printed = float(steps[steps > 0].min()) if (steps > 0).any() else 0.0
    times: Floats = np.asarray(middle + step * place, dtype=np.float64)
    return times if step > 0 and float(np.abs(stamps - times).max()) <= max(printed, step) else None
