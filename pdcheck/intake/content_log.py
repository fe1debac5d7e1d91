"""The stream of a log whose rows are read by their content, and the choice between it and the plain reader."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from pdcheck.bits.crc import crc_matches
from pdcheck.bits.message import read_message, reset_message
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.intake.content import ROWS, Columns, Found, Layout, counted, is_rule, layout_of, message_of, read_with
from pdcheck.intake.hexlog import HexLog
from pdcheck.intake.names import role_of
from pdcheck.intake.opened import Opened
from pdcheck.intake.row import Row, Stamp, read_cells, read_row
from pdcheck.intake.stream import BusReading, How, Plain, time_text

if TYPE_CHECKING:
    from pdcheck.intake.stream import Item

NOT_JUDGED = "times-not-judged"
"""Code of the remark that nothing says the unit of the times."""
_TAKEN_SO = "times-unit"


def content_log(opened: Opened, how: How) -> ContentLog | None:
    """The log by its content where that understands it and the plain reader does not, or has no idea of its times."""
    text = opened.head.decode("utf-8", "replace")
    rows = text.splitlines()[:ROWS]
    if len(text.splitlines()) > 1 and not text.endswith("\n") and len(rows) < ROWS:
        rows = rows[:-1] or rows
    learnt = layout_of(rows)
    if learnt is None:
        return None
    layout, found = learnt
    sure, told = counted(found)
    plain_sure, plain_told, plain_timed, poor = _plainly(rows)
    timed = sum(each is not None and each.stamp is not None for each in found)
    better = (sure, -poor, told) > (plain_sure, 0, plain_told) if sure or plain_sure else (told > plain_told)
    odd_times = layout.deltas or layout.unit_s not in (None, 1.0) or bool(layout.remarks) or timed > plain_timed
    if not (better or (odd_times and sure >= plain_sure and told >= plain_told) or (poor and sure + told > plain_sure)):
        return None
    return ContentLog(opened, how, layout)


def _plainly(rows: Sequence[str]) -> tuple[int, int, int, int]:
    """What the plain reader makes of rows: messages with a right CRC, messages, those with times, those with a wrong CRC."""
    sure = told = timed = poor = 0
    try:
        for time, item in HexLog(_pieces("\n".join(rows).encode()), torn=True):
            if isinstance(item, Plain):
                sure, told, timed = sure + item.crc, told + 1, timed + bool(time)
            elif not isinstance(item, tuple) or not hasattr(item, "crc_ok"):
                continue
            else:
                sure, told, timed = sure + (item.crc_ok is True), told + 1, timed + bool(time)
                poor += item.crc_ok is False
    except InputError:
        return 0, 0, 0, 0
    return sure, told, timed, poor


def _pieces(data: bytes):  # type: ignore[no-untyped-def]
    stream = BytesIO(data)
    return stream.read


class ContentLog(HexLog):
    """The messages of a log by its content, in turn; a row that cannot be read is given in its place."""

    def __init__(self, opened: Opened, how: How, layout: Layout) -> None:
        super().__init__(opened.read, torn=how.torn and bool(opened.name))
        self.size = opened.size
        self._layout = layout
        self._clock = 0.0
        self._step_s: float | None = None
        problems = [
            Problem(NOT_JUDGED if text.startswith("times not") else _TAKEN_SO, text, "time") for text in layout.remarks
        ]
        self.said = self.said._replace(problems=tuple(problems))

    def __iter__(self) -> Iterator[tuple[str, Item]]:
        while self.at < len(self.rows) or self.more():
            row, number = self.rows[self.at], self.first + self.at
            self.at += 1
            if number <= self._layout.head_rows:
                continue
            yield from self._read_row(row, number)
        if self._fault is not None:
            raise self._fault
        if not self._heard:
            raise self._first_torn or InputError("no message in it", expected="hex of messages, one a line")

    def _read_row(self, text: str, number: int) -> Iterator[tuple[str, Item]]:
        if not text.strip() or text.lstrip()[:1] == "#" or is_rule(text):
            return
        row = row_of(text, self._layout)
        found = None if row is None else message_of(row, self._layout)
        if row is None or (found is None and not row.runs and row.bus is None and not text.strip(" \t[]{}(),;")):
            return
        stamp = found.stamp if found is not None else row.stamps[0] if row.stamps else None
        time_s = self._time(stamp)
        if found is not None:
            self._heard = True
            yield self._told(found, time_s)
        elif row.bus is not None and row.says_bus:
            yield time_text(time_s), BusReading(time_s, row.bus.volts, row.bus.amps)
        elif not _is_framing(text):
            what = "no whole message in " + repr(text.strip()[:24]) + ("…" if len(text.strip()) > 24 else "")
            error = InputError(what, where=f"line {number}", expected="one message a line, as in the lines around it")
            yield from self._left_out(error)

    def _told(self, found: Found, time_s: float | None) -> tuple[str, Item]:
        if not found.data:
            return time_text(time_s), reset_message(found.sop, time_s)
        if found.sure:
            plain = Plain(found.sop, found.data, True)
            if crc_matches(found.data):
                return time_text(time_s), plain
        return time_text(time_s), read_message(found.data, found.sop, time_s)

    def _time(self, stamp: Stamp | None) -> float | None:
        if stamp is None:
            return None
        unit_s = stamp.unit_s or self._layout.unit_s
        if unit_s is None:
            return None
        per_s = round(1 / unit_s)
        time_s = stamp.number / per_s
        if self._layout.deltas:
            time_s = self._clock = round(self._clock + time_s, 9)
        step = unit_s if stamp.whole else float(f"{10.0 ** -_places(stamp.number) * unit_s:.3g}")
        self._step_s = step if self._step_s is None else min(self._step_s, step)
        if self.said.resolution_s != self._step_s:
            self.said = self.said._replace(resolution_s=self._step_s)
        return time_s


def _places(number: float) -> int:
    return len(repr(number).partition(".")[2].partition("e")[0]) if "." in repr(number) else 0


def _is_framing(text: str) -> bool:
    return all(each in "[]{}(),; \t" for each in text[:200]) and len(text) < 200


def row_of(text: str, layout: Layout) -> Row | None:
    """A row by its layout, or as the JSON object that it is."""
    stripped = text.strip()
    if stripped[:1] == "{" and stripped.rstrip(",")[-1:] == "}":
        row = object_row(stripped.rstrip(","))
        if row is not None:
            return row
    return read_with(text, layout)


def object_row(text: str) -> Row | None:
    """A JSON object as a row, its keys as the names of columns; ``None`` where it is none."""
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return mapping_row(value) if isinstance(value, dict) else None


def mapping_row(value: dict[str, object]) -> Row:
    """Keys and values as the columns and cells of a row."""
    cells: list[tuple[tuple[str, float | None], str]] = []
    names = [role_of(key)[0] for key in value]
    for key, each in value.items():
        role, unit_s = role_of(key)
        if role == "delta" and "time" in names:
            continue
        if not {"data", "objects", "header"} & set(names) and role in ("", "name"):
            role = "any"
        cells.append(((role, unit_s), _cell(each, role)))
    return read_cells(cells)


def _cell(value: object, role: str) -> str:
    """A value as a cell: numbers of a list are bytes, or words where they are larger than bytes."""
    if isinstance(value, list) and value and all(isinstance(each, int) and 0 <= each < 1 << 32 for each in value):
        wide = 8 if max(value) > 0xFFFF else 4 if max(value) > 0xFF else 2
        if role == "objects":
            wide = 8
        return " ".join(f"0x{each:0{wide}X}" for each in value)
    if isinstance(value, list):
        return " ".join(str(each) for each in value[:300])
    if isinstance(value, bool) or value is None:
        return {True: "ok", False: "bad"}.get(value, "") if role == "crc" else ""  # type: ignore[arg-type]
    if isinstance(value, int) and role in ("crc", "header"):
        return f"0x{value:0{8 if role == 'crc' else 4}X}" if value >= 0 else ""
    if isinstance(value, float) and role in ("time", "delta"):
        return f"{value:.12g}"
    if isinstance(value, dict):
        return ""
    return str(value)


__all__ = ["Columns", "ContentLog", "content_log", "read_row"]
