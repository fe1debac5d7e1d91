"""Which figures of a log's rows are its times, in which unit, and whether they are since the message before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from pdcheck.bits.header import type_name
from pdcheck.intake.names import SPELT
from pdcheck.intake.row import Row, Stamp
from pdcheck.named import NamedTuple

_GOOD_CRC_S = (0.15e-3, 6e-3)
"""A GoodCRC begins so long after its message: the message's own time on the line and up to 1.1 ms more (tReceive); with
room for logs that take the time at the end, and for slow loggers."""
_NO_UNIT = "times not judged: nothing says their unit; write it in the head, as in time_us"
_NO_TIMES = (
    "times not judged: none of the figures in these lines is surely a time; name its column in the head, as time_us"
)
_MOSTLY = 0.95
_PLACES = 6
"""So many figures from the left of a row may be its time, and fewer than that from the right."""


class Message(NamedTuple):
    """A message of a log while its times are sought: its row, where its bytes stand in it, and the bytes."""

    row: Row
    at: int
    data: bytes


class Times(NamedTuple):
    """How the times of a log are read.

    ``kind`` and ``place`` say which stamp of a row: ``first`` the likeliest; ``marked``, ``bare``, ``joined`` that at
    its place among those of its kind; ``sum`` whole seconds and what is beyond them; ``none``. ``unit_s`` is the
    unit where none stands beside a time [s], ``None`` where it is not known; ``deltas`` says that times are since the
    message before.
    """

    kind: str = "first"
    place: int = 0
    unit_s: float | None = None
    deltas: bool = False
    remarks: tuple[str, ...] = ()


def step_of(stamp: Stamp, unit_s: float) -> float:
    """The step that a time is written to [s].

    >>> step_of(Stamp(12.5, 1e-3, False, False, 0), 1e-3)
    0.0001
    """
    written = repr(stamp.number)
    places = len(written.partition(".")[2].partition("e")[0]) if "." in written else 0
    return unit_s if stamp.whole else float(f"{10.0**-places * unit_s:.3g}")


def stamp_of(row: Row, at: int, times: Times) -> Stamp | None:
    """The time of a row as written, of a message whose bytes stand at ``at``; ``None`` where it has none."""
    if times.kind == "none":
        return None
    if times.kind == "first":
        return _first(row, at)
    if times.kind == "sum":
        return _sum(row)
    some = _of_kind(row, times.kind)
    return some[times.place] if -len(some) <= times.place < len(some) else None


def _of_kind(row: Row, kind: str) -> list[Stamp]:
    if kind == "joined":
        return [each for each in row.stamps if each.joined] or _of_kind(row, "marked")
    return [each for each in row.stamps if not each.joined and each.bare == (kind == "bare")]


def _first(row: Row, at: int) -> Stamp | None:
    some = _of_kind(row, "marked")
    stamps = [each for each in some if not each.delta] or some
    if not stamps:
        return None
    if len(row.sops) > 1:
        before = [each for each in stamps if each.at < at]
        return (before or stamps)[-1]
    return stamps[0]


def _sum(row: Row) -> Stamp | None:
    some = _of_kind(row, "marked")[:2]
    if len(some) < 2 or not some[1].unit_s:
        return None
    per_s = round(1 / some[1].unit_s)
    return some[1]._replace(number=some[0].number * per_s + some[1].number)


def times_of(messages: Sequence[Message], unit_s: float | None) -> Times:
    """The times that messages of a log have; ``unit_s`` is what its head says of their unit [s].

    >>> from pdcheck.intake.row import read_row
    >>> rows = [read_row("Rev 3.0 12.5 ms SOP 41 04"), read_row("Rev 3.0 13.1 ms SOP 41 00")]
    >>> times = times_of([Message(row, 99, b"") for row in rows], None)
    >>> [stamp_of(row, 99, times).number for row in rows]
    [12.5, 13.1]
    """
    first = Times(unit_s=unit_s)
    if not messages:
        return first
    if _adds_up(messages):
        return _with_unit(messages, Times("sum", unit_s=unit_s))
    stamps = _stamps(messages, first)
    if any(len(each.row.sops) > 1 for each in messages) or (stamps and all(each.delta for each in stamps)):
        return _with_unit(messages, first)
    if len(stamps) > _MOSTLY * len(messages) and (len(stamps) < 3 or _rises(stamps)):
        return _with_unit(messages, first)
    for place in range(_PLACES):
        since = Times("marked", place, unit_s)
        some = _stamps(messages, since)
        if len(some) > _MOSTLY * len(messages) and all(each.delta for each in some):
            return _with_unit(messages, since)
    for kind in ("marked", "joined", "bare"):
        for place in (*range(_PLACES), *range(-1, -_PLACES, -1)):
            other = Times(kind, place, unit_s)
            some = _stamps(messages, other)
            if len(some) < 2 or len(some) <= _MOSTLY * len(messages) or not _rises(some):
                continue
            if kind != "bare":
                return _with_unit(messages, other)
            if not _counts(some):
                return _with_unit(messages, other)
    if not stamps:
        return first
    if len(stamps) > 2 and not _goes_on(stamps):
        return Times("none", remarks=(_NO_TIMES,))
    return _with_unit(messages, first)


def _stamps(messages: Iterable[Message], times: Times) -> list[Stamp]:
    some = (stamp_of(each.row, each.at, times) for each in messages)
    return [each for each in some if each is not None]


def _seconds(stamps: Iterable[Stamp]) -> list[float]:
    return [each.number * (each.unit_s or 1.0) for each in stamps]


def _rises(stamps: Sequence[Stamp]) -> bool:
    """Whether times go on, but for a few: a log may have been started again."""
    steps = [b - a for a, b in pairwise(_seconds(stamps))]
    return any(step > 0 for step in steps) and sum(step >= 0 for step in steps) >= 0.9 * len(steps)


def _goes_on(stamps: Sequence[Stamp]) -> bool:
    """Whether figures may be times after all: some have a unit, or most go up, and not all are one."""
    steps = [b - a for a, b in pairwise(_seconds(stamps))]
    return any(steps) and (any(each.unit_s for each in stamps) or sum(step >= 0 for step in steps) >= 0.7 * len(steps))


def _counts(stamps: Sequence[Stamp]) -> bool:
    """Whether numbers go up in even steps, as those of the rows do."""
    return len({b.number - a.number for a, b in pairwise(stamps)}) == 1


def _adds_up(messages: Sequence[Message]) -> bool:
    """Whether whole seconds and what is beyond them stand in two places."""
    pairs = [_of_kind(each.row, "marked")[:2] for each in messages]
    if not all(len(each) == 2 and each[0].whole and each[1].whole for each in pairs):
        return False
    if not all(a.unit_s == 1.0 and b.unit_s and b.unit_s < 1.0 and b.number * b.unit_s < 1.0 for a, b in pairs):
        return False
    return _rises([_sum(each.row) or pair[0] for each, pair in zip(messages, pairs, strict=True)])


def _with_unit(messages: Sequence[Message], times: Times) -> Times:
    """The times with their unit, and whether they are since the message before."""
    stamps = _stamps(messages, times)
    if not stamps:
        return times
    unit_s, remarks = times.unit_s, list(times.remarks)
    deltas = all(each.delta for each in stamps)
    if deltas:
        numbers = [each.number for each in stamps]
        deltas = any(a > b for a, b in pairwise(numbers)) or (not stamps[0].at < 0 and len(numbers) < 3)
    if unit_s is None and not any(each.unit_s for each in stamps):
        gaps = _good_crc_gaps(messages, times, deltas)
        likely = [unit for unit in SPELT if _plausible(gaps, unit)]
        whole = all(each.whole for each in stamps)
        if len(likely) == 1:
            unit_s = likely[0]
            if whole or unit_s != 1.0:
                remarks.append(
                    f"the times have no unit: taken as {SPELT[unit_s]}, for so each GoodCRC comes when it is due"
                )
        elif whole or gaps:
            remarks.append(_NO_UNIT)
        else:
            unit_s = 1.0
    return times._replace(unit_s=unit_s, deltas=deltas, remarks=tuple(remarks))


def _good_crc_gaps(messages: Iterable[Message], times: Times, deltas: bool) -> list[float]:
    """Times between a message and the GoodCRC right behind it, in the log's own unit, in order."""
    gaps: list[float] = []
    before: tuple[Message, Stamp] | None = None
    for each in messages:
        stamp = stamp_of(each.row, each.at, times)
        if stamp is None or not each.data:
            before = None
            continue
        answers = before is not None and _is_good_crc(each.data) and not _is_good_crc(before[0].data)
        if before is not None and answers and not (each.data[1] ^ before[0].data[1]) & 0x0E:
            gaps.append(stamp.number if deltas else stamp.number - before[1].number)
        before = each, stamp
    return sorted(gaps)


def _is_good_crc(data: bytes) -> bool:
    return type_name(int.from_bytes(data[:2], "little")) == "GoodCRC"


def _plausible(gaps: Sequence[float], unit_s: float) -> bool:
    return bool(gaps) and _GOOD_CRC_S[0] <= gaps[len(gaps) // 2] * unit_s <= _GOOD_CRC_S[1]
