"""One way in: a form of input is one line of a table, and works for every output; no file goes in circles."""

import ast
import csv
import gzip
import io
import json

import pytest

from pdcheck.bits.message import read_message
from pdcheck.errors import InputError
from pdcheck.intake import forms, opened
from pdcheck.intake.forms import FORMS, Form, form_of
from pdcheck.intake.sniff import How, gathered, open_input, read_input
from pdcheck.intake.stream import AS_IT_LOOKS, Intake, Stream
from tests.conftest import call
from tests.test_house import MODULES, circles, imported, name_of

GOOD = "4100bb6cbba8"
HEADS = {
    "hex": f"0.5 SOP {GOOD}\n",
    "label": "5V 3A, 9V 3A\n",
    "vcd": "$timescale 1 ns $end\n$var wire 1 ! CC1 $end\n$enddefinitions $end\n",
    "csv": "Time [s],CC\n0.0,0\n0.5e-6,1\n1.0e-6,0\n",
}


@pytest.mark.parametrize("name", HEADS)
def test_a_form_is_told_by_how_it_begins(name):
    assert form_of(HEADS[name].encode(), AS_IT_LOOKS, typed=False) is FORMS[name]


def test_an_option_of_few_forms_leaves_no_other():
    how = How(threshold_v=0.5)
    assert form_of(HEADS["hex"].encode(), how, typed=False) is FORMS["csv"]
    assert form_of(HEADS["vcd"].encode(), how, typed=False) is FORMS["vcd"]
    assert all(key in How._fields for form in FORMS.values() for key in form.options)


def test_no_two_forms_claim_the_same_input():
    for (name, head), form in ((each, form) for each in HEADS.items() for form in FORMS):
        assert FORMS[form].looks_like(head.encode()) == (form == name != "hex")


def looks(head):
    return head.startswith(b"%dots")


def read(source, how):
    """Hex with full stops between the digits, a message a line."""
    rows = source.text_bytes().decode().splitlines()[1:]
    return Stream(Intake("dots"), (read_message(bytes.fromhex(row.replace(".", "")), "SOP", 0.25) for row in rows))


def test_a_new_form_works_for_every_output_at_once(tmp_path, monkeypatch):
    monkeypatch.setitem(FORMS, "dots", Form("test_forms:read", "test_forms:looks", "%"))
    monkeypatch.setattr(forms, "_function", lambda name, own=forms._function: _mine(name) or own(name))
    path = tmp_path / "dots.gz"
    path.write_bytes(gzip.compress(b"%dots\n41.00.bb.6c.bb.a8\n41.00.bb.6c.bb.a9\n"))
    whole = call("decode", path, "--json")
    assert whole.code == 1 and whole.json["form"] == "dots"
    assert call("decode", path).out.count("GoodCRC") == 2
    lines = call("decode", path, "--jsonl")
    records = [json.loads(line) for line in lines.out.splitlines()]
    assert records == [{"schema": "pdcheck/message/1"} | each for each in whole.json["messages"]]
    rows = list(csv.DictReader(io.StringIO(call("decode", path, "--csv").out)))
    assert [(row["index"], row["time_s"], row["crc"]) for row in rows] == [("0", "0.25", "ok"), ("1", "0.25", "wrong")]
    assert (
        call("decode", "-", "--csv", stdin=gzip.decompress(path.read_bytes())).out == call("decode", path, "--csv").out
    )


def _mine(name):
    return {"test_forms:read": read, "test_forms:looks": looks}.get(name)


@pytest.mark.parametrize("command", ["decode", "kit add"])
def test_every_form_can_be_named(command):
    told = call(*command.split(), "--help").out
    assert "|".join(FORMS) in "".join(told.split())


def test_every_reader_of_the_table_is_there():
    for form in FORMS.values():
        for name in (form.reader, form.looks):
            assert not name or callable(forms._function(name))


def test_a_form_that_is_none_is_refused():
    with pytest.raises(InputError, match="no form 'dots'"):
        read_input(GOOD, "dots")


def test_what_is_gathered_is_bounded_and_what_is_shown_at_once_is_not(tmp_path, monkeypatch):
    monkeypatch.setattr(opened, "LARGEST_TEXT", 1000)
    path = tmp_path / "log.gz"
    path.write_bytes(gzip.compress(f"{GOOD}\n".encode() * 100))
    with pytest.raises(InputError, match=r"log\.gz: unpacks to more than 1000 bytes"):
        read_input(str(path))
    with open_input(str(path), how=How(gathered=False, live=True)) as stream:
        assert len(list(stream)) == 100


def test_no_more_of_a_pipe_is_asked_for_than_a_line_where_all_is_shown_at_once():
    class Pipe(io.RawIOBase):
        asked = 0

        def read(self, size=-1):
            self.asked += 1
            return f"{GOOD}\n".encode() if self.asked < 3 else b""

    for how, asked in ((How(gathered=False, live=True), 1), (How(), 3)):
        pipe = Pipe()
        source = opened.Opened("standard input", pipe, how)
        assert pipe.asked == asked and source.head.startswith(f"{GOOD}\n".encode())
        assert source.text_bytes() == f"{GOOD}\n{GOOD}\n".encode()


def test_the_step_of_times_is_known_only_where_there_are_times():
    with open_input(f"0.125 {GOOD}\n0.5 {GOOD}") as stream:
        assert gathered(stream).resolution_s == 0.001
    assert read_input(f"{GOOD}, {GOOD}").resolution_s is None


def test_no_reader_of_the_table_leads_back_to_it():
    """The table names them as text, which no other look at imports can see."""
    files = {name_of(path): ast.parse(path.read_text(encoding="utf-8")) for path in MODULES}
    needs = {name: {each for each in imported(tree) if each in files} - {name} for name, tree in files.items()}
    needs["pdcheck.intake.forms"] |= {f"pdcheck.intake.{form.reader.partition(':')[0]}" for form in FORMS.values()}
    assert needs["pdcheck.intake.forms"] <= set(files)
    assert not [circle for circle in circles(needs) if "pdcheck.intake.forms" in circle]
