"""LED strings that stand alone: a series resistor or a driver, headroom and waste on each voltage.

A string of n LEDs takes n x V_f. A series resistor takes what is over, at the string's current; a step-down driver
needs its headroom over the string and wastes only what its efficiency says [any circuits textbook; common practice].
"""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.errors import InputError
from pdcheck.named import NamedTuple


class LedOnVoltage(NamedTuple):
    """A string on one supply voltage.

    ``over_v``: supply less string and headroom [V], negative where it does not light as it should. ``lights``: whether
    the string gets its current. ``resistor_ohm``: the series resistor for it (None with a driver, or where it does not
    light). Powers in watts; ``waste_share`` is the share of ``supply_w`` that does not reach the LEDs, 0 to 1.
    """

    supply_v: float
    over_v: float
    lights: bool
    current_a: float
    resistor_ohm: float | None
    led_w: float
    waste_w: float
    supply_w: float
    waste_share: float


def _string(leds: int, vf_v: float, current_a: float) -> float:
    if leds < 1 or vf_v <= 0.0 or current_a <= 0.0:
        raise InputError(
            f"{leds} LEDs of {vf_v} V at {current_a} A", expected="at least one LED, a voltage and a current above 0"
        )
    return leds * vf_v


def _row(
    supply_v: float, over_v: float, current_a: float, resistor_ohm: float | None, led_w: float, supply_w: float
) -> LedOnVoltage:
    waste_w = supply_w - led_w
    share = waste_w / supply_w if supply_w > 0.0 else 0.0
    return LedOnVoltage(supply_v, over_v, current_a > 0.0, current_a, resistor_ohm, led_w, waste_w, supply_w, share)


def _dark(supply_v: float, over_v: float) -> LedOnVoltage:
    return _row(supply_v, over_v, 0.0, None, 0.0, 0.0)


def with_resistor(leds: int, vf_v: float, current_a: float, supplies_v: Iterable[float]) -> list[LedOnVoltage]:
    """The series resistor for a string on each supply voltage [V], and what it burns.

    Raises:
        InputError: no LEDs, no forward voltage or no current.

    >>> dark, bright = with_resistor(3, 3.4, 0.25, [9.0, 20.0])
    >>> dark.lights, round(bright.resistor_ohm, 3), round(bright.waste_share, 2)
    (False, 39.2, 0.49)
    """
    string_v = _string(leds, vf_v, current_a)
    led_w, overs = string_v * current_a, [(volts, volts - string_v) for volts in supplies_v]
    return [
        _row(volts, over, current_a, over / current_a, led_w, volts * current_a) if over > 0.0 else _dark(volts, over)
        for volts, over in overs
    ]


def on_resistor(leds: int, vf_v: float, resistor_ohm: float, supplies_v: Iterable[float]) -> list[LedOnVoltage]:
    """The current of a string with a given series resistor [ohm] on each supply voltage [V].

    >>> [round(row.current_a, 3) for row in on_resistor(3, 3.4, 39.2, [9.0, 15.0, 20.0])]
    [0.0, 0.122, 0.25]
    """
    if resistor_ohm <= 0.0:
        raise InputError(f"a series resistor of {resistor_ohm} ohm", expected="more than 0 ohm")
    string_v = _string(leds, vf_v, 1.0)
    rows = []
    for supply_v in supplies_v:
        over = supply_v - string_v
        current = max(over, 0.0) / resistor_ohm
        rows.append(_row(supply_v, over, current, resistor_ohm, string_v * current, supply_v * current))
    return rows


def on_driver(
    leds: int,
    vf_v: float,
    current_a: float,
    supplies_v: Iterable[float],
    *,
    headroom_v: float = 0.0,
    efficiency: float = 1.0,
) -> list[LedOnVoltage]:
    """A string on a step-down driver that holds its current, on each supply voltage [V].

    >>> [row.lights for row in on_driver(3, 3.4, 0.25, [9.0, 12.0], headroom_v=1.0)]
    [False, True]
    """
    string_v = _string(leds, vf_v, current_a)
    if not 0.0 < efficiency <= 1.0:
        raise InputError(f"an efficiency of {efficiency}", expected="above 0, at most 1")
    led_w = string_v * current_a
    overs = [(volts, volts - string_v - headroom_v) for volts in supplies_v]
    return [
        _row(volts, over, current_a, None, led_w, led_w / efficiency) if over >= 0.0 else _dark(volts, over)
        for volts, over in overs
    ]
