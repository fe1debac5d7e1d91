"""Streamed records say what the JSON document says, on logs of every dress, message for message."""

import csv
import gzip
import io
import json
import random
import re
import subprocess
import sys
from concurrent.futures import Future
from contextlib import contextmanager

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.bits.crc import with_crc
from pdcheck.bits.message import build_extended, make_header
from pdcheck.bits.message_record import message_json
from pdcheck.bits.objects import read_request
from pdcheck.bits.offers import Offer
from pdcheck.bits.request_bounds import request_bounds
from pdcheck.bits.sequence import Listener
from pdcheck.errors import InputError
from pdcheck.intake import several
from pdcheck.intake.hexlog import HexLog, read_hex
from pdcheck.intake.opened import Opened
from pdcheck.intake.sniff import How, gathered, open_input, stream_of
from pdcheck.intake.stream import Words
from pdcheck.show import shared_out
from pdcheck.show.clean import clean_json
from pdcheck.show.decode_result import DecodeResult
from pdcheck.show.record_text import COLUMNS, FIGURES, CsvRows, JsonLines
from pdcheck.show.shared_out import show_shared
from pdcheck.show.streamed import Streamed
from pdcheck.show.written import AsText, write_decoded
from pdcheck.show.written_json import AsJson
from tests.bench.logs import log
from tests.conftest import call

WORDS = st.one_of(
    st.sampled_from(
        [0x0801912C, 0x0002D12C, 0x0003C12C, 0x0004B12C, 0x000640E1, 0xC0DC213C, 0xE004B0E1, 0, 0x41912C00]
    ),
    st.integers(0, (1 << 32) - 1),
)
REQUESTS = st.builds(
    lambda position, flags, high, low: position << 28 | flags << 22 | high << 9 | low,
    st.integers(0, 8),
    st.sampled_from([0, 1 << 3, 1 << 5]),
    st.integers(0, 1 << 11),
    st.integers(0, 300),
)
CONTROL = ["GoodCRC", "Accept", "PS_RDY", "Reject", "Get_Source_Cap", "Soft_Reset"]
REVISIONS = st.sampled_from(["2.0", "3.x"])


def raw(name, words, revision="3.x", number=0, source=True):
    header = make_header(name, len(words), message_id=number, revision=revision, source=source)
    return header.to_bytes(2, "little") + b"".join(word.to_bytes(4, "little") for word in words)


@st.composite
def frames(draw):
    """Header and payload, as loggers see them: mostly what chargers say, sometimes anything."""
    revision, number = draw(REVISIONS), draw(st.integers(0, 7))
    what = draw(st.integers(0, 9))
    if what < 2:
        return raw("Source_Capabilities", draw(st.lists(WORDS, min_size=1, max_size=7)), revision, number)
    if what == 2:
        listed = [0x0801912C, 0x0002D12C, 0x0003C12C, 0x000640E1, 0xC0DC213C]
        return raw("Source_Capabilities", listed[: draw(st.integers(1, 5))], revision, number)
    if what < 5:
        return raw("Request", [draw(REQUESTS)], revision, number, source=False)
    if what == 5:
        name = draw(
            st.sampled_from(["Vendor_Defined", "Sink_Capabilities", "BIST", "Alert", "EPR_Mode", "Battery_Status"])
        )
        return raw(name, draw(st.lists(WORDS, min_size=1, max_size=7)), "3.x", number)
    if what == 6:
        acknowledged = [0xFF00A041, 0x1C00ABCD, 0, 0x12340100, 0x11082032]
        return raw("Vendor_Defined", acknowledged[: draw(st.integers(1, 5))], revision, number)
    if what == 7:
        return raw("EPR_Request", draw(st.lists(WORDS, min_size=1, max_size=3)), "3.x", number, source=False)
    return raw(draw(st.sampled_from(CONTROL)), [], revision, number)


