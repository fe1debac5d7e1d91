"""One message as a record of text: a line of JSON, or rows of CSV; whole, or put together from texts of its parts."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from io import StringIO
from typing import Any

from pdcheck.bits.crc import CRC_BYTES
from pdcheck.bits.message_record import LINE
from pdcheck.bits.problems import Problem
from pdcheck.records import as_dict
from pdcheck.show.clean import clean_json, csv_cell

FIGURES = (
    "voltage_mv",
    "min_voltage_mv",
    "max_voltage_mv",
    "current_ma",
    "power_mw",
    "current_15v_ma",
    "current_20v_ma",
    "pdp_w",
    "operating_current_ma",
    "max_operating_current_ma",
    "operating_power_mw",
    "max_operating_power_mw",
    "output_voltage_mv",
)
"""Figures of objects that have a column of their own."""
_WHEN = ("index", "time_s")
_MESSAGE = ("sop", "type", "id", "revision", "power_role", "data_role", "crc", "raw", "message_problems")
_OBJECT = ("position", "kind", "word", *FIGURES, "flags", "other", "problems")
COLUMNS = (*_WHEN, *_MESSAGE, *_OBJECT)
"""The columns of CSV: a row for each object of a message, one row for a message without any."""


def _dumps(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    return text if text.isascii() and text.isprintable() else clean_json(text)


class JsonLines:
    """A line of JSON for each message, with the content of an entry of ``messages`` in the JSON document.

    >>> JsonLines().record(3, "0.5", '"sop": "SOP"}\\n')
    '{"schema": "pdcheck/message/1", "index": 3, "time_s": 0.5, "sop": "SOP"}\\n'
    """

    opening = ""

    def record(self, index: int, time: str, body: str) -> str:
        return f'{{"schema": "pdcheck/{LINE}", "index": {index}, "time_s": {time or "null"}, {body}'

    def whole(self, message: Mapping[str, Any]) -> str:
        return _dumps({key: value for key, value in message.items() if key not in _WHEN})[1:] + "\n"

    def head(self, message: Mapping[str, Any]) -> str:
        return _dumps({"sop": message["sop"], "header": message["header"]})[1:-1]

    def object(self, record: Mapping[str, Any]) -> str:
        return _dumps(record)

    def problem(self, problem: Problem) -> str:
        return _dumps(as_dict(problem))

    def body(self, head: str, objects: Sequence[str], raw: bytes, crc: bool, problems: Sequence[str]) -> str:
        told, odd = "null", ", ".join(problems)
        if crc:
            digits = raw[: -CRC_BYTES - 1 : -1].hex().upper()
            told = f'{{"given": "{digits}", "computed": "{digits}", "ok": true}}'
        return (
            f'{head}, "objects": [{", ".join(objects)}], "crc": {told}, "raw": "{raw.hex()}", "problems": [{odd}]}}\n'
        )


# Stands where index and time go in each further row of a body; no cell can hold it.
_MARK = "\0"
_CRC = {True: "ok", False: "wrong"}
_FITS = _CRC[True]


class CsvRows:
    """A row of CSV for each object of a message, one row for a message without any; ``COLUMNS`` names the cells.

    >>> CsvRows().record(3, "0.5", "SOP,GoodCRC\\n")
    '3,0.5,SOP,GoodCRC\\n'
    """

    opening = ",".join(COLUMNS) + "\n"

    def record(self, index: int, time: str, body: str) -> str:
        stamp = f"{index},{time},"
        return f"{stamp}{body.replace(_MARK, stamp)}" if _MARK in body else stamp + body

    def whole(self, message: Mapping[str, Any]) -> str:
        crc = "" if message["crc"] is None else _CRC[message["crc"]["ok"]]
        objects = [self.object(record) for record in message["objects"]]
        if "block" in message:
            objects.append(self.object(message["block"]))
        problems = [problem["code"] for problem in message["problems"]]
        return _rows(f"{self.head(message)},{crc},{message['raw']},{' '.join(problems)},", objects)

    def head(self, message: Mapping[str, Any]) -> str:
        header = message["header"] or {}
        named = ("type", "id", "revision", "power_role", "data_role")
        return _line([message["sop"], *(header.get(key) for key in named)])

    def object(self, record: Mapping[str, Any]) -> str:
        own = ("position", "kind", "word", *FIGURES)
        aside = (*own, "flags", "problems", "meanings", "marks", "data")
        other = [f"{key}={_plain(value)}" for key, value in record.items() if key not in aside]
        problems = [problem["code"] for problem in record["problems"]]
        cells = [record.get(key) for key in own]
        return _line([*cells, " ".join(record.get("flags", ())), "; ".join(other), " ".join(problems)])

    def problem(self, problem: Problem) -> str:
        return problem.code

    def body(self, head: str, objects: Sequence[str], raw: bytes, crc: bool, problems: Sequence[str]) -> str:
        before = f"{head},{_FITS if crc else ''},{raw.hex()},{' '.join(problems) if problems else ''},"
        if len(objects) == 1:
            return f"{before}{objects[0]}\n"
        return _rows(before, objects)


RecordText = JsonLines | CsvRows
"""How a message becomes text: ``whole`` from its JSON record, or ``body`` put together from the texts of its parts,
which are ``head``, ``object`` and ``problem``; ``crc`` says whether ``raw`` ends in a CRC that fits, else it has none.

Both give what stands behind index and time [s], which ``record`` puts before it, so that it serves again when the same
bytes come later.
"""
_NO_OBJECT = "," * (len(_OBJECT) - 1)


def _rows(before: str, objects: Sequence[str]) -> str:
    if not objects:
        return f"{before}{_NO_OBJECT}\n"
    return before + f"\n{_MARK}{before}".join(objects) + "\n"


def _plain(value: Any) -> str:
    if isinstance(value, list | tuple):
        return " ".join(map(str, value))
    return "" if value is None else str(value)


def _line(cells: Sequence[Any]) -> str:
    """Cells as a line of CSV, without its end."""
    out = StringIO()
    csv.writer(out, lineterminator="").writerow([csv_cell(each) if isinstance(each, str) else each for each in cells])
    return out.getvalue()
