"""Decimal numbers in a byte buffer, all at once: offsets in, floats out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_WIDEST = 40
_BATCH = 1 << 14  # so that the columns of one batch stay in the processor's cache
_EXACT_DIGITS = 18
_POWERS = np.array([10.0**power for power in range(_EXACT_DIGITS + 1)])


def parse_decimals(buffer: Bytes, start: Ints, end: Ints, decimal: int = 46) -> Floats:
    """The numbers at ``buffer[start:end]``, NaN where there is none.

    ``decimal`` is the code of the decimal sign. Sign, fraction and exponent are read; right to within two units in the
    last place of a float. Spaces around a number are not removed.

    >>> text = np.frombuffer(b"1.5,-2e-3,x,", dtype=np.uint8)
    >>> parse_decimals(text, np.array([0, 4, 10, 12]), np.array([3, 9, 11, 12])).tolist()
    [1.5, -0.002, nan, nan]
    """
    value = np.empty(len(start))
    for at in range(0, len(start), _BATCH):
        first, last = start[at : at + _BATCH], end[at : at + _BATCH]
        batch, odd = _plain(buffer, first, last, decimal)
        if odd.any():
            batch[odd] = _with_exponent(buffer, first[odd], last[odd], decimal)
        value[at : at + _BATCH] = batch
    return value


def _plain(buffer: Bytes, start: Ints, end: Ints, decimal: int) -> tuple[Floats, Flags]:
    """Numbers of a sign, digits and one decimal sign; and which rows are anything else."""
    width = end - start
    count = len(start)
    widest = min(int(width.max()), _WIDEST)
    narrowest = int(width.min())
    last = len(buffer) - 1
    mantissa = np.zeros(count, dtype=np.int64)
    digits = np.zeros(count, dtype=np.int16)
    fraction = np.zeros(count, dtype=np.int16)
    in_fraction = np.zeros(count, dtype=bool)
    negative = np.zeros(count, dtype=bool)
    odd = (width <= 0) | (width > _WIDEST)
    for place in range(widest):
        code = buffer[np.minimum(start + place, last)]
        figure = code - 48  # wraps round for anything that is no digit
        is_digit = figure < 10
        known = code == decimal
        is_point = known.copy()
        if place == 0:
            negative = code == 45
            known |= negative | (code == 43)
        if place >= narrowest:
            inside = place < width
            is_digit &= inside
            is_point &= inside
            known |= ~inside
        odd |= ~(known | is_digit) | (is_point & in_fraction)
        mantissa = np.where(is_digit, mantissa * 10 + figure, mantissa)
        digits += is_digit
        fraction += is_digit & in_fraction
        in_fraction |= is_point
    odd |= (digits == 0) | (digits > _EXACT_DIGITS)
    value = mantissa / _POWERS[np.minimum(fraction, _EXACT_DIGITS)]
    np.negative(value, out=value, where=negative)
    return value, odd


def _with_exponent(buffer: Bytes, start: Ints, end: Ints, decimal: int) -> Floats:
    """Numbers that may carry an exponent; what is left over goes one by one."""
    mark = np.full(len(start), -1, dtype=np.int64)
    last = len(buffer) - 1
    for place in range(min(int((end - start).max()), _WIDEST)):
        where = start + place
        found = ((buffer[np.minimum(where, last)] | 32) == 101) & (where < end) & (mark < 0)
        mark[found] = where[found]
    marked = mark >= 0
    value = np.full(len(start), np.nan)
    odd = np.ones(len(start), dtype=bool)
    if marked.any():
        mantissa, bad_mantissa = _plain(buffer, start[marked], mark[marked], decimal)
        exponent, bad_exponent = _plain(buffer, mark[marked] + 1, end[marked], 0)
        bad = bad_mantissa | bad_exponent | (np.abs(exponent) > 300)
        power = np.where(bad, 0.0, np.abs(exponent))
        scale = 10.0**power
        value[marked] = np.where(exponent < 0, mantissa / scale, mantissa * scale)
        odd[marked] = bad
    if odd.any():
        text = buffer.tobytes().replace(bytes([decimal]), b".")
        pairs = zip(start[odd].tolist(), end[odd].tolist(), strict=True)
        value[odd] = [_number(text[a:b]) for a, b in pairs]
    return value


def _number(piece: bytes) -> float:
    if b"_" in piece or len(piece) > 400:
        return float("nan")
    try:
        return float(piece)
    except ValueError:
        return float("nan")
