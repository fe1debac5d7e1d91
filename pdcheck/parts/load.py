"""Load: what hangs at the end of a branch: a power, a current, a resistance, or a string of LEDs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, Literal

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin
from pdcheck.facts.trade import LED_OVERDRIVE_SHARE
from pdcheck.parts.fields import Amps, Ohms, Part, Reader, Title, Volts, VoltsOrZero, VoltSpan, Watts, one_of
from pdcheck.parts.limits import PartLimit, limit_rule
from pdcheck.parts.mistakes import mistake
from pdcheck.quantities import format_quantity, parse_quantity, quoted

Driver = Literal["driver", "resistor"]
MAKER = Origin("the load's own figures, from the rig file", "rig")
VOLTAGE_HIGH = limit_rule(
    "load-voltage-high",
    "stop",
    "Too much voltage at a load",
    MAKER,
    "Do not connect it: set a lower voltage, or put a converter before it.",
    "may get {value} and is rated for {limit}",
    about="load",
    supply=True,
)
VOLTAGE_LOW = limit_rule(
    "load-voltage-low",
    "fail",
    "Too little voltage at a load",
    MAKER,
    "Set a higher voltage, or use wires that drop less.",
    "gets {value} in the worst case and needs {limit}",
    about="load",
)
LED_HEADROOM = limit_rule(
    "led-headroom",
    "fail",
    "Too little voltage for an LED string",
    Origin("n x Vf plus headroom", "common practice"),
    "Use fewer LEDs in series, a higher voltage, or a boost driver.",
    "its LEDs need {limit} and get {value} in the worst case: they stay dark or dim",
    about="load",
    off_words="its LEDs need {limit} and get at most {value}: they stay dark",
)
LED_CURRENT = limit_rule(
    "led-current",
    "warn",
    "Too much current for an LED string on a resistor",
    LED_OVERDRIVE_SHARE.origin,
    "Choose the resistor for the highest voltage that can occur, or use a driver.",
    "its LEDs get {value} in the worst case; "
    f"{format_quantity(LED_OVERDRIVE_SHARE.value, '%')} above what they are meant for is {{limit}}",
    about="load",
)
MOST_LEDS = 1000


def _read_count(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_LEDS:
        raise InputError(f"{quoted(value)} is not a number of LEDs", expected=f"a whole number, 1 to {MOST_LEDS}")
    return value


class Led(Part, init=False):
    """LEDs in series, ``vf_v`` [V] each, at ``current_a`` [A].

    ``driver``: a step-down driver that needs ``headroom_v`` [V] above the string. ``resistor``: a series resistor of
    ``resistor_ohm`` [ohm], or one chosen for the current where none is given.

    >>> Led(count=3, vf="3.4V", current="250mA").string_v
    10.2
    """

    count: Annotated[int, Reader(_read_count, {"type": "integer", "minimum": 1, "maximum": MOST_LEDS})]
    vf_v: Volts
    current_a: Amps
    driver: Annotated[Driver, one_of("a way to drive LEDs", "driver", "resistor")] = "driver"
    resistor_ohm: Ohms | None = None
    headroom_v: VoltsOrZero = 0.0

    @model_validator(mode="after")
    def _one_way(self) -> Led:
        if self.driver == "driver" and self.resistor_ohm is not None:
            what = "a resistor is given for LEDs on a driver"
            raise mistake(what, expected='driver = "resistor", or no resistor', key=("resistor",))
        if self.driver == "resistor" and self.headroom_v:
            raise mistake("headroom is given for LEDs on a resistor", expected='driver = "driver"', key=("headroom",))
        return self

    @property
    def string_v(self) -> float:
        """Forward voltage of the whole string [V]."""
        return round(self.count * self.vf_v, 12)

    @property
    def power_w(self) -> float:
        """Power in the LEDs themselves [W] at their current."""
        return self.string_v * self.current_a


class Load(Part, init=False):
    """Exactly one of a power [W], a current [A], a resistance [ohm] or LEDs; as text ``"24W"``, ``"2A"``, ``"6ohm"``.

    ``voltage_v`` is the range [V] that it needs and stands, where it is known.

    >>> Load(power="24W").power_w, Load("500 mA").current_a
    (24.0, 0.5)
    """

    rules_out: ClassVar[dict[str, tuple[str, ...]]] = {
        kind: tuple({"power_w", "current_a", "resistance_ohm", "led"} - {kind})
        for kind in ("power_w", "current_a", "resistance_ohm", "led")
    }

    title: Title = ""
    power_w: Watts | None = None
    current_a: Amps | None = None
    resistance_ohm: Ohms | None = None
    led: Led | None = None
    voltage_v: VoltSpan | None = None

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        data = str(said)
        for unit, key in (("W", "power"), ("A", "current"), ("ohm", "resistance")):
            try:
                parse_quantity(data, unit)
            except InputError:
                continue
            if data.strip()[-1:].isdigit():
                break
            return {key: data}
        raise mistake(f"{quoted(said)} is not a load", expected='a quantity with its unit such as "24W", "2A", "6ohm"')

    @model_validator(mode="after")
    def _one_kind(self) -> Load:
        said = [key for key, value in self.kinds().items() if value is not None]
        if len(said) != 1:
            what = f"the load is given as {' and '.join(said)}" if said else "the load says nothing"
            raise mistake(what, expected="power, current, resistance or led, one of them", key=tuple(said[1:2]))
        return self

    def limits(self, branch: str) -> Iterator[PartLimit]:
        """What it needs and stands, behind a converter or straight on the bus."""
        node = f"{branch}/load"
        if self.voltage_v is not None:
            least, most = self.voltage_v
            yield PartLimit(VOLTAGE_HIGH, node, "voltage", "at_most", most, branch, "load", branch, "unloaded")
            yield PartLimit(VOLTAGE_LOW, node, "voltage", "at_least", least, branch, "load", branch)
        if self.led is not None:
            needed = self.led.string_v + self.led.headroom_v
            yield PartLimit(LED_HEADROOM, node, "voltage", "at_least", needed, branch, "load", branch)
            if self.led.driver == "resistor":
                stated, share = self.led.current_a, 1 + LED_OVERDRIVE_SHARE.value
                yield PartLimit(LED_CURRENT, node, "current", "at_most", stated, branch, "load", branch, share=share)

    def kinds(self) -> dict[str, float | Led | None]:
        """The four ways to give a load, by the key of a file."""
        return {"power": self.power_w, "current": self.current_a, "resistance": self.resistance_ohm, "led": self.led}

    @property
    def kind(self) -> str:
        """The one that is given: ``power``, ``current``, ``resistance`` or ``led``."""
        return next(key for key, value in self.kinds().items() if value is not None)
