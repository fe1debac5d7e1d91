"""Fuses: for the bus and each branch the standard values that carry what flows and blow before the wires burn."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import ClassVar

from pdcheck.facts.copper import FLEXIBLE_OHM_PER_KM, LARGEST_AWG
from pdcheck.facts.fuses import ANY_KIND, BLOWS, FUSES, FuseKind, FuseSort
from pdcheck.facts.motion import HOLD_SHARE
from pdcheck.facts.plausible import WIRE_GAUGE
from pdcheck.facts.voltage import EPR_MAX, EPR_SURVIVE, SPR_FIXED_MAX, SPR_MAX, SPR_SURVIVE
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.fuse import Fuse, Protected, fuse_limits, fuse_text
from pdcheck.parts.limits import PartLimit, rounded
from pdcheck.parts.request import FixedRequest, HighestRequest, PowerRequest, PreferenceRequest
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.parts.wire import Wire
from pdcheck.quantities import format_quantity, over, under
from pdcheck.result import Result
from pdcheck.verdict.case import Case
from pdcheck.verdict.gravest import does_its_job
from pdcheck.verdict.wire import size

BUS = "bus"


class FuseChoice(NamedTuple):
    """One kind of fuse at a place: its share (0..1) that flows for hours at most, and the values that fit [A].

    Of a resettable fuse the value is its hold current at 20 degrees C.
    """

    kind: FuseKind
    share: float
    values_a: tuple[float, ...]


class FusePlace(NamedTuple):
    """A place for a fuse: the bus behind the trigger, or a branch at the start of its wire.

    ``flows_a`` is the most that flows there [A], None where nothing ever does; ``wire_a`` what the thinnest wire behind
    it carries [A], None where other fuses protect all of them. ``values_a``: the standard values [A] that fit,
    whatever the fuse is made to; ``kinds`` what fits of each kind by its own rule. ``stated``: the fuse that the rig
    has there. ``source_a``: what the weakest source gives [A]; it surely blows values up to ``blows_up_to_a``, and
    those above ``never_above_a`` never. ``voltage_v`` is the highest that can be there [V], ``rated_v`` what the fuse
    should be rated for at least.
    """

    place: str
    flows_a: float | None
    wire_a: float | None
    values_a: tuple[float, ...]
    kinds: tuple[FuseChoice, ...]
    stated: str | None
    source_a: float | None
    blows_up_to_a: float | None
    never_above_a: float | None
    voltage_v: float
    rated_v: float
    reasons: tuple[str, ...]


@dataclass(frozen=True, repr=False)
class Fuses(Result):
    """The fuses of a rig, for every pair of source and cable that it was looked at on.

    ``on``: the pairs whose currents count, as ``SOURCE with CABLE``: those on which the rig does its job, or all where
    there is none.
    """

    SCHEMA: ClassVar[str] = "fuse/1"
    TITLE: ClassVar[str] = "Fuses of a rig"
    ROWS: ClassVar[tuple[str, ...]] = ("places",)

    rig: str
    runs: bool
    on: tuple[str, ...]
    places: tuple[FusePlace, ...]

    @property
    def works(self) -> bool:
        """Whether it does its job somewhere, and every branch can have a fuse: its own, or the one on the bus."""
        bus, *branches = (any(kind.values_a for kind in each.kinds) for each in self.places)
        return self.runs and (bus or all(branches))

    def answer(self) -> str:
        """The values of each place."""
        return ", ".join(f"{each.place} {values_text(each.values_a)}" for each in self.places)


def values_text(values_a: Sequence[float]) -> str:
    """Standard values as a person says them: each of a few, the ends of many.

    >>> values_text(()), values_text((2.0, 2.5)), values_text((1.0, 1.25, 1.6, 2.0))
    ('none', '2 A or 2.5 A', '1 A to 2 A')
    """
    if not values_a:
        return "none"
    first, last = f"{values_a[0]:g} A", f"{values_a[-1]:g} A"
    return first if len(values_a) == 1 else f"{first} {'or' if len(values_a) == 2 else 'to'} {last}"


def fuses(rig: Rig, pairs: Iterable[tuple[Source, Cable]]) -> Fuses:
    """What fuse fits at each place of a rig, whatever it has there now.

    >>> rig = Rig(trigger="9V", branch=[Branch("fan", wire="24AWG 0.3m", load={"current": "1A"})])
    >>> found = fuses(rig, [(Source("5V 3A, 9V 3A", id="s"), Cable("C-C 3A loop=100mOhm", id="c"))])
    >>> [(each.place, each.flows_a, each.values_a) for each in found.places]
    [('bus', 1.0, (1.6, 2.0)), ('fan', 1.0, (1.6, 2.0))]
    """
    branches = tuple(branch.model_copy(update={"fuse": None}) for branch in rig.branches)
    bare = rig.with_trigger(fuse=None).model_copy(update={"branches": branches})
    every = [Case(bare, source, cable) for source, cable in pairs]
    working = [case for case in every if does_its_job(case)]
    counted = working or every
    looked = _Looked(rig, counted, max(max(case.idle_high(), case.before_v.max) for case in every))
    places = (looked.bus(), *map(looked.branch, rig.branches))
    on = tuple(f"{case.source.id} with {case.cable.id}" for case in counted)
    return Fuses(rig.title, bool(working), on, places)


class _Looked:
    """A rig with the cases that count."""

    def __init__(self, rig: Rig, cases: Sequence[Case], highest_v: float) -> None:
        self.rig, self.cases, self.highest_v = rig, cases, highest_v
        powered = [case for case in cases if case.contract.outcome != "off"]
        weakest = min(powered, key=_given_a, default=None)
        self.source_a = None if weakest is None else _given_a(weakest)
        self.source = "" if weakest is None else weakest.source.id

    def bus(self) -> FusePlace:
        unfused = [branch for branch in self.rig.branches if branch.fuse is None]
        wires = [each for branch in unfused for each in _wires(branch)]
        first = "a fuse here protects every wire that has no fuse of its own" if unfused else ""
        surging = list(chain.from_iterable(map(_surges, self.rig.branches)))
        return self._place(BUS, "bus", wires, self.rig.trigger.fuse, surging, first)

    def branch(self, branch: Branch) -> FusePlace:
        return self._place(branch.name, f"{branch.name}/in", list(_wires(branch)), branch.fuse, list(_surges(branch)))

    def _place(
        self, place: str, node: str, wires: list[Protected], stated: Fuse | None, surging: list[str], first: str = ""
    ) -> FusePlace:
        most_a, at = max(((case.worst_current(node), case) for case in self.cases), key=lambda each: each[0])
        flows_a = most_a if most_a > 0.0 else None
        weakest = min(wires, key=lambda each: each.wire.ampacity_a(), default=None)
        wire_a = None if weakest is None else weakest.wire.ampacity_a()
        kinds: tuple[FuseChoice, ...] = ()
        if flows_a is not None:
            kinds = tuple(_choice(sort, place, flows_a, wires) for sort in FUSES.values())
        values = sorted({value for each in kinds if each.kind in ANY_KIND for value in each.values_a})
        rated_v = self._rated_v()
        surely, never = (None, None) if self.source_a is None else _blown(self.source_a)
        reasons: list[str] = [first] if first else []
        if flows_a is None:
            reasons.append("nothing flows here with these chargers and cables: there is nothing to choose a fuse by")
        else:
            reasons += _flow_reasons(flows_a, f"{at.source.id} with {at.cable.id}")
            reasons += _wire_reasons(weakest)
            if not values:
                reasons += _nothing_fits(place, flows_a, wires, kinds)
            reasons += surging
            reasons += self._blow_reasons(
                values or sorted(chain.from_iterable(each.values_a for each in kinds)), wire_a
            )
        reasons.append(self._voltage_reason(rated_v))
        if stated is not None and flows_a is not None:
            reasons.append(_stated_reason(stated, place, flows_a, wires))
        return FusePlace(
            place,
            flows_a,
            wire_a,
            tuple(values),
            kinds,
            None if stated is None else fuse_text(stated),
            self.source_a,
            surely,
            never,
            self.highest_v,
            rated_v,
            tuple(reasons),
        )

    def _rated_v(self) -> float:
        """At least what is there, and what anything behind a trigger must survive."""
        beyond = over(self.highest_v, SPR_SURVIVE.value) or self._may_be_epr()
        return max(EPR_SURVIVE.value if beyond else SPR_SURVIVE.value, rounded(self.highest_v, up=True, digits=3))

    def _may_be_epr(self) -> bool:
        match self.rig.trigger.request:
            case HighestRequest() | PowerRequest():
                return any(case.contract.epr for case in self.cases) or self.rig.trigger.rating_v is None
            case PreferenceRequest(voltages_v=voltages):
                return max(voltages) > SPR_MAX.value
            case FixedRequest(voltage_v=volts):
                return volts > SPR_FIXED_MAX.value
        return False

    def _voltage_reason(self, rated_v: float) -> str:
        rated = format_quantity(rated_v, "V", 3)
        highest = format_quantity(rounded(self.highest_v, up=True, digits=3), "V", 3)
        start = f"take one rated for {rated} DC or more: "
        if rated_v >= EPR_SURVIVE.value and self.highest_v <= SPR_SURVIVE.value:
            most = format_quantity(EPR_MAX.value, "V")
            return f"{start}set like this, the trigger may get {most} from another charger (here at most {highest})"
        return f"{start}up to {highest} is there, and a faulty charger may give more"

    def _blow_reasons(self, values_a: Sequence[float], wire_a: float | None) -> Iterator[str]:
        if self.source_a is None:
            return
        surely, never = _blown(self.source_a)
        gives = f"the {self.source_a:.3g} A of {self.source}"
        if wire_a is not None and not over(self.source_a * HOLD_SHARE.value, wire_a):
            yield f"{gives} does not overheat the wire, which carries more; a stronger charger can"
        kept = [value for value in values_a if over(value, never)]
        slow = [value for value in values_a if not over(value, never) and over(value, surely)]
        quick = [value for value in values_a if not over(value, surely)]
        told = (("blows {} within a minute or so", quick), ("takes minutes to an hour to blow {}", slow))
        said = [words.format(values_text(values)) for words, values in told if values]
        if kept:
            said.append(f"never blows {values_text(kept)}: the charger limits the current first")
        if said:
            yield f"{gives} {'; it '.join(said)}"


def _given_a(case: Case) -> float:
    """What a source gives on its contract before it limits [A]: of a fixed offer all that it offers."""
    offer = case.contract.offer
    if offer is None or case.contract.limits_current or not offer.current_ma:
        return case.contract.current_a
    return max(case.contract.current_a, offer.current_ma / 1000.0)


def _blown(source_a: float) -> tuple[float, float]:
    """The greatest value that a current [A] surely blows, and that above which it blows none [A]."""
    return source_a / BLOWS.require_max(), source_a / BLOWS.require_min()


def _wires(branch: Branch) -> Iterator[Protected]:
    """The wires behind a branch's fuse; one that is not known is taken as the thinnest that is usual."""
    for each in branch.fused_wires():
        yield each._replace(wire=_thinnest(each.wire.length_m)) if each.wire.guess else each
    if branch.wire is None:
        yield Protected(f"{branch.name} wire", branch.name, _thinnest(0.0))