@st.composite
def lines(draw, frame):
    """One message in one of the dresses of a log, plain ones more often."""
    data = draw(st.sampled_from([with_crc, with_crc, with_crc, bytes]))(frame)
    if draw(st.integers(0, 9)) == 0 and len(data) > 6:
        data = data[:-1] + bytes([data[-1] ^ draw(st.integers(1, 255))])
    stamp = draw(
        st.sampled_from(["", "0.5 ", "12.000100 ", "[1.25] ", "3.5s ", "0.00001, ", "00:01:02.5 ", "17 ms ", "0.10: "])
    )
    sop = draw(st.sampled_from(["", "SOP ", "SOP' ", "SOP'': ", "SOP,", "RX SOP: ", "-> "]))
    dress = draw(st.integers(0, 9))
    hexed = data.hex()
    if dress == 0:
        hexed = data.hex(" ").upper()
    elif dress == 1:
        hexed = ",".join(f"0x{byte:02x}" for byte in data)
    elif dress == 2 and len(data) > 3:
        at = draw(st.integers(1, len(data) - 1))
        hexed = f"{data[:at].hex()}\n{data[at:].hex()}" if not stamp and not sop else hexed
    elif dress == 3:
        hexed += draw(st.sampled_from(["  # remark", " // no", "   ", "\n", "\n# remark\n", "\r"]))
    elif dress == 4 and len(data) % 4 == 2:
        hexed = f"{data[:2].hex()} " + " ".join(data[at : at + 4].hex() for at in range(2, len(data), 4))
    return stamp + sop + hexed


@st.composite
def logs(draw):
    told = [draw(lines(draw(frames()))) for _ in range(draw(st.integers(1, 12)))]
    if draw(st.integers(0, 4)) == 0:
        header = make_header("EPR_Source_Capabilities", 0, extended=True)
        chunks = build_extended(header, b"".join(draw(WORDS).to_bytes(4, "little") for _ in range(9)))
        at = draw(st.integers(0, len(told)))
        told[at:at] = [draw(lines(chunk[:-4])) if False else chunk.hex() for chunk in chunks]
    if draw(st.integers(0, 9)) == 0:
        told.insert(
            draw(st.integers(0, len(told))), draw(st.sampled_from(["Hard Reset", "0x0801912C 0x0002D12C", "a1 6"]))
        )
    return "\n".join(told)


def slow(text):
    """The records that the general reader gives, or what it says against the text."""
    try:
        messages = [message for _, message in read_hex(text) if not isinstance(message, Words)]
    except InputError as error:
        return None, str(error)
    listener = Listener()
    return [message_json(listener.hear(message), index) for index, message in enumerate(messages)], ""


def streamed(text, form, piece=1 << 17):
    stream = io.BytesIO(text.encode())
    out = []
    try:
        Streamed(form).show(HexLog(lambda: stream.read(piece)), out.append)
    except InputError as error:
        return "".join(out), str(error)
    return "".join(out), ""


@settings(max_examples=400)
@given(logs(), st.sampled_from([1, 7, 64, 1 << 17]))
def test_json_lines_are_the_records_of_the_document(text, piece):
    expected, refused = slow(text)
    shown, error = streamed(text, JsonLines(), piece)
    assert error == refused
    records = [json.loads(line) for line in shown.splitlines()]
    assert {record.pop("schema") for record in records} <= {"pdcheck/message/1"}
    if expected is not None:
        assert records == expected
        assert [list(record) for record in records] == [list(record) for record in expected]


