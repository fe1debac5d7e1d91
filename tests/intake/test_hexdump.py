"""Hex as loggers print it: every dress gives the same message; what is no hex is named with line and offset."""

import zlib

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.hexlog import read_hex
from pdcheck.intake.row import read_row
from pdcheck.intake.sniff import read_any
from pdcheck.intake.ways import ways

# The capture published in the article named in the vectors: six objects, CRC included.
BARE = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc0"
FULL = BARE + "48c6e7c6"
CAPTURE = bytes.fromhex(FULL)
OBJECTS = (0x0801912C, 0x0002D12C, 0x0003C113, 0x0004B0DC, 0x000640A5, 0xC0DC213C)
NUMBERS = [f"{word:08X}" for word in OBJECTS]


def crc(raw):
    return raw + zlib.crc32(raw).to_bytes(4, "little")


GOOD_CRC = crc(bytes.fromhex("4100"))
REQUEST = crc(bytes.fromhex("8210") + (0x1304B12C).to_bytes(4, "little"))
ACCEPT = crc(bytes.fromhex("6305"))


def pairs(separator=" ", mark="", tail=""):
    return separator.join(mark + FULL[at : at + 2] + tail for at in range(0, len(FULL), 2))


def rows(count, form="{}"):
    step = 2 * count
    return "\n".join(form.format(FULL[at : at + step]) for at in range(0, len(FULL), step))


DRESSES = {
    "run": FULL,
    "capitals": FULL.upper(),
    "pairs": pairs(),
    "commas": pairs(", "),
    "semicolons": pairs(";"),
    "colons": pairs(":"),
    "dashes": pairs("-"),
    "full stops": pairs("."),
    "underscores": pairs("_"),
    "tabs": pairs("\t"),
    "bars": "|" + pairs("|") + "|",
    "no-break spaces": pairs("\u00a0"),
    "0x": pairs(" ", "0x"),
    "0X with commas": pairs(",", "0X").replace("a", "A"),
    "0x as one number": "0x" + FULL,
    "backslash x": pairs("", "\\x"),
    "bytes literal": 'b"' + pairs("", "\\x") + '"',
    "bytes.fromhex": f"bytes.fromhex('{FULL}')",
    "dollar": pairs(" ", "$"),
    "h behind": pairs(" ", "", "h"),
    "0 before and h behind": pairs(" ", "0", "h"),
    "groups of four digits": " ".join(FULL[at : at + 4] for at in range(0, 60, 4)),
    "groups of eight digits": " ".join(FULL[at : at + 8] for at in range(0, 60, 8)),
    "brackets": f"[{pairs()}]",
    "braces": "{ " + pairs(", ", "0x") + " };",
    "array in a program": "uint8_t caps[] = { " + pairs(", ", "0x") + " };",
    "array over lines": "const uint8_t caps[30] = {\n" + rows(8, "  {},").replace("a1612c", "a1 61 2c") + "\n};\n",
    "list of numbers": str([hex(byte) for byte in CAPTURE]),
    "quotes": f'"{pairs()}"',
    "angles": f"<{pairs()}>",
    "header and words": "0x61A1 " + " ".join(f"0x{word}" for word in [*NUMBERS, "C6E7C648"]),
    "header and words on lines": "0x61A1\n" + "\n".join(f"0x{word}" for word in [*NUMBERS, "C6E7C648"]),
    "header and words without 0x": "61A1 " + " ".join([*NUMBERS, "C6E7C648"]),
    "named words": "Header: 0x61A1\n" + "\n".join(f"PDO[{at}]: 0x{word}" for at, word in enumerate(NUMBERS, 1)),
    "16-bit halves": " ".join(FULL[at + 2 : at + 4] + FULL[at : at + 2] for at in range(0, 60, 4)),
    "CRC named": pairs()[:78] + "CRC: 48 c6 e7 c6",
    "CRC on its own line": f"{BARE}\n48c6e7c6",
    "wrapped": rows(16),
    "wrapped at eight": rows(8),
    "blank lines": f"\n\n{FULL}\n\n",
    "CR LF": FULL + "\r\n",
    "comment": pairs() + "  # what a charger says",
    "comment //": pairs() + " // charger",
    "comment in the middle": "/* header */ a1 61 /* objects */ " + pairs()[6:],
    "remark behind a semicolon": pairs() + " ; capabilities",
    "name of the message before": "Source_Capabilities: " + pairs(),
    "name of the message behind": pairs() + " Source Capabilities",
    "data:": "data: " + pairs(),
    "raw=": "raw=" + FULL,
    "rule above and below": f"-----\n{FULL}\n-----\n",
}


