"""What ``matrix`` shows: cells as a table, CSV and the JSON document."""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, TextIO

from pdcheck.show.clean import clean, clean_json, csv_cell
from pdcheck.show.columns import table

if TYPE_CHECKING:
    from pdcheck.verdict.matrix.matrix import Cell

SCHEMA = "pdcheck/matrix/1"
COLUMNS = ("rig", "source", "cable", "verdict", "rule", "max_w")


def counts(cells: Iterable[Cell], verdicts: Sequence[str]) -> dict[str, int]:
    """How many cells each verdict has, in the order given."""
    found = Counter(cell.verdict for cell in cells)
    return {verdict: found[verdict] for verdict in verdicts}


def json_pieces(cells: Sequence[Cell], verdicts: Sequence[str]) -> Iterator[str]:
    """The JSON document, piece by piece: a line for each cell, since there may be hundreds of thousands."""
    yield f'{{\n  "schema": {json.dumps(SCHEMA)},\n  "counts": {json.dumps(counts(cells, verdicts))},\n  "cells": ['
    for at, cell in enumerate(cells):
        row = json.dumps(cell._asdict(), ensure_ascii=False, allow_nan=False)
        yield ("," if at else "") + "\n    " + clean_json(row)
    yield "\n  ]\n}\n"


def write_csv(cells: Iterable[Cell], out: TextIO) -> None:
    """Cells as CSV with a line of names; no rule is an empty field; what looks like a formula gets an apostrophe."""
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([csv_cell(each) if isinstance(each, str) else each for each in cell] for cell in cells)


def text(cells: Sequence[Cell], verdicts: Sequence[str]) -> str:
    """Cells as a table, and how many of each verdict there are."""
    several = len({cell.rig for cell in cells}) > 1
    rows = [
        [*([cell.rig] if several else []), cell.source, cell.cable, cell.verdict, watts(cell.max_w), cell.rule or ""]
        for cell in cells
    ]
    headers = [*(["rig"] if several else []), "source", "cable", "verdict", "max load", "because of"]
    listed = ", ".join(f"{number} {verdict}" for verdict, number in counts(cells, verdicts).items() if number)
    total = f"{len(cells)} cell{'' if len(cells) == 1 else 's'}"
    summary = f"{total}: {listed}" if cells else "no cell is left"
    return f"{table(headers, rows)}\n\n{clean(summary)}" if cells else summary


def watts(power_w: float) -> str:
    """Watts, rounded down, so that what is shown can be had.

    >>> watts(35.999), watts(0.0)
    ('35.9 W', '-')
    """
    return f"{int(power_w * 10) / 10:.1f} W" if power_w > 0 else "-"
