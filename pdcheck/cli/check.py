"""``pdcheck check``: a rig judged on a source and cable, or on every pair of a kit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.option_types import pair_options

if TYPE_CHECKING:
    from pdcheck.verdict.judge import Judgement


@click.command("check", short_help="Judge a rig.")
@click.argument("rig", metavar="RIG")
@pair_options("Only this {} of the kit.")
@click.option("--brief", is_flag=True, help="One line for each pair.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/check/1.")
def command(
    rig: str, kit_path: str | None, source_id: str | None, cable_id: str | None, brief: bool, as_json: bool
) -> int:
    """Judge RIG, a TOML file, on every source and cable of a kit, or on those named.

    Exit code 1 where any pair fails or is unsafe.

    \b
    pdcheck check pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    """
    from pdcheck.cli.files import rig_and_kit
    from pdcheck.show import judged
    from pdcheck.verdict.judge import MOST_PAIRS, few_pairs, judge

    built, kit = rig_and_kit(rig, kit_path)
    pairs = few_pairs(kit, source_id, cable_id, MOST_PAIRS)
    judgements = [judge(built, source, cable) for source, cable in pairs]
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(judged.document(judgements, built.title))
    else:
        _print(judgements, brief)
    return 0 if all(each.works for each in judgements) else 1


def _print(judgements: list[Judgement], brief: bool) -> None:
    from pdcheck.show import judged
    from pdcheck.show.columns import paragraph

    if brief or len(judgements) > 6:
        click.echo(judged.summary(judgements))
        if not brief:
            click.echo()
            click.echo(paragraph("For the sums and all findings of one pair add --source ID --cable ID."))
    else:
        click.echo("\n\n".join(judged.text(each) for each in judgements))
