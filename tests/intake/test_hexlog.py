"""A log as a stream: the frames of the general reader, whatever the pieces it comes in, and in bounded memory."""

import io

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.hexdump import read_frames
from pdcheck.intake.hexlog import LONGEST_LINE, HexLog, Plain, time_text
from pdcheck.intake.open_log import opened_log

GOOD = "4100bb6cbba8"
BARE = "4100"
OFFERS = "6111 2c910108".replace(" ", "")
OFFERS_CRC = "5cb81f2e"


def log_of(text, piece=1 << 17):
    stream = io.BytesIO(text.encode())
    return HexLog(lambda: stream.read(piece))


def shown(log):
    """Time, ordered set and bytes of every message, and whether the quick way took it."""
    for time, what in log:
        plain = isinstance(what, Plain)
        crc = b"" if plain or what.crc_given is None else what.crc_given.to_bytes(4, "little")
        yield time, what.sop, what.data if plain else what.raw + crc


def frames(text):
    return [(time_text(frame.time_s), frame.sop, frame.data) for frame in read_frames(text) if not frame.words]


@pytest.mark.parametrize(
    "text",
    [
        GOOD,
        f"{GOOD}\n{GOOD}",
        f"0.5 {GOOD}\n\n1.50 SOP' {BARE}\n[2.0] SOP: {GOOD}",
        f"{BARE}\nbb6cbba8\n{GOOD}",
        f"{BARE}\nbb 6c bb a8",
        f"0.1 {BARE}\nbb6cbba8",
        f"{BARE}\n\n# between\nbb6cbba8",
        f"{BARE}\n0.2 bb6cbba8\n{GOOD}",
        f"{BARE}\nSOP bb6cbba8",
        f"{OFFERS}\n{OFFERS_CRC}\n{GOOD}",
        f"{OFFERS}\n{OFFERS}{OFFERS_CRC}",
        f"{OFFERS[:4]}\n{OFFERS[4:]}\n{OFFERS_CRC}",
        f"{OFFERS} {OFFERS_CRC}",
        f"{OFFERS}\n0x0801912C\n0x0002D12C\n{GOOD}",
        "41 04 16 1c ba 93\n12 41 00 bb 6c bb a8",
        f"{GOOD}\r\n{GOOD}\r\n",
        f"0.5 Hard Reset\n{GOOD}\x0b{GOOD}\u2028{GOOD}",
        f"17 {GOOD}\n100.000 ms {GOOD}\n0.5s {GOOD}\n0.00001 {GOOD}\n00.5 {GOOD}\n123456789012.5 {GOOD}",
        f"4110bb6cbba8\n{GOOD}",
        "4110bb6cbba8bb6cbba8",
        f"0.5 {GOOD}{GOOD}",
    ],
)
def test_the_frames_of_the_general_reader(text):
    expected = frames(text)
    for piece in (1, 2, 5, 13, 1 << 17):
        assert list(shown(log_of(text, piece))) == expected


def test_what_is_no_message_is_counted_or_refused():
    log = log_of(f"{GOOD}\n0x0801912C\n{GOOD}\n0x0002D12C 0x0801912C\n")
    assert len(list(log)) == 2 and log.words == 2
    for text in ("", "\n \n", "# nothing\n"):
        with pytest.raises(InputError, match="nothing but"):
            list(log_of(text))


@pytest.mark.parametrize("piece", [7, 1 << 17])
def test_lines_are_numbered_across_pieces(piece):
    log = log_of(f"{GOOD}\n" * 500 + "\n# remark\n4100bb6c\u00e9\n", piece)
    with pytest.raises(InputError, match="no hex") as told:
        list(log)
    assert told.value.where == "line 503, offset 8"


def test_bytes_that_are_no_text_are_named_with_their_line():
    data = f"{GOOD}\n".encode() * 40 + b"41\xff\n"
    stream = io.BytesIO(data)
    with pytest.raises(InputError, match="0xFF") as told:
        list(HexLog(lambda: stream.read(64)))
    assert told.value.where == "line 41, offset 2"


def test_a_line_without_an_end_is_refused_before_it_fills_the_memory():
    given = 0

    def endless():
        nonlocal given
        given += 1 << 20
        return b"4" * (1 << 20)

    with pytest.raises(InputError, match="more than"):
        list(HexLog(endless))
    assert given < LONGEST_LINE + (2 << 20)


def test_what_was_given_is_known_before_more_is_asked_for():
    asked = []
    pieces = [f"{GOOD}\n{GOOD}\n".encode(), f"{GOOD}\n".encode(), b""]
    log = HexLog(lambda: pieces.pop(0))
    given = []
    log.before_reading = lambda: asked.append(len(given))
    given.extend([])
    for each in log:
        given.append(each)
    assert asked[:3] == [0, 2, 3]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (f"0.5 SOP {GOOD}\n", HexLog),
        ("5V 3A, 9V 3A\n", type(None)),
        ("00000000: 41 00 bb 6c bb a8\n", type(None)),
        ("$timescale 1 ns $end\n$var wire 1 ! CC1 $end\n$enddefinitions $end\n", type(None)),
    ],
)
def test_only_logs_are_streamed(tmp_path, text, kind):
    path = tmp_path / "input.txt"
    path.write_text(text)
    with opened_log(str(path)) as opened:
        assert isinstance(opened, kind)


def test_text_that_is_no_path_is_not_opened():
    with opened_log(GOOD) as opened:
        assert opened is None
    with opened_log("x" * 5000 + "\0") as opened:
        assert opened is None
