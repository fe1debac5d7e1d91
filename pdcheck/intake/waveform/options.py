"""How a captured waveform is to be read, as people type it."""

from __future__ import annotations

import re

from pdcheck.errors import InputError
from pdcheck.intake.stream import How

_RATE = r"(?i)(\d+(?:[.,]\d*)?(?:[eE][+-]?\d{1,2})?)\s*([kKMG]?)\s*(?:hz|s/s|sa/s|sps)?"
_PREFIX = {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}


def waveform_options(channel: str | None, rate: str | float | None, threshold: str | float | None) -> How:
    """How a waveform is to be read, by the options as typed. Raises ``InputError`` for what is no rate or no voltage.

    >>> waveform_options("CC1", "10MHz", None)[:3]
    ('CC1', 10000000.0, None)
    """
    if threshold is not None:
        # Most inputs are no waveforms, and quantities take longer to load than a message to read.
        from pdcheck.quantities import parse_quantity

        threshold = parse_quantity(threshold, "V", signed=True)
    return How(channel, None if rate is None else sample_rate(rate), threshold)


def sample_rate(text: str | float) -> float:
    """A sample rate in Hz.

    >>> sample_rate("2e6"), sample_rate("12.5 MHz"), sample_rate("500 kS/s")
    (2000000.0, 12500000.0, 500000.0)
    """
    found = re.fullmatch(_RATE, str(text).strip())
    if found is None:
        raise InputError(
            f"{str(text)[:40]!r} is no sample rate", argument="rate", expected="a rate such as 10MHz or 2e6"
        )
    return float(found[1].replace(",", ".")) * _PREFIX[found[2].lower()]