@pytest.mark.parametrize("dress", DRESSES.values(), ids=DRESSES)
def test_every_dress_gives_the_same_objects(dress):
    intake = read_any(dress, "hex")
    assert tuple(offer.word for offer in intake.offers) == OBJECTS
    assert len(intake.told) == 1 and not intake.problems
    assert intake.told[0].message.crc_ok is not False


@pytest.mark.parametrize("dress", [dress for name, dress in DRESSES.items() if name != "named words"])
def test_the_crc_is_found_in_every_dress(dress):
    assert read_any(dress, "hex").told[0].message.crc_ok is True


def test_without_crc_there_is_none_to_compare():
    assert read_any(BARE).told[0].message.crc_ok is None


WORDS = {
    "0x": " ".join(f"0x{word}" for word in NUMBERS),
    "plain": " ".join(NUMBERS),
    "commas": ", ".join(f"0x{word}" for word in NUMBERS),
    "lines": "\n".join(f"0x{word}" for word in NUMBERS),
    "C numbers": ", ".join(f"0x{word}UL" for word in NUMBERS),
    "h behind": ", ".join(f"{word}h" for word in NUMBERS),
    "without leading zeros": ", ".join(hex(word) for word in OBJECTS),
    "as a list": str([hex(word) for word in OBJECTS]),
    "grouped": " ".join(f"0x{word[:4]}_{word[4:]}" for word in NUMBERS),
    "numbered": "\n".join(f"{at}: 0x{word}" for at, word in enumerate(NUMBERS, 1)),
    "numbered in brackets": "\n".join(f"[{at}] 0x{word}" for at, word in enumerate(NUMBERS, 1)),
    "named": "\n".join(f"PDO{at}: 0x{word}" for at, word in enumerate(NUMBERS, 1)),
    "assigned": "\n".join(f"SRC_PDO[{at}] = 0x{word};" for at, word in enumerate(NUMBERS)),
    "wrapped": "0x0801912C, 0x0002D12C,\n0x0003C113, 0x0004B0DC,\n0x000640A5, 0xC0DC213C",
}


@pytest.mark.parametrize("dress", WORDS.values(), ids=WORDS)
def test_bare_words(dress):
    assert list(read_hex(dress)) == [("", OBJECTS)]


def test_of_two_lists_of_words_the_last_decides():
    text = "0x0801912C 0x0002D12C\n0x0801912C 0x0004B12C"
    assert [offer.max_mv for offer in read_any(text).offers] == [5000, 15000]


def test_a_zero_with_an_h_is_a_byte():
    row = "41h, 0h, 0BBh, 6Ch, 0BBh, 0A8h"
    assert [told.message.raw for told in read_any(row).told] == [GOOD_CRC[:2]]
    assert GOOD_CRC in [way.data for way in ways(read_row(f"db {row} ; GoodCRC"))]


STAMPS = {
    "0.001234 ": 0.001234,
    "12.5 s: ": 12.5,
    "[   12.345678] ": 12.345678,
    "(0.25) ": 0.25,
    "12ms ": 0.012,
    "1234us: ": 0.001234,
    "1234 µs ": 0.001234,
    "12.5ms ": 0.0125,
    "500ns ": 5e-7,
    "12:34:56.789 ": 45296.789,
    "12:34:56,789 ": 45296.789,
    "1:02:03 ": 3723.0,
    "34:56.789 ": 2096.789,
    "2024-05-01T12:34:56.789Z ": 45296.789,
    "2024-05-01 12:34:56.789 ": 45296.789,
    "2024-05-01T12:34:56.789+02:00 ": 45296.789,
    "[12:34:56.789] ": 45296.789,
    "1714567890.123456 ": 1714567890.123456,
    "1.2e-3 ": 0.0012,
    "t=0.5 ": 0.5,
    "+0.5s ": 0.5,
    "@0.5 ": 0.5,
    "0,001234 ": 0.001234,
    "0.001;": 0.001,
    "0.001,SOP,": 0.001,
    "0.001\t": 0.001,
    "7,0.001,SOP,": 0.001,
    "123456 ": None,
    "123456: ": None,
    "123456,": None,
    "1: ": None,
}


@pytest.mark.parametrize(("stamp", "time_s"), STAMPS.items(), ids=STAMPS)
def test_time_stamps(stamp, time_s):
    told = read_any(stamp + pairs(), "hex").told
    assert [each.message.raw for each in told] == [CAPTURE[:-4]]
    if time_s is None:
        assert told[0].message.time_s is None
    else:
        assert told[0].message.time_s == pytest.approx(time_s, abs=1e-12)


