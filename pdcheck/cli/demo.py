"""``pdcheck demo``: Run the whole job on invented chargers, cables and builds.

Meant by: example examples sample tutorial tour intro.
"""

from __future__ import annotations

import click

from pdcheck.cli.options import json_option


@click.command("demo")
@click.option("--copy", "folder", metavar="FOLDER", help="Also put the demo's files there, to change and try again.")
@json_option("demo")
def command(folder: str | None, as_json: bool) -> int:
    """Show what each charger of an invented kit offers, which voltage to set for three builds, and the verdicts.

    \b
    pdcheck demo --copy try
    """
    from pdcheck.cli.answering import answer, remark, say
    from pdcheck.show import demo

    if folder is not None:
        for path in demo.copy_files(folder):
            remark(f"wrote {path}")
    found = demo.demo()
    if as_json:
        return answer(found, as_json)
    say(demo.text(found, folder))
    return 0
