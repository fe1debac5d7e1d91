"""Quantities as people type them: text to SI numbers and back, exact to the last digit; the min / typ / max triple."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from contextlib import suppress
from functools import lru_cache

from pdcheck.errors import InputError
from pdcheck.named import NamedTuple

LONGEST_TEXT = 40  # characters; nobody types a longer quantity
SMALLEST, LARGEST = 1e-15, 1e12  # outside of these a number is a slip, whatever its unit


class Triple(NamedTuple):
    """A value at its least, as stated, and at its most, all in one unit.

    >>> Triple(0.1, 0.2, 0.3).typ
    0.2
    """

    min: float
    typ: float
    max: float

    @classmethod
    def exact(cls, value: float) -> Triple:
        """The triple of a value without tolerance.

        >>> Triple.exact(0.25)
        Triple(min=0.25, typ=0.25, max=0.25)
        """
        return cls(value, value, value)


# A value on its limit passes; only the last bits of a float are forgiven, never a step of anything.
SLACK = 1e-9


def over(value: float, limit: float) -> bool:
    """Whether a value is above its limit; on the limit is not above it.

    >>> over(3.0, 3.0), over(3.01, 3.0)
    (False, True)
    """
    return value > limit * (1 + SLACK) + SLACK * SLACK


def under(value: float, limit: float) -> bool:
    """Whether a value is below its limit; on the limit is not below it.

    >>> under(6.0, 6.0), under(5.99, 6.0)
    (False, True)
    """
    return value < limit * (1 - SLACK)


class _Unit(NamedTuple):
    """How one unit is written: names in lower case with their factor (whole, power of ten), prefixes, print form."""

    example: str
    names: dict[str, tuple[int, int]]
    prefixes: str  # the letters that may stand before a name; "" is always allowed
    symbol: str
    printed: tuple[int, ...]  # powers of ten used in print, rising
    signed: bool = False


def _plain(*names: str) -> dict[str, tuple[int, int]]:
    return dict.fromkeys(names, (1, 0))


_UNITS: dict[str, _Unit] = {
    "V": _Unit("a voltage such as 20V", _plain("v", "volt", "volts"), "umk", "V", (-3, 0)),
    "A": _Unit(
        "a current such as 3.25A", _plain("a", "amp", "amps", "ampere", "amperes"), "numk", "A", (-9, -6, -3, 0)
    ),
    "W": _Unit("a power such as 24W", _plain("w", "watt", "watts"), "umk", "W", (-6, -3, 0, 3)),
    "ohm": _Unit("a resistance such as 250mOhm", _plain("ω", "ohm", "ohms", "r"), "numkKM", "Ω", (-9, -6, -3, 0, 3, 6)),
    "F": _Unit("a capacitance such as 47uF", _plain("f", "farad", "farads"), "pnum", "F", (-12, -9, -6, -3, 0)),
    "H": _Unit("an inductance such as 0.7uH", _plain("h", "henry", "henries", "henrys"), "num", "H", (-9, -6, -3, 0)),
    "m": _Unit(
        "a length such as 0.4m",
        _plain("m", "metre", "metres", "meter", "meters")
        | dict.fromkeys(("ft", "foot", "feet"), (3048, -4))
        | dict.fromkeys(("in", "inch", "inches"), (254, -4)),
        "ucmk",
        "m",
        (-3, 0),
    ),
    "mm2": _Unit("a cross-section such as 0.75mm2", _plain("mm2", "mm²", "mm^2", "sqmm"), "", "mm²", (0,)),
    "s": _Unit("a time such as 30ms", _plain("s", "sec", "second", "seconds"), "num", "s", (-9, -6, -3, 0)),
    "C": _Unit("a temperature such as 20C", _plain("c", "°c", "degc", "deg c", "celsius"), "", "°C", (0,), signed=True),
    "K": _Unit("a temperature difference such as 30K", _plain("k", "kelvin"), "m", "K", (0,), signed=True),
    "Wh": _Unit("an energy such as 74Wh", _plain("wh", "watt hour", "watt hours"), "mk", "Wh", (-3, 0, 3)),
    "Ah": _Unit("a charge such as 20000mAh", _plain("ah", "amp hours", "ampere hours"), "um", "Ah", (-3,)),
    "h": _Unit("a number of hours such as 8h", _plain("h", "hour", "hours", "hr", "hrs"), "", "h", (0,)),
    "K/W": _Unit("a rise such as 30K/W", _plain("k/w", "c/w", "°c/w", "degc/w"), "", "K/W", (0,)),
    "%": _Unit("a ratio such as 92% or 0.92", {"%": (1, -2), "percent": (1, -2)}, "", "%", (0,)),
}
UNITS = tuple(_UNITS)
"""The name of every unit that a quantity is read in; ``%`` is a share of 1."""
_PREFIX = {"p": -12, "n": -9, "u": -6, "m": -3, "c": -2, "k": 3, "K": 3, "M": 6}
_PREFIX_WORDS = {"pico": "p", "nano": "n", "micro": "u", "milli": "m", "centi": "c", "kilo": "k", "mega": "M"}
_PRINTED_PREFIX = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M"}
# One letter for one meaning: the ohm sign, both micro signs, the spaces and the minus that printers use.
_DRESS = str.maketrans(
    {"\u2126": "Ω", "\u00b5": "u", "\u03bc": "u", "\u2212": "-"}
    | dict.fromkeys("\t\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f", " ")
)

# The other way: what every keyboard has for what is printed.
_TYPED = str.maketrans({" ": "", "µ": "u", "Ω": "Ohm", "²": "2", "°": ""})

_SIZE = r"(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_QUANTITY = re.compile(rf"([+-]?{_SIZE}) *([^0-9+\-.,\s@][^+\-.,@]*)?")
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
_LETTER_POINT = {
    "V": re.compile(r"([0-9]{1,3})([vV])([0-9]{1,3})"),
    "ohm": re.compile(r"([0-9]{0,3})([RkKM])([0-9]{1,3})"),
}
_RANGE = re.compile(
    rf"([+-]?{_SIZE}) *([A-Za-zΩ°%]*?) *(?:-|\u2010|\u2011|\u2013|\u2014|\.\.\.?|\u2026|~|\bto\b|to(?=[0-9])) *"
    rf"([+-]?{_SIZE}) *([A-Za-zΩ°%]*)"
)

# A space between a number and its unit, so that "15 V 2 A" splits into two quantities.
_SPACE_BEFORE_UNIT = re.compile(
    r"(?<=[0-9])\s+(?=(?:[munk\u00b5\u03bc]?(?:[VvAaWwm]|Ω|\u2126|[Oo]hms?|OHMS?)|cm|mm|ft|feet|in|AWG|awg)(?![A-Za-z]))"
)


def quoted(text: object) -> str:
    """What was typed, safe to print on one line: quoted, control characters escaped, long text cut.

    >>> quoted("20\\x1b V")
    "'20\\\\x1b V'"
    """
    shown = repr(text[: LONGEST_TEXT + 1] if isinstance(text, str) else text)
    return shown if len(shown) <= LONGEST_TEXT + 2 else f"{shown[: LONGEST_TEXT - 3]}..."


def parse_quantity(text: str | int | float, unit: str, *, signed: bool | None = None) -> float:
    """Read one quantity; a bare number is taken in the unit itself.

    ``unit`` is one of V, A, W, ohm, F, H, m, mm2, s, C, K, Wh, Ah, h and % (a ratio: ``92%`` is 0.92). The result is
    the float nearest to the decimal that was typed. Negative values are refused unless ``signed`` (by default only C
    and K are). Raises InputError for anything else, a wrong unit, a number that is not finite or far out of range.

    >>> parse_quantity("250mΩ", "ohm"), parse_quantity("3,25 A", "A"), parse_quantity("40cm", "m")
    (0.25, 3.25, 0.4)
    >>> parse_quantity("92%", "%"), parse_quantity("3V3", "V"), parse_quantity(15, "V")
    (0.92, 3.3, 15.0)
    >>> parse_quantity("20A", "V")
    Traceback (most recent call last):
    pdcheck.errors.InputError: '20A' is a current, not a voltage; expected a voltage such as 20V
    """
    kind = _UNITS[unit]
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise InputError(f"{quoted(text)} is not a quantity", expected=kind.example)
    value = _from_text(text, unit) if isinstance(text, str) else _from_number(text, unit)
    if not math.isfinite(value) or (value != 0.0 and not SMALLEST <= abs(value) <= LARGEST):
        raise InputError(f"{quoted(text)} is out of range", expected=kind.example)
    if value < 0 and not (kind.signed if signed is None else signed):
        raise InputError(f"{quoted(text)} is negative", expected=kind.example)
    return value + 0.0  # no negative zero


def parse_range(text: str, unit: str) -> tuple[float, float]:
    """Read a range; the lower end may leave its unit to the upper one.

    >>> parse_range("6V-36V", "V"), parse_range("3.3-11 V", "V"), parse_range("500..900mA", "A")
    ((6.0, 36.0), (3.3, 11.0), (0.5, 0.9))
    """
    expected = "a range such as 6V-36V" if unit == "V" else f"a range of two, each {_UNITS[unit].example}"
    found = _RANGE.fullmatch(text.translate(_DRESS).strip()) if len(text) <= 2 * LONGEST_TEXT else None
    if found is None:
        raise InputError(f"{quoted(text)} is not a range", expected=expected)
    low, low_unit, high, high_unit = found.groups()
    ends = parse_quantity(low + (low_unit or high_unit), unit), parse_quantity(high + high_unit, unit)
    if ends[0] > ends[1]:
        raise InputError(f"{quoted(text)} starts above its end", expected=expected)
    return ends


def tokens(text: str) -> list[str]:
    """The words of a one-line description, each quantity with its unit in one.

    >>> tokens("C-C, 5 A  1m loop = 180 mOhm")
    ['C-C', '5A', '1m', 'loop=180mOhm']
    """
    joined = _SPACE_BEFORE_UNIT.sub("", re.sub(r"\s*=\s*", "=", text))
    return [word for word in re.split(r"[\s;]+|,(?![0-9])|(?<![0-9]),", joined) if word]


def key_by_unit(word: str, keys: Mapping[str, str]) -> str | None:
    """Which of the keys a quantity goes under by its unit; None for a bare number and for what is none of them.

    >>> [key_by_unit(word, {"ohm": "loop", "m": "length"}) for word in ("9mOhm", "40cm", "40")]
    ['loop', 'length', None]
    """
    for unit, key in keys.items() if re.search(r"[^0-9.,+-]", word) else ():
        with suppress(InputError):
            parse_quantity(word, unit)
            return key
    return None


def format_quantity(value: float, unit: str, digits: int = 4, *, beside: float | None = None) -> str:
    """Print a quantity with at most ``digits`` significant ones, and more where it must differ from ``beside``.

    A value and its limit, each printed beside the other, keep their order: a violation is never rounded away.

    >>> format_quantity(0.25, "ohm"), format_quantity(47e-6, "F"), format_quantity(0.92, "%")
    ('250 mΩ', '47 µF', '92 %')
    >>> format_quantity(3.00004, "A"), format_quantity(3.00004, "A", beside=3.0)
    ('3 A', '3.00004 A')
    >>> format_quantity(0.0, "%")
    '0 %'
    """
    text = _printed(value, unit, digits)
    while beside is not None and value != beside and digits < 17 and text == _printed(beside, unit, digits):
        digits += 1
        text = _printed(value, unit, digits)
    return text


def format_exactly(value: float, unit: str) -> str:
    """Print a quantity with as many digits as it takes to read it back as the same float.

    >>> format_exactly(0.25, "ohm"), format_exactly(1 / 3, "V")
    ('250 mΩ', '333.3333333333333 mV')
    """
    texts = (format_quantity(value, unit, digits) for digits in (9, 15, 16, 17))
    return next((text for text in texts if parse_quantity(text, unit, signed=True) == value), f"{value!r} {unit}")


def example_of(unit: str) -> str:
    """How a quantity of a unit is typed.

    >>> example_of("F")
    '47uF'
    """
    return _UNITS[unit].example.partition(" such as ")[2]


def quantity_text(value: float, unit: str) -> str:
    """A quantity as it is typed into a file, of plain characters; reads back as the same float.

    >>> quantity_text(0.25, "ohm"), quantity_text(47e-6, "F"), quantity_text(-10.0, "C"), quantity_text(0.92, "%")
    ('250mOhm', '47uF', '-10C', '92%')
    """
    return format_exactly(value, unit).translate(_TYPED)


def _from_number(number: float, unit: str) -> float:
    try:
        return float(number)
    except OverflowError:
        raise InputError("a number of that size is out of range", expected=_UNITS[unit].example) from None


def _from_text(text: str, unit: str) -> float:
    kind = _UNITS[unit]
    plain = text.translate(_DRESS).strip()
    if not plain:
        raise InputError("nothing is written here", expected=kind.example)
    if len(plain) > LONGEST_TEXT:
        raise InputError(f"{quoted(text)} is too long for a quantity", expected=kind.example)
    letter = _LETTER_POINT[unit].fullmatch(plain) if unit in _LETTER_POINT else None
    if letter is not None:
        whole, mark, part = letter.groups()
        return float(f"{whole}.{part}e{_PREFIX.get(mark, 0) if unit == 'ohm' else 0}")
    found = _QUANTITY.fullmatch(plain)
    if found is None:
        raise InputError(f"{quoted(text)} cannot be read as a number with a unit", expected=kind.example)
    number, suffix = found.groups()
    if _THOUSANDS.fullmatch(number):
        both = f"{number.replace(',', '')} or {number.replace(',', '.')}"
        raise InputError(f"{quoted(text)} can be read with its comma for thousands or for decimals", expected=both)
    factor = (1, 0) if not suffix else _factor(suffix.strip(), kind)
    if factor is None:
        raise InputError(_wrong_unit(text, suffix.strip(), unit), expected=kind.example)
    return _scaled(number.replace(",", "."), *factor)


def _scaled(number: str, whole: int, power: int) -> float:
    """number x whole x 10^power as the nearest float: whole numbers and one conversion, so nothing is rounded twice."""
    mantissa, _, exponent = number.lower().partition("e")
    units, _, decimals = mantissa.partition(".")
    return float(f"{int(units + decimals) * whole}e{int(exponent or 0) + power - len(decimals)}")


def _factor(suffix: str, kind: _Unit) -> tuple[int, int] | None:
    """The factor (whole, power of ten) that a unit with its prefix stands for, or None."""
    lower = suffix.lower()
    for name, (whole, power) in kind.names.items():
        if lower == name:
            return whole, power
        if lower.endswith(name) and power == 0:
            prefix = suffix[: -len(name)].rstrip()
            prefix = _PREFIX_WORDS.get(prefix.lower(), prefix)
            if len(prefix) == 1 and prefix in kind.prefixes:
                return whole, _PREFIX[prefix]
    return None


def _wrong_unit(text: str, suffix: str, unit: str) -> str:
    """Say what is wrong with a unit: the prefix M, another quantity, or a word that is no unit at all."""
    if suffix.startswith("M") and _factor("m" + suffix[1:], _UNITS[unit]) is not None:
        return f"{quoted(text)}: a capital M means a million"
    for other, kind in _UNITS.items():
        if other != unit and _factor(suffix, kind) is not None:
            return f"{quoted(text)} is {_noun(kind)}, not {_noun(_UNITS[unit])}"
    return f"{quoted(text)}: {quoted(suffix)} is not a unit of {_noun(_UNITS[unit]).partition(' ')[2]}"


def _noun(kind: _Unit) -> str:
    return kind.example.partition(" such as ")[0]


# The same few figures are said again and again, a limit at every position.
@lru_cache(maxsize=4096)
def _printed(value: float, unit: str, digits: int) -> str:
    kind = _UNITS[unit]
    if not math.isfinite(value):
        return f"{value} {kind.symbol}"
    mantissa, exponent = f"{abs(value):.{max(digits, 1) - 1}e}".split("e")
    power = int(exponent) + (2 if unit == "%" and value else 0)
    prefix = max((p for p in kind.printed if p <= power), default=kind.printed[0]) if value else 0
    number = mantissa.replace(".", "")
    point = 1 + power - prefix
    if point <= 0:
        number, point = "0" * (1 - point) + number, 1
    number = number.ljust(point, "0")
    decimals = number[point:].rstrip("0")
    whole = number[:point] + (f".{decimals}" if decimals else "")
    minus = "-" if value < 0 and whole != "0" else ""
    return f"{minus}{whole} {_PRINTED_PREFIX[prefix]}{kind.symbol}"