def _thinnest(length_m: float) -> Wire:
    return Wire.model_construct(awg=round(WIRE_GAUGE.value), length_m=length_m, guess=True)


def _broken(fuse: Fuse, place: str, flows_a: float, wires: Sequence[Protected]) -> list[PartLimit]:
    """The limits that ``check`` would hold a fuse to, and that it breaks."""
    limits = fuse_limits(fuse, "" if place == BUS else place, wires)
    return [limit for limit in limits if limit.broken(flows_a if limit.rating is None else limit.rating)]


def _choice(sort: FuseSort, place: str, flows_a: float, wires: Sequence[Protected]) -> FuseChoice:
    fitting = (value for value in sort.values_a if not _broken(Fuse(value, sort.kind), place, flows_a, wires))
    return FuseChoice(sort.kind, sort.share, tuple(fitting))


def _flow_reasons(flows_a: float, on: str) -> Iterator[str]:
    share, least = format_quantity(FUSES["UL"].share, "%"), _amps(flows_a / FUSES["UL"].share, up=True)
    yield f"{_amps(flows_a, up=True)} flows in the worst case ({on}), which is {share} of {least}"


def _wire_reasons(weakest: Protected | None) -> Iterator[str]:
    if weakest is None:
        yield "every branch has a fuse of its own, so no wire bounds this one"
        return
    carries = _amps(weakest.wire.ampacity_a(), up=False)
    if weakest.wire.guess:
        yield (
            f"the {weakest.called} is not known: AWG {WIRE_GAUGE.value:g}, the thinnest that is usual, stays cool "
            f"up to {carries}; state yours"
        )
    else:
        wire = f"{weakest.called} ({size(weakest.wire)})"
        yield f"the {wire} stays cool up to {carries}: with a larger fuse it may overheat"


