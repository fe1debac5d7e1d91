"""LEDs in series, on a driver that holds their current or on a resistor."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal, Self, get_args

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin
from pdcheck.facts.trade import DIM_SHARE, LED_OVERDRIVE_SHARE, WEAK_SHARE
from pdcheck.parts.efficiency import counted
from pdcheck.parts.fields import Amps, Efficiency, Ohms, Part, Volts, VoltsOrZero, Watts, count_of, one_of
from pdcheck.parts.limits import LimitRule, PartLimit
from pdcheck.parts.loads.load import Load
from pdcheck.physics.number import Number, greater
from pdcheck.physics.ports import LinearPort, PowerPort
from pdcheck.quantities import format_quantity

Driver = Literal["driver", "resistor"]
MOST_LEDS = 1000
_NO_DEMAND = 1e-300


class Led(Part, init=False):
    """LEDs in series, ``vf_v`` [V] each, at ``current_a`` [A].

    ``driver``: a step-down driver that needs ``headroom_v`` [V] above the string and wastes what its ``efficiency``
    says. ``resistor``: a series resistor of ``resistor_ohm`` [ohm], or one chosen for the current where none is given.

    >>> Led(count=3, vf="3.4V", current="250mA").string_v
    10.2
    """

    count: Annotated[int, count_of("LEDs", MOST_LEDS)]
    vf_v: Volts
    current_a: Amps
    driver: Annotated[Driver, one_of("a way to drive LEDs", *get_args(Driver))] = "driver"
    resistor_ohm: Ohms | None = None
    headroom_v: VoltsOrZero = 0.0
    efficiency: Efficiency | None = None
    least_a: Amps | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Led:
        if self.driver == "driver" and self.resistor_ohm is not None:
            what = "a resistor is given for LEDs on a driver"
            raise InputError(what, expected='driver = "resistor", or no resistor', key=("resistor",))
        if self.driver == "resistor" and self.headroom_v:
            raise InputError(
                "headroom is given for LEDs on a resistor", expected='driver = "driver"', key=("headroom",)
            )
        if self.driver == "resistor" and self.efficiency is not None:
            what = "an efficiency is given for LEDs on a resistor"
            raise InputError(what, expected='driver = "driver", or no efficiency', key=("efficiency",))
        if self.least_a is not None and self.least_a > self.current_a:
            raise InputError(
                "the least is above the current", expected="the least that is bright enough", key=("least",)
            )
        return self

    @property
    def string_v(self) -> float:
        """Forward voltage of the whole string [V]."""
        return round(self.count * self.vf_v, 12)

    @property
    def power_w(self) -> float:
        """Power in the LEDs themselves [W] at their current."""
        return self.string_v * self.current_a

    @property
    def needs_v(self) -> float:
        """The least voltage [V] that lights the string as it should: its own, and its driver's headroom."""
        return self.string_v + self.headroom_v

    def resistor_on(self, supply_v: float) -> float:
        """The series resistor of a string [ohm]: as given, else for its current on a supply [V].

        On a supply that does not reach the string no resistor gives that current; then the one for twice the string's
        voltage stands in, and the string stays dark.

        >>> round(Led(count=3, vf="3.4V", current="250mA", driver="resistor").resistor_on(20.0), 6)
        39.2
        """
        if self.resistor_ohm is not None:
            return self.resistor_ohm
        over = supply_v - self.string_v
        return (over if over > 0.0 else self.string_v) / self.current_a


LED_HEADROOM = LimitRule(
    "led-headroom",
    "fail",
    "Too little voltage for an LED string",
    Origin("n x Vf plus headroom", "common practice"),
    "Use fewer LEDs in series, a higher voltage, or a boost driver.",
    "its LEDs need {limit} and get {value} in the worst case: they stay dark or dim",
    short="dark",
    about="load",
    off_words="its LEDs need {limit} and get at most {value}: they stay dark",
)
LED_CURRENT = LimitRule(
    "led-current",
    "warn",
    "Too much current for an LED string on a resistor",
    LED_OVERDRIVE_SHARE.origin,
    "Choose the resistor for the highest voltage that can occur, or use a driver.",
    "its LEDs get {value} in the worst case; "
    f"{format_quantity(LED_OVERDRIVE_SHARE.value, '%')} above what they are meant for is {{limit}}",
    short="too bright",
    about="load",
)


BRIGHTER = "Set a higher voltage, choose a smaller resistor, or use a driver."
_NEAR_DIM = LimitRule(
    "led-dim",
    "warn",
    "An LED string that is dim",
    DIM_SHARE.origin,
    BRIGHTER,
    "its LEDs get only {value} in the worst case: they are dim",
    short="dim",
    about="load",
    as_stated=True,
)
LED_DIM = LimitRule(
    "led-dark",
    "fail",
    "An LED string that is too dark",
    WEAK_SHARE.origin,
    BRIGHTER,
    "its LEDs get only {value} in the worst case; below {limit} they are too dark",
    short="too dark",
    about="load",
    near=_NEAR_DIM,
    as_stated=True,
)


