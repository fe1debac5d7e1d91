"""``pdcheck matrix``: every source x cable x rig, one cell each."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from pdcheck.cli.option_types import kit_option

if TYPE_CHECKING:
    from pdcheck.verdict.matrix.matrix import Build, Cell

_VERDICTS = click.Choice(["runs", "limited", "fails", "unsafe"])
_SORTS = click.Choice(["verdict", "max_w", "rule", "source", "cable", "rig"])
# A job that is over sooner needs no bar [s].
_BAR_AFTER = 1.0


@click.command("matrix", short_help="Judge every source x cable x rig.")
@click.argument("rigs", metavar="RIG...", nargs=-1, required=True)
@kit_option("Kit file; without it the kit inside each rig file is used.")
@click.option(
    "--rig", "only_rigs", metavar="NAME", multiple=True, help="Only this rig, by its file's name (repeatable)."
)
@click.option("--source", "only_sources", metavar="ID", multiple=True, help="Only this source (repeatable).")
@click.option("--cable", "only_cables", metavar="ID", multiple=True, help="Only this cable (repeatable).")
@click.option("--only", "only_verdicts", type=_VERDICTS, multiple=True, help="Only cells of this verdict (repeatable).")
@click.option("--sort", "sort_by", type=_SORTS, help="Sort: best verdict first, most watts first, or by name.")
@click.option("--reverse", is_flag=True, help="The other way round.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/matrix/1.")
def command(
    rigs: tuple[str, ...],
    kit_path: str | None,
    only_rigs: tuple[str, ...],
    only_sources: tuple[str, ...],
    only_cables: tuple[str, ...],
    only_verdicts: tuple[str, ...],
    sort_by: str | None,
    reverse: bool,
    as_csv: bool,
    as_json: bool,
) -> int:
    """Judge each RIG, a TOML file, on every source and cable of a kit: verdict, the rule that decides it, and how
    many watts the loads can have at the worst corner before anything fails.

    Exit code 1 where a cell that is shown fails or is unsafe.

    \b
    pdcheck matrix pier-box.toml field-sensor.toml --kit kit.toml --sort verdict
    """
    if as_csv and as_json:
        raise click.UsageError("--csv and --json exclude each other")
    from pdcheck.show import matrixed
    from pdcheck.verdict.matrix.matrix import BEST_FIRST, sort_cells

    cells = _judged(_builds(rigs, kit_path, only_rigs, only_sources, only_cables))
    if only_verdicts:
        cells = [cell for cell in cells if cell.verdict in only_verdicts]
    if sort_by is not None:
        cells = sort_cells(cells, sort_by)
    if reverse:
        cells.reverse()
    if as_json:
        sys.stdout.writelines(matrixed.json_pieces(cells, BEST_FIRST))
    elif as_csv:
        matrixed.write_csv(cells, sys.stdout)
    else:
        click.echo(matrixed.text(cells, BEST_FIRST))
    return 1 if any(cell.verdict in ("fails", "unsafe") for cell in cells) else 0


def _builds(
    paths: Sequence[str],
    kit_path: str | None,
    only_rigs: Sequence[str],
    sources: Sequence[str],
    cables: Sequence[str],
) -> list[Build]:
    from pdcheck.cli.files import named_rigs
    from pdcheck.errors import InputError
    from pdcheck.verdict.matrix.matrix import build

    loaded = named_rigs(paths, kit_path)
    names = [name for name, _, _ in loaded]
    for name in only_rigs:
        if name not in names:
            raise InputError(f"no rig named {name!r}", where="--rig", expected=f"one of {', '.join(names)}")
    return [build(name, rig, kit, sources, cables) for name, rig, kit in loaded if not only_rigs or name in only_rigs]


def _judged(builds: Sequence[Build]) -> list[Cell]:
    from time import monotonic

    from pdcheck.verdict.matrix.matrix import judge_matrix

    if not sys.stderr.isatty():
        return judge_matrix(builds)
    began, done = monotonic(), 0
    length = sum(len(each.pairs) for each in builds)
    bar = click.progressbar(length=length, label="cells", file=sys.stderr)
    shown = False

    def advance(count: int) -> None:
        nonlocal done, shown
        done += count
        if shown:
            bar.update(count)
        elif monotonic() - began > _BAR_AFTER and done < length:
            shown = True
            bar.__enter__()
            bar.update(done)

    try:
        return judge_matrix(builds, advance=advance)
    finally:
        if shown:
            bar.render_finish()
