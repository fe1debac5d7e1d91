"""``pdcheck decode``: Read a capture, hex or a charger's label: messages and what the source offers.

Meant by: charger chargers source label parse read capture hex pdo offers scan usb sniff log identify.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import click

from pdcheck.bits.power import REQUEST_WORDS
from pdcheck.cli.options import form_option, input_argument, json_option, strict_option, waveform_options
from pdcheck.intake.forms import FORMS

if TYPE_CHECKING:
    from pdcheck.intake.sniff import Stream


@click.command("decode")
@input_argument("INPUT", required=False)
@form_option("input", tuple(FORMS))
@click.option(
    "--request-as",
    type=click.Choice(list(REQUEST_WORDS)),
    help="How to read a Request whose capabilities are not in the input; bare words are then requests.",
)
@waveform_options
@click.option("--list", "list_", is_flag=True, help="With --from sysfs: what is attached to each port.")
@click.option("--port", help="With --from sysfs: the port to read, or the table, as in pd1.")
@strict_option
@json_option("decode")
@click.option("--jsonl", "as_lines", is_flag=True, help="Print one line of JSON a message, while reading.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV, one row an object, while reading.")
def command(
    input: str | None,
    form: str | None,
    request_as: str | None,
    list_: bool,
    strict: bool,
    as_json: bool,
    as_lines: bool,
    as_csv: bool,
    **asked: str | None,
) -> int:
    """Read INPUT: hex text, a path, a charger's label, a VCD or CSV waveform, or - for standard input.

    With --from sysfs INPUT is /sys (the default) or a copy of it. Exit code 1 where a message's CRC is wrong, or
    a packet or a line of a log cannot be decoded.

    \b
    pdcheck decode "5V 3A, 9V 3A, 15V 3A, 20V 2.25A"
    pdcheck decode capture.log --json
    pdcheck decode long.log.gz --csv > long.csv
    pdcheck decode capture.vcd.gz --channel CC1
    pdcheck decode --from sysfs --list
    """
    if as_json + as_lines + as_csv > 1:
        raise click.UsageError("--json, --jsonl and --csv exclude each other")
    if list_ or asked["port"] is not None:
        if form not in (None, "sysfs"):
            raise click.UsageError("--list and --port go with --from sysfs")
        form = "sysfs"
    if list_:
        if as_lines or as_csv:
            raise click.UsageError("what is attached is no message to write with --jsonl or --csv")
        from pdcheck.asking.decode import attached
        from pdcheck.cli.answering import answer

        return answer(attached(input or "", asked["port"]), as_json)
    if input is None and form != "sysfs":
        raise click.UsageError("Missing argument 'INPUT...'.")
    from pdcheck.asking.decode import how_to_read, opened_or_hinted
    from pdcheck.cli.answering import say
    from pdcheck.cli.progress import progress_bar
    from pdcheck.cli.streams import document
    from pdcheck.show.written import AsText, Written, write_decoded

    with progress_bar() as progress:
        live = as_lines or as_csv
        how = how_to_read(**asked, progress=progress, whole=False, live=live, torn=not strict)
        with opened_or_hinted(input or "", form, how) as stream:
            if live:
                return _write_records(stream, input or "", request_as, as_csv=as_csv)
            written: Written = AsText(partial(say, nl=False))
            if as_json:
                from pdcheck.show.written_json import AsJson

                written = AsJson(document)
            return 0 if write_decoded(stream, request_as, written) else 1


def _write_records(stream: Stream, argument: str, request_form: str | None, *, as_csv: bool) -> int:
    """Write the messages while they are read."""
    from pdcheck.cli.answering import remark
    from pdcheck.cli.streams import document
    from pdcheck.errors import InputError
    from pdcheck.intake.given import STANDARD_INPUT
    from pdcheck.intake.stream import Words
    from pdcheck.show.record_text import CsvRows, JsonLines
    from pdcheck.show.shared_out import show
    from pdcheck.show.streamed import Streamed

    streamed = Streamed(CsvRows() if as_csv else JsonLines(), request_form)
    opening = [streamed.text.opening]

    def write(text: str) -> None:
        # The names of the columns come with the first rows: an input that cannot be read leaves no empty table.
        document(opening.pop() + text if opening else text)

    show(streamed, stream, write)
    if opening:
        if streamed.left_out[Words] or stream.said.offers or stream.said.objects:
            what = "holds offers or object words, and no message"
            where = STANDARD_INPUT if argument == "-" else argument[:80]
            raise InputError(what, where=where, expected="messages; --json shows the rest")
        write("")
    for note in [*map(str, stream.said.problems), *streamed.notes()]:
        remark(f"pdcheck: {note}")
    return 1 if streamed.flawed else 0
