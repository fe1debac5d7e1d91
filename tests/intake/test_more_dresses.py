"""The same conversation in two hundred further dresses and in ones put together by chance; damaged, live, judged."""

from __future__ import annotations

import random
from collections.abc import Collection, Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.asking.audit import audit
from pdcheck.asking.decode import how_to_read, read_whole
from pdcheck.bits.message import Message
from pdcheck.errors import InputError
from pdcheck.intake.opened import Opened
from pdcheck.intake.sniff import stream_of
from pdcheck.intake.stream import NOT_JUDGED, How, Intake, Plain
from tests.intake.composed import composed
from tests.intake.dresses import CONVERSATION, Sent, iso, us
from tests.intake.record_dresses import LOST, MORE

HOW = how_to_read(None, None, None, None, None)
LATER = [Sent(round(17.25 + one.time_s, 6), one.sop, one.raw) for one in CONVERSATION]
PORT_ALONE = [*CONVERSATION[4:]]
VARIANTS: tuple[Sequence[Sent], ...] = (CONVERSATION, LATER, PORT_ALONE)


def read(folder: Path, data: str | bytes) -> Intake:
    path = folder / "capture"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_whole(str(path), None, HOW, None)


def check(intake: Intake, sent: Sequence[Sent], lost: Collection[str]) -> None:
    """All messages, none damaged; ordered sets and times as sent, or times that are said not to be judged."""
    messages = [told.message for told in intake.told]
    assert [each.raw for each in messages] == [one.raw for one in sent]
    assert not [each for each in messages if each.crc_ok is False]
    if "sop" not in lost:
        assert [each.sop for each in messages] == [one.sop for one in sent]
    times = [each.time_s for each in messages]
    if "time" in lost:
        assert times == [None] * len(sent)
    elif "unit" in lost and intake.resolution_s is None:
        assert NOT_JUDGED in [each.code for each in intake.problems]
    else:
        assert None not in times
        since = [time - times[0] for time in times if time is not None and times[0] is not None]
        assert since == pytest.approx([one.time_s - sent[0].time_s for one in sent], abs=2e-6)
    assert "remarks" in lost or "torn-line" not in [each.code for each in intake.problems]


@pytest.mark.parametrize("name", MORE)
def test_a_conversation_is_read_in_every_dress(tmp_path: Path, name: str) -> None:
    for sent in VARIANTS:
        check(read(tmp_path, MORE[name](sent)), sent, LOST[name])


TERMINAL = (
    "\x1b]8;;file:/a\x1b\\{}\x1b]8;;\x1b\\",
    "\x1b]0;a title\x07{}",
    "{}\x1b(B\x1b[m",
    "\x1b[38:5:2m{}\x1b[>4;1m",
    "\x1bP+q54\x1b\\{}",
)


@pytest.mark.parametrize("coloured", ["\x1b[32m{}\x1b[0m", "\x1b[1;33m{}", "{}\x1b[K", *TERMINAL])
def test_colours_of_a_terminal_are_no_part_of_a_log(tmp_path: Path, coloured: str) -> None:
    for name, dress in MORE.items():
        text = dress(CONVERSATION)
        if isinstance(text, str):
            lines = [coloured.format(line) if line else line for line in text.split("\n")]
            check(read(tmp_path, "\n".join(lines)), CONVERSATION, LOST[name])


def test_bytes_that_end_as_a_clock_does_are_not_joined_with_a_date(tmp_path: Path) -> None:
    rows = [f"data={one.whole.hex(':')}:12:34:56,{iso(one.time_s)},{one.sop}" for one in CONVERSATION]
    check(read(tmp_path, "\n".join(rows)), CONVERSATION, ())


@pytest.mark.parametrize(
    "row",
    [
        "{sop},data={raw},{us},UFP",
        "5.02|data={pairs}|{length}|[{sop}]|{us}us|CRC OK",
        "{words}|{length}B|sop={sop}|@{us}us",
        "{us}\t{length}B\tdata={raw}\tCRC OK",
        "id=0,PD3.0,data={raw},{us},<{sop}>,CRC={crc}",
    ],
)
def test_a_number_in_the_next_cell_is_no_byte_of_the_message(tmp_path: Path, row: str) -> None:
    rows = [
        row.format(
            sop=one.sop, raw=one.raw.hex(), us=us(one.time_s), pairs=one.raw.hex("-"), length=len(one.raw),
            words=f"{one.raw[:2].hex()} {one.raw[2:].hex()}", crc=one.crc[::-1].hex(),
        )
        for one in CONVERSATION
    ]  # fmt: skip
    check(read(tmp_path, "\n".join(rows)), CONVERSATION, {"unit"} if "sop" in row else {"unit", "sop"})


