"""Run time: how long a power bank feeds a rig, what takes its energy, and what one change would bring."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar

from pdcheck.contract.settle import Contract
from pdcheck.facts.trade import GOOD_EFFICIENCY, LIGHT_LOAD, OWN_DRAW
from pdcheck.marks import UNTOLD
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.limits import rounded
from pdcheck.parts.request import FixedRequest
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.parts.store import Store, store_at
from pdcheck.quantities import Triple, format_quantity
from pdcheck.result import Result
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import WORKS, Finding, Verdict
from pdcheck.verdict.judge import judge_case
from pdcheck.verdict.power_bank import Sleep, hours_of, sleep_of

WORTH_TELLING = 0.005
"""Below this part more of hours a change is no change."""


class Share(NamedTuple):
    """What a part takes on average [W], and its part (0..1) of all that leaves the cells; with everything as stated.

    Named as ``losses`` are in ``check``: ``cable``, ``NAME/wire``, ``NAME/converter``; and ``NAME/idle`` what a
    converter draws besides, ``NAME/load`` what is useful, ``source`` what the power bank's own converter loses.
    """

    part: str
    power_w: float
    share: float


class Change(NamedTuple):
    """One change, the hours with it, how many more that is with everything as stated, and what else comes of it."""

    change: str
    hours: Triple
    more_h: float
    but: tuple[str, ...]


@dataclass(frozen=True, repr=False)
class RunTime(Result):
    """A rig on a power bank and a cable: ``hours`` (None where it does not run at all), and what takes the energy.

    ``output_wh`` [Wh] comes out of the power bank on this contract, ``average_w`` [W] is what the rig takes there,
    ``cells_wh`` what its cells hold. ``sleeps``: whether the load may be so light that the power bank switches off.
    """

    SHOWN: ClassVar[str] = "runtime"

    source: str
    cable: str
    verdict: Verdict
    contract: Contract
    hours: Triple | None
    shares: tuple[Share, ...]
    sleeps: bool
    output_wh: Triple
    cells_wh: Triple | None
    average_w: Triple | None
    least_a: Triple | None
    sleeps_below_a: Triple | None
    changes: tuple[Change, ...]
    assumed: tuple[str, ...]
    against: Annotated[Finding | None, UNTOLD] = None
    sleep: Annotated[Sleep | None, UNTOLD] = None
    off: Annotated[tuple[str, ...], UNTOLD] = ()
    loads_in_time: Annotated[bool, UNTOLD] = field(default=False)

    @property
    def works(self) -> bool:
        """Whether the rig does its job on it: exit code 0."""
        return self.verdict in WORKS

    def answer(self) -> str:
        """How long, at least."""
        if self.hours is None:
            return f"{self.source} with {self.cable}: does not run"
        least = format_quantity(rounded(self.hours.min, up=False, digits=3), "h", 3)
        return f"{self.source} with {self.cable}: {least} or more"

    def to_dict(self) -> dict[str, Any]:
        """The document of ``runtime`` on this pair alone."""
        return RunTimes("", (self,)).to_dict()


@dataclass(frozen=True, repr=False)
class RunTimes(Result):
    """A rig on every power bank; ``without`` are the sources that do not say what they hold."""

    SCHEMA: ClassVar[str] = "runtime/2"
    TITLE: ClassVar[str] = "How long a power bank feeds a rig"
    ROWS: ClassVar[tuple[str, ...]] = ("results",)
    ALONE: ClassVar[str | None] = "results"

    rig: str
    results: tuple[RunTime, ...]
    without: tuple[str, ...] = ()

    @property
    def works(self) -> bool:
        """Whether the rig does its job on every power bank."""
        return all(each.works for each in self.results)

    def answer(self) -> str:
        """The hours of one, or how many there are."""
        return self.results[0].answer() if len(self.results) == 1 else f"{len(self.results)} pairs"


def run_time(rig: Rig, source: Source, cable: Cable) -> RunTime | None:
    """How long a rig runs from a source over a cable; None for a source that does not say what it holds."""
    case = Case(rig, source, cable)
    store = store_at(source, case.contract.voltage_v)
    if store is None:
        return None
    judged = judge_case(case)
    hours, sleep, taken = hours_of(case), sleep_of(case), case.over_time
    return RunTime(
        source.id,
        cable.id,
        judged.verdict,
        case.contract,
        hours,
        tuple(_shares(case, store)) if hours is not None else (),
        sleep is not None and sleep.may,
        store.output_wh,
        store.cells_wh,
        None if taken is None else taken.source_w,
        None if sleep is None else sleep.lightest_a,
        None if sleep is None else sleep.below_a,
        () if hours is None else _changes(case, hours),
        (*store.assumed, *_of_light_load(case)),
        judged.decided,
        sleep,
        tuple(branch.name for branch in rig.branches if branch.name in case.off),
        any(branch.load.changes for branch in rig.branches),
    )


def _of_light_load(case: Case) -> Iterator[str]:
    taken = None if case.over_time is None else case.over_time.source_w
    if taken is None or not 0.0 < taken.max < LIGHT_LOAD.value:
        return
    light = f"below {format_quantity(LIGHT_LOAD.value, 'W')} a power bank's own electronics matter"
    if case.source.efficiency is None:
        yield f"{light}: at the least hours up to {format_quantity(OWN_DRAW.value, 'W')} are counted for them"
    else:
        yield f"{light}: its efficiency is taken to hold for so light a load too"


def _shares(case: Case, store: Store) -> Iterator[Share]:
    mean = case.over_time
    assert mean is not None, "only what runs has hours"
    parts: dict[str, float] = {}
    if store.inside is not None:
        parts["source"] = mean.source_w.typ / store.inside - mean.source_w.typ
    idle = {
        branch.name: branch.converter.idle_w
        for branch in case.branches()
        if branch.converter is not None and branch.name not in case.off
    }
    for part, loss_w in mean.losses.items():
        name, _, place = part.rpartition("/")
        own = idle.get(name, 0.0) if place == "converter" else 0.0
        parts[part] = loss_w.typ - own
        if own:
            parts[f"{name}/idle"] = own
    parts |= {f"{name}/load": watts.typ for name, watts in mean.loads.items()}
    whole = sum(parts.values())
    listed = sorted(((watts, part) for part, watts in parts.items() if watts > 0.0), reverse=True)
    return (Share(part, watts, watts / whole) for watts, part in listed)


def _changes(case: Case, hours: Triple) -> tuple[Change, ...]:
    """What one change brings, the most first; nothing that keeps the rig from doing its job."""
    found: list[Change] = []
    for words, rig in _changed(case):
        new = Case(rig, case.source, case.cable)
        after = hours_of(new)
        if after is None or after.typ <= hours.typ * (1.0 + WORTH_TELLING) or new.off - case.off:
            continue
        if judge_case(new).verdict in WORKS:
            found.append(Change(words, after, after.typ - hours.typ, tuple(_but(case, new))))
    return tuple(sorted(found, key=lambda each: -each.more_h))


def _but(case: Case, new: Case) -> Iterator[str]:
    """What else comes of a change: loads that get less power, and a power bank that may switch off then."""
    before, after = case.over_time, new.over_time
    assert before is not None and after is not None, "both run"
    for name, watts in after.loads.items():
        if watts.typ < before.loads[name].typ * (1.0 - WORTH_TELLING):
            shown = (format_quantity(each, "W", 3) for each in (watts.typ, before.loads[name].typ))
            yield f"{name} gets {' of '.join(shown)}"
    old, sleep = sleep_of(case), sleep_of(new)
    if sleep is not None and sleep.may and not (old is not None and old.may):
        yield "it may switch itself off"


def _changed(case: Case) -> Iterator[tuple[str, Rig]]:
    rig, contract = case.rig, case.contract
    volts = {offer.max_mv / 1000 for offer in case.seen.offers if offer.kind == "fixed" and not offer.is_gap}
    for voltage_v in sorted(volts - {contract.voltage_v}):
        yield f"set the trigger to {voltage_v:g} V", rig.with_trigger(request=FixedRequest(voltage_v))
    good = GOOD_EFFICIENCY.value
    for branch in rig.branches:
        if branch.converter is not None and branch.name not in case.off:
            better = branch.converter.model_copy(update={"efficiency": good})
            words = f"a converter of {format_quantity(good, '%')} for {branch.name}"
            yield words, rig.with_branch(branch, converter=better)
    for branch in rig.branches if len(rig.branches) > 1 else ():
        if branch.name not in case.off:
            others = tuple(each for each in rig.branches if each is not branch)
            yield f"without {branch.name}", rig.model_copy(update={"branches": others})
