"""Values as people type them: a quantity, a list such as ``5V,9V,12V``, or a range of voltages as ``5V..24V``."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pdcheck.errors import InputError
from pdcheck.quantities import parse_quantity, parse_range, quoted

MOST = 200


def quantity(text: str | float, unit: str, name: str, *, zero: bool = False) -> float:
    """One quantity, above zero unless ``zero`` allows nothing.

    Raises ``InputError`` that names the option, or the argument.

    >>> quantity("250mA", "A", "--current")
    0.25
    """
    try:
        value = parse_quantity(text, unit)
    except InputError as error:
        raise error.inside(name) from None
    if value == 0 and not zero and unit not in ("C", "K"):
        raise InputError(f"{quoted(text)} is nothing", where=name, expected="more than zero")
    return value


def quantities(text: str | Iterable[str | float], unit: str, name: str) -> tuple[float, ...]:
    """Quantities parted by commas, semicolons or spaces, none of them twice, in the order given.

    Raises ``InputError`` that names it.

    >>> quantities("5V, 9V 12", "V", "--on")
    (5.0, 9.0, 12.0)
    """
    words = text
    if isinstance(text, str):
        words = [word for word in re.split(r"[;,\s]+", re.sub(r"(?<=\d)\s+(?=[A-Za-zΩµ])", "", text)) if word]
    words = list(words)
    if not words or len(words) > MOST:
        raise InputError(f"{len(words)} values", where=name, expected=f"1 to {MOST}, parted by commas")
    try:
        return tuple(dict.fromkeys(parse_quantity(word, unit) for word in words))
    except InputError as error:
        raise error.inside(name) from None


def voltages(text: str | Iterable[str | float], name: str) -> tuple[float, ...]:
    """Voltages [V] above zero from a list or a range; a range is tried at its ends and some steps between.

    >>> voltages("9V,12V", "--voltages"), voltages("5V..9V", "--voltages")
    ((9.0, 12.0), (5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0))
    """
    from pdcheck.verdict.envelopes import rungs

    try:
        ends = parse_range(text if isinstance(text, str) else "", "V")
    except InputError:
        if isinstance(text, str) and (".." in text or re.search(r"\d\s*[vV]?\s*-", text)):
            raise InputError(f"{quoted(text)} is not a range", where=name, expected="such as 5V..24V") from None
        found = quantities(text, "V", name)
    else:
        found = rungs(*ends)
    if min(found) <= 0:
        raise InputError(f"{quoted(text)} holds 0 V", where=name, expected="voltages above 0 V")
    return found
