"""The text printed on a charger, to offers: voltages with currents, PPS and AVS ranges, in any printer's dress."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from pdcheck.bits.offers import MOST_MA, Offer, arranged, battery, epr_avs, fixed, pps, spr_avs, variable
from pdcheck.errors import InputError
from pdcheck.facts.adjustable import SPR_AVS_MOST, SPR_AVS_SPLIT

EXPECTED = "voltages with currents, as in 5V 3A, 9V 3A; PPS 3.3-11V 3A"
LONGEST = 4000  # characters; no charger prints more


class Label(NamedTuple):
    """What a label says: its offers in the standard's order, the power printed beside them, remarks on the reading."""

    offers: tuple[Offer, ...]
    power_w: float | None
    remarks: tuple[str, ...]


_NUMBER = r"\d{1,3}(?:[.,]\d{1,3})?"
_UNIT_V = r"\s*(?:V|volts?)(?:\s*DC|dc)?(?![a-z])"
_DASH = r"\s*(?:-|–|—|−|~|\.{2,3}|…|to)\s*"
_TOKEN = re.compile(
    rf"""
      (?P<range>(?P<from>{_NUMBER})(?:{_UNIT_V})?{_DASH}(?P<to>{_NUMBER}){_UNIT_V}\s*(?P<ac>~|AC\b|ac\b)?)
    | (?P<volts>{_NUMBER}){_UNIT_V}\s*(?P<mains>(?:~|AC\b|ac\b)(?!\s*\d))?
    | (?P<amps>{_NUMBER})\s*A(?:mp(?:s|ere|eres)?)?(?![a-zA-Z])
    | (?P<milliamps>\d{{2,5}})\s*mA(?![a-zA-Z])
    | (?P<watts>{_NUMBER})\s*W(?:atts?)?(?![a-zA-Z])
    | (?P<word>[A-Za-z][A-Za-z0-9.'-]*)
    | (?P<rest>\S)
    """,
    re.VERBOSE | re.IGNORECASE,
)
_HEADS = ("pps", "avs", "battery", "batt", "variable", "var", "fixed", "epr", "spr", "pdo", "apdo")
# What separates a voltage from its current or one pair from the next, and says nothing by itself.
_SILENT = "⎓⎔═=≡—–-/|,;:+&·•*×x@()[]{}<>.~'\"\\⎯_―‒"
_IGNORED_UNITS = re.compile(r"\d+(?:[.,]\d+)?\s*(?:m?Ah|Hz|k?Wh|mm|°C|%)", re.IGNORECASE)


class _Piece(NamedTuple):
    kind: str
    low: int
    high: int
    at: int
    text: str


def looks_like_label(text: str) -> bool:
    """Whether a text speaks of volts, which hex never does.

    >>> looks_like_label("5V 3A"), looks_like_label("a1 61")
    (True, False)
    """
    return re.search(r"\d\s*[vV]", text[: LONGEST * 4]) is not None


def read_label(text: str) -> Label:
    """Offers of a label.

    Raises ``InputError`` naming line and offset of what cannot be read.

    >>> [(o.kind, o.min_mv, o.max_mv, o.current_ma) for o in read_label("5V⎓3A, 9V/2,77A; PPS 3.3-11V 3A").offers]
    [('fixed', 5000, 5000, 3000), ('fixed', 9000, 9000, 2770), ('pps', 3300, 11000, 3000)]
    """
    if len(text) > LONGEST:
        raise InputError(f"{len(text)} characters", where="line 1", expected=f"a label of at most {LONGEST}")
    reader = _Reader(text)
    for piece in _voltage_first(list(_pieces(text, reader.remarks))):
        reader.take(piece)
    return reader.label()


def _voltage_first(pieces: list[_Piece]) -> list[_Piece]:
    """The pieces with each current behind its voltage, where the whole label prints it before (3A @ 5V, 2A @ 9V)."""
    figures = [piece for piece in pieces if piece.kind != "mode"]
    if not figures or figures[0].kind != "amps":
        return pieces
    turned: list[_Piece] = []
    current: _Piece | None = None
    for piece in pieces:
        if piece.kind == "amps":
            current = piece
        elif piece.kind in ("volts", "range") and current is not None:
            turned += [piece, current]
        else:
            turned.append(piece)
    return turned


class _Range(NamedTuple):
    """An AVS range as printed; its current at and above 15 V, or its power."""

    low: int
    high: int
    milliamps: int | None
    milliwatts: int | None
    above: int | None = None


