"""A row of a log by its content: which words are time, ordered set, length, CRC, and which the bytes of a message."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pdcheck.bits.crc import CRC_BYTES
from pdcheck.intake.names import UNITS_S, any_of, role_of, sop_of, sop_of_codes, sync_code
from pdcheck.named import NamedTuple

LONGEST_ROW = 8192
"""Characters of a row that are looked at; the longest message fills fewer in any dress."""
_MOST_WORDS = 700
_WORD_DIGITS = (4, 8)
"""Digits of a header and of an object."""

_WORD = re.compile(r"[^\s,;|{}()\[\]\"`<>│┃║]+")
_HEX = re.compile(r"(0[xX]|\\x|\$|&[hH]|16#|[xXhH]')?([0-9A-Fa-f]{1,600})[hH']?")
_DECIMAL = re.compile(
    r"(?:[Tt](?=\+)|@|([Δδ∆])[tT]?)?([+-]?)(\d{1,18}(?:\.\d{1,12})?(?:[eE][+-]?\d{1,2})?)([A-Za-zµμ]{0,12})"
)
_LONG_TIME = re.compile(r"(?=\d{1,3}[hm])(?:(\d{1,3})h)?(?:(\d{1,3})m)?(\d{1,2}(?:\.\d{1,12})?)s")
_CLOCK = re.compile(
    r"(?:(\d{4})-(\d\d)-(\d\d)[T_])?(?:(\d{1,2}):)?(\d{1,2}):(\d\d(?:\.\d{1,12})?)(?:Z|[+-]\d\d:?\d\d)?"
)
_BASIC = re.compile(r"\d{8}T(\d\d)(\d\d)(\d\d(?:\.\d{1,12})?)(?:Z|[+-]\d{4})?")
_LENGTH = re.compile(r"\d{1,3}b")
_DAY = re.compile(r"\d{4}[-/.]\d\d[-/.]\d\d|\d{1,2}[./]\d{1,2}[./]\d{4}")
_CLOCK_COMMA = re.compile(r"(?<=\d:\d\d:\d\d)(?<!:\d:\d\d:\d\d)(?<!:[\dA-Fa-f]\d:\d\d:\d\d),(?=\d{3,9}(?!\w))")
_GROUPS = re.compile(r"(?<![\w.])(\d{1,3})((?:[,' _ \u202f]\d{3}){1,4})[ \t]?(" + any_of(UNITS_S) + r")\b")
_TWO_WORDS = re.compile(r"(?i)\b(SOP)[ ](?:(DOUBLE)[ ])?(PRIME)\b")
_VERSIONS = ("rev", "revision", "version", "ver", "v", "pd", "spec", "fw", "firmware")
_OTHER_UNITS = ("db", "dbm", "khz", "mhz", "hz", "%", "c", "degc", "°c", "ppm", "kbps", "kbit/s", "bit/s", "mbps")
_PAIRS = re.compile(r"[0-9A-Fa-f]{2}(?:[:.-][0-9A-Fa-f]{2}){1,300}")
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_COMMA_TIME = re.compile(r"(?<![\w,.])(\d{1,9}),(\d{3,9})(?![\w,.])")
_ELECTRIC = ("V", "A", "mV", "mA", "W")
_KEYS = ("hdr", "header", "obj", "objs", "object", "objects", "data", "raw", "payload", "fcs", "pdo", "rdo", "vdo")
"""Words that say what the digits behind them are, without a colon too."""
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
    bare: bool = False
    """Whether nothing marks it as a time: a whole number without a unit."""
    joined: bool = False
    """Whether digits that stand apart in groups of three were taken as one number."""


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


def _cells_apart(before: str, gap: str, word: str) -> bool:
    """Whether words are cells of their own: bytes may stand in one each, longer runs of digits do not.

    Behind a comma header, objects and CRC may follow each other too.
    """
    before = before.rpartition("=")[2]
    if any(sign in gap for sign in "\t;|│"):
        return len(before) != 2 or len(word) != 2
    if gap == "," and len(before) == 2 and _PAIRS.fullmatch(word):
        # One byte beside bytes that are joined by signs of their own.
        return True
    if gap != "," or len(before) < 3 or "x" in before or "h" in before:
        return False
    if len(before) == _WORD_DIGITS[0] and before[2] == "0":
        # A header of no objects: only its CRC may follow.
        return len(word) != _WORD_DIGITS[1]
    return len(before) not in _WORD_DIGITS or len(word) not in _WORD_DIGITS


def has_bytes(row: Row) -> bool:
    """Whether a row holds hex enough for the least message, or less behind an ordered set."""
    least = 2 if row.sops else 4
    return any(sum(len(digits) for digits, _ in tokens) >= least for _, tokens in row.runs)


def read_row(text: str) -> Row:
    """What stands in a row, each word by its own look and by the key before it.

    >>> row = read_row("3, len=10, 0.5 ms, SOP' 41 04 16 1c ba 93 EOP CRC OK")
    >>> [(stamp.number, stamp.unit_s, stamp.bare) for stamp in row.stamps[:2]]
    [(3.0, None, True), (0.5, 0.001, False)]
    >>> row.sops[0][1], row.crc_fine, len(row.runs)
    ("SOP'", True, 2)
    """
    text = _CLOCK_COMMA.sub(".", text[:LONGEST_ROW])
    if ";" in text or "\t" in text:
        text = _COMMA_TIME.sub(r"\1.\2", text)
    text = _TWO_WORDS.sub(lambda found: "_".join(filter(None, found.groups())), text)
    reader = _Reader()
    row = reader.read(text)
    for found in _GROUPS.finditer(text):
        number = float(found[1] + "".join(each for each in found[2] if each.isdigit()))
        reader.stamps.append(Stamp(number, UNITS_S[found[3].lower()], False, True, found.start(), joined=True))
        row = reader.row()
    return row


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
        if role in ("", "name", "direction"):
            # A column of another name may hold the ordered set all the same.
            if sop_of(text.strip()) is not None:
                reader.sops.append((place * LONGEST_ROW, str(sop_of(text.strip()))))
            continue
        if role in ("length", "index", "id"):
            continue
        if not (role in ("objects", "data") and reader.key in ("header", "objects")):
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
        self.open = self.parted = False
        self.before = ""

    def read(self, text: str, start: int = 0, key: str = "") -> Row:
        words = [(start + found.start(), found[0]) for found in _WORD.finditer(text)][:_MOST_WORDS]
        at, last, spaced = 0, start, False
        while at < len(words):
            place, word = words[at]
            after = ""
            if at + 1 < len(words) and not text[place - start + len(word) : words[at + 1][0] - start].strip():
                after = words[at + 1][1]
            if key == "sop" and sop_of(word) is None and sop_of("SOP" + word) is not None:
                self.sops.append((place, str(sop_of("SOP" + word))))
                at += 1
                continue
            gap = text[last - start : place - start]
            self.parted = gap not in ("", " ")
            if _cells_apart(self.before, gap, word) or (spaced and any(sign in gap for sign in ",;\t|│])}")):
                self._break()
                # What stands behind the bytes may be anything.
                self.key = "" if self.key == "data" else self.key
            # A number alone in its brackets is a length or a count, and no part of the bytes beside.
            around = text[place - start - 1 : place - start] + text[place - start + len(word) :][:1]
            apart = around in ("[]", "()", "<>") and word.isdecimal() and len(word) < 4
            if apart:
                self._break()
            at += 1 + self._take(place, word, after)
            if apart:
                self._break()
            self.before, last = word.lower(), place + len(word)
            # Where blanks part the bytes of a message, a comma or a bracket ends them.
            spaced = self.open and len(self.runs[-1][1]) > 1 and (spaced or not gap.strip(" "))
        return self.row()

    def row(self) -> Row:
        """What has been read."""
        runs = tuple((place, tuple(tokens)) for place, tokens in self.runs)
        bus = None if self.volts is None else Reading(self.volts, self.amps)
        return Row(runs, tuple(self.stamps), tuple(self.sops), self.crc, self.fine, bus, self.says_bus)

    def _take(self, at: int, word: str, after: str) -> int:
        """Take a word; how many behind it went with it."""
        name, equals, value = word.partition("=")
        if after in ("=", ":") and not equals and name[:1].isalpha() | (name[:1] == ".") and sop_of(name) is None:
            self._keyed(name)
            return 1
        if not equals and ":" in word and not _CLOCK.fullmatch(word.rstrip(":")) and not _PAIRS.fullmatch(word):
            name, equals, value = word.partition(":")
            if sop_of(name) and not value and sop_of(after):
                self._keyed(name)
                return 0
            if sop_of(name):
                self._sop(at, name)
                return self._take(at + len(name) + 1, value, after) if value else 0
        if equals and name.strip("'*#-"):
            if _HEX.fullmatch(name) and name.isalnum() and name[0].isdigit():
                # An index before a colon or an equals sign.
                if self.key not in ("header", "objects"):
                    self._break()
                if self.key in ("length", "id", "index"):
                    self.key = ""
                return self._take(at + len(name) + 1, value, after) if value else 0
            self._keyed(name)
            return self._take(at + len(name) + 1, value, after) if value else 0
        return self._plain(at, word.strip("="), after)

    def _keyed(self, name: str) -> None:
        """Take a word as the name of what follows."""
        before = self.key
        self.key, self.unit_s = role_of(name)
        self.says_bus |= "vbus" in name.lower()
        if not (self.key in ("objects", "data") and before in ("header", "objects")):
            self._break()

    def _plain(self, at: int, word: str, after: str) -> int:
        word = word.rstrip(":*.")
        if len(word) > 2 and word[0] == "'" == word[-1]:
            # In quotes, and a quote in it perhaps doubled.
            word = word[1:-1].replace("''", "'")
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
        if lowered in _KEYS:
            self._keyed(lowered)
            return 0
        if self.key == "sop" and sop_of("SOP" + word):
            return self._sop(at, "SOP" + word)
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
            return int(after.lower().strip(":") in UNITS_S or after in _ELECTRIC)
        return self._hex(at, word if word[:2].lower() in ("x'", "h'") else stripped)

    def _sop(self, at: int, word: str) -> int:
        named = sop_of(word)
        self.sops.append((at, named or ("Cable_Reset" if word.lower().startswith("cable") else "Hard_Reset")))
        self.key = ""
        self._break()
        return 0 if named else 1

    def _number(self, at: int, word: str, whole: str, after: str) -> bool:
        """A time, a voltage or a current; whether the word is one."""
        clock = _CLOCK.fullmatch(word)
        if clock and ("." in clock[6] or (clock[4] and self.key != "data")):
            return self._clock(at, clock[4], clock[5], clock[6])
        long = _LONG_TIME.fullmatch(word)
        if long and self.key != "data":
            return self._clock(at, long[1], long[2], long[3])
        basic = _BASIC.fullmatch(word)
        if basic:
            return self._clock(at, basic[1], basic[2], basic[3])
        if _DAY.fullmatch(word):
            return True
        found = _DECIMAL.fullmatch(word)
        if found is None:
            return False
        since, sign, digits, unit = found.groups()
        delta = bool(since) or (bool(sign) and word[:1] in "+-")
        dotted = "." in digits
        if unit in _ELECTRIC and not dotted and len(word) < 3:
            # A byte, more likely than a figure.
            return False
        behind = after.strip(":")
        if not unit and (behind.lower() in UNITS_S or (behind in _ELECTRIC and self._is_figure(behind))):
            unit = behind
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
            self._stamp(at, float(digits), known or self.unit_s, self.key == "delta" or delta, not dotted)
            return True
        if (unit and known is None) or (dotted and (behind.lower() in _OTHER_UNITS or self.before in _VERSIONS)):
            return dotted and not unit
        if known is not None or dotted:
            self._stamp(at, float(digits), known, delta, not dotted)
            return True
        # Behind the row's number too, which may have nothing but a space behind it, and behind a length such as 6B.
        alone = self.open and len(self.runs[-1][1]) == 1
        numbered = bool(self.stamps and self.stamps[-1].bare) or _LENGTH.fullmatch(self.before) is not None
        first = self.parted or not self.open or (alone and numbered)
        if (first and self.key in ("", "any")) or word[0] == "@":
            # Perhaps a time in units that nobody wrote beside it; digits of the message as long as nothing tells.
            self.stamps.append(Stamp(float(digits), None, delta, True, at, bare=True))
            return not word[0].isdigit()
        return False

    def _is_figure(self, unit: str) -> bool:
        """Whether a unit behind a number is one: a lone A may as well be the name of a port."""
        return unit not in ("A", "W") or self.volts is not None or bool(self.stamps)

    def _clock(self, at: int, hours: str | None, minutes: str | None, seconds: str) -> bool:
        self._stamp(at, int(hours or 0) * 3600 + int(minutes or 0) * 60 + float(seconds), 1.0, False, False)
        return True

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
        marked = bool(found[1]) or word[-1] in "hH"
        if word[-1] in "hH" and len(digits) > 1 and len(digits) % 2 and digits[0] == "0":
            # A number must not begin with a letter there.
            digits = digits[1:]
        if marked and len(digits) % 2:
            digits = "0" + digits
        self._digits(at, digits, marked)
        return 0

    def _digits(self, at: int, digits: str, marked: bool) -> None:
        if not self.open or (self.runs[-1][1][-1][1] != marked and self.key not in ("header", "objects")):
            # What is marked as hex and what is not do not belong together.
            self.runs.append((at, []))
            self.open = True
        self.runs[-1][1].append((digits, marked))

    def _break(self) -> None:
        self.open = False
