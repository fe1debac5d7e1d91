"""What a trigger asks for: a voltage, the highest, an adjustable one, a list of wishes, the most power, or nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Literal

from pdcheck.errors import InputError
from pdcheck.facts.voltage import EPR_MAX
from pdcheck.marks import Mark
from pdcheck.named import NamedTuple
from pdcheck.parts.fields import read_bounded
from pdcheck.parts.mistakes import nearest
from pdcheck.quantities import format_exactly, parse_quantity, quoted, tokens

# The last field of each keeps two kinds of request from being equal as tuples.


class FixedRequest(NamedTuple):
    """A fixed voltage [V], and the current [A] that is asked for with it, where one is set."""

    voltage_v: float
    current_a: float | None = None
    kind: Literal["fixed"] = "fixed"


class HighestRequest(NamedTuple):
    """The highest fixed voltage on offer."""

    kind: Literal["highest"] = "highest"


class PpsRequest(NamedTuple):
    """A programmed voltage [V] and current limit [A] from a PPS offer."""

    voltage_v: float
    current_a: float | None = None
    kind: Literal["pps"] = "pps"


class AvsRequest(NamedTuple):
    """An adjustable voltage [V] from an SPR or EPR AVS offer, and the current [A]."""

    voltage_v: float
    current_a: float | None = None
    kind: Literal["avs"] = "avs"


class PreferenceRequest(NamedTuple):
    """Fixed voltages [V] in the order of liking; the first that is offered."""

    voltages_v: tuple[float, ...]
    kind: Literal["prefer"] = "prefer"


class PowerRequest(NamedTuple):
    """The fixed offer of the most power."""

    kind: Literal["power"] = "power"


class NoRequest(NamedTuple):
    """No PD at all: 5 V by Type-C."""

    kind: Literal["none"] = "none"


Request = FixedRequest | HighestRequest | PpsRequest | AvsRequest | PreferenceRequest | PowerRequest | NoRequest
_WORDS: dict[str, Request] = {
    "highest": HighestRequest(),
    "power": PowerRequest(),
    "none": NoRequest(),
}
_EXPECTED = (
    'a request such as "15V", "15V 2A", "pps 13.2V 3A", "avs 12V", "prefer 20V 15V 9V", "highest", "power", "none"'
)


def parse_request(text: Any) -> Request:
    """Read a request as it stands in a rig file; a bare number is a voltage.

    >>> parse_request("15V"), parse_request("pps 13.2V 3A")
    (FixedRequest(voltage_v=15.0, current_a=None, kind='fixed'), PpsRequest(voltage_v=13.2, current_a=3.0, kind='pps'))
    >>> parse_request("prefer 20V 15V 9V")
    PreferenceRequest(voltages_v=(20.0, 15.0, 9.0), kind='prefer')
    """
    if isinstance(text, Request):
        return text
    if isinstance(text, int | float) and not isinstance(text, bool):
        return FixedRequest(_voltage(text))
    if not isinstance(text, str) or len(text) > 200:
        raise InputError(f"{quoted(text)} is not a request", expected=_EXPECTED)
    words = tokens(re.sub(r"[@>]", " ", text))
    if not words:
        raise InputError("the request is empty", expected=_EXPECTED)
    first = words[0].lower()
    if first in _WORDS:
        if len(words) > 1:
            raise InputError(f"{quoted(words[1])} after {quoted(first)} means nothing", expected=_EXPECTED)
        return _WORDS[first]
    if first in ("pps", "avs"):
        voltage, current = _voltage_and_current(words[1:], text)
        return PpsRequest(voltage, current) if first == "pps" else AvsRequest(voltage, current)
    if first == "prefer":
        voltages = tuple(_voltage(word) for word in words[1:])
        if not voltages or len(set(voltages)) < len(voltages):
            raise InputError(f"{quoted(text)} is no order of voltages", expected="each voltage once: prefer 20V 15V 9V")
        return PreferenceRequest(voltages)
    if first[0].isalpha():
        raise InputError(
            f"{quoted(text)} is not a request", expected=nearest(first, [*_WORDS, "pps", "avs", "prefer", "15V"])
        )
    return FixedRequest(*_voltage_and_current(words, text))


def request_text(request: Request, told: Callable[[float, str], str] = format_exactly) -> str:
    """A request as people read it, or with ``quantity_text`` as a rig file has it; the inverse of parse_request.

    >>> from pdcheck.quantities import quantity_text
    >>> request_text(PpsRequest(13.2, 3.0)), request_text(PpsRequest(13.2, 3.0), quantity_text)
    ('pps 13.2 V 3 A', 'pps 13.2V 3A')
    """
    match request:
        case FixedRequest(voltage, current) | PpsRequest(voltage, current) | AvsRequest(voltage, current):
            figures = [told(voltage, "V")] + ([] if current is None else [told(current, "A")])
            return " ".join(figures if request.kind == "fixed" else [request.kind, *figures])
        case PreferenceRequest(voltages):
            return " ".join(["prefer", *(told(voltage, "V") for voltage in voltages)])
    return request.kind


def _voltage(value: Any) -> float:
    voltage = read_bounded(value, "V", 1000, zero=False)
    if voltage > EPR_MAX.value:
        raise InputError(f"{quoted(value)} cannot be asked for", expected=f"at most {EPR_MAX.value:g} V")
    return voltage


def _voltage_and_current(words: list[str], text: str) -> tuple[float, float | None]:
    if not 1 <= len(words) <= 2:
        raise InputError(f"{quoted(text)} is not a request", expected=_EXPECTED)
    voltage = _voltage(words[0])
    current = parse_quantity(words[1], "A") if len(words) == 2 else None
    if current == 0:
        raise InputError(f"{quoted(text)} asks for no current", expected="a current above zero, or none")
    return voltage, current


AS_SETTING = Mark(request_text, {"type": "string"})
"""Marks a request that a result tells as its text."""
