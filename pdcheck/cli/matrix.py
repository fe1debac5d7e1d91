"""``pdcheck matrix``: Judge every source x cable x rig: one line each, or CSV.

Meant by: compare table all combinations grid.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, get_args

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import csv_or_json, json_option, judged_option, kit_option
from pdcheck.verdict.finding import Verdict
from pdcheck.verdict.matrix.sorting import SORT_KEYS


@click.command("matrix")
@click.argument("rigs", metavar="RIG...", nargs=-1, required=True)
@kit_option("Kit file; without it the kit inside each rig file, else kit.toml beside it or above it.")
@click.option(
    "--rig", "only_rigs", metavar="NAME", multiple=True, help="Only this rig, by its file's name (repeatable)."
)
@click.option("--source", metavar="ID", multiple=True, help="Only this source (repeatable).")
@click.option("--cable", metavar="ID", multiple=True, help="Only this cable (repeatable).")
@click.option(
    "--only", type=click.Choice(get_args(Verdict)), multiple=True, help="Only cells of this verdict (repeatable)."
)
@click.option(
    "--sort",
    type=click.Choice(list(SORT_KEYS)),
    help="Sort: best verdict first, most watts first, or by name; default: in the order of the kit.",
)
@click.option("--reverse", is_flag=True, help="The other way round.")
@click.option("--hours", is_flag=True, help="Also how long each power bank lasts, where it says what it holds.")
@judged_option
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@json_option("matrix")
def command(only_rigs: tuple[str, ...], strict: bool, as_csv: bool, as_json: bool, **asked: Any) -> int:
    """Judge each RIG, a TOML file, on every source and cable of a kit: verdict, the rule that decides it, and how
    many watts the loads can have in the worst case before anything fails.

    Exit code 1 where a cell that is shown fails or is unsafe; with --strict also where something was not judged.

    \b
    pdcheck matrix pier-box.toml field-sensor.toml --kit kit.toml --sort verdict
    """
    csv_or_json(as_csv, as_json)
    from pdcheck.cli.progress import progress_bar
    from pdcheck.cli.streams import document
    from pdcheck.quantities import Triple
    from pdcheck.show.emit import csv_lines, json_lines
    from pdcheck.verdict.matrix.matrix import Cell

    with progress_bar("cells") as progress:
        found = pdcheck.matrix(**asked, rig=only_rigs, progress=progress, processes=None)
    if as_json:
        document(json_lines(found))
    elif as_csv:
        # What rows() gives as well; of hundreds of thousands of cells this is done within a second.
        rows: Iterable[dict[str, Any]] = map(Cell._asdict, found.cells)
        columns = {name: name for name in Cell._fields if name != "hours"}
        if asked["hours"] or asked["sort"] == "hours":
            ends = {f"hours_{end}": end for end in Triple._fields}
            rows = (row | {name: getattr(row["hours"], end, None) for name, end in ends.items()} for row in rows)
            columns |= {name: name for name in ends}
        document(csv_lines(rows, columns))
    else:
        answer(found, False)
    return 0 if found and not (strict and any(cell.not_judged for cell in found.cells)) else 1
