"""``pdcheck audit``: Follow a captured conversation: what was agreed, and what was wrong.

Meant by: analyse analyze trace debug follow.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import say
from pdcheck.cli.options import form_option, input_argument, json_option, strict_option, waveform_options
from pdcheck.intake.forms import FORMS


@click.command("audit")
@input_argument("CAPTURE")
@form_option("capture", tuple(name for name, form in FORMS.items() if form.messages))
@waveform_options
@click.option("--cable", metavar="TEXT", help='The cable, where the log does not show it: "C-C 5A", "captive 5A".')
@click.option("--keep", metavar="KIT", help="Add the source's offers to this kit file.")
@click.option("--as", "id_", metavar="ID", help="The id that the kept source gets.")
@click.option("--replace", is_flag=True, help="With --keep: put them in the place of a source of that id.")
@strict_option
@json_option("audit")
def command(input: str, keep: str | None, id_: str | None, replace: bool, as_json: bool, **asked: Any) -> int:
    """Follow CAPTURE: a hex log with times, a VCD or CSV waveform, hex text, or - for standard input.

    Ends with the contract in force and the source's offers. Exit code 1 where something was wrong.

    \b
    pdcheck audit capture.log
    pdcheck audit capture.vcd --keep kit.toml --as wall-45
    """
    if (keep is None) != (id_ is None) or (replace and keep is None):
        raise click.UsageError("--keep KIT and --as ID go together, --replace with both")
    from dataclasses import replace as put

    from pdcheck.cli.progress import progress_bar
    from pdcheck.cli.streams import document
    from pdcheck.parts.kit_result import kit_keep
    from pdcheck.show.clean import clean
    from pdcheck.verdict.audit.auditing import captured_over

    with progress_bar() as progress:
        audited = pdcheck.audit(input, **asked, progress=progress)
    kept = None
    if keep is not None and id_ is not None:
        kept = kit_keep(keep, id_, audited.listed, captured_over=captured_over(audited), replace=replace)
    if as_json:
        from pdcheck.show.written_json import long_json

        document(long_json(put(audited, lines=()), "timeline", audited.timeline))
    else:
        from pdcheck.show.audit import text_lines

        for line in text_lines(audited):
            say(line)
    if kept is not None and not as_json:
        say(clean(f"{kept.change} {id_} in {keep}"))
    return 0 if audited else 1
