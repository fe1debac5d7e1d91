"""Wire: what a wire costs at a current, or the thinnest that does."""

from __future__ import annotations

from typing import Any

from pdcheck.asking.values import quantity
from pdcheck.circuit.wire import least_area_mm2, least_cross_section, least_gauge, wire_cost
from pdcheck.errors import InputError
from pdcheck.parts.wire import Wire
from pdcheck.verdict.wire import OneWire, ThinnestWires, WireResult


def wire(
    length: str | float,
    current: str | float,
    *,
    drop: str | float | None = None,
    awg: str | int | None = None,
    mm2: str | float | None = None,
    contacts: str | float = 0.0,
    temperature: str | float = 20.0,
    stranded: bool = False,
) -> WireResult:
    """What a wire of ``length`` [m], one way, costs at a ``current`` [A]; without a size the thinnest ones that do.

    ``drop`` [V] is the most that it may drop, ``contacts`` [ohm] those of the pair, ``temperature`` [degrees C] that of
    the copper. Raises ``InputError``.

    >>> wire("2m", "3A", drop="0.3V")
    <WireResult: AWG 18 drops 251 mV; 1 mm² drops 234 mV>
    >>> bool(wire("2m", "3A", drop="0.3V", awg=20))
    False
    """
    length_m, current_a = quantity(length, "m", "length"), quantity(current, "A", "current")
    limit_v = None if drop is None else quantity(drop, "V", "drop")
    contacts_ohm = quantity(contacts, "ohm", "contacts", zero=True)
    celsius = quantity(temperature, "C", "temperature")
    size = {key: value for key, value in (("awg", awg), ("mm2", mm2)) if value is not None}
    if size:
        figures = {"length_m": length_m, "contacts_ohm": contacts_ohm, "stranded": stranded and awg is not None}
        asked = Wire(size | figures)
        return WireResult(length_m, current_a, limit_v, OneWire(wire_cost(asked, current_a, celsius)))
    if limit_v is None:
        raise InputError("drop is needed to find a wire, or awg or mm2 to look at one")
    metric: dict[str, Any] = {"contacts_ohm": contacts_ohm, "temperature_c": celsius}
    gauged = metric | {"stranded": stranded}
    found = ThinnestWires(
        least_gauge(length_m, current_a, limit_v, **gauged),
        least_cross_section(length_m, current_a, limit_v, **metric),
        least_area_mm2(length_m, current_a, limit_v, **gauged),
        contacts_ohm * current_a,
    )
    return WireResult(length_m, current_a, limit_v, found)
