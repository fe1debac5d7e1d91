"""Files made by hand to do harm: absurd sizes, devices for captures, what acts on a terminal, formulas for a sheet."""

from __future__ import annotations

import csv
import gzip
import io
import json
import os
import sys

import pytest

from pdcheck.facts.characters import is_hidden
from tests.fuzz.commands import call

TRIGGER = '[trigger]\nrequest = "9V"\n'
BRANCH = '[[branch]]\nname = "{}"\nload = "1W"\n'
SOURCE = '[[source]]\nid = "{}"\noffers = "5V 3A, 9V 3A"\n'
CABLE = '[[cable]]\nid = "{}"\nkind = "C-C"\n'


@pytest.fixture
def written(tmp_path):
    def write(text, name="rig.toml"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


@pytest.mark.parametrize("count", [33, 1000, 20_000])
def test_a_rig_of_too_many_branches_is_refused_with_the_limit(refused, written, count):
    path = written(TRIGGER + "".join(BRANCH.format(index) for index in range(count)) + SOURCE.format("s"))
    for command in ("check", "envelope", "talk", "change", "bringup", "matrix", "need"):
        line = refused(command, path)
        assert f"{count} branches" in line and "at most 32" in line and "rig.toml, line " in line


def steps(call, *arguments):
    """What a call of the command gives, and how many functions it calls on the way; no clock has a part in it."""
    count = 0

    def one_more(frame, event, argument):
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(one_more)
    try:
        outcome = call(*arguments)
    finally:
        sys.setprofile(None)
    return outcome, count


def test_a_longer_rig_takes_no_more_than_its_length_to_refuse(refused, written):
    def taken(count):
        path = written(TRIGGER + "".join(BRANCH.format(index) for index in range(count)) + SOURCE.format("s"))
        return steps(refused, "check", path)[1]

    taken(33)
    assert taken(2000) < 2.2 * taken(1000)


def test_the_largest_rig_takes_a_bounded_number_of_steps(pdcheck, written):
    path = written(TRIGGER + "".join(BRANCH.format(index) for index in range(32)) + SOURCE.format("s"))
    for command in ("check", "talk", "change", "matrix"):
        outcome, count = steps(pdcheck, command, path)
        # The most that any of them takes is a fifth of it, in about a second.
        assert outcome.code in (0, 1) and count < 2_000_000


def test_a_kit_of_too_many_parts_is_refused_with_the_limit(refused, written):
    kit = written("".join(SOURCE.format(index) for index in range(2001)), "kit.toml")
    assert "at most 2000" in refused("kit", "list", kit)


def test_too_many_pairs_are_refused_with_the_limit(refused, written):
    rig = written(TRIGGER + BRANCH.format("b"))
    kit = written("".join(SOURCE.format(n) + CABLE.format(n) for n in range(100)), "kit.toml")
    assert "more than 5000 pairs" in refused("check", rig, "--kit", kit)
    assert "more than 500 pairs" in refused("envelope", rig, "--kit", kit)
    assert "more than 5000 pairs" in refused("report", rig, "--kit", kit, "-o", "-")
    assert "more than 5000 pairs" in refused("new", f"{rig}.new.toml", "--kit", kit, "--yes", "--output", "9V@1A")


@pytest.mark.parametrize("capture", ["/dev/zero", "pipe", "no-such", "a\\u0000b", ".", "ring"])
def test_a_capture_is_a_plain_file(refused, written, tmp_path, capture):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "ring").symlink_to("ring")
    kit = written(f'[[source]]\nid = "s"\ncapture = "{capture}"\n', "kit.toml")
    line = refused("kit", "list", kit)
    assert "kit.toml, line 3: source.capture" in line and len(line) < 400


def test_a_capture_of_no_reasonable_size_is_not_read(refused, written, tmp_path):
    with (tmp_path / "log.txt").open("wb") as stream:
        stream.truncate(1 << 40)
    kit = written('[[source]]\nid = "s"\ncapture = "log.txt"\n', "kit.toml")
    assert "at most" in refused("kit", "list", kit)


HIDDEN = [
    "\x1b",
    "\x7f",
    "\x9b",
    "\xad",
    "\u061c",
    "\u180e",
    "\u200b",
    "\u202e",
    "\u2066",
    "\u2028",
    "\ufeff",
    "\ue000",
]


@pytest.mark.parametrize("character", HIDDEN, ids=ascii)
def test_what_acts_on_a_terminal_is_no_part_of_a_name(refused, written, character):
    written_out = f"\\u{ord(character):04x}"
    for text in (
        BRANCH.format(f"b{written_out}") + SOURCE.format("s"),
        BRANCH.format("b") + SOURCE.format(written_out),
    ):
        assert "is not a name" in refused("check", written(TRIGGER + text))
    assert "is not a title" in refused("check", written(f'title = "{written_out}"\n' + TRIGGER + BRANCH.format("b")))


def test_json_escapes_what_acts_on_a_terminal(pdcheck, tmp_path):
    path = tmp_path / "x\u202e\x9b\U000e0041.toml"
    path.write_text(TRIGGER + BRANCH.format("b") + SOURCE.format("s"), encoding="utf-8")
    outcome = pdcheck("matrix", path, "--json")
    assert not any(is_hidden(each) for each in outcome.out if each != "\n")
    assert outcome.json["cells"][0]["rig"] == path.stem
    table = pdcheck("matrix", path, "--csv")
    assert not any(is_hidden(each) for each in table.out if each != "\n")