@settings(max_examples=200)
@given(logs())
def test_rows_of_csv_are_the_objects_of_the_document(text):
    expected, refused = slow(text)
    shown, error = streamed(text, CsvRows())
    assert error == refused
    if expected is None:
        return
    rows = list(csv.DictReader(io.StringIO(CsvRows.opening + shown)))
    at = 0
    for record in expected:
        objects = record["objects"] + ([record["block"]] if "block" in record else [])
        for each in objects or [None]:
            row = rows[at]
            at += 1
            assert row["index"] == str(record["index"]) and None not in row.values() and None not in row
            assert row["time_s"] == ("" if record["time_s"] is None else repr(record["time_s"]))
            assert row["sop"] == record["sop"] and row["raw"] == record["raw"]
            assert row["type"] == ("" if record["header"] is None else record["header"]["type"])
            assert row["crc"] == ("" if record["crc"] is None else "ok" if record["crc"]["ok"] else "wrong")
            assert row["message_problems"].split() == [problem["code"] for problem in record["problems"]]
            if each is None:
                assert not any(row[key] for key in ("kind", "word", "flags", "problems", *FIGURES))
                continue
            assert row["kind"] == each["kind"] and row["word"] == each.get("word", "")
            for key in FIGURES:
                assert row[key] == str(each.get(key, ""))
            assert row["problems"].split() == [problem["code"] for problem in each["problems"]]
            assert row["flags"].split() == list(each.get("flags", []))
    assert at == len(rows)


def plain_log(count):
    """Plain lines such as most logs have."""
    chance = random.Random(count)
    told = []
    for _ in range(count):
        what = chance.randrange(4)
        if what == 0:
            size = chance.randint(1, 7)
            listed = sorted(
                (chance.choice((9, 12, 15, 20)) * 20 << 10 | chance.randrange(10, 500) for _ in range(size - 1)),
                key=lambda word: word >> 10,
            )
            told.append(raw("Source_Capabilities", [0x0801912C, *listed], number=chance.randrange(8)))
        elif what == 1:
            current = chance.randrange(600)
            told.append(raw("Request", [chance.randint(1, 7) << 28 | current << 10 | current], source=False))
        elif what == 2:
            told.append(raw("Vendor_Defined", [0xFF008001, chance.getrandbits(32)]))
        else:
            told.append(raw(chance.choice(CONTROL), []))
    return "\n".join(f"{at / 7:.6f} SOP {with_crc(each).hex()}" for at, each in enumerate(told))


def test_the_parts_put_together_are_the_whole():
    """Every text comes out the same from a message read in full and from the texts of its parts."""
    text = plain_log(4000)
    records = slow(text)[0]
    for form in (JsonLines(), CsvRows()):
        whole = [form.record(each["index"], repr(each["time_s"]), form.whole(each)) for each in records]
        assert streamed(text, form)[0] == "".join(whole)


def shared(text, form, size):
    stream = io.BytesIO(text.encode())
    out = []
    try:
        show_shared(Streamed(form), HexLog(lambda: stream.read(100)), out.append, 2, size)
    except InputError as error:
        return "".join(out), str(error)
    return "".join(out), ""


class Here:
    """In the place of other processes, which take a second to start: the work is done at once, by this one."""

    def take(self, work, *arguments):
        done = Future()
        done.set_result(work(*arguments))
        return done


@contextmanager
def here(processes, begin, *arguments):
    begin(*arguments)
    yield Here()


@pytest.mark.parametrize("size", [1, 60, 1000, 5000, 1 << 20])
@pytest.mark.parametrize("form", [JsonLines, CsvRows])
def test_shared_out_it_is_the_same(form, size, monkeypatch):
    text = plain_log(900)
    if size != 5000:
        monkeypatch.setattr(several, "several", here)
    assert shared(text, form(), size) == streamed(text, form()) == shared(f"{text}\n\n# end\n\n", form(), size)


@settings(max_examples=25, deadline=None)
@given(logs(), st.sampled_from([40, 200, 1000]))
def test_shared_out_a_log_of_any_dress_is_the_same(text, size):
    plain = plain_log(40)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(several, "several", here)
        for each in (text, f"{plain}\n{text}", f"{plain}\n{text}\n{plain}", f"{text}\n{plain}"):
            assert shared(each, JsonLines(), size) == streamed(each, JsonLines())


