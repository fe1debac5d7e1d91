"""``pdcheck bringup``: First power-up step by step: what the meter should show; compare what it showed.

Meant by: measure power-up powerup meter bench readings multimeter.
"""

from __future__ import annotations

import datetime
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pdcheck.cli.answering import answer, remark
from pdcheck.cli.options import json_option, pair_options
from pdcheck.cli.rig_options import rig_argument
from pdcheck.cli.streams import document
from pdcheck.errors import InputError
from pdcheck.show.clean import clean, pasted

if TYPE_CHECKING:
    from pdcheck.asking.given import AnyKit, AnyRig
    from pdcheck.verdict.bringup.measured import Comparison
    from pdcheck.verdict.bringup.steps import BringUp


@click.command("bringup")
@pair_options("The {}; needed where the kit has several.")
@click.option("--toml", "sheet", metavar="FILE", help="Write a sheet to fill in; - prints it.")
@click.option("--measured", metavar="SHEET", help="Compare a filled-in sheet.")
@click.option("--next", "one", is_flag=True, help="With --measured: say which one reading to take next.")
@click.option("--write-back", is_flag=True, help="With --measured: offer to put what was found into kit and rig.")
@click.option("--yes", is_flag=True, help="With --write-back: do not ask.")
@click.option("--replace", is_flag=True, help="With --toml: write over a file that is there.")
@json_option("bringup", "measured", "next-reading")
@rig_argument(required=False)
def command(
    sheet: str | None,
    measured: str | None,
    one: bool,
    write_back: bool,
    yes: bool,
    replace: bool,
    as_json: bool,
    **asked: Any,
) -> int:
    """Give the steps of a safe first power-up of RIG on one source and cable: where the meter goes, what to expect
    there, when to stop.

    With --measured the sheet says which rig, kit, source and cable it is of. Exit code 1 where the rig fails, or where
    the readings are not as expected.

    \b
    pdcheck bringup pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m --toml sheet.toml
    pdcheck bringup --measured sheet.toml --next
    pdcheck bringup --measured sheet.toml --write-back
    """
    if measured is not None:
        if sheet is not None:
            raise click.UsageError("--toml and --measured exclude each other")
        if one:
            if write_back or yes:
                raise click.UsageError("--next and --write-back exclude each other")
            from pdcheck.asking.bringup import next_reading

            return answer(next_reading(measured, **asked), as_json)
        return _compare(measured, asked, write_back, yes, as_json)
    if write_back or yes or one:
        raise click.UsageError("--next, --write-back and --yes go with --measured")
    if asked["rig"] is None:
        raise click.UsageError(
            "no rig: give RIG, a file, or say what you want out: --output 12V@2A; or --measured SHEET"
        )
    from pdcheck.asking.bringup import bringup
    from pdcheck.parts.writing import outputs_differ, writable

    outputs_differ(sheet, "-" if as_json else None)
    if sheet not in (None, "-"):
        writable(sheet)
    plan = bringup(**asked)
    if sheet is not None:
        _write_sheet(plan, asked["rig"], asked["kit"], sheet, replace)
        if not as_json:
            return 0 if plan else 1
    return answer(plan, as_json)


def _write_sheet(plan: BringUp, rig: AnyRig, kit_file: AnyKit | None, sheet: str, replace: bool) -> None:
    from pdcheck.show.bringup_sheet import sheet_text

    if not isinstance(rig, str) or not isinstance(kit_file, str | None):
        told = "a file, since a sheet names it: 'pdcheck new RIG' takes the same options and writes one"
        raise InputError("--toml and no RIG", expected=told)
    if sheet == "-":
        document(sheet_text(plan, rig, kit_file or ""))
        return
    from pdcheck.parts.writing import write_whole

    target = Path(sheet)
    if target.exists() and not replace:
        raise InputError("is there already", where=sheet, expected="--replace, or another name: it may hold readings")
    folder = target.parent
    kit = "" if kit_file is None else os.path.relpath(kit_file, folder)
    today = datetime.date.today().isoformat()
    write_whole(sheet, sheet_text(plan, os.path.relpath(rig, folder), kit, today))
    remark(f"wrote {sheet}; fill it in, then: pdcheck bringup --measured {pasted(sheet)}")


def _compare(sheet: str, asked: dict[str, Any], write_back: bool, yes: bool, as_json: bool) -> int:
    from pdcheck.asking.bringup import bringup, measured, sheet_of

    found = measured(sheet, **asked)
    code = answer(found, as_json)
    if write_back and _write_back(found, yes):
        from pdcheck.show.check import IN_CHECK, headline

        again = bringup(*sheet_of(sheet, **asked))
        remark(f"with these figures: {headline(again.judgement, IN_CHECK)}")
    return code


def _write_back(found: Comparison, yes: bool) -> bool:
    """Ask for each change and write those that are wanted; whether anything was written."""
    from pdcheck.cli.asking import hearing
    from pdcheck.show.measured import change_text
    from pdcheck.verdict.bringup.write_back import difference, write

    if not found.changes:
        remark("nothing to write back")
        return False
    for line in difference(found.changes, found.texts).splitlines():
        click.echo(clean(line), err=True)
    with hearing():
        chosen = [each for each in found.changes if yes or click.confirm(f"{change_text(each)}\nWrite it?", err=True)]
    for name in write(chosen, found.texts):
        remark(f"wrote {name}")
    return bool(chosen)