def _nothing_fits(place: str, flows_a: float, wires: Sequence[Protected], kinds: Sequence[FuseChoice]) -> Iterator[str]:
    needed = flows_a / FUSES["UL"].share
    standard = sorted({value for kind in ANY_KIND for value in FUSES[kind].values_a})
    larger = [value for value in standard if not under(value, needed)]
    iec = next((each.values_a for each in kinds if each.kind == "IEC"), ())
    between = f"no {'other ' if iec else ''}standard value lies between what flows and what the wire carries"
    if iec:
        yield f"only a fuse made to IEC 60127 fits, which carries all of its value: {values_text(iec)}"
    if not larger:
        yield f"no standard value is large enough: the largest is {standard[-1]:g} A"
        return
    value = larger[0]
    thin = [each for each in wires if over(value, each.wire.ampacity_a())]
    changes = [f"{more} for the {each.called}" for each in thin if (more := thicker(each.wire, value)) is not None]
    if thin and len(changes) == len(thin):
        or_fuse = " (or a fuse in each of these branches)" if place == BUS else ""
        yield f"{between}: take {' and '.join(changes)}{or_fuse}; then {value:g} A fits"
    elif thin:
        yield f"{between}, and no wire is thick enough"


def thicker(wire: Wire, current_a: float) -> str | None:
    """The thinnest wire above this one that carries a current [A]; None where no gauge does.

    >>> thicker(Wire("24AWG 1m"), 2.5), thicker(Wire("0.5mm2 1m"), 5.0), thicker(Wire("24AWG 1m"), 900.0)
    ('AWG 22', '0.75 mm²', None)
    """
    areas = [] if wire.mm2 is None else [area for area in sorted(FLEXIBLE_OHM_PER_KM) if area > wire.mm2]
    # Shops have the even gauges.
    gauges = [gauge for gauge in range(LARGEST_AWG if wire.awg is None else wire.awg - 1, -1, -1) if gauge % 2 == 0]
    tried = [
        *(wire.model_copy(update={"mm2": area}) for area in areas),
        *(wire.model_copy(update={"awg": gauge, "mm2": None}) for gauge in gauges),
    ]
    return next((size(each) for each in tried if not over(current_a, each.ampacity_a())), None)


def _surges(branch: Branch) -> Iterator[str]:
    """What a branch takes for a moment at its start, and a quick fuse may not survive."""
    load, converter = branch.load, branch.converter
    if load.start_factor is not None and load.start_factor > 1.0:
        yield f"{branch.name} takes {load.start_factor:g} times as much when it starts: take a slow-blow fuse (T)"
    elif converter is not None and converter.bulk_f:
        bulk = format_quantity(converter.bulk_f, "F", 3)
        yield f"{bulk} at the input of {branch.name} charge in a moment: take a slow-blow fuse (T)"


def _stated_reason(stated: Fuse, place: str, flows_a: float, wires: Sequence[Protected]) -> str:
    broken = _broken(stated, place, flows_a, wires)
    if not broken:
        return f"the {fuse_text(stated)} that the rig has here fits"
    why = "too small for what flows" if broken[0].rating is None else "too large for the wire"
    return f"the {fuse_text(stated)} that the rig has here is {why}"


def _amps(value: float, *, up: bool) -> str:
    return format_quantity(rounded(value, up=up, digits=3), "A", 3)
