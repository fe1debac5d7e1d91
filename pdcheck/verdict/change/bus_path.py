"""Bus path: what VBUS does, step by step with the standard's times, when a source offers less or the plug is pulled."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pdcheck.contract.settle import Contract
from pdcheck.facts.origin import Origin
from pdcheck.facts.timing import timer
from pdcheck.facts.voltage import SAFE_0V, SAFE_5V, SLEW_FALLING, SLEW_RISING, VALID_MARGIN
from pdcheck.marks import AS_TEXT, UNTOLD, Named, told
from pdcheck.named import NamedTuple
from pdcheck.parts.behaviour import Telling
from pdcheck.quantities import Triple

Way = Literal[Telling, "unplug"]
WAYS: dict[Way, str] = {
    "capabilities": "if the charger announces it",
    "hard-reset": "if the charger resets",
    "unplug": "if the plug is pulled and put back",
}
UNTIMED = Origin("no limit of the standard", "common practice")


class Ends(NamedTuple):
    """Least and greatest."""

    min: float
    max: float


class Span(NamedTuple):
    """Least and greatest; None where nobody says how much."""

    min: float | None
    max: float | None


class Step(NamedTuple):
    """One step: what happens, VBUS at its end (least, greatest) [V], how long it takes [s], by which timers.

    ``least_s`` and ``greatest_s`` are ``None`` where the standard says nothing on that side.
    """

    what: str
    voltage_v: Ends
    least_s: Annotated[float | None, UNTOLD]
    greatest_s: Annotated[float | None, UNTOLD]
    timers: tuple[str, ...]
    origin: Annotated[Origin, AS_TEXT]

    @told
    def lasts_s(self) -> Span:
        """How long it takes [s]."""
        return Span(self.least_s, self.greatest_s)


class BusPath(NamedTuple):
    """One way from a contract to the next.

    ``lowest_v`` [V] is the least that VBUS comes down to at the source on the way, transients included; 0 where it is
    switched off. ``off_s`` and ``five_s``: how long VBUS is away, and at 5 V after that (least, greatest) [s], each
    ``None`` where it does not happen; an end of it ``None`` where nobody says how long.
    """

    way: Way
    steps: tuple[Step, ...]
    lowest_v: float
    off_s: Span | None
    five_s: Annotated[Span | None, Named("five_volts_s")]

    @property
    def interrupted(self) -> bool:
        """Whether VBUS goes to 0 V on the way."""
        return self.off_s is not None


def _ends(triple: Triple) -> Ends:
    return Ends(triple.min, triple.max)


_ZERO, _FIVE = (Ends(volts.require_min(), volts.require_max()) for volts in (SAFE_0V, SAFE_5V))


def _timed(what: str, voltage_v: Ends, *names: str, epr: bool = False) -> Step:
    """A step that takes as long as some timers together."""
    rows = [timer(name, epr=epr) for name in names]
    least = [row.min for row in rows if row.min is not None]
    return Step(
        what,
        voltage_v,
        round(sum(least), 9) if least else None,
        round(sum(row.require_max() for row in rows), 9),
        tuple(row.name for row in rows),
        rows[0].origin,
    )


def new_capabilities(before: Contract, before_v: Triple, after: Contract, after_v: Triple) -> BusPath:
    """The source sends a new list, the trigger asks again, VBUS goes straight to the new voltage.

    ``before_v`` and ``after_v`` [V] are VBUS at the source on the two contracts. Sources: the timers' own; vSrcSlewNeg,
    vSrcSlewPos and vSrcValid, PD R3.2 V1.1, Tables 7.23 to 7.25.

    >>> fixed = Contract("as-asked", "fixed", 15.0, 3.0, None, (), False, "")
    >>> lower = fixed._replace(voltage_v=9.0)
    >>> path = new_capabilities(fixed, Triple(14.25, 15.0, 15.75), lower, Triple(8.55, 9.0, 9.45))
    >>> path.lowest_v, path.interrupted, [step.greatest_s for step in path.steps]
    (8.05, False, [0.033, 0.035, 0.285, 0.015])
    """
    epr = before.epr or after.epr
    steps = [
        _timed("new Source_Capabilities; the trigger asks again", _ends(before_v), "tSenderResponse")._replace(
            least_s=None
        ),
        _timed("Accept; the load should go down (tSnkStdby)", _ends(before_v), "tSrcTransition"),
    ]
    if before.voltage_v != after.voltage_v:
        slope = SLEW_FALLING if after.voltage_v < before.voltage_v else SLEW_RISING
        moving = _timed(
            f"VBUS goes from {before.voltage_v:g} V straight to {after.voltage_v:g} V",
            _ends(after_v),
            "tSrcReady",
            epr=epr,
        )
        fastest = abs(after.voltage_v - before.voltage_v) / slope.value
        steps.append(moving._replace(least_s=round(fastest, 9), timers=(*moving.timers, slope.name)))
    steps.append(_timed("PS_RDY; the load may come back", _ends(after_v), "tSnkNewPower"))
    lowest = min(before_v.min, after_v.min) - VALID_MARGIN.value
    return BusPath("capabilities", tuple(steps), round(lowest, 9), None, None)


def hard_reset(before: Contract, before_v: Triple, after: Contract, after_v: Triple) -> BusPath:
    """The source resets: VBUS to 0 V, off for a while, 5 V, then a contract from the new list.

    >>> from pdcheck.bits.offers import fixed
    >>> same = Contract("as-asked", "fixed", 15.0, 3.0, fixed(15000, 3000, 2), (), False, "")
    >>> path = hard_reset(same, Triple(14.25, 15.0, 15.75), same, Triple(14.25, 15.0, 15.75))
    >>> path.lowest_v, path.off_s, path.five_s
    (0.0, Span(min=0.66, max=1.925), Span(min=None, max=0.608))
    """
    down = [
        _timed("Hard Reset; VBUS is still on", _ends(before_v), "tPSHardReset"),
        _timed("VBUS falls to 0 V", _ZERO, "tSafe0V"),
        _timed("VBUS is off", _ZERO, "tSrcRecover", epr=before.epr),
    ]
    return _from_zero("hard-reset", down, after, after_v, away=1)


def unplugged(after: Contract, after_v: Triple) -> BusPath:
    """The plug is pulled and put back: 0 V for as long as it is out, 5 V, then a contract.

    >>> same = Contract("as-asked", "fixed", 15.0, 3.0, None, (), False, "")
    >>> unplugged(same, Triple(14.25, 15.0, 15.75)).off_s
    Span(min=0.1, max=None)
    """
    out = [
        Step("the plug is out; the capacitance empties into the loads", _ZERO, None, None, (), UNTIMED),
        _timed("the plug is in again; CC has to be steady", _ZERO, "tCCDebounce"),
    ]
    return _from_zero("unplug", out, after, after_v, away=0)


def _from_zero(way: Way, down: list[Step], after: Contract, after_v: Triple, *, away: int) -> BusPath:
    """The rest of a path from 0 V up; VBUS counts as away from step ``away`` of ``down`` on."""
    rise = _timed("VBUS rises to 5 V, with no limit to its slope", _FIVE, "tSrcTurnOn")
    steps, five = [*down, rise], list(_negotiated(after, after_v))
    steps += five
    off = _together([*down[away:], rise])
    return BusPath(way, tuple(steps), 0.0, off, _together(five) if five else None)


def _negotiated(after: Contract, after_v: Triple) -> Iterator[Step]:
    if after.offer is None:
        return
    yield _timed("5 V; first Source_Capabilities", _FIVE, "tFirstSourceCap")
    yield _timed("5 V; the trigger asks", _FIVE, "tSenderResponse")._replace(least_s=None)
    if after.epr:
        yield _timed("5 V; EPR mode is entered", _FIVE, "tEnterEPR")
    yield _timed(f"Accept; VBUS goes to {after.voltage_v:g} V", _ends(after_v), "tSrcTransReq", epr=after.epr)


def _together(steps: list[Step]) -> Span:
    least = [step.least_s for step in steps if step.least_s is not None]
    greatest = [step.greatest_s for step in steps]
    most = None if None in greatest else round(sum(each for each in greatest if each is not None), 9)
    return Span(round(sum(least), 9) if least else None, most)
