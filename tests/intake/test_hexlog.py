"""A log as a stream: the frames of the general reader, whatever the pieces it comes in, and in bounded memory."""

import io

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.hexlog import LONGEST_LINE, HexLog, read_hex
from pdcheck.intake.stream import Plain, Words

GOOD = "4100bb6cbba8"
BARE = "4100"
OFFERS = "6111 2c910108".replace(" ", "")
OFFERS_CRC = "5cb81f2e"


def log_of(text, piece=1 << 17):
    stream = io.BytesIO(text.encode())
    return HexLog(lambda: stream.read(piece))


def shown(log):
    """Time, ordered set and bytes of every message."""
    for time, what in log:
        if isinstance(what, Words):
            continue
        plain = isinstance(what, Plain)
        crc = b"" if plain or what.crc_given is None else what.crc_given.to_bytes(4, "little")
        yield time, what.sop, what.data if plain else what.raw + crc


def frames(text):
    return list(shown(read_hex(text)))


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


def test_what_is_no_message_is_told_apart_or_refused():
    log = log_of(f"{GOOD}\n0x0801912C\n{GOOD}\n0x0002D12C 0x0801912C\n")
    given = [what for _, what in log]
    assert [type(what) for what in given] == [Plain, Words, Plain, Words]
    assert given[3] == (0x0002D12C, 0x0801912C)
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


TORN = [
    ("4100bb6cbb", "do not fit the header"),
    ("4100bb6cbba", "odd number"),
    ("0.5 SOP 6111 2c91", "do not fit the header"),
    ("!! lost 4100bb6cbb", "no hex"),
]


def torn_log(text, piece):
    stream = io.BytesIO(text.encode())
    return HexLog(lambda: stream.read(piece), torn=True)


@pytest.mark.parametrize("piece", [3, 1 << 17])
@pytest.mark.parametrize(("line", "said"), TORN)
@pytest.mark.parametrize("place", [0, 1, 2, 6])
def test_a_torn_line_is_told_of_and_all_others_are_read(line, said, place, piece):
    rows = [GOOD, f"{OFFERS}{OFFERS_CRC}", f"0.1 {GOOD}", OFFERS[:4], OFFERS[4:], OFFERS_CRC]
    whole = [what for _, what in log_of("\n".join(rows))]
    torn = [*rows[:place], line, *rows[place:]]
    given = [what for _, what in torn_log("\n".join(torn), piece)]
    (error,) = [what for what in given if isinstance(what, InputError)]
    assert said in error.what and error.where.startswith(f"line {place + 1},")
    kept = [what for what in given if not isinstance(what, InputError)]
    assert list(shown([("", what) for what in kept])) == list(shown([("", what) for what in whole]))
    with pytest.raises(InputError, match=said):
        list(log_of("\n".join(torn), piece))


def test_a_torn_list_takes_no_whole_message_with_it():
    torn = f"{OFFERS}{OFFERS_CRC}\n6171 2c91\n{GOOD}\n{GOOD}\n{GOOD}\n41\n{GOOD}\n"
    for piece in (2, 1 << 17):
        given = list(torn_log(torn, piece))
        assert [isinstance(what, InputError) for _, what in given].count(False) == 5


def test_an_input_that_is_no_log_is_refused_by_its_first_line():
    for text in ("4100bb6cbb\n", "what it says\n" * 50 + f"{GOOD}\n" * 9, "4100bb\n0.5 zz\n"):
        with pytest.raises(InputError) as told:
            list(torn_log(text, 1 << 17))
        assert told.value.where.startswith("line 1,")


def test_bytes_that_are_no_text_end_a_log_with_torn_lines_too():
    stream = io.BytesIO(f"{GOOD}\n".encode() * 40 + b"4100\n41\xff\n")
    with pytest.raises(InputError, match="0xFF"):
        list(HexLog(lambda: stream.read(64), torn=True))


def test_torn_lines_take_no_longer_the_more_of_them_there_are():
    """A header that promises much looks at the lines below it once, whatever comes of it."""

    def looked_at(count):
        lines = Counting(f"{GOOD}\n" * count + "ff8fff01000000\n" * count)
        assert sum(isinstance(what, InputError) for _, what in lines) == count
        return lines.taken

    assert looked_at(2000) < 2.2 * looked_at(1000)
    assert looked_at(1000) < 10_000


class Counting(HexLog):
    """A log that counts how often it looks at a line."""

    def __init__(self, text):
        super().__init__(io.BytesIO(text.encode()).read, torn=True)
        self.taken = 0

    def take(self):
        self.taken += 1
        return super().take()
