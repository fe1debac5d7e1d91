"""``pdcheck change``: what happens in a rig when its source offers less, or the plug is pulled and put back."""

from __future__ import annotations

import click

from pdcheck.cli.option_types import pair_options


@click.command("change", short_help="What happens when the source offers less, or is unplugged.")
@click.argument("rig", metavar="RIG")
@pair_options("This {} of the kit; needed where there are several.")
@click.option(
    "--to",
    metavar="WHAT",
    help="9V or 'offer 2' (nothing above that), 30W (less current), unplug; else all that may be.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/change/1.")
def command(
    rig: str, kit_path: str | None, source_id: str | None, cable_id: str | None, to: str | None, as_json: bool
) -> int:
    """Say which branches of RIG go on, stop or restart when a second port is used, a power bank runs low or the plug is
    pulled, what the bus does in between and for how long, and what that means for what hangs on it.

    Exit code 1 where a branch that runs does not surely run afterwards.

    \b
    pdcheck change pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m --to 9V
    """
    from pdcheck.cli.files import rig_and_kit
    from pdcheck.errors import InputError
    from pdcheck.show import changed
    from pdcheck.verdict.change.changes import changes
    from pdcheck.verdict.judge import pairs_of

    built, kit = rig_and_kit(rig, kit_path)
    pairs = list(pairs_of(kit, source_id, cable_id))
    if len(pairs) > 1:
        option, ids = "--source", sorted({source.id for source, _ in pairs})
        if len(ids) == 1:
            option, ids = "--cable", sorted({cable.id for _, cable in pairs})
        raise InputError("more than one pair of source and cable", expected=f"{option}, one of {', '.join(ids)}")
    found = changes(built, *pairs[0], to)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(changed.document(found, built.title))
    else:
        click.echo(changed.text(found, steps=to is not None))
    return 0 if all(change.works for change in found) else 1
