"""What may be off on a bench: each kind of figure, and every figure that readings depend on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.facts.trade import (
    NAMED_CURRENT,
    NAMED_EFFICIENCY,
    NAMED_IDLE,
    NAMED_LOAD_SHARE,
    NAMED_RESISTANCE,
    OUTPUT_SETTING,
    UNNAMED_SHARE,
)
from pdcheck.named import NamedTuple
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.sheet import Meter
from pdcheck.verdict.case import Case


class Kind(NamedTuple):
    """A kind of figure.

    ``rarer``: how much less likely it is at fault than the plainest, in units of chi-squared: what decides where
    readings cannot. ``named``: how far off it is worth a name, of a load as a part of it; 0 where any difference is.
    ``side``: which difference that is. ``granted``: what is taken for granted where it is taken as stated. ``cause``:
    the name of a cause, where it is not that of the kind. ``called``: what people call the figure, ``{}`` is the
    branch; empty where it is told of as a fault alone. ``text`` and ``advice`` are what is said of one that is off:
    with its ``{value}``, with what was ``{stated}``, and how much ``{more}`` it is.
    """

    rarer: float
    named: float = 0.0
    side: Literal["more", "less", "either"] = "either"
    granted: str = ""
    cause: str = ""
    called: str = ""
    text: str = ""
    advice: str = ""


_OHM = NAMED_RESISTANCE.value
_CONDUCTOR = "the {kind} with its contacts is {value}; the calculation used {stated}{more}"
KINDS = {
    "source-voltage": Kind(0.0),
    "supply": Kind(
        0.0, _OHM, "more", "the cable is as stated", "supply-resistance", "cable, plugs and trigger",
        text="cable, its plugs and the trigger together are {value}; the calculation used {stated}{more}",
        advice="Swap {cable} for another cable and measure again: if it goes, it was the cable, else a plug or the "
        "trigger. The warm one is the bad one.",
    ),
    "source": Kind(
        1.5, _OHM, "more", "the charger holds its voltage under load", "source-sags",
        text="its voltage falls under load, as if {value} sat inside it; the calculation counts on none",
        advice="Another charger, or less load: this one is at its end, or its own plug is bad.",
    ),
    "bus-draw": Kind(
        0.5, NAMED_CURRENT.value, "more", "nothing else hangs on the bus", called="unexplained current",
        text="{value} flows that does not belong to any branch",
        advice="Something else hangs on the bus, the trigger draws it, or a wire leaks: find it.",
    ),
    "burden": Kind(
        1.5, _OHM, "more", "the ammeter drops nothing", "meter-burden",
        text="the ammeter itself is {value}, in line while voltages were read",
        advice="Nothing is wrong with the wires. Read voltages with the ammeter out, or write its burden down.",
    ),
    "meter": Kind(
        2.5, cause="meter-factor", text="it reads {what} {value} times too high; 1 is right",
        advice="Nothing is wrong with the rig. Compare it with another meter, and try its other range.",
    ),
    "wire": Kind(0.0, _OHM, "more", "the wire is as stated", "wire-resistance", "wire of {}", text=_CONDUCTOR),
    "lead": Kind(0.0, _OHM, "more", "the lead is as stated", "lead-resistance", "lead of {}", text=_CONDUCTOR),
    "efficiency": Kind(
        0.0, NAMED_EFFICIENCY.value, "less", "the efficiency is as stated", called="efficiency of {}",
        text="its efficiency is {value}; the calculation used {stated}",
        advice="It warms up more and draws more: check its input current, let it cool, or take a better one.",
    ),
    "idle": Kind(
        0.5, NAMED_IDLE.value, "more", "the idle power is as stated", called="idle power of {}",
        text="it draws {value} with nothing at its output; the calculation used {stated}",
        advice="Is something left on its output, a display or a lamp? Else write the figure back.",
    ),
    "output": Kind(
        0.0, granted="the output is set as stated", cause="output-setting",
        text="its output is set to {value}, not {stated}",
        advice="Set it again with nothing on it, before any load is joined.",
    ),
    "sag": Kind(
        1.5, _OHM, "more", cause="output-sags", text="its output falls under load, as if {value} sat inside it",
        advice="It is at a limit of its own or starved at its input: see its input voltage at that step.",
    ),
    "load": Kind(
        1.5, NAMED_LOAD_SHARE.value, granted="the load takes what is stated", called="load of {}",
        text="the load is {value}; the calculation used {stated}",
        advice="Put the load that it really is into the rig file and check again.",
    ),
    "test-load": Kind(
        3.0, float("inf"), text="its test load is {value} of half the load",
        advice="Set it again, or read the current that it takes.",
    ),
}  # fmt: skip


def cause_name(kind: str) -> str:
    """What a cause is called that comes of a kind of figure.

    >>> cause_name("supply"), cause_name("idle")
    ('supply-resistance', 'idle')
    """
    return KINDS[kind].cause or kind


UNIFORM = 1 / math.sqrt(3)
"""Standard deviation of what may be anywhere within plus or minus one."""


class Unknown(NamedTuple):
    """A figure that readings depend on: what was stated, how far off it usually is, how far off it may be as a fault.

    ``stated`` is the range of tolerance. ``sigma`` is the standard deviation of what is usual, and ``size`` that of a
    fault. ``least`` and ``most`` end what is possible at all. Efficiency and loads are factors on what was stated.
    """

    kind: str
    subject: str
    unit: str
    stated: Triple
    sigma: float
    size: float
    least: float = -math.inf
    most: float = math.inf

    @property
    def name(self) -> str:
        """Kind and subject in one."""
        return f"{self.kind} {self.subject}"


def unknowns(case: Case, meter: Meter) -> tuple[Unknown, ...]:
    """Everything that may be off on a bench, in a fixed order: the shared part first, then each branch, then the meter.

    >>> from pdcheck.parts.kit import Kit
    >>> from pdcheck.parts.rig import Rig
    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "100mOhm"}])
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> [each.name for each in unknowns(Case(rig, kit.sources[0], kit.cables[0]), Meter(0.005, 0.005))][:6]
    ['source-voltage source', 'supply bus', 'source source', 'bus-draw bus', 'burden bus', 'burden every']
    """
    return (*_shared(case, meter), *(each for branch in case.spec.branches for each in _branch(case.spec, branch)),
            *_meter(meter))  # fmt: skip


def _shared(case: Case, meter: Meter) -> Iterator[Unknown]:
    volts = case.source_v
    usual = max(volts.max - volts.min, 0.1 * volts.typ) / 2
    yield Unknown("source-voltage", "source", "V", volts, usual, volts.typ, 0.1, 100.0)
    yield _ohms("supply", "bus", series_ohm(case.spec))
    yield _ohms("source", "source", Triple.exact(0.0))
    yield Unknown("bus-draw", "bus", "A", Triple.exact(0.0), _slack("bus-draw"), 0.3, -0.05, 9.0)
    burden = _ohms("burden", "bus", Triple.exact(0.0))
    every = burden._replace(subject="every", sigma=1e-6)
    if meter.burden_ohm is not None:  # known: nobody's fault
        usual = 0.05 * meter.burden_ohm + 0.001
        burden = burden._replace(stated=Triple.exact(meter.burden_ohm), sigma=usual, size=usual)
        every = every._replace(size=every.sigma)
    yield burden
    yield every


def _branch(spec: NetworkSpec, branch: BranchSpec) -> Iterator[Unknown]:
    name, converter, load = branch.name, branch.converter, branch.load
    yield _ohms("wire", name, conductor_ohm(spec, branch.wire))
    if branch.lead != Conductor():  # without one, no reading tells it from the wire
        yield _ohms("lead", name, conductor_ohm(spec, branch.lead))
    if converter is not None:
        counted = converter.counted_efficiency
        peak = counted if isinstance(counted, float) else max(map(max, counted.values))
        usual = _usual(spec.efficiency, "efficiency")
        stated = Triple(*(min(each, 1.0 / peak) for each in spec.efficiency))
        yield Unknown("efficiency", name, "%", stated, usual, 0.2, 0.05, 1.0 / peak)
        idle = Triple.exact(converter.idle_w)
        yield Unknown("idle", name, "W", idle, _slack("idle"), 1.0, 0.0, 100.0)
        volts, error = converter.output_v, OUTPUT_SETTING.value
        set_to = Triple(volts * (1 - error), volts, volts * (1 + error))
        yield Unknown("output", name, "V", set_to, volts * error * UNIFORM, 0.2 * volts, 0.2 * volts, 4.0 * volts)
        yield _ohms("sag", name, Triple.exact(0.0))
    usual = _usual(spec.load, "load")
    yield Unknown("load", name, load.unit, spec.load, usual, 0.5, 0.02, 20.0)
    if load.can_be_halved:
        yield Unknown("test-load", name, load.unit, Triple(0.9, 1.0, 1.1), 0.03, 0.5, 0.02, 20.0)


def _meter(meter: Meter) -> Iterator[Unknown]:
    for subject, share in (("V", meter.volts), ("A", meter.amperes)):
        # Half of its error is that of its reference, which all ranges share, half that of each range.
        usual = share * UNIFORM * math.sqrt(0.5)
        yield Unknown("meter", subject, "", Triple(1 - share, 1.0, 1 + share), usual, 0.006, 0.3, 3.0)
        yield Unknown("meter", f"{subject} high", "", Triple(1 - share, 1.0, 1 + share), usual, 0.006, 0.3, 3.0)


def _ohms(kind: str, subject: str, stated: Triple) -> Unknown:
    return Unknown(kind, subject, "ohm", stated, _usual(stated, kind), 0.3, 0.0, 20.0)


def _usual(stated: Triple, kind: str) -> float:
    return math.hypot((stated.max - stated.min) / 2 * UNIFORM, _slack(kind))


def _slack(kind: str) -> float:
    """How far off a figure usually is beyond its tolerance."""
    return UNNAMED_SHARE.value * KINDS[kind].named


def series_ohm(spec: NetworkSpec, but: str = "") -> Triple:
    """All that is in front of the bus, plugs too, as stated [ohm]; without one of them where that is named."""
    parts = (ohm for name, ohm in spec.series if name != but)
    ranges = (part if part.max > part.min else [part.typ * each for each in spec.resistance] for part in parts)
    return Triple(*map(sum, zip(*ranges, strict=True)))


def conductor_ohm(spec: NetworkSpec, conductor: Conductor) -> Triple:
    """A wire with its contacts over the corners [ohm]."""
    return Triple(
        *(
            (conductor.copper_ohm * copper + conductor.fixed_ohm) * resistance
            for copper, resistance in zip(spec.copper, spec.resistance, strict=True)
        )
    )
