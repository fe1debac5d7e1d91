"""Values of arguments: a quantity, a list such as ``5V,9V,12V``, or a range of voltages as ``5V..24V``."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pdcheck.errors import InputError
from pdcheck.quantities import parse_quantity, parse_range, quoted

MOST = 200


def quantity(text: str | float, unit: str, argument: str, *, zero: bool = False) -> float:
    """One quantity, above zero unless ``zero`` allows nothing.

    Raises ``InputError`` that names the argument.

    >>> quantity("250mA", "A", "current")
    0.25
    """
    try:
        value = parse_quantity(text, unit)
    except InputError as error:
        raise error.of(argument) from None
    if value == 0 and not zero and unit not in ("C", "K"):
        raise InputError(f"{quoted(text)} is nothing", argument=argument, expected="more than zero")
    return value


def quantities(text: str | Iterable[str | float], unit: str, argument: str) -> tuple[float, ...]:
    """Quantities parted by commas, semicolons or spaces, none of them twice, in the order given.

    Raises ``InputError`` that names the argument.

    >>> quantities("5V, 9V 12", "V", "on")
    (5.0, 9.0, 12.0)
    """
    if isinstance(text, str):
        text = [word for word in re.split(r"[;,\s]+", re.sub(r"(?<=\d)\s+(?=[A-Za-zΩµ])", "", text)) if word]
    words = list(text)
    if not words or len(words) > MOST:
        raise InputError(f"{len(words)} values", argument=argument, expected=f"1 to {MOST}, parted by commas")
    try:
        return tuple(dict.fromkeys(parse_quantity(word, unit) for word in words))
    except InputError as error:
        raise error.of(argument) from None


def voltages(text: str | Iterable[str | float], argument: str) -> tuple[float, ...]:
    """Voltages [V] above zero from a list or a range; a range is tried at its ends and some steps between.

    >>> voltages("9V,12V", "voltages"), voltages("5V..9V", "voltages")
    ((9.0, 12.0), (5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0))
    """
    from pdcheck.verdict.envelopes import rungs

    if not isinstance(text, str):
        return _above_zero(quantities(text, "V", argument), argument)
    try:
        ends = parse_range(text, "V")
    except InputError:
        if ".." in text or re.search(r"\d\s*[vV]?\s*-", text):
            raise InputError(f"{quoted(text)} is not a range", argument=argument, expected="such as 5V..24V") from None
        return _above_zero(quantities(text, "V", argument), argument, text)
    return _above_zero(rungs(*ends), argument, text)


def _above_zero(found: tuple[float, ...], argument: str, text: str = "") -> tuple[float, ...]:
    if min(found) <= 0:
        what = quoted(text) if text else "the list"
        raise InputError(f"{what} holds 0 V", argument=argument, expected="voltages above 0 V")
    return found
