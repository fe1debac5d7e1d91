"""Pick: the offers of a source ranked for a wanted output, and why each other one loses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.bits.offers import Offer, fixed
from pdcheck.circuit.corners import BranchSpec, NetworkSpec, OperatingTriple, corners, network_at
from pdcheck.circuit.point import Bound
from pdcheck.circuit.programmed import programmed_voltage
from pdcheck.contract.asking import current_on_step, request_words, voltage_step_mv
from pdcheck.contract.available import Available, available
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE, UNREGULATED
from pdcheck.facts.trade import CURRENT_IN_HAND
from pdcheck.marks import BY_ID, UNLISTED, UNTOLD, HexWord, Named, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.converter import Converter
from pdcheck.parts.fields import read_bounded
from pdcheck.parts.limits import COMFORTABLE, known
from pdcheck.parts.loads import Load
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple, format_quantity, over, under
from pdcheck.result import Result

# How far the bus may be from the wanted output where nothing converts it: what a fixed supply is allowed, common
# practice for what runs from one.
STRAIGHT_TOLERANCE = 0.05

TYPE_C = "type-c"
"""The kind of what a sink has without asking: 5 V by Type-C, at no position of any list."""


class Output(NamedTuple):
    """Volts and amperes, and what they go through; made by ``Wanted``, which reads them."""

    voltage_v: float
    current_a: float
    converter: Annotated[Converter | None, UNTOLD] = None


class Wanted(Output):
    """An output: volts and amperes, both above zero, through a converter or straight from the bus.

    Raises InputError for what is no voltage or no current.

    >>> Wanted("12V", 2).current_a
    2.0
    >>> Wanted(12, -2)
    Traceback (most recent call last):
    pdcheck.errors.InputError: current: -2 is negative; expected a current such as 3.25A
    """

    __slots__ = ()

    def __new__(cls, voltage: str | float, current: str | float, converter: Converter | None = None) -> Wanted:
        return super().__new__(
            cls, _above_zero("voltage", voltage, "V"), _above_zero("current", current, "A"), converter
        )

    @property
    def power_w(self) -> float:
        """Power at the output [W]."""
        return self.voltage_v * self.current_a


def _above_zero(key: str, value: str | float, unit: str) -> float:
    try:
        return read_bounded(value, unit, 1000, zero=False)
    except InputError as error:
        raise error.below(key) from None


class Ranked(NamedTuple):
    """One offer judged for an output.

    ``voltage_mv`` is the offer's voltage, or the one to program. ``headroom`` is the part of the granted current that
    is left at the worst corner; negative where it is not enough. ``reasons`` say why it loses, or what it asks for.
    """

    offer: Annotated[Offer, UNTOLD]
    ok: bool
    voltage_mv: int
    current_ma: int
    reasons: tuple[str, ...]
    headroom: float | None = None
    bus_v: Triple | None = None
    converter_in_a: Triple | None = None
    loss_w: Triple | None = None

    @told
    def position(self) -> int | None:
        """Where the offer stands in the list; None for what is not asked for."""
        return self.offer.position or None

    @told
    def kind(self) -> str:
        """The kind of the offer."""
        return self.offer.kind

    @property
    def in_hand(self) -> bool:
        """Whether enough of the current is to spare."""
        return self.headroom is not None and not under(self.headroom, CURRENT_IN_HAND.value)


class Choice(NamedTuple):
    """The offer to set the trigger to, and the words that ask for it."""

    position: int | None
    kind: str
    voltage_mv: int
    current_ma: int
    request_words: tuple[HexWord, ...]

    @told
    def request_word(self) -> HexWord | None:
        """The request, without the word that follows it in EPR mode."""
        return self.request_words[0] if self.request_words else None


@dataclass(frozen=True, repr=False)
class Picked(Result):
    """The ranking, the best first; the choice is its head where that is ok."""

    SCHEMA: ClassVar[str] = "pick/1"
    TITLE: ClassVar[str] = "The offers of a source ranked for an output"
    ROWS: ClassVar[tuple[str, ...]] = ("ranking",)

    source: Annotated[Source, BY_ID]
    cable: Annotated[Cable, BY_ID]
    wanted: Annotated[Wanted, Named("output")]
    seen: Annotated[Available, UNTOLD]
    ranking: tuple[Ranked, ...]

    @property
    def works(self) -> bool:
        """Whether any offer will do."""
        return self.best is not None

    def answer(self) -> str:
        """The offer to ask for."""
        if self.best is None:
            return "no offer works"
        return f"{self.best.voltage_mv / 1000:g} V, {self.best.kind}"

    @told
    def choice(self) -> Annotated[Choice | None, UNLISTED]:
        """The choice with the words that ask for it."""
        best = self.best
        if best is None:
            return None
        return Choice(best.position, best.kind, best.voltage_mv, best.current_ma, self.request())

    @told
    def assumed(self) -> Annotated[tuple[str, ...], UNLISTED]:
        """What nobody said and was counted with, and what is doubtful about source and cable."""
        said = [*self.source.problems, *self.cable.problems, *self.cable.assumed]
        loop, assumed = self.cable.loop_ohm()
        if assumed:
            said.append(f"cable not measured: {loop.typ * 1000:g} mΩ, at worst {loop.max * 1000:g} mΩ")
        converter = self.wanted.converter
        if converter is None:
            said.append("no converter: the output hangs straight on the bus")
        else:
            said += converter.assumed
            if converter.input_v is None:
                said.append("input range of the converter not stated: not judged")
        if not self.seen.pd:
            said.append("PD does not work with this cable: there is only 5 V, by Type-C")
            if not self.seen.typec_known:
                said.append(f"how much it gives there is not stated: {self.seen.typec_a:g} A, default USB power")
        return tuple(said)

    @property
    def best(self) -> Ranked | None:
        """The offer to set the trigger to, if any will do."""
        return self.ranking[0] if self.ranking and self.ranking[0].ok else None

    def request(self) -> tuple[int, ...]:
        """The words that ask for the choice; empty without one."""
        chosen = self.best
        if chosen is None or chosen.offer.kind == TYPE_C:
            return ()
        voltage = chosen.voltage_mv if chosen.offer.is_adjustable else None
        return request_words(
            chosen.offer,
            chosen.current_ma,
            voltage,
            epr_mode=chosen.offer.is_epr,
            no_usb_suspend=self.seen.suspends,
        )


def pick(source: Source, cable: Cable, wanted: Wanted) -> Picked:
    """Rank what ``source`` offers over ``cable`` for an output.

    First those that do the job at the worst corner; of them those with enough of the current to spare; then fixed
    offers before adjustable ones, which need a sink that keeps asking; then the least loss.

    >>> charger = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A")
    >>> box = Converter(kind="buck-boost", output="12V", input="6V-36V", efficiency=0.92)
    >>> pick(charger, Cable(id="c", kind="C-C"), Wanted(12.0, 2.0, box)).best.voltage_mv
    15000
    """
    seen = available(source, cable)
    if not seen.pd:
        return Picked(source, cable, wanted, seen, _without_pd(source, cable, seen, wanted))
    ranked = [_judge(offer, cable, wanted, source.tolerance) for offer in seen.offers]
    ranked += [_lost(offer, "needs EPR, which this cable does not carry") for offer in seen.hidden]
    return Picked(source, cable, wanted, seen, tuple(sorted(ranked, key=_order)))


def _without_pd(source: Source, cable: Cable, seen: Available, wanted: Wanted) -> tuple[Ranked, ...]:
    """The 5 V of Type-C, which needs no asking, before all that cannot be asked for."""
    volts = round(FIRST_OBJECT_VOLTAGE.value * 1000)
    plain = _judge(fixed(volts, round(seen.typec_a * 1000)), cable, wanted, source.tolerance)
    lost = [_lost(offer, "PD does not work with this cable") for offer in source.offers if not offer.is_gap]
    return (plain._replace(offer=plain.offer._replace(kind=TYPE_C, position=0)), *lost)


def _lost(offer: Offer, reason: str) -> Ranked:
    return Ranked(offer, False, offer.max_mv, 0, (reason,))


def _order(each: Ranked) -> tuple[bool, bool, bool, float, float, int]:
    loss = each.loss_w.max if each.loss_w is not None else float("inf")
    headroom = each.headroom if each.headroom is not None else float("-inf")
    return (not each.ok, not each.in_hand, each.offer.is_adjustable, loss, -headroom, each.offer.position)


def _judge(offer: Offer, cable: Cable, wanted: Wanted, tolerance: float) -> Ranked:
    volts = _programmed_mv(offer, cable, wanted, tolerance) if offer.is_adjustable else offer.max_mv
    return _lost(offer, volts) if isinstance(volts, str) else _at(offer, volts, cable, wanted, tolerance)


def _programmed_mv(offer: Offer, cable: Cable, wanted: Wanted, tolerance: float) -> int | str:
    """The voltage to program, or why there is none."""
    step = voltage_step_mv(offer)
    low, high = -(-offer.min_mv // step) * step, offer.max_mv // step * step
    if wanted.converter is None:
        spec = _spec(offer, low, cable, wanted, 0.0)
        found = programmed_voltage(
            wanted.voltage_v,
            network_at(spec),
            step_v=step / 1000,
            min_v=low / 1000,
            max_v=high / 1000,
            limit_a=None,
            rounding="nearest",
        )
        if found.voltage_v is None:
            span = f"{low / 1000:g}..{high / 1000:g} V"
            return f"{wanted.voltage_v:g} V at the bus would need {found.needed_v:.4g} V, outside its {span}"
        return round(found.voltage_v * 1000)
    most = wanted.converter.maximum_input_v(wanted.voltage_v)
    if most is not None:
        high = min(high, int(most * 1000 / (1 + tolerance)) // step * step)
    if high < low:
        return f"even its lowest voltage, {low / 1000:g} V, is too much for the converter"
    return high


def _spec(offer: Offer, voltage_mv: int, cable: Cable, wanted: Wanted, tolerance: float) -> NetworkSpec:
    volts = voltage_mv / 1000
    takes = Load(current_a=wanted.current_a) if wanted.converter is None else Load(power_w=wanted.power_w)
    least = volts - _wandering_v(offer)
    return NetworkSpec(
        source_v=Triple(least * (1 - tolerance), volts, volts * (1 + tolerance)),
        branches=(BranchSpec("output", takes, wanted.converter),),
        series=((cable.place, cable.resistance),),
    )


def _wandering_v(offer: Offer) -> float:
    """How far below its greatest voltage a supply may stand unasked [V]: a variable or battery one, over its range."""
    return (offer.max_mv - offer.min_mv) / 1000 if offer.kind in UNREGULATED else 0.0


def _at(offer: Offer, voltage_mv: int, cable: Cable, wanted: Wanted, tolerance: float) -> Ranked:
    granted_ma = offer.current_ma_at(voltage_mv)
    if offer.kind != "battery":
        granted_ma = current_on_step(offer, granted_ma)
    reasons: list[str] = []
    converter = wanted.converter
    spec = _spec(offer, voltage_mv, cable, wanted, tolerance)
    high = spec.source_v.max
    if converter is not None:
        reasons += _past(converter, wanted, spec, None)
        least = converter.minimum_input_v(wanted.voltage_v)
        if under(high, least):
            reasons.append(f"{voltage_mv / 1000:g} V is below the {least:g} V that the converter needs")
            return Ranked(offer, False, voltage_mv, granted_ma, tuple(reasons))
    point = corners(spec)
    if point.collapsed:
        reasons.append(f"the cable cannot pass {wanted.power_w:.3g} W at this voltage: the voltage collapses")
    if not point.nodes:
        return Ranked(offer, False, voltage_mv, granted_ma, tuple(reasons))
    bus = point.nodes["bus"].voltage_v
    drawn = point.nodes["output/in"].current_a
    if converter is not None:
        reasons += _past(converter, wanted, spec, point)
    reasons += _wanting(offer, wanted, bus, drawn, granted_ma, voltage_mv)
    headroom = 1 - drawn.max / (granted_ma / 1000) if granted_ma else -1.0
    ok = not reasons
    if ok and under(headroom, CURRENT_IN_HAND.value):
        left = format_quantity(headroom, "%", 2)
        reasons.append(f"leaves {left} of its current to spare; {COMFORTABLE} is comfortable")
    if ok and offer.is_adjustable:
        sets = "sets the voltage and keeps asking" if offer.kind == "pps" else "can do AVS"
        reasons.append(f"needs a trigger that {sets}")
    return Ranked(offer, ok, voltage_mv, granted_ma, tuple(reasons), headroom, bus, drawn, _loss(point))


def _past(converter: Converter, wanted: Wanted, spec: NetworkSpec, point: OperatingTriple | None) -> list[str]:
    """What a converter does not keep of its own limits: without load, or (``point``) with the output running."""
    found: list[str] = []
    for limit in known(converter.with_output(wanted.voltage_v).limits("output")):
        if (limit.state == "loaded") is (point is None):
            continue
        if point is not None:
            nodes = [each.nodes[limit.node] for each in point.points.values()]
            reached = [Bound(limit.node, limit.quantity, limit.sense, 0.0).value(*node) for node in nodes]
        else:
            reached = list(spec.source_v)
        value = min(reached) if limit.sense == "at_least" else max(reached)
        if limit.broken(value):
            found.append(f"converter: {limit.told(value, spec.source_v.typ)}")
    return found


def _wanting(offer: Offer, wanted: Wanted, bus: Triple, drawn: Triple, granted_ma: int, voltage_mv: int) -> list[str]:
    """What is wrong at the operating point."""
    if wanted.converter is None:
        most, least = wanted.voltage_v * (1 + STRAIGHT_TOLERANCE), wanted.voltage_v * (1 - STRAIGHT_TOLERANCE)
        lowest = bus.typ - _wandering_v(offer)
        if over(voltage_mv / 1000, most) or under(lowest, least):
            given = f"{bus.typ:.4g} V" if lowest == bus.typ else f"{lowest:.4g} to {bus.typ:.4g} V"
            return [f"gives {given} at the bus, not {wanted.voltage_v:g} V, and there is no converter"]
    if over(drawn.max, granted_ma / 1000):
        wanted_a = format_quantity(drawn.max, "A", 3, beside=granted_ma / 1000)
        return [f"it must give {wanted_a} in the worst case and offers {granted_ma / 1000:g} A"]
    return []


def _loss(point: OperatingTriple) -> Triple:
    """Everything that is lost between source and output [W], over the corners."""
    totals = [sum(each.losses.values()) for each in point.points.values()]
    middle = totals[0] if point.typical is None else sum(point.typical.losses.values())
    return Triple(min(*totals, middle), middle, max(*totals, middle))
