"""A row of a log by its content: which words are time, ordered set, length, CRC, and which the bytes of a message."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.damaged import mended_header
from pdcheck.bits.message import HEADER_BYTES, payload_bytes
from pdcheck.intake.names import UNITS_S, role_of, sop_of, sop_of_codes, sync_code

LONGEST_ROW = 8192
"""Characters of a row that are looked at; the longest message fills fewer in any dress."""
_MOST_WORDS = 700
_SKIPPED_MOST = 6

_ANSI = re.compile(r"\x1b\[[0-9;?]{0,16}[A-Za-z]")
_WORD = re.compile(r"[^\s,;|{}()\[\]\"`<>]+")
_HEX = re.compile(r"(0[xX]|\\x|\$)?([0-9A-Fa-f]{1,600})[hH]?")
_DECIMAL = re.compile(r"([+-]?)(\d{1,18}(?:\.\d{1,12})?(?:[eE][+-]?\d{1,2})?)([A-Za-zµμ]{0,12})")
_CLOCK = re.compile(
    r"(?:(\d{4})-(\d\d)-(\d\d)[T_])?(?:(\d{1,2}):)?(\d{1,2}):(\d\d(?:\.\d{1,12})?)(?:Z|[+-]\d\d:?\d\d)?"
)
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_PAIRS = re.compile(r"[0-9A-Fa-f]{2}(?:[:.-][0-9A-Fa-f]{2}){1,300}")
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_COMMA_TIME = re.compile(r"(?<![\w,.])(\d{1,9}),(\d{3,9})(?![\w,.])")
_FINE = ("ok", "good", "valid", "pass", "passed", "correct", "right", "true", "match", "yes", "✓")
_POOR = ("bad", "wrong", "fail", "failed", "invalid", "error", "err", "mismatch", "false", "no")


Runs = tuple[tuple[int, tuple[tuple[str, bool], ...]], ...]


class Stamp(NamedTuple):
    """A time as written: the number, its unit [s] where the row says it, whether it is since the message before."""

    number: float
    unit_s: float | None
    delta: bool
    whole: bool
    at: int


class Reading(NamedTuple):
    """A figure of the bus between the messages [V], [A]."""

    volts: float
    amps: float | None


class Row(NamedTuple):
    """What a row holds: runs of hex (tokens of digits, whether marked 0x), and what stands beside them."""

    runs: Runs
    stamps: tuple[Stamp, ...]
    sops: tuple[tuple[int, str], ...]
    crc: str = ""
    crc_fine: bool | None = None
    bus: Reading | None = None
    says_bus: bool = False


def without_colours(text: str) -> str:
    """A text without the control sequences of terminals.

    >>> without_colours("\\x1b[1;32mSOP\\x1b[0m 41")
    'SOP 41'
    """
    return _ANSI.sub("", text) if "\x1b" in text else text


def read_row(text: str) -> Row:
    """What stands in a row, each word by its own look and by the key before it.

    >>> row = read_row("3, len=10, 0.5 ms, SOP' 41 04 16 1c ba 93 EOP CRC OK")
    >>> row.stamps[0].number, row.stamps[0].unit_s, row.sops[0][1], row.crc_fine, len(row.runs)
    (0.5, 0.001, "SOP'", True, 2)
    """
    text = without_colours(text[:LONGEST_ROW])
    if ";" in text or "\t" in text:
        text = _COMMA_TIME.sub(r"\1.\2", text)
    return _Reader().read(text)


def read_cells(cells: Iterable[tuple[tuple[str, float | None], str]]) -> Row:
    """The cells of a row of a table, each with what its column holds and the unit of a time [s].

    >>> row = read_cells([(("time", 1e-6), "557"), (("data", None), "4100bb6cbba8"), (("length", None), "6")])
    >>> row.stamps[0].unit_s, row.runs[0][1]
    (1e-06, (('4100bb6cbba8', False),))
    """
    reader = _Reader()
    row = reader.row()
    place = 0
    for (role, unit_s), text in cells:
        place += 1
        if role in ("", "length", "index", "id", "name", "direction"):
            continue
        if not (role == "objects" and reader.key in ("header", "objects")):
            reader.open = False
        reader.key, reader.unit_s = ("" if role == "any" else role), unit_s
        if role in ("time", "delta"):
            row = reader.read(_COMMA.sub(".", text), place * LONGEST_ROW, role)
            continue
        row = reader.read(text, place * LONGEST_ROW, role)
    return row


class _Reader:
    def __init__(self) -> None:
        self.runs: list[tuple[int, list[tuple[str, bool]]]] = []
        self.stamps: list[Stamp] = []
        self.sops: list[tuple[int, str]] = []
        self.codes: list[str] = []
        self.crc = ""
        self.fine: bool | None = None
        self.volts: float | None = None
        self.amps: float | None = None
        self.says_bus = False
        self.key = ""
        self.unit_s: float | None = None
        self.open = False

    def read(self, text: str, start: int = 0, key: str = "") -> Row:
        words = [(start + found.start(), found[0]) for found in _WORD.finditer(text)][:_MOST_WORDS]
        at = 0
        while at < len(words):
            after = words[at + 1][1] if at + 1 < len(words) else ""
            if key == "sop" and sop_of(words[at][1]) is None and sop_of("SOP" + words[at][1]) is not None:
                self.sops.append((words[at][0], str(sop_of("SOP" + words[at][1]))))
                at += 1
                continue
            at += 1 + self._take(words[at][0], words[at][1], after)
        return self.row()

    def row(self) -> Row:
        """What has been read."""
        runs = tuple((place, tuple(tokens)) for place, tokens in self.runs)
        bus = None if self.volts is None else Reading(self.volts, self.amps)
        return Row(runs, tuple(self.stamps), tuple(self.sops), self.crc, self.fine, bus, self.says_bus)

    def _take(self, at: int, word: str, after: str) -> int:
        """Take a word; how many behind it went with it."""
        name, equals, value = word.partition("=")
        if not equals and ":" in word and not _CLOCK.fullmatch(word.rstrip(":")) and not _PAIRS.fullmatch(word):
            name, equals, value = word.partition(":")
            if sop_of(name):
                self._sop(at, name)
                return self._take(at + len(name) + 1, value, after) if value else 0
        if equals and name.strip("'*#-"):
            if _HEX.fullmatch(name) and name.isalnum() and name[0].isdigit():
                # An index before a colon or an equals sign.
                self._break()
                return self._take(at + len(name) + 1, value, after) if value else 0
            before = self.key
            self.key, self.unit_s = role_of(name)
            self.says_bus |= "vbus" in name.lower()
            if not (self.key == "objects" and before in ("header", "objects")):
                self._break()
            return self._take(at + len(name) + 1, value, after) if value else 0
        return self._plain(at, word.strip("="), after)

    def _plain(self, at: int, word: str, after: str) -> int:
        word = word.rstrip(":*.")
        stripped = word.strip("'")
        lowered = stripped.lower()
        if not stripped:
            return 0
        if self.key == "crc" and (lowered in _FINE or lowered in _POOR):
            self.fine, self.key = lowered in _FINE, ""
            self._break()
            return 0
        if lowered in ("crc", "crc32", "crc-32"):
            self.key = "crc"
            self._break()
            return 0
        code = sync_code(stripped)
        if code is not None:
            self.codes.append(code)
            if len(self.codes) == 4:
                named, self.codes = sop_of_codes(self.codes), []
                if named is not None:
                    self.sops.append((at, named))
            self._break()
            return 0
        if sop_of(word) or sop_of(f"{word}_{after}" if after.lower().startswith("reset") else ""):
            return self._sop(at, word)
        if self._number(at, stripped, word, after):
            return int(after.lower().strip(":") in UNITS_S or after in ("V", "A", "mV", "mA", "W"))
        return self._hex(at, stripped)

    def _sop(self, at: int, word: str) -> int:
        named = sop_of(word)
        self.sops.append((at, named or ("Cable_Reset" if word.lower().startswith("cable") else "Hard_Reset")))
        self.key = ""
        self._break()
        return 0 if named else 1

    def _number(self, at: int, word: str, whole: str, after: str) -> bool:
        """A time, a voltage or a current; whether the word is one."""
        clock = _CLOCK.fullmatch(word)
        if clock and self.key != "data":
            hours, minutes, seconds = int(clock[4] or 0), int(clock[5]), float(clock[6])
            self._stamp(at, hours * 3600 + minutes * 60 + seconds, 1.0, False, False)
            return True
        if _DAY.fullmatch(word):
            return True
        found = _DECIMAL.fullmatch(word.lstrip("@"))
        if found is None:
            return False
        sign, digits, unit = found.groups()
        dotted = "." in digits
        if unit in ("V", "A", "W", "mV", "mA") and not dotted and len(word) < 3:
            # A byte, more likely than a figure.
            return False
        unit = unit or (
            after.strip(":") if after.lower().strip(":") in UNITS_S or after in ("V", "A", "mV", "mA", "W") else ""
        )
        if unit in ("V", "mV"):
            self.volts, self.says_bus = float(digits) * (1e-3 if unit == "mV" else 1.0), True
            return True
        if unit in ("A", "mA"):
            self.amps = float(digits) * (1e-3 if unit == "mA" else 1.0)
            return True
        if unit == "W":
            return True
        known = UNITS_S.get(unit.lower())
        if self.key in ("length", "id", "index") and not dotted:
            self.key = ""
            self._break()
            return True
        if self.key in ("time", "delta"):
            self._stamp(at, float(digits), known or self.unit_s, self.key == "delta" or bool(sign), not dotted)
            return True
        if unit and known is None:
            return False
        if known is not None or dotted:
            self._stamp(at, float(digits), known, bool(sign), not dotted)
            return True
        return False

    def _stamp(self, at: int, number: float, unit_s: float | None, delta: bool, whole: bool) -> None:
        self.stamps.append(Stamp(number, unit_s, delta, whole, at))
        self.key = ""
        self._break()

    def _hex(self, at: int, word: str) -> int:
        if _PAIRS.fullmatch(word):
            for pair in re.split("[:.-]", word):
                self._digits(at, pair, False)
            return 0
        found = _HEX.fullmatch(word.replace("_", "") if word[:1].isdigit() else word)
        if found is None and word.startswith("\\x"):
            pairs = word.split("\\x")[1:]
            if all(len(pair) == 2 and _HEX.fullmatch(pair) for pair in pairs):
                for pair in pairs:
                    self._digits(at, pair, False)
                return 0
        if found is None or self.key in ("name", "direction", "sop"):
            self.key = self.key if self.key in ("data", "objects", "header") else ""
            self._break()
            return 0
        if self.key == "crc":
            self.crc += found[2]
            if len(self.crc) >= 2 * CRC_BYTES:
                self.key = ""
            return 0
        digits = found[2]
        if found[1] and len(digits) % 2:
            digits = "0" + digits
        self._digits(at, digits, bool(found[1]) or word[-1] in "hH")
        return 0

    def _digits(self, at: int, digits: str, marked: bool) -> None:
        if not self.open:
            self.runs.append((at, []))
            self.open = True
        self.runs[-1][1].append((digits, marked))

    def _break(self) -> None:
        self.open = False


class Reads(NamedTuple):
    """A way to read the bytes of a row: tokens that are passed over in front, whether values stand as numbers."""

    data: bytes
    at: int
    skipped: int
    turned: bool
    sure: bool


def ways(row: Row) -> Iterator[Reads]:
    """Every way in which bytes of a row are a message; those whose CRC fits are ``sure``."""
    stated = bytes.fromhex(row.crc) if len(row.crc) == 2 * CRC_BYTES else b""
    yield from _ways(row, row.runs, stated)
    # What has to be put together from several places must be proved by its CRC.
    yield from (way for way in _ways(row, tuple(_joined(row)), stated) if way.sure)


def _ways(row: Row, runs: Runs, stated: bytes) -> Iterator[Reads]:
    for at, tokens in runs:
        for skipped in range(min(len(tokens), _SKIPPED_MOST)):
            for turned in (False, True):
                data = bytes_of(tokens[skipped:], turned=turned)
                if data is None or len(data) < HEADER_BYTES:
                    continue
                promised = payload_bytes(data)
                if len(data) == promised and stated:
                    if crc_matches(data + stated[::-1]):
                        yield Reads(data + stated[::-1], at, skipped, turned, True)
                    elif crc_matches(data + stated):
                        yield Reads(data + stated, at, skipped, turned, True)
                    else:
                        yield Reads(data + stated[::-1], at, skipped, turned, False)
                elif len(data) == promised:
                    yield Reads(data, at, skipped, turned, False)
                elif len(data) == promised + CRC_BYTES:
                    crc = data[-CRC_BYTES:]
                    if crc_matches(data):
                        yield Reads(data, at, skipped, turned, True)
                    elif crc_matches(data[:-CRC_BYTES] + crc[::-1]):
                        yield Reads(data[:-CRC_BYTES] + crc[::-1], at, skipped, turned, True)
                    else:
                        yield Reads(data, at, skipped, turned, False)
                elif len(data) > promised + CRC_BYTES and crc_matches(data[: promised + CRC_BYTES]):
                    yield Reads(data[: promised + CRC_BYTES], at, skipped, turned, True)
                elif mended_header(data) is not None:
                    yield Reads(data, at, skipped, turned, False)


def _joined(row: Row) -> Iterator[tuple[int, tuple[tuple[str, bool], ...]]]:
    """Runs that stand apart put together: a column of the header before that of the objects, a CRC before or behind."""
    runs = row.runs[-_SKIPPED_MOST:]
    if len(runs) > 1:
        yield runs[0][0], tuple(token for _, tokens in runs for token in tokens)
        for first, last in pairwise(runs):
            if (first, last) != (runs[0], runs[-1]) or len(runs) > 2:
                yield first[0], (*first[1], *last[1])
            yield last[0], (*last[1], *first[1])


def bytes_of(tokens: tuple[tuple[str, bool], ...], *, turned: bool) -> bytes | None:
    """The bytes of tokens; ``turned``: each of four or eight digits is a number and goes little-endian."""
    if any(len(digits) % 2 for digits, _ in tokens):
        return None
    if turned and not all(len(digits) in (4, 8) for digits, _ in tokens):
        return None
    step = -1 if turned else 1
    return b"".join(bytes.fromhex(digits)[::step] for digits, _ in tokens)
