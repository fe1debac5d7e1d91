"""What a label's text is made of: voltages, ranges, currents, powers, headings; what says nothing is passed over."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pdcheck.errors import InputError
from pdcheck.facts.characters import is_hidden
from pdcheck.named import NamedTuple

EXPECTED = "voltages with currents, as in 5V 3A, 9V 3A; PPS 3.3-11V 3A"

_NUMBER = r"(?:(?<!\d)(?<!\d[.,])\d{1,3}(?:[.,]\d{1,3})?|(?<![\w.,])\.\d{1,3})"
_THOUSANDS = r"(?<!\d)(?<!\d[.,])(?:\d{1,2}[.,'’\u00a0\u202f ]\d{3}|\d{2,5})"
_UNIT_V = r"\s*+(?:V|volts?)(?:\s*+DC|dc)?(?![a-z])"
_DASH = r"\s*+(?:-|–|—|−|~|\.{2,3}|…|to)\s*+"
_TOKEN = re.compile(
    rf"""
      (?P<range>(?P<from>{_NUMBER})(?:{_UNIT_V})?{_DASH}(?P<to>{_NUMBER}){_UNIT_V}\s*+(?P<ac>~|AC\b|ac\b)?)
    | (?P<volts>{_NUMBER}){_UNIT_V}\s*+(?P<mains>(?:~|AC\b|ac\b)(?!\s*+\d))?
    | (?P<amps>{_NUMBER})\s*+A(?:mp(?:s|ere|eres)?)?(?![a-zA-Z])
    | (?P<milliamps>{_THOUSANDS})\s*+mA(?![a-zA-Z])
    | (?P<watts>{_NUMBER})\s*+W(?:atts?)?(?![a-zA-Z])
    | (?P<word>[IO]/P\b|[^\W\d_][\w.'-]*)
    | (?P<figure>\d+(?:\.\d+)*)
    | (?P<rest>\S)
    """,
    re.VERBOSE | re.IGNORECASE,
)
HEADS = ("pps", "avs", "battery", "batt", "variable", "var", "fixed", "epr", "spr", "pdo", "apdo")
"""Words that say of which kind the voltages behind them are, or which group they stand in."""

# What separates a voltage from its current or one pair from the next, and says nothing by itself.
_SILENT = "⎓⎔═=≡—–-/|,;:+&·•*×x@()[]{}<>.~'\"\\⎯_―‒"
_IGNORED_UNITS = re.compile(
    r"(?<!\d)\d++(?:[.,]\d++)?(?:\s*+[-–—/~]\s*+\d++|)\s*+(?:m?Ah|Hz|k?Wh|mm|°C|%)", re.IGNORECASE
)
_INPUT = ("input", "i/p", "eingang", "entrée", "entree", "ingresso", "entrada", "输入", "輸入", "入力")
_OUTPUT = ("output", "o/p", "ausgang", "sortie", "uscita", "salida", "saída", "输出", "輸出", "出力")
_OUTPUT_AT = re.compile(rf"out\s++put|{'|'.join(_OUTPUT)}", re.IGNORECASE)
_VOLTS_AT = re.compile(r"\d\s*+V", re.IGNORECASE)
_TYPE_A = re.compile(r"(?:usb-?|type-?)a\d?|a\d")
_TYPE_C = re.compile(r"(?:(?:usb-?|type-?)?c|port)-?\d?")
_MAINS_MV = 85_000
"""No output of USB comes near: from here on it is an input from the mains [common practice]."""
_MAINS_MOST_MV = 300_000
"""No mains socket has more."""

# Full-width forms, one character for one, so that offsets stay.
HALF_WIDTH = {code: code - 0xFEE0 for code in range(0xFF01, 0xFF5F)} | {0x3000: 0x20}


class Piece(NamedTuple):
    """One part of a label: its kind (``volts``, ``range``, ``amps``, ``watts``, ``mode``, ``port``), figures, place."""

    kind: str
    low: int
    high: int
    at: int
    text: str


def figure(text: str) -> float:
    """A number as printed, with a point or a comma."""
    return float(text.replace(",", "."))


def blank(match: re.Match[str]) -> str:
    """As many blanks, for what has been read; line ends stay."""
    return re.sub(r"\S", " ", match[0])


def half_width(label: str) -> str:
    """A label with plain letters and digits for full-width ones, each in its place."""
    return label.translate(HALF_WIDTH)


def outputs_only(label: str) -> str:
    """A label with its input ratings blanked, and what has a unit that says nothing here; every place stays.

    >>> outputs_only("Input: 100-240V Output: C1 65W").split()
    ['Output:', 'C1', '65W']
    """
    text = half_width(label)
    text = _IGNORED_UNITS.sub(lambda match: " " * len(match[0]), text)
    inputs, outputs = ("|".join(map(re.escape, words)) for words in (_INPUT, _OUTPUT))
    pattern = rf"(?<!\w)(?:{inputs})(?!\w).*?(?=(?<!\w)(?:out\s+put|{outputs})|\Z)"
    return re.sub(pattern, blank, text, flags=re.IGNORECASE | re.DOTALL)


def pieces(label: str, remarks: list[str], shown: str | None = None) -> Iterator[Piece]:
    """The parts of a label that say something; input ratings and Type-A ports are passed over.

    ``shown`` is the label in plain letters, where something of it has been read and blanked.

    Figures are in mV, mA and mW. Raises ``InputError`` naming line and offset of what says nothing.

    >>> [(piece.kind, piece.low, piece.high) for piece in pieces("Output: 3.3-11V⎓3A", [])]
    [('range', 3300, 11000), ('amps', 3000, 0)]
    """
    text = half_width(label) if shown is None else shown
    masked = _IGNORED_UNITS.sub(lambda match: " " * len(match[0]), text)
    skip = ""
    output = _OUTPUT_AT.search(masked)
    # An output that no voltage follows is none; the first has all behind it that any later one has.
    if output and _VOLTS_AT.search(masked, output.end()) is None:
        output = None
    if output and any(word in masked[: output.start()].lower() for word in _INPUT):
        # What stands before the output ratings is the input from the mains.
        masked = " " * output.start() + masked[output.start() :]
    mains = offered = False
    before = ""
    for match in _TOKEN.finditer(masked):
        at = match.start()
        if match["word"] and match["word"][0].isalpha():
            word, before = match["word"].lower().rstrip(".:-"), "word"
            if word in _INPUT:
                skip = "input"
            elif word.startswith(_OUTPUT):
                skip = "" if skip == "input" else skip
            elif _TYPE_A.fullmatch(word) or (word == "a" and masked[match.end() :].lstrip()[:1] == ":"):
                skip = "a Type-A port, which speaks no PD, is passed over"
            elif _TYPE_C.fullmatch(word):
                skip = "" if skip != "input" else skip
                if not skip and (word[-1].isdigit() or masked[match.end() :].lstrip()[:1] == ":"):
                    yield Piece("port", 0, 0, at, match["word"])
            elif word in HEADS and not skip:
                before = "mode"
                yield Piece("mode", 0, 0, at, word)
            continue
        after, before = before, ""
        if skip:
            if skip not in ("input", *remarks):
                remarks.append(skip)
            continue
        if match["rest"] or match["figure"] or match["word"]:
            # A bare figure behind a word numbers something: a revision, a model, a port.
            if match["figure"] and after == "word":
                continue
            if match["figure"] or not (match[0] in _SILENT or _is_print_mark(match[0])):
                raise label_error(f"{match[0]!r} says nothing on a label", label, at)
            before = after
            continue
        most = _milli(match["to"] or match["volts"] or "0")
        if most > _MAINS_MOST_MV and not (match["ac"] or match["mains"]):
            raise label_error(f"{match[0].strip()} is no voltage that a charger offers", label, at)
        if match["ac"] or match["mains"] or most >= _MAINS_MV:
            if offered and not (match["ac"] or match["mains"]):
                remarks.append(f"{match[0].strip()} is taken for the input from the mains and passed over")
            mains = True
        elif match["range"]:
            mains, offered = False, True
            yield Piece("range", _milli(match["from"]), _milli(match["to"]), at, match["range"].strip())
        elif match["volts"]:
            mains, offered = False, True
            millivolts = _milli(match["volts"])
            yield Piece("volts", millivolts, millivolts, at, match[0].strip())
        elif match["amps"] or match["milliamps"]:
            if not mains:
                yield Piece("amps", _milliamps(match), 0, at, match[0].strip())
            mains = False
        elif match["watts"]:
            yield Piece("watts", _milli(match["watts"]), 0, at, match[0].strip())


def _milliamps(match: re.Match[str]) -> int:
    return _milli(match["amps"]) if match["amps"] else int(re.sub(r"\D", "", match["milliamps"]))


def _is_print_mark(character: str) -> bool:
    """Line-drawing, direct-current and similar signs that printers use; never letters, digits or controls."""
    if len(character) != 1 or is_hidden(character):
        return False
    code = ord(character)
    return (
        0x2010 <= code <= 0x2BFF or 0x3000 <= code <= 0x303F or 0xFF00 <= code <= 0xFF0F or code in (0xA0, 0xB7, 0xD7)
    )


def _milli(text: str) -> int:
    """Volts, amperes or watts as printed, to thousandths.

    >>> _milli("3,25"), _milli("20"), _milli(".9")
    (3250, 20000, 900)
    """
    whole, _, part = text.replace(",", ".").partition(".")
    return int(whole or 0) * 1000 + int((part + "000")[:3])


def label_error(what: str, text: str, at: int, expected: str = EXPECTED) -> InputError:
    """An error at a character of a label, with its line and byte offset."""
    line = text.count("\n", 0, at) + 1
    column = len(text[text.rfind("\n", 0, at) + 1 : at].encode())
    return InputError(what, where=f"line {line}, offset {column}", expected=expected)
