"""``pdcheck report``: a rig on a kit as one page that opens offline."""

from __future__ import annotations

import click


@click.command("report", short_help="Write a page about a rig.")
@click.argument("rig", metavar="RIG")
@click.option("--kit", "kit_path", metavar="KIT", help="Kit file; without it the kit inside the rig file is used.")
@click.option("--source", "source_id", metavar="ID", help="The source the page is about; else the best of the kit.")
@click.option("--cable", "cable_id", metavar="ID", help="The cable the page is about; else the best of the kit.")
@click.option(
    "-o", "--output", "path", metavar="FILE", required=True, help="The page to write, or - for standard output."
)
@click.option("--svg", "svg_path", metavar="FILE", help="Also write the picture of the source's offers as SVG.")
@click.option("--png", "png_path", metavar="FILE", help="Also write the picture of the source's offers as PNG.")
def command(
    rig: str,
    kit_path: str | None,
    source_id: str | None,
    cable_id: str | None,
    path: str,
    svg_path: str | None,
    png_path: str | None,
) -> int:
    """Write one self-contained page: verdict, chain, findings, offers, envelope, the whole kit, what to buy, the
    conversation, the bring-up, the cautions.

    Exit code as for 'check'.

    \b
    pdcheck report pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m -o page.html
    """
    from pdcheck.cli.files import rig_and_kit
    from pdcheck.parts.keeping import write_whole
    from pdcheck.show.page.compose import compose, picture

    built, kit = rig_and_kit(rig, kit_path)
    judgement, page = compose(built, kit, source_id, cable_id)
    if path == "-":
        click.echo(page)
    else:
        write_whole(path, page)
        click.echo(f"wrote {path}: {judgement.verdict}", err=True)
    for kind, target in (("svg", svg_path), ("png", png_path)):
        if target is not None:
            write_whole(target, picture(judgement, kind))
            click.echo(f"wrote {target}", err=True)
    return 0 if judgement.works else 1
