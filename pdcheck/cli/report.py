"""``pdcheck report``: a rig on a kit as one page that opens offline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.options import json_option, pair_options, picture_options, watch_option
from pdcheck.cli.rig_options import rig_argument

if TYPE_CHECKING:
    from pdcheck.asking.given import AnyKit, AnyRig


@click.command("report")
@pair_options("The {} the page is about; without it the best of the kit.")
@click.option(
    "-o",
    "--page",
    "path",
    metavar="FILE",
    help="The page to write, or - for standard output.",
)
@picture_options("a single plot")
@click.option(
    "--plot",
    "which",
    type=click.Choice(["offers", "envelope", "bus"]),
    default="offers",
    help="Which plot: what the source offers, what an output can deliver, VBUS over time.",
)
@click.option(
    "--branch",
    metavar="NAME",
    help="The branch of '--plot envelope'; else the first.",
)
@json_option("check")
@watch_option
@rig_argument()
def command(
    rig: AnyRig,
    kit_path: AnyKit | None,
    source_id: str | None,
    cable_id: str | None,
    path: str | None,
    svg_path: str | None,
    png_path: str | None,
    which: str,
    branch: str | None,
    replace: bool,
    watch: bool,
    as_json: bool,
) -> int:
    """Write one self-contained page: verdict, chain, findings, offers, outputs, the whole kit, the conversation,
    what to buy, the fuses, the first power-up, the cautions. Or one of its plots alone.

    Exit code as for 'check', whose document about the pair --json prints; the page carries it too.

    \b
    pdcheck report pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m -o page.html
    pdcheck report pier-box.toml --kit kit.toml --source wall-45 --plot bus --svg bus.svg
    """
    if path is None and svg_path is None and png_path is None and not as_json:
        raise click.UsageError("nothing to write: give -o FILE, --svg FILE, --png FILE or --json")

    def once() -> int:
        asked = (kit_path, source_id, cable_id)
        return _report(rig, asked, (path, svg_path, png_path), which, branch, replace=replace, as_json=as_json)

    if not watch:
        return once()
    if as_json or "-" in (path, svg_path, png_path):
        raise click.UsageError("--watch writes to a file, not to standard output")
    from pdcheck.cli.watching import watched

    return watched(once, (rig, kit_path, source_id))


def _report(
    rig: AnyRig,
    asked: tuple[AnyKit | None, str | None, str | None],
    targets: tuple[str | None, str | None, str | None],
    which: str,
    branch: str | None,
    *,
    replace: bool,
    as_json: bool,
) -> int:
    """Write what has a target: a page, a picture as SVG, one as PNG; and the document where it is asked for."""
    from pdcheck.asking.given import kit_with, rig_name
    from pdcheck.cli.pictures import ready, write, write_picture
    from pdcheck.parts.writing import PAGE, PNG, SVG
    from pdcheck.show.page.compose import compose, picture, subject_of
    from pdcheck.verdict.judge import FEWER_IN_KIT, MOST_PAIRS, few_pairs

    path, svg_path, png_path = targets
    wanted = ((path, PAGE), (svg_path, SVG), (png_path, PNG))
    ready(*wanted, replace=replace, printed=as_json, read=(rig, *asked))
    built, kit, source, cable = kit_with(rig, *asked)
    few_pairs(kit, None, None, MOST_PAIRS, expected=FEWER_IN_KIT)
    subject = subject_of(rig_name(rig), built, kit, source, cable)
    judgement = subject.judgement
    if path is not None:
        write(path, compose(subject), PAGE, replace, f": {judgement.verdict}")
    if svg_path is not None or png_path is not None:
        write_picture(picture(judgement, which, branch), svg_path, png_path, replace)
    if as_json:
        from pdcheck.cli.answering import answer

        answer(judgement, as_json)
    return 0 if judgement.works else 1
