"""Values of options: a quantity, a list such as ``5V,9V,12V``, or a range of voltages as ``5V..24V``."""

from __future__ import annotations

import re

from pdcheck.errors import InputError
from pdcheck.quantities import parse_quantity, parse_range, quoted

MOST = 200


def quantity(text: str, unit: str, option: str, *, zero: bool = False) -> float:
    """One quantity, above zero unless ``zero`` allows nothing.

    Raises ``InputError`` that names the option.

    >>> quantity("250mA", "A", "--current")
    0.25
    """
    try:
        value = parse_quantity(text, unit)
    except InputError as error:
        raise error.inside(option) from None
    if value == 0 and not zero and unit not in ("C", "K"):
        raise InputError(f"{quoted(text)} is nothing", where=option, expected="more than zero")
    return value


def quantities(text: str, unit: str, option: str) -> tuple[float, ...]:
    """Quantities parted by commas, semicolons or spaces, none of them twice, in the order given.

    Raises ``InputError`` that names the option.

    >>> quantities("5V, 9V 12", "V", "--on")
    (5.0, 9.0, 12.0)
    """
    words = [word for word in re.split(r"[;,\s]+", re.sub(r"(?<=\d)\s+(?=[A-Za-zΩµ])", "", text)) if word]
    if not words or len(words) > MOST:
        raise InputError(f"{len(words)} values", where=option, expected=f"1 to {MOST}, parted by commas")
    try:
        return tuple(dict.fromkeys(parse_quantity(word, unit) for word in words))
    except InputError as error:
        raise error.inside(option) from None


def voltages(text: str, option: str) -> tuple[float, ...]:
    """Voltages [V] above zero from a list or a range; a range is tried at its ends and some steps between.

    >>> voltages("9V,12V", "--voltages"), voltages("5V..9V", "--voltages")
    ((9.0, 12.0), (5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0))
    """
    from pdcheck.verdict.envelopes import rungs

    try:
        ends = parse_range(text, "V")
    except InputError:
        if ".." in text or re.search(r"\d\s*[vV]?\s*-", text):
            raise InputError(f"{quoted(text)} is not a range", where=option, expected="such as 5V..24V") from None
        found = quantities(text, "V", option)
    else:
        found = rungs(*ends)
    if min(found) <= 0:
        raise InputError(f"{quoted(text)} holds 0 V", where=option, expected="voltages above 0 V")
    return found
