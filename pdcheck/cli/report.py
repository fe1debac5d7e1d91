"""``pdcheck report``: Write one page about a rig: verdict, drawing, findings, offers, kit, cautions.

Meant by: page html pdf export print web.
"""

from __future__ import annotations

from functools import partial
from typing import Any, get_args

import click

from pdcheck.cli.options import json_option, pair_options, picture_options, watch_option
from pdcheck.cli.rig_options import rig_argument
from pdcheck.show.pictures import PlotName


@click.command("report")
@pair_options("The {} the page is about; without it the best of the kit.")
@click.option("-o", "--page", metavar="FILE", help="The page to write, or - for standard output.")
@picture_options("a single plot")
@click.option(
    "--plot",
    "which",
    type=click.Choice(get_args(PlotName)),
    default="offers",
    help="Which plot: what the source offers, what an output can deliver, VBUS over time.",
)
@click.option("--branch", metavar="NAME", help="The branch of '--plot envelope'; else the first.")
@json_option("check")
@watch_option
@rig_argument()
def command(
    page: str | None, svg: str | None, png: str | None, replace: bool, watch: bool, as_json: bool, **asked: Any
) -> int:
    """Write one self-contained page: verdict, chain, findings, offers, outputs, the whole kit, the conversation,
    what to buy, the fuses, the first power-up, the cautions. Or one of its plots alone.

    Exit code as for 'check', whose document about the pair --json prints; the page carries it too.

    \b
    pdcheck report pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m -o page.html
    pdcheck report pier-box.toml --kit kit.toml --source wall-45 --plot bus --svg bus.svg
    """
    if page is None and svg is None and png is None and not as_json:
        raise click.UsageError("nothing to write: give -o FILE, --svg FILE, --png FILE or --json")

    def once() -> int:
        return _report((page, svg, png), replace=replace, as_json=as_json, **asked)

    if not watch:
        return once()
    if as_json or "-" in (page, svg, png):
        raise click.UsageError("--watch writes to a file, not to standard output")
    from pdcheck.cli.watching import watched

    return watched(once, (asked["rig"], asked["kit"], asked["source"]))


def _report(
    targets: tuple[str | None, str | None, str | None],
    *,
    which: PlotName,
    branch: str | None,
    replace: bool,
    as_json: bool,
    **asked: Any,
) -> int:
    """Write what has a target: a page, a picture as SVG, one as PNG; and the document where it is asked for."""
    from pdcheck.asking.given import kit_with, rig_name
    from pdcheck.cli.pictures import ready, write, write_picture
    from pdcheck.parts.writing import PAGE, PNG, SVG
    from pdcheck.show.page.compose import compose, picture, subject_of
    from pdcheck.verdict.judge import FEWER_IN_KIT, MOST_PAIRS, few_pairs

    page, svg, png = targets
    wanted = ((page, PAGE), (svg, SVG), (png, PNG))
    ready(*wanted, replace=replace, printed=as_json, read=tuple(asked.values()))
    built, kit, source, cable = kit_with(**asked)
    few_pairs(kit, None, None, MOST_PAIRS, expected=FEWER_IN_KIT)
    subject = subject_of(rig_name(asked["rig"]), built, kit, source, cable)
    judgement = subject.judgement
    write(page, partial(compose, subject), PAGE, replace, f": {judgement.verdict}")
    if svg is not None or png is not None:
        write_picture(picture(judgement, which, branch), svg, png, replace)
    if as_json:
        from pdcheck.cli.answering import answer

        answer(judgement, as_json)
    return 0 if judgement.works else 1
