"""Target that reads a log twice: as a stream, a record a message, and as a whole."""

from __future__ import annotations

import csv
import gzip
import io
import json
import tempfile
from pathlib import Path

from tests.fuzz.chooser import Chooser
from tests.fuzz.commands import call
from tests.fuzz.judging import WrongError, same, shown

REQUESTS = ((), (), (), ("--request-as", "fixed"), ("--request-as", "pps"), ("--request-as", "avs"))


def log(data: bytes) -> None:
    """The records of the stream are the messages of the whole, and what one cannot read the other cannot."""
    choice = Chooser(data)
    options, packed = choice.one_of(REQUESTS), choice.chance(8)
    body = choice.rest()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log"
        path.write_bytes(gzip.compress(body, 1) if packed else body)
        whole, lines, rows = (
            call(["decode", form, *options, str(path)], b"") for form in ("--json", "--jsonl", "--csv")
        )
    for result in (whole, lines, rows):
        shown(result.out)
        shown(result.err)
        if result.code not in (0, 1, 2) or (result.code == 2 and result.err.count("\n") != 1):
            raise WrongError(f"exit code {result.code}: {result.err}")
    if lines.code == 2 and "no message" in lines.err and whole.code != 2:
        return
    same("exit codes", (lines.code, rows.code), (whole.code, whole.code))
    if whole.code == 2:
        return
    records = [json.loads(line) for line in lines.out.splitlines()]
    named = {record.pop("schema") for record in records}
    same("the schema of a line", named, {"pdcheck/message/1"} if records else set())
    same("messages", records, json.loads(whole.out)["messages"])
    listed = [row["index"] for row in csv.DictReader(io.StringIO(rows.out))]
    same("messages of the table", list(dict.fromkeys(listed)), [str(at) for at in range(len(records))])