def test_a_long_log_is_shared_out_by_the_command(tmp_path, monkeypatch):
    log = tmp_path / "long.log"
    log.write_text(plain_log(3000))
    alone = call("decode", log, "--csv")
    monkeypatch.setattr(shared_out, "_processes_for", lambda size: 2 if size else 1)
    assert call("decode", log, "--csv") == alone
    assert alone.code == 0


@settings(max_examples=500)
@given(WORDS, st.integers(0, (1 << 28) - 1), REVISIONS)
def test_within_its_bounds_no_request_is_odd_and_beyond_them_each_is(word, rest, revision):
    offer = Offer.from_word(word, 1)
    bounds = request_bounds(offer)
    if bounds is None:
        return
    reading = read_request(1 << 28 | rest, (offer,), revision=revision)
    codes = {problem.code for problem in reading.problems} - {"reserved-bits"}
    within = all(least <= reading.fields[key] <= most for key, (least, most) in bounds.items())
    assert within == (not codes)


@pytest.mark.parametrize("option", ["--jsonl", "--csv"])
def test_standard_input_file_and_gzip_give_the_same(tmp_path, option):
    text = "".join(f"{at}.25 SOP 4100bb6cbba8\n" for at in range(30000))
    log, packed = tmp_path / "bus.log", tmp_path / "bus.log.gz"
    log.write_text(text)
    # Two members one after the other, as logs that are rotated and joined have.
    packed.write_bytes(gzip.compress(text[:300000].encode()) + gzip.compress(text[300000:].encode()))
    outcomes = [call("decode", log, option), call("decode", packed, option), call("decode", "-", option, stdin=text)]
    assert outcomes[0].code == 0 and not outcomes[0].err
    assert outcomes[0].out.count("\n") == 30000 + (option == "--csv")
    assert len({outcome.out for outcome in outcomes}) == 1


def test_a_label_has_no_messages(refused):
    assert "no message" in refused("decode", "5V 3A, 9V 3A", "--jsonl")
    assert "no message" in refused("decode", "-", "--csv", stdin="0x0801912C 0x0002D12C\n")


def test_bare_words_among_messages_are_told_of():
    outcome = call("decode", "-", "--csv", stdin="4100bb6cbba8\n0x0801912C\n")
    assert outcome.code == 0 and outcome.out.startswith(",".join(COLUMNS) + "\n") and "left out" in outcome.err


def test_a_wrong_crc_is_exit_code_1():
    outcome = call("decode", "4100bb6cbba9", "--csv")
    assert outcome.code == 1 and ",wrong," in outcome.out


@pytest.mark.parametrize("shared", [False, True])
def test_what_stands_around_a_bad_line_is_shown_and_the_line_is_named(tmp_path, monkeypatch, shared):
    monkeypatch.setattr(shared_out, "_processes_for", lambda size: 1 + shared)
    log = tmp_path / "bad.log"
    log.write_text("4100bb6cbba8\n" * 20000 + "4100bb6cbb\n" + "4100bb6cbba8\n" * 10000)
    outcome = call("decode", log, "--jsonl")
    assert outcome.code == 1 and outcome.out.count("\n") == 30000
    assert "line 20001" in outcome.err and outcome.err.count("\n") == 1


def test_what_stands_before_bytes_that_are_no_text_is_shown(tmp_path):
    log = tmp_path / "bad.log"
    log.write_bytes(b"4100bb6cbba8\n" * 20000 + b"41\xff0bb6cbba8\n")
    outcome = call("decode", log, "--jsonl")
    assert outcome.code == 2 and 10000 < outcome.out.count("\n") < 20001
    assert "line 20001" in outcome.err and outcome.err.count("\n") == 1


@pytest.mark.parametrize(
    "head", [b"\x1f\x8b\x08\x00broken", gzip.compress(b"4100bb6cbba8\n" * 999, mtime=0)[:-9], b"4100\xff\n", b"41\0"]
)
def test_broken_bytes_are_told_in_one_line(tmp_path, head):
    log = tmp_path / "broken.log"
    log.write_bytes(head)
    outcome = call("decode", log, "--csv")
    assert outcome.code == 2 and outcome.err.count("\n") == 1 and str(log) in outcome.err


