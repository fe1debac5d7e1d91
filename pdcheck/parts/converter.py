"""Converter: buck, boost or buck-boost between the bus and a load, with its input range, limits and efficiency."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal, get_args

from pydantic import Discriminator, Tag, model_validator

from pdcheck.errors import InputError
from pdcheck.facts import plausible
from pdcheck.facts.heat import BOARD, MODULE
from pdcheck.facts.origin import Origin
from pdcheck.facts.trade import UNKNOWN_EFFICIENCY
from pdcheck.parts import fields
from pdcheck.parts.efficiency import Derating, EfficiencyTable, counted
from pdcheck.parts.limits import ENOUGH, LimitingPart, LimitRule, PartLimit, Quantity, Sense, State, near_rule
from pdcheck.physics.bus import TANGENT
from pdcheck.physics.number import NAN, Number, where
from pdcheck.physics.ports import Port, PowerPort
from pdcheck.physics.table import TablePort, table_port
from pdcheck.quantities import Triple, format_quantity, quoted

Kind = Literal["buck", "boost", "buck-boost"]
_KIND = fields.one_of(
    "a kind of converter",
    *get_args(Kind),
    step_down="buck",
    stepdown="buck",
    step_up="boost",
    stepup="boost",
    buckboost="buck-boost",
    boost_buck="buck-boost",
    step_up_down="buck-boost",
)

_SPOKEN = ("kind", "input", "input_limit", "efficiency")


MAKER = Origin("the converter's own figures, from the rig file", "rig")
LARGER = "Take less from its output, or use a larger converter."
INPUT_LOW = LimitRule(
    "converter-input-low",
    "fail",
    "Too little voltage at a converter's input",
    MAKER,
    "Set a higher voltage, use a converter that works from less, or a cable and wires that drop less.",
    "its input falls to {value} on {volts} and it needs {limit}",
    if_words="{branch}'s converter works from {needs} or less",
    off_words="stays off: it needs {limit} and gets at most {value}",
)
START = LimitRule(
    "converter-start",
    "fail",
    "Too little voltage for a converter to start",
    MAKER,
    "Set a higher voltage: on this one it may never start.",
    "may never start: it starts at {limit} and the bus may be only {value}",
    supply=True,
    off_words="never starts: it starts at {limit} and gets at most {value}",
)
INPUT_HIGH = LimitRule(
    "converter-input-high",
    "stop",
    "Too much voltage at a converter's input",
    MAKER,
    "Do not connect it: set a lower voltage, or use a converter rated for this one.",
    "a {volts} supply may really give {value}; this converter is rated for {limit}",
    if_words="{branch}'s converter is rated for {needs} or more at its input",
    supply=True,
)
OUTPUT_OVER = LimitRule(
    "converter-output-over",
    "stop",
    "A boost converter fed with more than its output",
    Origin("a boost passes its input through, any circuits textbook", "physics"),
    "Do not connect the load: set a lower voltage or use a buck-boost.",
    "a boost set to {limit} passes its input of up to {value} on to the load",
    supply=True,
)
_NEAR = near_rule(
    "converter-in-hand",
    "Little current to spare in a converter",
    "It works, with little to spare: watch its temperature in the box that it will live in.",
    "the converter's",
)
INPUT_CURRENT = LimitRule(
    "converter-input-current",
    "fail",
    "Too much current into a converter",
    MAKER,
    "Set a higher voltage: the same power then needs less current.",
    "takes {value} at its input in the worst case and is rated for {limit}",
    if_words="{branch}'s converter may take {needs} at its input",
    near=_NEAR,
)
INPUT_POWER = LimitRule(
    "converter-input-power",
    "fail",
    "Too much power into a converter",
    MAKER,
    LARGER,
    "takes {value} at its input in the worst case and is rated for {limit}",
)
OUTPUT_CURRENT = LimitRule(
    "converter-output-current",
    "fail",
    "Too much current out of a converter",
    MAKER,
    LARGER,
    "must give {value} in the worst case and is rated for {limit}",
    if_words="{branch}'s converter may give {needs}",
    near=_NEAR,
)
OUTPUT_POWER = LimitRule(
    "converter-output-power",
    "fail",
    "Too much power out of a converter",
    MAKER,
    LARGER,
    "must give {value} in the worst case and is rated for {limit}",
)
COOL = "Give it a heat sink or moving air, take less from it, or use a more efficient one."
HEAT = LimitRule(
    "converter-heat",
    "fail",
    "Too much heat in a converter",
    MAKER,
    COOL,
    "turns {value} into heat in the worst case and gets rid of {limit}",
)
HOT = LimitRule(
    "converter-temperature",
    "fail",
    "A converter too hot",
    BOARD.origin,
    COOL,
    "gets {value} in the worst case; a board stays well up to {limit}",
)
DERATED = LimitRule(
    "converter-derated",
    "fail",
    "Too much current out of a converter in warm air",
    MAKER,
    "Take less from it, or keep the air around it cooler: a larger box, vents.",
    "must give {value} in the worst case, and in the air around it may give only {limit}",
)


def _figure_or_table(value: Any) -> str:
    return "table" if isinstance(value, dict | EfficiencyTable) else "figure"


class Converter(fields.Part, init=False):
    """A converter: what it accepts, gives, and wastes; as text ``"buck-boost:6-36V:5A:92%"``. Unknown limits are None.

    ``efficiency`` is a ratio or a table over input voltage and output current; None when it is not stated, and then
    ``efficiency_at`` counts with a cautious figure and ``assumed`` says so. ``idle_w`` is drawn besides. ``dropout_v``
    is what a buck needs above its output. At ``start_v`` it starts, within ``soft_start_s``, at ``stop_v`` it cuts off.
    ``bulk_f`` with ``esr_ohm`` is across its input, ``output_bulk_f`` across its output.
    ``rise_k_w`` [K/W] is how far lost power warms it above the air, ``heat_limit_w`` the most that it gets rid of,
    ``derate`` what it may give in warm air.

    >>> converter = Converter(kind="buck-boost", input="6V-36V", input_limit="6A", output="12V", efficiency=0.92)
    >>> converter.minimum_input_v(), converter.maximum_input_v(), converter.efficiency_at(15.0, 2.0)
    (6.0, 36.0, 0.92)
    """

    title: fields.Title = ""
    kind: Annotated[Kind, _KIND]
    input_v: fields.VoltSpan | None = None
    input_limit_a: fields.Amps | None = None
    input_power_w: fields.Watts | None = None
    output_v: fields.Volts
    output_limit_a: fields.Amps | None = None
    output_range_v: fields.VoltSpan | None = None
    power_limit_w: fields.Watts | None = None
    efficiency: (
        Annotated[
            Annotated[fields.Efficiency, Tag("figure")] | Annotated[EfficiencyTable, Tag("table")],
            Discriminator(_figure_or_table),
        ]
        | None
    ) = None
    idle_w: fields.WattsOrZero = 0.0
    bulk_f: fields.Farads | None = None
    esr_ohm: fields.OhmsOrZero | None = None
    output_bulk_f: fields.Farads | None = None
    dropout_v: fields.VoltsOrZero = 0.0
    start_v: fields.Volts | None = None
    stop_v: fields.Volts | None = None
    soft_start_s: fields.Seconds | None = None
    rise_k_w: fields.RisePerWatt | None = None
    heat_limit_w: fields.Watts | None = None
    derate: Derating | None = None

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        parts = [part.strip() for part in said.split(":")] if isinstance(said, str) and len(said) <= 200 else []
        if not 1 <= len(parts) <= 4 or not parts[0]:
            raise InputError(f"{quoted(said)} is not a converter", expected="a word such as buck-boost:6-36V:5A:92%")
        return {key: part for key, part in zip(_SPOKEN, parts, strict=False) if part}

    @model_validator(mode="after")
    def _gives_what_it_can(self) -> Converter:
        if self.output_range_v is not None and not self.output_range_v[0] <= self.output_v <= self.output_range_v[1]:
            what = f"{format_quantity(self.output_v, 'V', 6)} is outside of the output range"
            raise InputError(what, expected="an output inside of output_range", key=("output",))
        if self.start_v is not None and self.stop_v is not None and self.stop_v >= self.start_v:
            stop, start = (format_quantity(each, "V", 6) for each in (self.stop_v, self.start_v))
            what = f"it cuts off at {stop} and starts at {start}"
            raise InputError(what, expected="a stop voltage below the start voltage", key=("stop",))
        return self

    def limits(self, branch: str) -> Iterator[PartLimit]:
        """What it needs, takes and gives, known or not.

        >>> from pdcheck.parts.limits import known
        >>> listed = known(Converter(kind="buck", output="5V", dropout="1V", output_limit="3A").limits("usb"))
        >>> [(limit.node, limit.sense, limit.limit) for limit in listed]
        [('usb/in', 'at_least', 6.0), ('usb/out', 'at_most', 3.0)]
        """
        entry, exit_ = f"{branch}/in", f"{branch}/out"

        def limit(
            rule: LimitRule,
            node: str,
            quantity: Quantity,
            sense: Sense,
            figure: float | None,
            key: str,
            *,
            state: State = "loaded",
            plausible: float | None = None,
        ) -> PartLimit:
            part: LimitingPart = "converter input" if node == entry else "converter output"
            where = f"{branch}.converter.{key}"
            near = ENOUGH if rule.near is not None else None
            return PartLimit(
                rule, node, quantity, sense, figure, branch, part, branch, state, where, "sheet", plausible, 1.0, near
            )

        least = self.minimum_input_v()
        if least:
            yield limit(INPUT_LOW, entry, "voltage", "at_least", least, "input")
        if self.input_v is None:
            start_v = plausible.CONVERTER_INPUT_START.value
            worst = max(start_v, least + plausible.BUCK_DROPOUT.value) if self.kind == "buck" else start_v
            yield limit(INPUT_LOW, entry, "voltage", "at_least", None, "input", plausible=worst)
        end = plausible.BOOST_INPUT_END if self.kind == "boost" else plausible.CONVERTER_INPUT_END
        most, stand = self.survives_v, end.value
        yield limit(INPUT_HIGH, entry, "voltage", "at_most", most, "input", state="unloaded", plausible=stand)
        if self.kind == "boost":
            yield limit(OUTPUT_OVER, entry, "voltage", "at_most", self.output_v, "output", state="unloaded")
        if self.start_v is not None:
            yield limit(START, entry, "voltage", "at_least", self.start_v, "start", state="starting")
        if self.input_limit_a is not None or self.input_power_w is None:
            amperes, at_worst = self.input_limit_a, plausible.CONVERTER_INPUT.value
            yield limit(INPUT_CURRENT, entry, "current", "at_most", amperes, "input_limit", plausible=at_worst)
        if self.input_power_w is not None:
            yield limit(INPUT_POWER, entry, "power", "at_most", self.input_power_w, "input_power")
        if self.output_limit_a is not None or self.power_limit_w is None:
            amperes, at_worst = self.output_limit_a, plausible.CONVERTER_OUTPUT.value
            if amperes is None and self.derate is not None:
                amperes = self.derate.cool_a
            yield limit(OUTPUT_CURRENT, exit_, "current", "at_most", amperes, "output_limit", plausible=at_worst)
        if self.power_limit_w is not None:
            yield limit(OUTPUT_POWER, exit_, "power", "at_most", self.power_limit_w, "power_limit")

    def warm_limits(self, branch: str) -> Iterator[PartLimit]:
        """How warm it may get, what it gets rid of, and what it gives in warm air, as far as it is stated."""
        if self.heat_limit_w is not None:
            most = self.heat_limit_w
            yield PartLimit(HEAT, f"{branch}/converter:w", "heat", "at_most", most, branch, "converter", branch)
        if self.rise_k_w is not None:
            node = f"{branch}/converter:c"
            yield PartLimit(HOT, node, "temperature", "at_most", BOARD.value, branch, "converter", branch)
        if self.derate is not None:
            most, node = self.derate.cool_a, f"{branch}/derated:a"
            yield PartLimit(DERATED, node, "derated", "at_most", most, branch, "converter output", branch)

    @property
    def states_heat(self) -> bool:
        """Whether anything is stated that its heat is held against."""
        return self.rise_k_w is not None or self.heat_limit_w is not None or self.derate is not None

    @property
    def counted_rise(self) -> Triple:
        """How far a watt warms it [K/W]: as stated, else as a bare module."""
        return MODULE if self.rise_k_w is None else Triple.exact(self.rise_k_w)

    @property
    def assumed(self) -> tuple[str, ...]:
        """What was not stated and is counted with all the same."""
        if self.efficiency is None:
            return (f"no efficiency stated: taken as {format_quantity(UNKNOWN_EFFICIENCY.value, '%')}",)
        return ()

    @property
    def counted_efficiency(self) -> float | EfficiencyTable:
        """The efficiency that is counted with: as stated, else the cautious figure that is assumed."""
        return counted(self.efficiency)

    def efficiency_at(self, input_v: Number, output_a: Number) -> Number:
        """Efficiency (0..1) at an input voltage [V] and an output current [A]."""
        found = self.counted_efficiency
        return found.at(input_v, output_a) if isinstance(found, EfficiencyTable) else found

    def with_efficiency_times(self, factor: float) -> Converter:
        """The same with its efficiency off by a factor, but never above 1."""
        if factor == 1.0:
            return self
        found = self.counted_efficiency
        off = found.times(factor) if isinstance(found, EfficiencyTable) else min(found * factor, 1.0)
        return self.model_copy(update={"efficiency": off})

    def with_output(self, output_v: float) -> Converter:
        """The same set to another output voltage [V], which is not held against its range."""
        return self.model_copy(update={"output_v": output_v})

    def output_a(self, load: Port) -> Number:
        """What its output delivers [A] to a load behind its lead; NaN where the lead has no solution."""
        lost = self.output_v < load.least_v * (1.0 - TANGENT)
        return where(lost, NAN, load.current(self.output_v)[0])

    def port(self, wire_ohm: float, output_a: Number) -> PowerPort | TablePort:
        """What a bus sees of it behind its input wire [ohm] while it delivers a current [A].

        >>> Converter(kind="buck", output="12V", efficiency=0.9, idle="0.3W").port(0.1, 2.25)
        PowerPort(resistance_ohm=0.1, power_w=30.3)
        """
        output_w, found = self.output_v * output_a, self.counted_efficiency
        if not isinstance(found, EfficiencyTable):
            return PowerPort(wire_ohm, output_w / found + self.idle_w)
        over_input = found.over_input(output_a)
        if len(over_input) == 1:
            return PowerPort(wire_ohm, output_w / over_input[0] + self.idle_w)
        return table_port(found.input_v, over_input, output_w, self.idle_w, wire_ohm)

    def input_power_for(self, output_w: Number, input_v: Number) -> Number:
        """Power [W] that it draws at ``input_v`` [V] to give ``output_w`` [W]: P / efficiency + idle.

        >>> round(Converter(kind="buck", output="12V", efficiency=0.92, idle="0.3W").input_power_for(24.0, 15.0), 4)
        26.387
        """
        return output_w / self.efficiency_at(input_v, output_w / self.output_v) + self.idle_w

    @property
    def starts_at_v(self) -> float | None:
        """The input voltage [V] at which it starts to draw: as stated, else its least; None where neither is known."""
        least = self.input_v[0] if self.input_v else None
        return least if self.start_v is None else self.start_v

    def minimum_input_v(self, output_v: float | None = None) -> float:
        """Least input voltage [V] at which it gives ``output_v`` [V] (its own output, if none is given).

        The start of the input range, and for a buck at least output plus dropout; 0 where nothing is known.
        """
        least = self.input_v[0] if self.input_v else 0.0
        wanted = self.output_v if output_v is None else output_v
        return max(least, wanted + self.dropout_v) if self.kind == "buck" else least

    def maximum_input_v(self, output_v: float | None = None) -> float | None:
        """Greatest input voltage [V] at which it gives ``output_v`` [V]; None where nothing is known.

        The end of the input range, and for a boost at most its output.
        """
        most = self.input_v[1] if self.input_v else None
        wanted = self.output_v if output_v is None else output_v
        if self.kind == "boost":
            return wanted if most is None else min(most, wanted)
        return most

    @property
    def survives_v(self) -> float | None:
        """The end of the input range [V], which its input must never exceed; None where it is not known."""
        return self.input_v[1] if self.input_v else None
