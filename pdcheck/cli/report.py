"""``pdcheck report``: a rig on a kit as one page that opens offline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.options import pair_options, watch_option
from pdcheck.cli.rig_options import rig_argument

if TYPE_CHECKING:
    from pdcheck.asking.given import AnyKit, AnyRig
    from pdcheck.parts.writing import Kind


@click.command("report")
@pair_options("The {} the page is about; without it the best of the kit.")
@click.option(
    "-o",
    "--page",
    "path",
    metavar="FILE",
    help="The page to write, or - for standard output.",
)
@click.option(
    "--svg",
    "svg_path",
    metavar="FILE",
    help="Write a single plot as SVG, or - for standard output.",
)
@click.option("--png", "png_path", metavar="FILE", help="Write a single plot as PNG.")
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
@click.option("--replace", is_flag=True, help="Write over a file of another kind that is there.")
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
) -> int:
    """Write one self-contained page: verdict, chain, findings, offers, outputs, the whole kit, the conversation,
    what to buy, the fuses, the first power-up, the cautions. Or one of its plots alone.

    Exit code as for 'check'.

    \b
    pdcheck report pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m -o page.html
    pdcheck report pier-box.toml --kit kit.toml --source wall-45 --plot bus --svg bus.svg
    """
    if path is None and svg_path is None and png_path is None:
        raise click.UsageError("nothing to write: give -o FILE, --svg FILE or --png FILE")
    from pdcheck.parts.writing import PAGE, PNG, SVG, outputs_differ

    outputs_differ(path, svg_path, png_path)
    kinds = {path: PAGE, svg_path: SVG, png_path: PNG}

    def once() -> int:
        return _report(rig, (kit_path, source_id, cable_id), path, kinds, which, branch, replace=replace)

    if not watch:
        return once()
    if "-" in kinds:
        raise click.UsageError("--watch writes to a file, not to standard output")
    from pdcheck.cli.watching import watched

    return watched(once, (rig, kit_path, source_id))


def _report(
    rig: AnyRig,
    asked: tuple[AnyKit | None, str | None, str | None],
    path: str | None,
    kinds: dict[str | None, Kind],
    which: str,
    branch: str | None,
    *,
    replace: bool,
) -> int:
    """Write a page and pictures, each target with its kind."""
    from pdcheck.asking.given import kit_with, rig_name
    from pdcheck.parts.writing import PAGE, SVG, writable
    from pdcheck.show.page.compose import compose, picture, subject_of
    from pdcheck.verdict.judge import FEWER_IN_KIT, MOST_PAIRS, few_pairs

    built, kit, source, cable = kit_with(rig, *asked)
    for target, kind in kinds.items():
        if target not in (None, "-"):
            writable(str(target), kind=kind, replace=replace)
    few_pairs(kit, None, None, MOST_PAIRS, expected=FEWER_IN_KIT)
    subject = subject_of(rig_name(rig), built, kit, source, cable)
    judgement = subject.judgement
    if path is not None:
        write(path, compose(subject), PAGE, replace, f": {judgement.verdict}")
    for target, kind in kinds.items():
        if target is not None and kind is not PAGE:
            write(target, picture(judgement, which, "svg" if kind is SVG else "png", branch), kind, replace)
    return 0 if judgement.works else 1


def write(path: str, content: str | bytes, kind: Kind, replace: bool, told: str = "") -> None:
    """Write a page or a picture, ``-`` is standard output; what was written goes to standard error."""
    from pdcheck.cli.answering import remark
    from pdcheck.cli.streams import document
    from pdcheck.parts.writing import write_whole

    if path == "-":
        document(content) if isinstance(content, str) else click.echo(content, nl=False)
    else:
        write_whole(path, content, kind=kind, replace=replace)
        remark(f"wrote {path}{told}")
