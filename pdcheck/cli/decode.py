"""``pdcheck decode``: a capture, hex, a label or the system's own tables, to messages and offers."""

from __future__ import annotations

import os.path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pdcheck.intake.sniff import Intake

FORMS = ("hex", "label", "sysfs", "vcd", "csv")


@click.command("decode", short_help="Read a capture, hex, a label or the system's tables.")
@click.argument("input_", metavar="INPUT...", nargs=-1)
@click.option("--from", "form", type=click.Choice(FORMS), help="What the input is, where its look would mislead.")
@click.option(
    "--request-as",
    type=click.Choice(["fixed", "battery", "pps", "avs"]),
    help="How to read a Request whose capabilities are not in the input; bare words are then requests.",
)
@click.option("--channel", help="Waveform: the signal or column that is the CC line; else the one with packets.")
@click.option("--rate", help="Waveform without times: the sample rate, as in 10MHz or 2e6.")
@click.option("--threshold", help="Analog waveform: the voltage between low and high, as in 0.55V.")
@click.option("--list", "list_", is_flag=True, help="With --from sysfs: what is attached to each port.")
@click.option("--port", help="With --from sysfs: the port to read, or the table, as in pd1.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/decode/1.")
@click.option("--jsonl", "as_lines", is_flag=True, help="Print one line of JSON a message, while reading.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV, one row an object, while reading.")
def command(
    input_: tuple[str, ...],
    form: str | None,
    request_as: str | None,
    channel: str | None,
    rate: str | None,
    threshold: str | None,
    list_: bool,
    port: str | None,
    as_json: bool,
    as_lines: bool,
    as_csv: bool,
) -> int:
    """Read INPUT: hex text, a path, a charger's label, a VCD or CSV waveform, or - for standard input.

    With --from sysfs INPUT is /sys (the default) or a copy of it. Exit code 1 where a message's CRC is wrong or a
    packet cannot be decoded.

    \b
    pdcheck decode "5V 3A, 9V 3A, 15V 3A, 20V 2.25A"
    pdcheck decode capture.log --json
    pdcheck decode long.log.gz --csv > long.csv
    pdcheck decode capture.vcd.gz --channel CC1
    pdcheck decode --from sysfs --list
    """
    if as_json + as_lines + as_csv > 1:
        raise click.UsageError("--json, --jsonl and --csv exclude each other")
    if form == "sysfs" or list_ or port is not None:
        if form not in (None, "sysfs"):
            raise click.UsageError("--list and --port go with --from sysfs")
        if as_lines or as_csv:
            raise click.UsageError("the system's tables hold no messages to write with --jsonl or --csv")
        return _from_system(" ".join(input_), list_, port, as_json)
    if not input_:
        raise click.UsageError("Missing argument 'INPUT...'.")
    if as_lines or as_csv:
        from pdcheck.cli.streaming import stream
        from pdcheck.cli.waveform_options import waveform_options

        options = waveform_options(channel, rate, threshold)
        return stream(" ".join(input_), form, request_as, options, as_csv=as_csv)
    from pdcheck.intake.sniff import read_input

    argument = " ".join(input_)
    if channel is None and rate is None and threshold is None and not os.path.isfile(argument):
        return _show(read_input(argument, form, request_form=request_as), as_json)
    from pdcheck.cli.waveform_options import progress_bar, waveform_options

    options = waveform_options(channel, rate, threshold)
    with progress_bar() as progress:
        intake = read_input(argument, form, request_form=request_as, progress=progress, **options)
    return _show(intake, as_json)


def _from_system(path: str, list_: bool, port: str | None, as_json: bool) -> int:
    from pdcheck.intake.sysfs.attached import DEFAULT_PATH, read_attached, read_sysfs

    if not list_:
        return _show(read_sysfs(path or DEFAULT_PATH, port), as_json)
    attached = read_attached(path or DEFAULT_PATH, port)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(attached)
    else:
        click.echo(attached)
    return 0


def _show(intake: Intake, as_json: bool) -> int:
    from pdcheck.show import decode as show

    if as_json:
        from pdcheck.show.decode_result import DecodeResult
        from pdcheck.show.emit import emit_json

        emit_json(DecodeResult(intake))
    else:
        click.echo(show.text(intake))
    return 0 if show.works(intake) else 1
