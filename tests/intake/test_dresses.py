"""Known conversations in every dress: the same messages and times; mutated, never one that was not sent."""

import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.asking.audit import audit
from pdcheck.asking.decode import decode, how_to_read, read_whole
from pdcheck.errors import InputError
from pdcheck.intake.binary import frame_at
from pdcheck.intake.pcapng import Written, written
from pdcheck.intake.stream import NOT_JUDGED
from tests.intake.dresses import CONVERSATION, DRESSES, NO_UNIT, SOPLESS, TIMELESS, Sent, plain, spaced

HOW = how_to_read(None, None, None, None, None)
WITHOUT_CRC = {"header and words", "head named", "csv header column", "json lines us", "crc ok", "csv crc ok"}
TEXTS = [name for name in DRESSES if name not in ("raw", "utf-16", "utf-16 be") and name not in WITHOUT_CRC]


def read(tmp_path, data, name="capture"):
    path = tmp_path / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_whole(str(path), None, HOW, None)


def check(intake, sent, name):
    messages = [told.message for told in intake.told]
    assert [each.raw for each in messages] == [each.raw for each in sent]
    assert all(each.crc_ok is not False for each in messages)
    if name not in SOPLESS:
        assert [each.sop for each in messages] == [each.sop for each in sent]
    if name not in TIMELESS and name not in NO_UNIT:
        first = messages[0].time_s
        assert [each.time_s - first for each in messages] == pytest.approx(
            [each.time_s - sent[0].time_s for each in sent], abs=2e-6
        )
    assert not [each for each in intake.problems if each.code == "torn-line"]


@pytest.mark.parametrize("name", DRESSES)
def test_a_conversation_is_read_in_every_dress(tmp_path, name):
    check(read(tmp_path, DRESSES[name](CONVERSATION)), CONVERSATION, name)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(DRESSES)), st.integers(0, 2**32), st.floats(1e-3, 90.0))
def test_its_length_and_its_times_do_not_matter(tmp_path_factory, name, seed, start):
    chance = random.Random(seed)
    begin = chance.choice([0, 4])
    sent = [
        Sent(round(start + each.time_s * 1.0, 6), each.sop, each.raw)
        for each in CONVERSATION[begin : len(CONVERSATION) - 2 * chance.randrange(3)]
    ]
    check(read(tmp_path_factory.mktemp("dress"), DRESSES[name](sent)), sent, name)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(TEXTS), st.integers(0, 2**32))
def test_a_torn_log_never_says_what_was_not_sent(tmp_path_factory, name, seed):
    chance = random.Random(seed)
    text = str(DRESSES[name](CONVERSATION))
    for _ in range(chance.randrange(1, 4)):
        at = chance.randrange(len(text))
        size = chance.choice([1, 2, 4, 8, 30])
        text = text[:at] + chance.choice(["", "", "#", " "]) + text[at + size :]
    sent = {each.raw for each in CONVERSATION}
    try:
        intake = read(tmp_path_factory.mktemp("torn"), text)
    except InputError:
        return
    for told in intake.told:
        # A message that was not sent is one whose CRC does not fit, or that the CRC had to mend, or odd: it says so.
        assert told.message.raw in sent or told.message.crc_ok is False or told.problems or told.message.problems