class _Reader:
    """Takes the pieces of a label in turn; voltages wait for the current that follows them."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.remarks: list[str] = []
        self.found: list[Offer] = []
        self.ranges: list[_Range] = []
        self.power: float | None = None
        self.mode = ""
        self.waiting: list[_Piece] = []

    def take(self, piece: _Piece) -> None:
        if piece.kind == "mode":
            self.mode = "" if piece.text in ("fixed", "pdo") else piece.text
        elif piece.kind in ("volts", "range"):
            self.waiting.append(piece)
        elif piece.kind == "watts":
            if self.waiting and self.mode in ("battery", "batt", "avs"):
                self._settle(None, piece.low)
            else:
                self.power = max(self.power or 0.0, piece.low / 1000)
        elif self.waiting:
            self._settle(piece.low, None)
        elif self.mode == "avs" and self.ranges and self.ranges[-1].above is None:
            self.ranges[-1] = self.ranges[-1]._replace(above=piece.low)
        else:
            raise _error(f"{piece.text} belongs to no voltage", self.text, piece.at)

    def label(self) -> Label:
        if self.waiting:
            raise _error(f"{self.waiting[0].text} has no current", self.text, self.waiting[0].at)
        found = self.found + [_adjustable(each, self.found) for each in self.ranges]
        if not found:
            raise InputError("no offer found", where="line 1, offset 0", expected=EXPECTED)
        # Ports of one label often repeat a pair; one source offers it once.
        offers = arranged(dict.fromkeys(offer._replace(position=1) for offer in found))
        if len(offers) < len(found):
            self.remarks.append("a pair stands more than once and is counted once")
        return Label(offers, self.power, tuple(self.remarks))

    def _settle(self, milliamps: int | None, milliwatts: int | None) -> None:
        for piece in self.waiting:
            if piece.low == 0 or piece.low > piece.high:
                raise _error(f"{piece.text} is no range that a source can offer", self.text, piece.at)
            try:
                self._add(piece, milliamps, milliwatts)
            except InputError as error:
                raise _error(f"{piece.text}: {error}", self.text, piece.at) from None
        self.waiting = []

    def _add(self, piece: _Piece, milliamps: int | None, milliwatts: int | None) -> None:
        low, high = piece.low, piece.high
        if self.mode in ("battery", "batt"):
            power = milliwatts if milliwatts is not None else (milliamps or 0) * high // 1000
            self.found.append(battery(low, high, power // 250 * 250))
        elif piece.kind == "volts":
            self.found.append(fixed(low, milliamps or 0))
        elif self.mode == "avs":
            self.ranges.append(_Range(low, high, milliamps, milliwatts))
        elif self.mode in ("variable", "var"):
            self.found.append(variable(low, high, milliamps or 0))
        else:
            # The object counts in 50 mA: a printed 2.22 A is never read as more than it says.
            self.found.append(pps(low, high, (milliamps or 0) // 50 * 50))


def _adjustable(each: _Range, found: list[Offer]) -> Offer:
    """AVS: above 20 V by power (EPR), else by one current up to 15 V and one above (SPR)."""
    top, split = round(SPR_AVS_MOST.value * 1000), round(SPR_AVS_SPLIT.value * 1000)
    if each.high > top:
        milliwatts = each.milliwatts if each.milliwatts is not None else (each.milliamps or 0) * each.high // 1000
        return epr_avs(each.low, each.high, milliwatts // 1000)
    if each.milliwatts is not None:
        first = min(each.milliwatts * 1000 // split, MOST_MA) // 10 * 10
        second = min(each.milliwatts * 1000 // top, MOST_MA) // 10 * 10
    else:
        # The standard ties the figure above 15 V to the fixed offer at 20 V.
        first = each.milliamps or 0
        at_top = next((o.current_ma for o in found if o.kind == "fixed" and o.max_mv == top), None)
        second = each.above if each.above is not None else min(first, at_top or first)
    return spr_avs(first, 0 if each.high <= split else second)


def _pieces(text: str, remarks: list[str]) -> Iterator[_Piece]:
    """The parts of a label that say something; input ratings and Type-A ports are passed over."""
    masked = _IGNORED_UNITS.sub(lambda match: " " * len(match[0]), text)
    skip = ""
    output = re.search(r"out\s*put(?=.*\d\s*V)", masked, re.IGNORECASE | re.DOTALL)
    if output:
        # What stands before the output ratings is the input from the mains.
        masked = " " * output.start() + masked[output.start() :]
    for match in _TOKEN.finditer(masked):
        at = match.start()
        if match["word"]:
            word = match["word"].lower().rstrip(".:-")
            if word == "input":
                skip = "input"
            elif word.startswith("output"):
                skip = ""
            elif word in ("usb-a", "type-a", "usba") or re.fullmatch(r"usb-a\d?", word):
                skip = "a Type-A port, which speaks no PD, is passed over"
            elif re.fullmatch(r"(usb-?|type-?)?c\d?", word):
                skip = "" if skip != "input" else skip
            elif word in _HEADS and not skip:
                yield _Piece("mode", 0, 0, at, word)
            continue
        if skip:
            if skip not in ("input", *remarks):
                remarks.append(skip)
            continue
        if match["rest"]:
            if match["rest"] not in _SILENT and not _is_print_mark(match["rest"]):
                raise _error(f"{match['rest']!r} says nothing on a label", text, at)
            continue
        if match["ac"] or match["mains"]:
            continue
        if match["range"]:
            yield _Piece("range", _milli(match["from"]), _milli(match["to"]), at, match["range"].strip())
        elif match["volts"]:
            millivolts = _milli(match["volts"])
            yield _Piece("volts", millivolts, millivolts, at, match[0].strip())
        elif match["amps"]:
            yield _Piece("amps", _milli(match["amps"]), 0, at, match[0].strip())
        elif match["milliamps"]:
            yield _Piece("amps", int(match["milliamps"]), 0, at, match[0].strip())
        elif match["watts"]:
            yield _Piece("watts", _milli(match["watts"]), 0, at, match[0].strip())


def _is_print_mark(character: str) -> bool:
    """Line-drawing, direct-current and similar signs that printers use; never letters, digits or controls."""
    code = ord(character)
    return (
        0x2010 <= code <= 0x2BFF or 0x3000 <= code <= 0x303F or 0xFF00 <= code <= 0xFF0F or code in (0xA0, 0xB7, 0xD7)
    )


def _milli(text: str) -> int:
    """Volts, amperes or watts as printed, to thousandths.

    >>> _milli("3,25"), _milli("20")
    (3250, 20000)
    """
    whole, _, part = text.replace(",", ".").partition(".")
    return int(whole) * 1000 + int((part + "000")[:3])


def _error(what: str, text: str, at: int) -> InputError:
    line = text.count("\n", 0, at) + 1
    column = len(text[text.rfind("\n", 0, at) + 1 : at].encode())
    return InputError(what, where=f"line {line}, offset {column}", expected=EXPECTED)
