"""What may be off on the bench: every figure that readings depend on, as stated, and how far off is nothing unusual."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.facts.trade import OUTPUT_SETTING, UNNAMED_SHARE
from pdcheck.named import NamedTuple
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.kinds import KINDS
from pdcheck.verdict.bringup.meter import Meter
from pdcheck.verdict.case import Case

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
    yield _ohms("supply", "bus", supply_ohm(case.spec))
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
        peak = efficiency_peak(branch)
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


def efficiency_peak(branch: BranchSpec) -> float:
    """The best efficiency that a converter is stated to have anywhere (0..1)."""
    assert branch.converter is not None
    counted = branch.converter.counted_efficiency
    return counted if isinstance(counted, float) else max(max(row) for row in counted.values)


def _series(spec: NetworkSpec, part: Triple) -> Triple:
    return part if part.max > part.min else Triple(*(part.typ * factor for factor in spec.resistance))


def trigger_ohm(spec: NetworkSpec) -> Triple:
    """The trigger's own part of the resistance in front of the bus, as stated [ohm]."""
    return _series(spec, spec.trigger)


def supply_ohm(spec: NetworkSpec) -> Triple:
    """Cable, plugs and trigger together, as stated [ohm]."""
    return Triple(*map(sum, zip(_series(spec, spec.cable), trigger_ohm(spec), strict=True)))


def conductor_ohm(spec: NetworkSpec, conductor: Conductor) -> Triple:
    """A wire with its contacts over the corners [ohm]."""
    return Triple(
        *(
            (conductor.copper_ohm * copper + conductor.fixed_ohm) * resistance
            for copper, resistance in zip(spec.copper, spec.resistance, strict=True)
        )
    )