@pytest.mark.parametrize("name", ["plain", "csv names", "markdown", "json lines"])
def test_a_log_cut_anywhere_gives_the_messages_before_the_cut(tmp_path, name):
    text = str(DRESSES[name](CONVERSATION))
    lines = text.splitlines(keepends=True)
    for cut in range(3, 10, 2):
        torn = "".join(lines[:-cut]) + lines[-cut][: len(lines[-cut]) // 2]
        found = [told.message.raw for told in read(tmp_path, torn).told]
        assert found == [each.raw for each in CONVERSATION[: len(CONVERSATION) - cut]]


def test_torn_lines_are_counted_and_the_first_are_named(tmp_path):
    rows = [plain(0, one) for one in CONVERSATION] + ["0.4 SOP 41 0\n"] * 8
    intake = read(tmp_path, "".join(rows))
    torn = [each for each in intake.problems if each.code == "torn-line"]
    assert len(intake.told) == len(CONVERSATION)
    assert torn[0].where.startswith("line 15") and "8 lines in all" in torn[-1].text and len(torn) == 6
    path = tmp_path / "capture"
    with pytest.raises(InputError):
        audit(str(path), strict=True)
    judged = audit(str(path))
    assert [each.finding.rule for each in judged.remarks if each.finding.subject == "log"] == ["torn-line"] * 6
    assert not judged.works


def test_nothing_readable_is_refused(tmp_path):
    for text in ("hello\nworld\n", "0.1 SOP 41\n0.2 SOP 6\n", "[]\n", '{"packets": []}\n', "| a | b |\n|---|---|\n"):
        with pytest.raises(InputError):
            read(tmp_path, text)


def test_times_whose_unit_nobody_can_know_are_not_judged(tmp_path):
    offers = [one for one in CONVERSATION if one.raw[0] & 0x1F != 1]
    text = "".join(f"{int(one.time_s * 1e4) + at},{one.sop},{one.whole.hex()}\n" for at, one in enumerate(offers))
    intake = read(tmp_path, "stamp,sop,data\n" + text)
    assert intake.resolution_s is None
    assert NOT_JUDGED in [each.code for each in intake.problems]
    assert [told.message.raw for told in intake.told] == [one.raw for one in offers]


def test_seconds_in_which_no_good_crc_can_come_are_not_judged(tmp_path):
    rows = "".join(f"{one.time_s * 1e3:.3f} {one.sop} {spaced(one.whole)}\n" for one in CONVERSATION)
    intake = read(tmp_path, rows)
    assert intake.resolution_s is None and NOT_JUDGED in [each.code for each in intake.problems]
    assert [told.message.raw for told in intake.told] == [one.raw for one in CONVERSATION]


def test_readings_of_the_bus_are_kept_and_judged(tmp_path):
    rows = [plain(0, one) for one in CONVERSATION]
    for volts, found in (("15.02", 0), ("16.20", 1), ("12.40", 1), ("14.10", 0)):
        text = "".join([*rows[:11], f"0.2009 VBUS {volts} V 0.31 A\n", *rows[11:]])
        intake = read(tmp_path, text)
        (reading,) = intake.readings
        assert (reading.time_s, reading.voltage_v, reading.current_a, reading.after) == (0.2009, float(volts), 0.31, 10)
        rules = [each.finding.rule for each in audit(str(tmp_path / "capture")).remarks]
        assert rules.count("bus-voltage") == found
    assert json.loads(decode(str(tmp_path / "capture")).to_json())["readings"][0]["after"] == 10


def test_packets_in_pcapng_are_read_and_written(tmp_path):
    packets = [Written(one.time_s, one.sop, one.whole) for one in CONVERSATION]
    intake = read(tmp_path, written(packets))
    check(intake, CONVERSATION, "pcapng")
    assert intake.form == "pcapng" and [each.code for each in intake.problems] == ["link-type"]
    torn = read(tmp_path, written(packets)[:-20])
    assert len(torn.told) == len(CONVERSATION) - 1 and "cut-short" in [each.code for each in torn.problems]
    with pytest.raises(InputError, match="link type 147"):
        read(tmp_path, written([Written(0.0, "SOP", b"\x45\x00\x00\x54 no such thing")]))


def test_bytes_between_messages_are_told(tmp_path):
    data = CONVERSATION[4].whole + b"\xff\x00\x13" + CONVERSATION[5].whole
    assert frame_at(data, 0) == CONVERSATION[4].whole
    intake = read(tmp_path, data)
    assert [told.message.raw for told in intake.told] == [CONVERSATION[4].raw, CONVERSATION[5].raw]
    assert "3 bytes" in intake.problems[-1].text
