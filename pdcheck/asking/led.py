"""LED: a string of LEDs on each voltage, with its resistor or a driver."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

from pdcheck.asking.values import quantity, voltages
from pdcheck.circuit.led import on_driver, on_resistor, with_resistor
from pdcheck.errors import InputError
from pdcheck.parts.loads.led import Driver
from pdcheck.quantities import quoted
from pdcheck.verdict.led import LedResult


def led(
    count: int,
    vf: str | float,
    current: str | float | None = None,
    *,
    on: str | Iterable[str | float] = "5V,9V,12V,15V,20V",
    way: Driver = "resistor",
    ohm: str | float | None = None,
    headroom: str | float = 0.0,
    efficiency: str | float = 1.0,
) -> LedResult:
    """A string of ``count`` LEDs of ``vf`` [V] on each voltage of ``on``: its resistor, or a driver's headroom.

    ``current`` [A] is that of the string; ``ohm`` instead is a series resistor that is there. A driver needs
    ``headroom`` [V] above the string. Raises ``InputError``.

    >>> result = led(3, "3.4V", "250mA", on="9V, 20V")
    >>> result, f"{result.on[1].resistor_ohm:.1f} ohm"
    (<LedResult: lights on 20 V>, '39.2 ohm')
    """
    if not isinstance(count, int):
        raise InputError(f"{quoted(count)} is no number of LEDs", argument="count", expected="a whole number")
    if way not in get_args(Driver):
        raise InputError(f"{quoted(way)} is none", argument="way", expected=" or ".join(get_args(Driver)))
    vf_v, supplies = quantity(vf, "V", "vf"), voltages(on, "on")
    if (current is None) == (ohm is None):
        raise InputError("current or ohm is needed, one of them")
    if ohm is not None:
        if way == "driver":
            raise InputError("ohm is for a series resistor, not for a driver")
        rows = on_resistor(count, vf_v, quantity(ohm, "ohm", "ohm"), supplies)
    elif way == "driver":
        room, ratio = quantity(headroom, "V", "headroom", zero=True), quantity(efficiency, "%", "efficiency")
        amps = quantity(current or "", "A", "current")
        rows = on_driver(count, vf_v, amps, supplies, headroom_v=room, efficiency=ratio)
    else:
        rows = with_resistor(count, vf_v, quantity(current or "", "A", "current"), supplies)
    return LedResult(count, vf_v, way, tuple(rows))
