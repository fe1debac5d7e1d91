"""Load: what every kind of load has and answers, and how one is told from another by the keys that are given."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Self, TypeVar, cast

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import core_schema

from pdcheck.errors import InputError
from pdcheck.facts.cautions import Caution
from pdcheck.facts.origin import Origin
from pdcheck.parts.fields import Part, Seconds, Share, Times, Title, VoltSpan, file_key
from pdcheck.parts.limits import LimitRule, PartLimit
from pdcheck.parts.mistakes import nearest
from pdcheck.physics.number import Number
from pdcheck.physics.ports import Port
from pdcheck.quantities import SLACK, format_quantity, key_by_unit, quoted

MAKER = Origin("the load's own figures, from the rig file", "rig")
Turns = tuple[tuple[float, "Load"], ...]
"""What a load is in turn, each with its part of the time (0..1)."""
LESS_VOLTAGE = "Do not connect it: set a lower voltage, or put a converter before it."
MORE_VOLTAGE = "Set a higher voltage, or use wires that drop less."
VOLTAGE_HIGH = LimitRule(
    "load-voltage-high",
    "stop",
    "Too much voltage at a load",
    MAKER,
    LESS_VOLTAGE,
    "may get {value} and is rated for {limit}",
    if_words="{branch} is rated for {needs} or more",
    short="too much voltage: do not connect",
    supply=True,
)
VOLTAGE_LOW = LimitRule(
    "load-voltage-low",
    "fail",
    "Too little voltage at a load",
    MAKER,
    MORE_VOLTAGE,
    "gets {value} in the worst case and needs {limit}",
    if_words="{branch} works from {needs} or less",
    short="too little voltage",
)


class Load(Part, init=False):
    """What hangs at the end of a branch: by its keys one of the kinds in this folder, or a text such as ``"24W"``.

    ``voltage_v`` is the range [V] that it needs and stands, where it is known. For ``start_time_s`` [s] after it gets
    its voltage it takes ``start_factor`` times as much, as a cold lamp or a standing motor does. A kind is a subclass
    with its ``key`` in a file and its ``figure``, the field of that key; ``unit`` is that of the figure, if it is a
    plain quantity, and ``example`` a text that people may type for it.

    What it takes in time: ``duty`` (0..1) is the part of the time in which it is on at all, and a kind may have an
    ``average`` and a ``peak`` beside its figure, which is what it takes at worst for long. Circuits are judged at the
    peak (``on``); energy follows what it takes over time (``over_time``), heat as well (``heating``).

    Four things are called more load, and each has its name: ``tolerance`` (the figure that is stated is off),
    ``demand`` (somebody asks for more), ``share`` (a test load or a part of the real one takes its place) and ``sized``
    (another one is built, meant for more).

    >>> Load("24W").kind, Load(current="500 mA").words(), Load.model_validate("6ohm").kind
    ('power', '500 mA', 'resistance')
    """

    key: ClassVar[str] = ""
    figure: ClassVar[str] = ""
    unit: ClassVar[str] = ""
    example: ClassVar[str] = ""
    can_be_halved: ClassVar[bool] = True
    """Whether a test load, or a part of the real one, can take half of it."""
    grows_with_voltage: ClassVar[bool] = False
    """Whether a better cable can make it take more."""
    has_own_voltage: ClassVar[bool] = True
    """Whether it is made for a voltage, which nothing but its ``voltage`` tells."""
    cautions: ClassVar[tuple[Caution, ...]] = ()
    """What its kind asks to be said before anything else."""
    kinds: ClassVar[dict[str, type[Load]]] = {}
    every_field: ClassVar[dict[str, FieldInfo]] = {}
    """The fields of all kinds: what may stand in a file."""

    title: Title = ""
    voltage_v: VoltSpan | None = None
    start_factor: Times | None = None
    start_time_s: Seconds | None = None
    duty: Share | None = None

    @model_validator(mode="after")
    def _in_time(self) -> Self:
        stated, peak, average = self.stated_in_time
        if peak is not None and stated is not None and peak < stated:
            raise InputError("the peak is below what it takes", expected="a peak at least as great", key=("peak",))
        if average is None:
            return self
        if stated is not None and average > stated * (1 + SLACK):
            raise InputError("the average is above what it takes at worst", expected="less of it", key=("average",))
        if self.duty is not None and (stated is None or abs(average - stated * self.duty) > 1e-3 * average):
            what = "average and duty both say what it takes over time"
            raise InputError(what, expected="one of them", key=("duty",))
        return self

    if TYPE_CHECKING:  # a load is always of a kind, and each kind has its own

        def port(self, resistance_ohm: Number) -> Port:
            """What a voltage before a loop resistance [ohm] sees of it."""

    def __new__(cls, said: Any = None, /, **stated: Any) -> Load:
        """An instance of the kind that is told."""
        return super().__new__(cls if cls is not Load else cls.kinds[_key(_table(stated if said is None else said))])

    @classmethod
    def _spoken(cls, said: Any) -> Any:
        return _table(said)

    def replace(self, changes: Mapping[str, Any] | None = None, /, **fields: Any) -> Self:
        """As of every part; the key of another kind makes it one of that kind.

        >>> Load("24W").replace(current="2A").words()
        '2 A'
        """
        told = {**(changes or {}), **fields}
        own = {file_key(field) for field in type(self).model_fields}
        if any(file_key(key) in self.kinds and file_key(key) not in own for key in told):
            kept = {key: value for key, value in self.to_dict().items() if key in map(file_key, Load.model_fields)}
            return cast("Self", Load.model_validate({**kept, **told}))
        return super().replace(told)

    @classmethod
    def __pydantic_init_subclass__(cls, **_: Any) -> None:
        cls.kinds[cls.key] = cls

    @classmethod
    def settle(cls) -> None:
        """Once all kinds are known: a load is any of them."""
        for kind in cls.kinds.values():
            cls.every_field |= kind.model_fields

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        if cls.key or not cls.kinds:
            return handler(source)
        kinds = {kind.__name__: handler.generate_schema(kind) for kind in cls.kinds.values()}
        union = core_schema.tagged_union_schema(kinds, _tag)
        ref = f"{cls.__module__}.{cls.__name__}:kinds"
        return core_schema.no_info_before_validator_function(_table, union, ref=ref)

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        if cls.key:
            return handler(schema)
        kinds: dict[str, core_schema.CoreSchema] = schema["schema"]["choices"]
        return {"anyOf": [*map(handler, kinds.values()), {"type": "string"}]}

    @property
    def kind(self) -> str:
        """The key that it is given by."""
        return self.key

    @property
    def stated(self) -> Number:
        """The figure that is stated, in the unit of its kind."""
        return getattr(self, self.figure)

    def with_figure(self, value: Number) -> Self:
        """The same with another figure, which is not held against what a file may say."""
        return self.model_copy(update={self.figure: value})

    def words(self) -> str:
        """What it is, as people say it."""
        return format_quantity(self.stated, self.unit)

    @property
    def stated_in_time(self) -> tuple[float | None, float | None, float | None]:
        """Its figure, its peak and its average, in one unit; None for what is not stated or has another unit."""
        names = ("current_a", "peak_a", "average_a") if self.unit == "A" else ("power_w", "peak_w", "average_w")
        stated, peak, average = (getattr(self, name, None) for name in names)
        return stated, peak, average

    @property
    def changes(self) -> bool:
        """Whether it takes something else over time than at its peak."""
        return self.duty is not None or any(each is not None for each in self.stated_in_time[1:])

    def _averaged(self) -> Load | None:
        """The load that takes its stated average all the time; None where no average is stated."""
        average = self.stated_in_time[2]
        if average is None or self.unit != "A":
            return None if average is None else self.kinds["power"].model_construct(power_w=average)
        return self.kinds["current"].model_construct(current_a=average)

    def terminals(self, branch: str) -> str:
        """Where a meter finds the voltage that it gets."""
        return f"terminals of {branch}'s load"

    def at_peak(self) -> Self:
        """The same taking its peak, where one is stated.

        >>> Load(power="18W", average="9W", peak="30W").at_peak().words()
        '30 W'
        """
        peak = self.stated_in_time[1]
        return self if peak is None else self.with_figure(peak)

    @property
    def bench(self) -> str:
        """What to mind when it is first joined in full; empty where nothing is special."""
        return ""

    def on(self, supply_v: float) -> Load:
        """The same at its peak, with all that is chosen for its supply [V] filled in."""
        return self.at_peak()

    def over_time(self, supply_v: float) -> Turns:
        """What it is in turn, each with its part of the time (0..1), on a supply [V]: its average, or on and off.

        >>> [(part, load.words()) for part, load in Load(power="18W", average="9W", peak="30W").over_time(12.0)]
        [(1.0, '9 W')]
        >>> [(part, load.words()) for part, load in Load(current="2A", duty="25%").over_time(12.0)]
        [(0.25, '2 A'), (0.75, '0 A')]
        """
        average = self._averaged()
        if average is not None and self.duty is None:
            return ((1.0, average),)
        whole = self if self.stated_in_time[1] is not None else self.on(supply_v)
        if self.duty is None or self.duty >= 1.0:
            return ((1.0, whole),)
        return (self.duty, whole), (1.0 - self.duty, self.share(0.0))

    def heating(self, supply_v: float) -> tuple[Turns, Turns]:
        """What it is in turn where heat counts, on a supply [V]: as is usual, and as warms the wires most.

        Of a stated average nobody knows the course; a wire gets warmest where it comes in bursts at the peak. What
        cannot take less than all of it, a resistance or a string, comes in bursts anyway. Empty where nothing changes.

        >>> usual, worst = Load(power="18W", average="9W").heating(12.0)
        >>> [[(part, load.words()) for part, load in each] for each in (usual, worst)]
        [[(1.0, '9 W')], [(0.5, '18 W'), (0.5, '0 A')]]
        """
        average = self._averaged()
        if average is None or self.duty is not None:
            turns = self.over_time(supply_v) if self.duty is not None else ()
            return turns, turns
        most = self.on(supply_v)
        mean_a, most_a = average.current_at(supply_v) or 0.0, most.current_at(supply_v) or 0.0
        part = min(mean_a / most_a, 1.0) if most_a > 0.0 else 1.0
        bursts: Turns = ((part, most), (1.0 - part, most.share(0.0)))
        return (((1.0, average),) if type(average) is type(self) else bursts), bursts

    def tolerance(self, factor: Number) -> Load:
        """The same with the figure that is stated off by a factor, as a print on it may be; more is more load.

        >>> [Load(text).tolerance(1.2).words() for text in ("10W", "10ohm")]
        ['12 W', '8 Ω']
        """
        return self.with_figure(self.stated * factor)

    def demand(self, factor: Number) -> Load:
        """One that asks for that many times as much: of a resistance, as many of them side by side.

        >>> [Load(text).demand(1.25).words() for text in ("10W", "10ohm")]
        ['12.5 W', '8 Ω']
        """
        return self.tolerance(factor)

    def share(self, share: float) -> Load:
        """What stands in for it at first power-up: a share (0..1) of it; at 0 nothing hangs on the output at all.

        >>> Load("6ohm").share(0.5).words(), Load("6ohm").share(0.0).words()
        ('12 Ω', '0 A')
        """
        if share <= 0.0:
            return self.kinds["current"].model_construct(current_a=0.0)
        return self if share >= 1.0 or not self.can_be_halved else self.demand(share)

    def sized(self, times: float) -> Self:
        """One that is built for so many times as much: all that is stated of it in amperes and watts grows with it.

        ``times`` is more than 0.

        >>> load = Load(power="18W", average="9W", peak="30W").sized(0.5)
        >>> load.words(), load.at_peak().words(), Load(resistance="6ohm", power="24W").sized(2.0).meant_w(None)
        ('9 W', '15 W', 48.0)
        """
        return _sized(self, times)

    def meant_w(self, design_v: float | None) -> float | None:
        """The useful power [W] that it is there for on a bus of ``design_v`` [V]; None where nothing says."""
        return None

    def current_at(self, voltage_v: float) -> float | None:
        """Current [A] that it takes at its terminals' voltage [V]; None where no one current goes with it.

        >>> Load("18W").current_at(12.0), Load("6ohm").current_at(12.0)
        (1.5, 2.0)
        """
        return float(self.port(0.0).current(voltage_v)[0]) if voltage_v > 0.0 else None

    def limits(self, branch: str, *, straight: bool, design_v: float | None = None) -> Iterator[PartLimit]:
        """What it needs and stands at its terminals; ``straight``: it hangs on the bus without a converter.

        ``design_v`` [V] is the bus voltage that the rig is built for, where it is built for one.
        """
        if self.voltage_v is None and not (straight and self.has_own_voltage):
            return
        node, key = f"{branch}/load", f"{branch}.load.voltage"
        least, most = self.voltage_v or (None, None)
        yield PartLimit(
            VOLTAGE_HIGH, node, "voltage", "at_most", most, branch, "load", branch, "unloaded", key, "print"
        )
        yield PartLimit(VOLTAGE_LOW, node, "voltage", "at_least", least, branch, "load", branch, "loaded", key, "print")

    def losses(self, voltage_v: Number, current_a: Number) -> dict[str, Number]:
        """What is lost inside of it [W], by part; the rest of what it takes is useful."""
        return {}

    def inside(self, voltage_v: Number, current_a: Number) -> dict[str, tuple[Number, Number]]:
        """What goes on inside of it: volts and amperes by the name of the place."""
        return {}

    @property
    def needs_v(self) -> float:
        """The least voltage [V] at its terminals to do anything at all, by its own build; 0 where nothing says."""
        return 0.0

    @property
    def starts_at_v(self) -> float | None:
        """The voltage [V] at which it starts to draw; None where nobody knows."""
        return 0.0

    @property
    def ohmmeter_ohm(self) -> float | None:
        """What an ohmmeter shows across its terminals [ohm]; None where it shows no one figure."""
        return None


def _table(data: Any) -> Any:
    """What was given as a table of keys: a text says its kind by its unit. Refuses what is no load of one kind."""
    if isinstance(data, str):
        data = _from_text(data)
    if not isinstance(data, dict | Load):
        raise InputError(f"{quoted(data)} is not a load", expected=_expected())
    if isinstance(data, dict):
        _key(data)
    return data


def _from_text(text: str) -> dict[str, Any]:
    key = key_by_unit(text.strip(), {kind.unit: kind.key for kind in _quantities()})
    if key is not None:
        return {key: text}
    raise InputError(f"{quoted(text)} is not a load", expected=_expected())


def _quantities() -> list[type[Load]]:
    return [kind for kind in Load.kinds.values() if kind.unit]


def _expected() -> str:
    return "a quantity with its unit such as " + ", ".join(f'"{kind.example}"' for kind in _quantities())


def _key(data: dict[str, Any]) -> str:
    """The key of the kind that a table speaks of."""
    keys = list(map(file_key, data))
    said = [key for key in keys if key in Load.kinds]
    known = [file_key(field) for field in Load.every_field]
    unknown = next((key for key in keys if key not in known), None)
    if not said and unknown is not None:
        raise InputError(f"unknown key {quoted(unknown)}", expected=nearest(unknown, known), key=(unknown,))
    # A kind may have a key that is the name of another kind beside its own.
    fitting = [key for key in said if all(each in map(file_key, Load.kinds[key].model_fields) for each in said)]
    if len(fitting) != 1:
        *most, last = Load.kinds
        what = f"the load is given as {' and '.join(said)}" if said else "the load says nothing"
        raise InputError(what, expected=f"{', '.join(most)} or {last}, one of them", key=tuple(said[1:2]))
    return fitting[0]


def _tag(data: Any) -> str:
    return (Load.kinds[_key(data)] if isinstance(data, dict) else type(data)).__name__


_Sized = TypeVar("_Sized", bound=Part)


def _sized(part: _Sized, times: float) -> _Sized:
    """A part with its amperes and watts that many times as much, its ohms as many times less, in what is in it too."""
    changes: dict[str, Any] = {}
    for name in type(part).model_fields:
        value = getattr(part, name)
        if isinstance(value, Part):
            changes[name] = _sized(value, times)
        elif value is not None and name.endswith(("_a", "_w")):
            changes[name] = value * times
        elif value is not None and name.endswith("_ohm"):
            changes[name] = value / times
    return part.model_copy(update=changes)


def of_many(parts: Sequence[_Sized], places: Sequence[int]) -> _Sized:
    """Loads that differ in figures alone as one, for many circuits: each figure an array of what it is at ``places``.

    >>> of_many([Load("10W"), Load("20W")], [0, 1, 1]).stated.tolist()
    [10.0, 20.0, 20.0]
    """
    import numpy as np

    changes: dict[str, Any] = {}
    for name in type(parts[0]).model_fields:
        values = [getattr(part, name) for part in parts]
        if isinstance(values[0], Part):
            changes[name] = of_many(values, places)
        elif isinstance(values[0], float) and len(set(values)) > 1:
            changes[name] = np.array(values)[list(places)]
    return parts[0].model_copy(update=changes)