MARKS = {
    "SOP": "SOP",
    "SOP:": "SOP",
    "[SOP]": "SOP",
    "sop": "SOP",
    "SOP'": "SOP'",
    "SOP’": "SOP'",
    "SOP1": "SOP'",
    "SOPp": "SOP'",
    "SOP_PRIME": "SOP'",
    "SOP Prime": "SOP'",
    "SOP''": "SOP''",
    'SOP"': "SOP''",
    "SOP2": "SOP''",
    "SOP_DOUBLE_PRIME": "SOP''",
    "SOP'_DEBUG": "SOP'_Debug",
    "SOP''_Debug": "SOP''_Debug",
    "RX:": "SOP",
    "TX >": "SOP",
    "RX SOP'": "SOP'",
    "SOP' RX": "SOP'",
    "->": "SOP",
    ">>": "SOP",
    "SRC:": "SOP",
    "SRC->SNK": "SOP",
    "Source -> Sink:": "SOP",
}


@pytest.mark.parametrize("stamp", ["", "0.25 ", "[12ms] "])
@pytest.mark.parametrize(("mark", "sop"), MARKS.items(), ids=MARKS)
def test_sop_marks_and_directions(mark, sop, stamp):
    told = read_any(f"{stamp}{mark} {GOOD_CRC.hex(' ')}", "hex").told
    assert [(each.message.sop, each.message.type, each.message.crc_ok) for each in told] == [(sop, "GoodCRC", True)]


@pytest.mark.parametrize(
    "text", ["0.5 Hard Reset", "HARD_RESET", "[0.5] hardreset", "0.5,Hard Reset,", "1.0 Cable Reset"]
)
def test_resets(text):
    message = read_any(text, "hex").told[0].message
    assert message.sop == ("Cable_Reset" if "Cable" in text else "Hard_Reset")


def dump(raw, form):
    lines = []
    for at in range(0, len(raw), 16):
        row = raw[at : at + 16]
        text = "".join(chr(byte) if 32 <= byte < 127 else "." for byte in row)
        twos = " ".join(row[i : i + 2].hex() for i in range(0, len(row), 2))
        ones = row.hex(" ")
        lines.append(
            {
                "xxd": f"{at:08x}: {twos:<39}  {text}",
                "xxd -g1": f"{at:08x}: {ones:<47}  {text}",
                "hexdump -C": f"{at:08x}  {row[:8].hex(' '):<23}  {row[8:].hex(' '):<23}  |{text}|",
                "od -A x": f"{at:06x} {ones}",
                "od": f"{at:07o} {ones}",
                "hexdump": f"{at:07x} " + " ".join(row[i : i + 2][::-1].hex() for i in range(0, len(row), 2)),
                "analyser": f"{at:04X}   {ones.upper():<49}{text}",
                "sniffer": f"    0x{at:04x}:  {twos:<39}  {text}",
            }[form]
        )
    if form in ("hexdump -C", "od", "od -A x", "hexdump"):
        width = {"hexdump -C": "08x", "od": "07o", "od -A x": "06x", "hexdump": "07x"}[form]
        lines.append(f"{len(raw):{width}}")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("form", ["xxd", "xxd -g1", "hexdump -C", "od -A x", "od", "hexdump", "analyser", "sniffer"])
@pytest.mark.parametrize("raw", [CAPTURE, CAPTURE + GOOD_CRC + REQUEST], ids=["one message", "three messages"])
def test_dumps(form, raw):
    told = read_any(dump(raw, form)).told
    assert b"".join(each.message.on_wire() for each in told) == raw
    assert all(each.message.crc_ok for each in told)


@pytest.mark.parametrize("form", ["xxd", "xxd -g1", "hexdump -C", "sniffer"])
def test_a_dump_of_one_row(form):
    assert read_any(dump(GOOD_CRC, form)).told[0].message.type == "GoodCRC"


