"""A long document as JSON piece by piece, and rows as CSV."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping
from io import StringIO
from typing import Any

from pdcheck.result import Result
from pdcheck.show.clean import clean_json, csv_cell

_TOGETHER = 1 << 16  # characters written at a time


def json_lines(result: Result) -> Iterator[str]:
    """The JSON document of a result, piece by piece: a line for each of its rows, since there may be 100,000s."""
    document = result.to_dict()
    rows = document.pop(result.ROWS[0])
    yield json.dumps(document, indent=2, ensure_ascii=False).removesuffix("\n}") + f',\n  "{result.ROWS[0]}": ['
    for at, row in enumerate(rows):
        yield ("," if at else "") + "\n    " + clean_json(json.dumps(row, ensure_ascii=False, allow_nan=False))
    yield "\n  ]\n}\n"


def csv_lines(rows: Iterable[Mapping[str, Any]], columns: Mapping[str, str]) -> Iterator[str]:
    """Rows as CSV with a line of names; nothing is an empty field, what looks like a formula gets an apostrophe.

    ``columns`` gives the name that each column has in the rows.
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        cells = [row[name] for name in columns.values()]
        writer.writerow([csv_cell(each) if isinstance(each, str) else each for each in cells])
        if out.tell() > _TOGETHER:
            yield out.getvalue()
            out.seek(0)
            out.truncate()
    yield out.getvalue()