@pytest.mark.parametrize("name", ["=1+1", "-1", "@sum"])
def test_what_a_table_would_take_for_a_formula_is_no_name(refused, written, name):
    path = written(TRIGGER + BRANCH.format(name) + SOURCE.format("s") + CABLE.format("c"), "rig.toml")
    assert "is not a name" in refused("matrix", path)


@pytest.mark.parametrize("name", ["+1", "+1+1"])
def test_no_cell_of_csv_is_a_formula(pdcheck, written, name):
    path = written(TRIGGER + BRANCH.format(name) + SOURCE.format(name) + CABLE.format(name), f"{name}.toml")
    for command in ("matrix", "envelope"):
        rows = list(csv.reader(io.StringIO(pdcheck(command, "--csv", "--", path).out)))
        assert f"'{name}" in rows[1]
        assert not [cell for row in rows for cell in row if cell[:1] in tuple("=+-@") and not _is_number(cell)]


def _is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_json_keeps_names_as_they_are(pdcheck, written):
    path = written(TRIGGER + BRANCH.format("+12V") + SOURCE.format("+1+1"))
    assert json.loads(pdcheck("matrix", path, "--json").out)["cells"][0]["source"] == "+1+1"


@pytest.mark.parametrize(
    "body",
    ["a = " + "9" * 5000, "a = " + "[" * 5000, "a = nan", "[sheet.sheet]\na = 1"],
    ids=["digits", "lists", "nan", "tables"],
)
def test_sheets_that_are_none(refused, written, body):
    sheet = written(f'{body}\n[sheet]\nschema = "pdcheck/sheet/1"\nrig = "a\\u0000\\u001b[31m"\n', "sheet.toml")
    assert len(refused("bringup", "--measured", sheet)) < 400


def test_whole_numbers_beyond_a_float_are_refused_wherever_they_stand(refused, written):
    huge = "9" * 400
    for line in (
        f"fallback = {huge}",
        f"request = {huge}",
        f"rating = {huge}",
        f"resistance = {huge}",
        f"bulk = {huge}",
    ):
        text = TRIGGER.replace('request = "9V"\n', "") if line.startswith("request") else TRIGGER
        assert "rig.toml, line " in refused("check", written(f"{text}{line}\n" + BRANCH.format("b")))


def test_names_of_files_never_reach_the_terminal_as_they_are(tmp_path, monkeypatch, written):
    monkeypatch.chdir(tmp_path)
    rig = "r\x1b[31m\x9b\u202e.toml"
    written(TRIGGER + BRANCH.format("b") + SOURCE.format("s"), rig)
    log = "log\x1b.txt"
    written("5V 3A, 9V 3A", log)
    for called in (
        ["check", rig],
        ["bringup", rig, "--toml", "sheet\x1b.toml"],
        ["bringup", rig, "--toml", "-"],
        ["bringup", "--measured", "sheet\x1b.toml"],
        ["report", rig, "-o", "page\x1b.html"],
        ["encode", "5V 3A", "--wave", "wave\x1b.vcd"],
        ["demo", "--copy", "\x1b[31m"],
        ["kit", "add", "kit\x1b.toml", "--source", "s", log],
        ["kit", "list", "kit\x1b.toml"],
        ["decode", log],
    ):
        result = call(called, b"")
        assert result.code in (0, 1), (called, result.err)
        for text in (result.out, result.err):
            assert not [each for each in text if each != "\n" and is_hidden(each)], (called, text)
    kept = next(tmp_path.glob("kit*.toml")).read_text(encoding="utf-8") + next(tmp_path.glob("sheet*")).read_text()
    assert not [each for each in kept if each != "\n" and is_hidden(each)]


def test_a_file_name_that_is_no_text_goes_into_no_sheet(tmp_path, monkeypatch, refused):
    monkeypatch.chdir(tmp_path)
    name = os.fsdecode(b"r\xff.toml")
    (tmp_path / name).write_text(TRIGGER + BRANCH.format("b") + SOURCE.format("s"))
    assert "is no character" in refused("bringup", name, "--toml", "sheet.toml")
    assert not list(tmp_path.glob("*sheet*"))


def test_marks_of_direction_are_no_print_of_a_label(refused):
    assert "says nothing on a label" in refused("decode", "5V\u202e 3A")


def test_bombs_of_gzip_are_refused_before_they_unfold(pdcheck, written):
    """Twice the text takes no more work to refuse."""
    head = b"$timescale 1 ns $end\n$var wire 1 ! a $end\n$enddefinitions $end\n"
    for begin, filling, name, said in (
        (b"", b"a1", "log.gz", "line 1: more than"),
        (head, b"##", "a.vcd.gz", "a line of more than"),
    ):
        taken = []
        for count in (10_000_000, 10_000_000, 20_000_000):
            path = written(gzip.compress(begin + filling * count, 1), name)
            outcome, work = steps(pdcheck, "decode", path)
            assert outcome.code == 2 and said in outcome.err
            taken.append(work)
        assert taken[2] < 1.1 * taken[1]