SEVERAL = [CAPTURE, GOOD_CRC, REQUEST, ACCEPT]
TYPES = ["Source_Capabilities", "GoodCRC", "Request", "Accept"]
LOGS = {
    "one a line": "\n".join(raw.hex() for raw in SEVERAL),
    "stamped": "\n".join(f"{at * 0.0013:.6f} {raw.hex(' ')}" for at, raw in enumerate(SEVERAL)),
    "stamped and marked": "\n".join(f"[{at * 0.0013:.6f}] SOP: {raw.hex(' ')}" for at, raw in enumerate(SEVERAL)),
    "all in one line": b"".join(SEVERAL).hex(),
    "table": "time,sop,data\n" + "\n".join(f"{at * 0.0013:.6f},SOP,{raw.hex(' ')}" for at, raw in enumerate(SEVERAL)),
    "quoted table": "\n".join(f'"{at * 0.0013:.6f}","SOP","{raw.hex(" ")}"' for at, raw in enumerate(SEVERAL)),
    "table of another land": "Zeit;SOP;Daten\n"
    + "\n".join(f"0,00{at}1;SOP;{raw.hex()}" for at, raw in enumerate(SEVERAL)),
    "wrapped": f"{CAPTURE[:16].hex()}\n{CAPTURE[16:].hex()}\n" + "\n".join(raw.hex() for raw in SEVERAL[1:]),
    "numbered": "\n".join(f"{at}: {raw.hex(' ')}" for at, raw in enumerate(SEVERAL)),
}


@pytest.mark.parametrize("log", LOGS.values(), ids=LOGS)
def test_several_messages(log):
    told = read_any(log, "hex").told
    assert [each.message.type for each in told] == TYPES
    assert all(each.message.crc_ok for each in told)
    # The request is read by the capabilities before it.
    assert not any(problem.code == "ambiguous" for problem in told[2].problems)


def test_one_damaged_message_does_not_hide_its_neighbours():
    damaged = bytearray(b"".join(SEVERAL))
    damaged[9] ^= 0x04
    told = read_any(damaged.hex()).told
    assert [(each.message.type, each.message.crc_ok) for each in told] == list(
        zip(TYPES, [False, True, True, True], strict=True)
    )


# What is no hex, the line and the offset (bytes from the start of the line) of the first character that is none.
WRONG = [
    ("a1 61 2c zz", 1, 9),
    ("a1 61 2g", 1, 7),
    ("a1612c910g08", 1, 9),
    ("\ta1\t61\tzz", 1, 7),
    ("\u00e4 a1", 1, 0),
    ("a1 61 \u00b5 zz", 1, 6),
    ("12µs a1 61 zz", 1, 12),
    ("0.5 → a1 61 \u00fc", 1, 14),
    ("a1 /* \u00fc */ 61 zz", 1, 15),
    (f"{FULL}\n4100 zz", 2, 5),
    (f"\n\n  {FULL}\r\n\u00a0x", 4, 2),
    ("a1 6 2c", 1, 3),
    ("a1 612 2c", 1, 3),
    ("hello", 1, 0),
    ("0x", 1, 1),
    ("a1 61 \x1b[31m", 1, 6),
]


@pytest.mark.parametrize(("text", "line", "offset"), WRONG)
def test_what_is_no_hex_is_named_with_line_and_offset(text, line, offset):
    with pytest.raises(InputError) as caught:
        list(read_hex(text))
    assert caught.value.where == f"line {line}, offset {offset}"
    assert caught.value.expected


@pytest.mark.parametrize("text", ["", " \n\t\n", "# a comment\n", "{ }", "---\n"])
def test_nothing_is_said_to_be_nothing(text):
    with pytest.raises(InputError, match="nothing but blanks"):
        list(read_hex(text))


@pytest.mark.parametrize("text", ["a1", BARE[:-2], FULL + "00", "a161", f"{FULL}\na161 2c"])
def test_a_length_that_does_not_fit_the_header(text):
    with pytest.raises(InputError, match="expected") as caught:
        read_any(text)
    assert caught.value.where.startswith("line ")


@pytest.mark.parametrize("bit", range(240))
def test_one_flipped_bit_anywhere_leaves_the_offers_in_doubt(bit):
    damaged = bytearray(CAPTURE)
    damaged[bit // 8] ^= 1 << bit % 8
    intake = read_any(damaged.hex())
    assert intake.bad_crc() and intake.doubtful
    # A bit of an object is shown as it came; a bit that says how to read them is put right, and said.
    received = [int.from_bytes(damaged[at : at + 4], "little") for at in range(2, 26, 4)]
    assert [offer.word for offer in intake.offers] == received
    told = {problem.code for problem in intake.told[0].problems}
    assert "crc" in told
    assert ("header-bit" in told) == (bit in (0, 1, 2, 3, 4, 12, 13, 14, 15))


def test_two_flipped_bits_are_not_put_right():
    damaged = bytearray(CAPTURE)
    damaged[0] ^= 0x03
    assert not read_any(damaged.hex()).offers


@pytest.mark.parametrize("count", range(8))
def test_messages_without_crc_are_not_taken_for_damaged_ones(count):
    raw = bytes([0xA1 if count else 0x61, count << 4]) + bytes(range(4 * count))
    message = read_any(raw.hex()).told[0].message
    assert message.crc_given is None and len(message.words) == count
