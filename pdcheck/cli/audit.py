"""``pdcheck audit``: a captured conversation, followed and judged message by message."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.intake.forms import FORMS

if TYPE_CHECKING:
    from pdcheck.verdict.audit.auditing import Audit


@click.command("audit", short_help="Follow a captured conversation: what was agreed, what was wrong.")
@click.argument("input_", metavar="CAPTURE...", nargs=-1, required=True)
@click.option(
    "--from",
    "form",
    type=click.Choice([name for name, form in FORMS.items() if form.messages]),
    help="What the capture is.",
)
@click.option("--channel", help="Waveform: the signal or column that is the CC line; else the one with packets.")
@click.option("--rate", help="Waveform without times: the sample rate, as in 10MHz or 2e6.")
@click.option("--threshold", help="Analog waveform: the voltage between low and high, as in 0.55V.")
@click.option("--cable", metavar="TEXT", help='The cable, where the log does not show it: "C-C 5A", "captive 5A".')
@click.option("--keep", metavar="KIT", help="Add the source's offers to this kit file.")
@click.option("--as", "id_", metavar="ID", help="The id that the kept source gets.")
@click.option("--replace", is_flag=True, help="With --keep: put them in the place of a source of that id.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/audit/1.")
def command(
    input_: tuple[str, ...],
    form: str | None,
    channel: str | None,
    rate: str | None,
    threshold: str | None,
    cable: str | None,
    keep: str | None,
    id_: str | None,
    replace: bool,
    as_json: bool,
) -> int:
    """Follow CAPTURE: a hex log with times, a VCD or CSV waveform, hex text, or - for standard input.

    Ends with the contract in force and the source's offers. Exit code 1 where something was wrong.

    \b
    pdcheck audit capture.log
    pdcheck audit capture.vcd --keep kit.toml --as wall-45
    """
    if (keep is None) != (id_ is None) or (replace and keep is None):
        raise click.UsageError("--keep KIT and --as ID go together, --replace with both")
    from pdcheck.cli.waveform_options import progress_bar, waveform_options
    from pdcheck.errors import InputError
    from pdcheck.intake.sniff import read_input
    from pdcheck.verdict.audit.auditing import audit

    options = waveform_options(channel, rate, threshold)
    with progress_bar() as progress:
        intake = read_input(" ".join(input_), form, progress=progress, **options)
    if not intake.told and not intake.lost:
        raise InputError("holds no message", expected="a conversation: a hex log or a waveform of the CC line")
    judged = audit(intake.told, intake.resolution_s, intake.lost, cable_ma=None if cable is None else _carries(cable))
    kept = "" if keep is None or id_ is None else _keep(judged, keep, id_, replace)
    from pdcheck.show.audit import shown as audited

    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(audited.document(judged))
    else:
        click.echo(audited.text(judged) + (f"\n{kept}" if kept else ""))
    return 1 if judged.wanting else 0


def _carries(text: str) -> int:
    """The current [mA] of a cable that is described."""
    from pdcheck.errors import InputError
    from pdcheck.parts.cable import read_cable_description

    try:
        return round(read_cable_description(text).current_a * 1000)
    except InputError as error:
        raise error.inside("--cable") from None


def _keep(judged: Audit, path: str, id_: str, replace: bool) -> str:
    from pdcheck.parts.kept_source import keep_source
    from pdcheck.show.clean import clean
    from pdcheck.verdict.audit.auditing import captured_over

    done = keep_source(path, id_, judged.offers, captured_over=captured_over(judged), replace=replace)
    return clean(f"{done} {id_} in {path}")