def test_json_jsonl_and_csv_exclude_each_other(refused):
    refused("decode", "4100", "--jsonl", "--csv")


def test_records_come_while_the_input_goes_on():
    command = [sys.executable, "-m", "pdcheck", "decode", "-", "--jsonl"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        process.stdin.write(b"4100bb6cbba8\n")
        process.stdin.flush()
        assert json.loads(process.stdout.readline())["index"] == 0
        process.stdin.close()
        assert process.wait(20) == 0


def documents(text, form=None, request_as=None):
    """Document and text of an input: written while it is read, and of all of it."""
    with open_input(text, form, How(gathered=False, torn=True)) as stream:
        held = []
        write_decoded(stream, request_as, AsJson(held.append))
    with open_input(text, form, How(gathered=False, torn=True)) as stream:
        shown = []
        works = write_decoded(stream, request_as, AsText(shown.append))
    with open_input(text, form, How(torn=True)) as stream:
        result = DecodeResult(gathered(stream, request_as))
    assert works == result.works
    assert "".join(held) == clean_json(result.to_json()) + "\n"
    assert "".join(shown) == f"{result}\n"
    return "".join(held)


@settings(max_examples=200)
@given(logs(), st.sampled_from([None, None, "fixed", "pps"]))
def test_the_document_written_while_it_is_read_is_that_of_all_of_it(text, request_as):
    try:
        documents(text, "hex", request_as)
    except InputError as error:
        with (
            pytest.raises(InputError, match=re.escape(" ".join(error.what.split()))),
            open_input(text, "hex") as stream,
        ):
            gathered(stream, request_as)


@pytest.mark.parametrize(
    "text", ["5V 3A, 9V 3A", "0x0801912C 0x0002D12C", "0xFF00A041 0x1C00ABCD", "20000mAh 74Wh", "4100bb6cbba8"]
)
def test_inputs_of_other_kinds_are_written_alike(text):
    documents(text)


def test_what_stands_at_the_end_is_kept_on_the_disk_and_comes_back_whole(tmp_path):
    lines = ["0.5 SOP 6111 2c910108 5cb81f2e", "0x12345678", *("VBUS 5.0 V 0.5 A", "0xFF00A041 0x1C00ABCD") * 9000]
    path = tmp_path / "bus.log"
    path.write_text("\n".join(lines))
    whole = json.loads(documents(str(path)))
    assert len(whole["objects"]) > 9000 and len(whole["readings"]) == 9000


@pytest.mark.parametrize("option", ["--json", "--jsonl", "--csv", None])
def test_a_log_of_any_length_takes_the_same_memory(option, tmp_path):
    peaks = []
    for count in (2_000, 40_000):
        path = tmp_path / "bus.log"
        path.write_text("".join(log(count, 3)))
        peaks.append(peak_of(["decode", str(path), *filter(None, [option])], tmp_path / "out"))
    assert peaks[1] < peaks[0] + 12, peaks


def peak_of(arguments, out):
    """The most memory that a command takes [MB]."""
    code = "import resource, sys; from pdcheck.cli import run; run(sys.argv[1:])\n"
    code += "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)"
    with out.open("w") as written:
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments], stdout=written, stderr=subprocess.PIPE, check=True
        )
    return float(done.stderr.split()[-1])


def test_what_is_read_in_one_go_is_written_in_pieces() -> None:
    out: list[str] = []
    data = bytes.fromhex("4100bb6cbba8") * 10_000
    how = How(gathered=False)
    Streamed(JsonLines()).show(stream_of(Opened("log.bin", io.BytesIO(data), how), None, how), out.append)
    assert len(out) > 2
    assert "".join(out).count("\n") == 10_000