class LedLoad(Load, init=False):
    """A string of LEDs: behind a driver a constant power, behind a resistor dark up to its voltage and linear above.

    >>> LedLoad(led={"count": 3, "vf": "3V", "current": "0.5A", "driver": "resistor"}).on(15.0).port(0.5)
    LinearPort(resistance_ohm=12.5, threshold_v=9.0)
    """

    key: ClassVar[str] = "led"
    can_be_halved: ClassVar[bool] = False
    has_own_voltage: ClassVar[bool] = False
    grows_with_voltage: ClassVar[bool] = True

    led: Led
    average_w: Watts | None = None

    def words(self) -> str:
        """How many, and at which current."""
        return f"{self.led.count} LEDs at {format_quantity(self.led.current_a, 'A')}"

    def terminals(self, branch: str) -> str:
        """Before its resistor or its driver; the string itself has its own voltage."""
        if self._resistor:
            return f"across {branch}'s LEDs and their resistor together"
        return f"input of {branch}'s LED driver, not at the LEDs"

    def on(self, supply_v: float) -> Self:
        """The same with the resistor that is chosen for a supply [V]."""
        return self._with("resistor_ohm", self.led.resistor_on(supply_v)) if self._resistor else self

    @property
    def _resistor(self) -> bool:
        return self.led.driver == "resistor"

    def _with(self, field: str, value: Number) -> Self:
        return self.model_copy(update={"led": self.led.model_copy(update={field: value})})

    def port(self, resistance_ohm: Number) -> PowerPort | LinearPort:
        """What a voltage before a loop resistance [ohm] sees of it."""
        if self._resistor:
            assert self.led.resistor_ohm is not None, "a resistor is chosen by on() before it is counted with"
            return LinearPort(resistance_ohm + self.led.resistor_ohm, self.led.string_v)
        return PowerPort(resistance_ohm, self.led.power_w / counted(self.led.efficiency))

    def meant_w(self, design_v: float | None) -> float:
        """What its LEDs take at their current [W]."""
        return self.led.power_w

    def tolerance(self, factor: Number) -> Self:
        """The current of its driver off by a factor, or its resistor by the same part the other way."""
        if self._resistor:
            return self._with("resistor_ohm", self.led.resistor_ohm * (2.0 - factor))
        return self._with("current_a", self.led.current_a * factor)

    def demand(self, factor: Number) -> Self:
        """That many times the current of its driver, or as many resistors side by side before one string."""
        if self._resistor:
            return self._with("resistor_ohm", self.led.resistor_ohm / greater(factor, _NO_DEMAND))
        return self._with("current_a", self.led.current_a * factor)

    def limits(self, branch: str, *, straight: bool, design_v: float | None = None) -> Iterator[PartLimit]:
        """The voltage that lights it, and the current that it stands."""
        yield from super().limits(branch, straight=straight)
        node, led = f"{branch}/load", self.led
        yield PartLimit(LED_HEADROOM, node, "voltage", "at_least", led.needs_v, branch, "load", branch)
        if self._resistor:
            dark = WEAK_SHARE.value if led.least_a is None else led.least_a / led.current_a
            dim = PartLimit(LED_DIM, node, "current", "at_least", led.current_a, branch, "load", branch)
            yield dim._replace(share=dark, near_share=max(dark, DIM_SHARE.value))
            share = 1 + LED_OVERDRIVE_SHARE.value
            yield PartLimit(LED_CURRENT, node, "current", "at_most", led.current_a, branch, "load", branch, share=share)

    def losses(self, voltage_v: Number, current_a: Number) -> dict[str, Number]:
        """What its resistor or its driver burns [W]."""
        if self._resistor:
            return {"resistor": current_a * current_a * self.led.resistor_ohm}
        return {"driver": voltage_v * current_a * (1.0 - counted(self.led.efficiency))}

    def inside(self, voltage_v: Number, current_a: Number) -> dict[str, tuple[Number, Number]]:
        """The string itself: its volts and its amperes."""
        if self._resistor:
            return {"string": (voltage_v - current_a * self.led.resistor_ohm, current_a)}
        return {"string": (self.led.string_v + 0.0 * voltage_v, self.led.current_a + 0.0 * voltage_v)}

    @property
    def needs_v(self) -> float:
        """The voltage of its string, and its driver's headroom [V]."""
        return self.led.needs_v

    @property
    def starts_at_v(self) -> float:
        """A driver waits for string and headroom [V]; a string with a resistor is there from 0 V on."""
        return 0.0 if self._resistor else self.led.needs_v