def test_a_time_without_a_unit_is_seen_behind_a_length(tmp_path: Path) -> None:
    for length in ("{}B", "{}b", "{} bytes", "[{}]", "len={}"):
        rows = [
            f"{one.sop.lower()} {length.format(len(one.whole))} {us(one.time_s)} data={one.whole.hex(':')}"
            for one in CONVERSATION
        ]
        check(read(tmp_path, "\n".join(rows)), CONVERSATION, {"unit"})


@settings(max_examples=120, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from(VARIANTS))
def test_and_in_one_put_together_by_chance(
    tmp_path_factory: pytest.TempPathFactory, seed: int, sent: Sequence[Sent]
) -> None:
    made = composed(seed)
    check(read(tmp_path_factory.mktemp("made"), made.dress(sent)), sent, made.lost)


@settings(max_examples=120, deadline=None)
@given(st.sampled_from(sorted(MORE)), st.integers(0, 2**32))
def test_a_torn_one_never_says_what_was_not_sent(
    tmp_path_factory: pytest.TempPathFactory, name: str, seed: int
) -> None:
    chance = random.Random(seed)
    data = MORE[name](CONVERSATION)
    data = data if isinstance(data, bytes) else data.encode()
    proved = all(told.message.crc_ok for told in read(tmp_path_factory.mktemp("whole"), data).told)
    for _ in range(chance.randrange(1, 4)):
        at = chance.randrange(len(data))
        data = data[:at] + chance.choice([b"", b"", b"#", b" "]) + data[at + chance.choice([1, 2, 4, 8, 30]) :]
    try:
        intake = read(tmp_path_factory.mktemp("torn"), data)
    except InputError:
        return
    sent = {one.raw for one in CONVERSATION}
    for told in intake.told if proved else ():
        assert told.message.raw in sent or told.message.crc_ok is False or told.problems or told.message.problems


class Live:
    """A stream of which each reading brings a line."""

    def __init__(self, data: bytes) -> None:
        self.lines = data.splitlines(keepends=True)
        self.given = 0

    def read1(self, _: int) -> bytes:
        self.given += 1
        return self.lines[self.given - 1] if self.given <= len(self.lines) else b""

    read = read1


def _in_lines(data: str | bytes) -> bool:
    """Whether a text comes line by line: no document of JSON, and lines that end as lines do."""
    return isinstance(data, bytes) or (data[:1] not in "[{" and "\n" in data) or data[:9] == '{"t": 0.0'


@pytest.mark.parametrize("name", [name for name, dress in MORE.items() if _in_lines(dress(CONVERSATION))])
def test_a_live_one_is_shown_while_it_comes(name: str) -> None:
    data = MORE[name](CONVERSATION)
    live = Live(data if isinstance(data, bytes) else data.encode())
    rows = max(1, len(live.lines) // len(CONVERSATION))
    how = How(gathered=False, live=True, torn=True)
    heard, first = [], 0
    for _, item in stream_of(Opened("standard input", live, how), None, how):
        if isinstance(item, Plain | Message):
            heard.append(item.data[: len(item.data) - 4 * item.crc] if isinstance(item, Plain) else item.raw)
            first = first or live.given
    assert heard == [one.raw for one in CONVERSATION]
    # Three messages for what a CRC proves, eight and the head for what nothing does, and forty lines at most.
    assert first <= min(8 * rows + 5, 40) or name in ("name hdr paren", "toml records", "pipe groups")


@pytest.mark.parametrize("name", sorted(name for name in MORE if not LOST[name] and "vbus lines" not in name))
def test_every_dress_is_judged_alike(tmp_path: Path, name: str) -> None:
    """What is found in the plainest dress is found in any that says as much."""
    found = []
    for made in (MORE["time word"], MORE[name]):
        path = tmp_path / "capture"
        data = made(CONVERSATION)
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        found.append([each.finding.rule for each in audit(str(path)).remarks if each.finding.rule != "times-unit"])
    assert found[0] == found[1]
