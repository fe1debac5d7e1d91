"""``pdcheck report``: a rig on a kit as one page that opens offline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.options import json_option, pair_options

if TYPE_CHECKING:
    from pdcheck.parts.writing import Kind


@click.command("report")
@click.argument("rig", metavar="RIG")
@pair_options("The {} the page is about; without it the best of the kit.")
@click.option(
    "-o",
    "--output",
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
    show_default=True,
    help="Which plot: what the source offers, what an output can deliver, VBUS over time.",
)
@click.option(
    "--branch",
    metavar="NAME",
    help="The branch of '--plot envelope'; else the first.",
)
@click.option("--replace", is_flag=True, help="Write over a file of another kind that is there.")
@json_option("check")
def command(
    rig: str,
    kit_path: str | None,
    source_id: str | None,
    cable_id: str | None,
    path: str | None,
    svg_path: str | None,
    png_path: str | None,
    which: str,
    branch: str | None,
    replace: bool,
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
    from pathlib import Path

    from pdcheck.asking.given import kit_with
    from pdcheck.parts.writing import PAGE, PNG, SVG, outputs_differ, writable
    from pdcheck.show.page.compose import compose, picture, subject_of
    from pdcheck.verdict.judge import FEWER_IN_KIT, MOST_PAIRS, few_pairs

    outputs_differ(path, svg_path, png_path, "-" if as_json else None)
    built, kit, source, cable = kit_with(rig, kit_path, source_id, cable_id)
    kinds = {path: PAGE, svg_path: SVG, png_path: PNG}
    for target, kind in kinds.items():
        if target not in (None, "-"):
            writable(str(target), kind=kind, replace=replace)
    few_pairs(kit, None, None, MOST_PAIRS, expected=FEWER_IN_KIT)
    subject = subject_of(Path(rig).stem, built, kit, source, cable)
    judgement = subject.judgement
    if path is not None:
        write(path, compose(subject), PAGE, replace, f": {judgement.verdict}")
    for form, target in (("svg", svg_path), ("png", png_path)):
        if target is not None:
            write(target, picture(judgement, which, form, branch), kinds[target], replace)
    if as_json:
        from pdcheck.cli.answering import answer

        answer(judgement, as_json)
    return 0 if judgement.works else 1


def write(path: str, content: str | bytes, kind: Kind, replace: bool, told: str = "") -> None:
    """Write a page or a picture, ``-`` is standard output; what was written goes to standard error."""
    from pdcheck.cli.streams import document
    from pdcheck.parts.writing import write_whole
    from pdcheck.show.clean import clean

    if path == "-":
        document(content) if isinstance(content, str) else click.echo(content, nl=False)
    else:
        write_whole(path, content, kind=kind, replace=replace)
        click.echo(clean(f"wrote {path}{told}"), err=True)
