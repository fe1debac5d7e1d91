"""A result to standard output, as text, as JSON or as CSV."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TextIO

import click

from pdcheck.result import Result


def emit(result: Result, as_json: bool) -> int:
    """Print a result; the exit code: 0 where it works, 1 where it was found wanting."""
    if as_json:
        emit_json(result)
    else:
        click.echo(str(result))
    return 0 if result else 1


def emit_json(document: Result | dict[str, Any]) -> None:
    """Print a document, indented, characters beyond ASCII as they are but for hidden ones; never NaN or infinity."""
    import json

    from pdcheck.show.clean import clean_json

    plain = document.to_dict() if isinstance(document, Result) else document
    click.echo(clean_json(json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False)))


def json_lines(result: Result) -> Iterator[str]:
    """The JSON document of a result, piece by piece: a line for each of its rows, since there may be 100,000s."""
    import json

    from pdcheck.show.clean import clean_json

    document = result.to_dict()
    rows = document.pop(result.ROWS[0])
    yield json.dumps(document, indent=2, ensure_ascii=False).removesuffix("\n}") + f',\n  "{result.ROWS[0]}": ['
    for at, row in enumerate(rows):
        yield ("," if at else "") + "\n    " + clean_json(json.dumps(row, ensure_ascii=False, allow_nan=False))
    yield "\n  ]\n}\n"


def write_csv(rows: Iterable[Mapping[str, Any]], columns: Mapping[str, str], out: TextIO) -> None:
    """Rows as CSV with a line of names; nothing is an empty field, what looks like a formula gets an apostrophe.

    ``columns`` gives the name that each column has in the rows.
    """
    import csv

    from pdcheck.show.clean import csv_cell

    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        cells = [row[name] for name in columns.values()]
        writer.writerow([csv_cell(each) if isinstance(each, str) else each for each in cells])
