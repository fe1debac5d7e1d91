"""First power-up: the steps in order, where the meter goes, and what it should show by the corners of the sums."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.circuit.corners import NodeTriple, corners, with_output_scaled, with_shares
from pdcheck.contract.settle import Contract
from pdcheck.facts.cautions import BRANCH as ABOUT_BRANCHES
from pdcheck.facts.cautions import CABLE as ABOUT_CABLES
from pdcheck.facts.cautions import CAUTIONS, LAW
from pdcheck.facts.cautions import TRIGGER as ABOUT_TRIGGERS
from pdcheck.facts.trade import OHMMETER_LEADS, OHMMETER_SHARE, OUTPUT_SETTING, SHORT_BELOW
from pdcheck.facts.voltage import SAFE_0V
from pdcheck.marks import UNLISTED, UNTOLD, Mark, Named, passed, told
from pdcheck.named import NamedTuple
from pdcheck.parts.rig import Branch
from pdcheck.quantities import Triple, format_quantity
from pdcheck.result import Result
from pdcheck.verdict.bringup.words import (
    BRANCH_STOP,
    OPTIONAL,
    READINGS,
    TOGETHER_STOP,
    TRIGGER_STOP,
    UNPOWERED_DO,
    UNPOWERED_STOP,
    Expected,
    Path,
    Reading,
    StopAt,
    stops_at,
    trigger_actions,
)
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Finding, Verdict
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.not_judged import NotJudged

UNPOWERED: Path = ("unpowered",)
TRIGGER: Path = ("trigger",)
TOGETHER: Path = ("together",)
SHARES = {"unloaded": 0.0, "half": 0.5, "full": 1.0}


class Step(NamedTuple):
    """One step: what to do, what to read, when to stop. ``branches`` are joined, at ``share`` of their load.

    ``stop_at`` are the figures from which on to stop, out of the limits of the parts.
    """

    path: Annotated[Path, Mark(".".join, {"type": "string"}), Named("step")]
    title: str
    actions: Annotated[tuple[str, ...], UNLISTED]
    readings: tuple[Reading, ...]
    stop: Annotated[tuple[str, ...], UNLISTED]
    branches: tuple[str, ...] = ()
    share: Annotated[float, Named("load_share")] = 1.0
    stop_at: tuple[StopAt, ...] = ()


@dataclass(frozen=True, repr=False)
class BringUp(Result):
    """All steps of a first power-up. ``halted`` says why there are no more of them; empty where all are there."""

    SCHEMA: ClassVar[str] = "bringup/3"
    TITLE: ClassVar[str] = "A first power-up step by step"
    ROWS: ClassVar[tuple[str, ...]] = ("steps", "readings")

    judgement: Annotated[Judgement, UNTOLD]
    steps: tuple[Step, ...]
    halted: str

    rig = passed[str]("case.rig.title", "The rig's title.")
    source = passed[str]("judgement.source", "The source's id.")
    cable = passed[str]("judgement.cable", "The cable's id.")
    verdict = passed[Verdict]("judgement.verdict", "The verdict by the sums.")
    contract = passed[Contract]("judgement.contract", "The contract to come.")

    @told
    def findings(self) -> tuple[Finding, ...]:
        """What was found that is more than a note."""
        return tuple(each for each in self.judgement.findings if each.level != "note")

    not_judged = passed[tuple[NotJudged, ...]](
        "judgement.not_judged", "Every figure that nobody states and that the verdict depends on, as of ``check``."
    )

    @told
    def cautions(self) -> Annotated[tuple[str, ...], UNLISTED]:
        """What belongs on a bench while something is powered up for the first time."""
        about = (LAW, ABOUT_CABLES, ABOUT_TRIGGERS, ABOUT_BRANCHES)
        every = (*self.case.rig.cautions, *(caution for caution in CAUTIONS if caution.heading in about))
        return tuple(caution.text for caution in every)

    @property
    def works(self) -> bool:
        """Whether the rig does its job by the sums."""
        return self.judgement.works

    def answer(self) -> str:
        """How many steps there are, and why no more of them."""
        told = f"{self.judgement.answer()}, {len(self.steps)} steps"
        return f"{told}, {self.halted}" if self.halted else told

    @property
    def case(self) -> Case:
        """The rig on its source and cable."""
        return self.judgement.case

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings of all steps."""
        return tuple(each for step in self.steps for each in step.readings)

    def reading(self, path: Path, key: str) -> Reading | None:
        """The reading of that place, if it is one of the sheet's."""
        return next((each for each in self.readings if (each.path, each.key) == (path, key)), None)


def bring_up(judgement: Judgement) -> BringUp:
    """The steps of a safe first power-up of a judged rig, with the ranges that the corners of the sums give.

    Where the rig is unsafe, or its trigger gives nothing, the steps end before anything is joined to the bus.

    >>> from pdcheck.parts.kit import Kit
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.verdict.judge import judge
    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "100mOhm"}])
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> plan = bring_up(judge(rig, kit.sources[0], kit.cables[0]))
    >>> [".".join(step.path) for step in plan.steps]
    ['unpowered', 'trigger', 'branch.fan.half', 'branch.fan.full']
    >>> [round(volts, 2) for volts in plan.steps[-1].readings[0].expected]
    [8.45, 8.9, 9.35]
    """
    case = judgement.case
    steps = [_unpowered(case), _trigger(case)]
    stops = [finding for finding in judgement.findings if finding.level == "stop"]
    if stops:
        return BringUp(judgement, tuple(steps), f"do not connect it: {stops[0].subject}: {stops[0].text}")
    if case.contract.outcome == "off":
        return BringUp(judgement, tuple(steps), f"the trigger gives nothing: {case.contract.reason}")
    joined = [branch for branch in case.rig.branches if branch.name not in case.off]
    for branch in joined:
        for stage in _stages(case, branch):
            step = _branch_step(case, branch, stage)
            if step is None:
                why = f"at {stage} load of {branch.name} the voltage collapses"
                return BringUp(judgement, tuple(steps), why)
            steps.append(step)
    if len(joined) > 1:
        together = _together(case, joined)
        if together is None:
            return BringUp(judgement, tuple(steps), "with all branches together the voltage collapses")
        steps.append(together)
    if case.off:
        return BringUp(judgement, tuple(steps), f"{', '.join(sorted(case.off))}: cannot run on this contract")
    return BringUp(judgement, tuple(steps), "")


def _unpowered(case: Case) -> Step:
    readings = [_reading(UNPOWERED, "polarity", Expected(None, None, None))]
    for branch in case.rig.branches:
        readings.append(_reading((*UNPOWERED, branch.name), "input_ohm", _input_ohm(branch), branch.name))
    return Step(UNPOWERED, "Before anything is joined", UNPOWERED_DO, tuple(readings), UNPOWERED_STOP, (), 0.0)


def _input_ohm(branch: Branch) -> Expected:
    """What an ohmmeter shows across the input wires of a branch that is joined to nothing."""
    ohms = branch.load.ohmmeter_ohm
    if branch.converter is None and ohms is not None:
        share = OHMMETER_SHARE.value
        return Expected(ohms * (1 - share), ohms, ohms * (1 + share) + OHMMETER_LEADS.value)
    return Expected(SHORT_BELOW.value, None, None)


def _trigger(case: Case) -> Step:
    before, after = case.before_v, case.source_v
    contract = case.contract
    if contract.outcome == "off":
        after = Triple(0.0, 0.0, SAFE_0V.require_max())
    readings = [
        _reading(TRIGGER, "before_v", Expected(*before)),
        _reading(TRIGGER, "bus_v", Expected(*after)),
        _reading(TRIGGER, "bus_a", Expected(0.0, 0.0, 0.0)),
    ]
    asked = f"{contract.voltage_v:g} V" if contract.outcome != "off" else "nothing"
    actions = trigger_actions(case.source.id, case.cable.id, asked, contract.reason, contract.outcome)
    title, later = "The trigger alone on its source", [branch.name for branch in case.rig.branches]
    stop_at = stops_at(case, readings[1:], [name for name in later if name not in case.off], flows=False)
    return Step(TRIGGER, title, actions, tuple(readings), TRIGGER_STOP, (), 0.0, stop_at)


def _stages(case: Case, branch: Branch) -> tuple[str, ...]:
    """Unloaded for what has a converter, half where a test load can be set so, and full."""
    first = ("unloaded",) if branch.converter is not None else ()
    return (*first, *(("half",) if branch.load.can_be_halved else ()), "full")


def expected_nodes(case: Case, shares: dict[str, float]) -> dict[str, NodeTriple] | None:
    """Nodes over all corners, with only the branches of ``shares`` joined and their loads at these shares.

    A converter's output counts as set within its usual error. None where there is no operating point as stated.
    """
    off = case.off | {branch.name for branch in case.rig.branches if branch.name not in shares}
    spec = with_shares(case.spec, shares)
    error = OUTPUT_SETTING.value if any(branch.converter for branch in case.spec.branches) else 0.0
    factors = (1.0, 1.0 - error, 1.0 + error) if error else (1.0,)
    found = [corners(with_output_scaled(spec, factor), off).nodes for factor in factors]
    if not all(found):
        return None
    return {
        name: NodeTriple(
            _around(node.voltage_v, (each[name].voltage_v for each in found)),
            _around(node.current_a, (each[name].current_a for each in found)),
        )
        for name, node in found[0].items()
    }


def _around(typical: Triple, all_of: Iterable[Triple]) -> Triple:
    listed = list(all_of)
    return Triple(min(each.min for each in listed), typical.typ, max(each.max for each in listed))


def _branch_step(case: Case, branch: Branch, stage: str) -> Step | None:
    nodes = expected_nodes(case, {branch.name: SHARES[stage]})
    if nodes is None:
        return None
    path = ("branch", branch.name, stage)
    readings = [_at(path, key, nodes) for key in ("bus_v", "bus_a")]
    readings += _branch_readings(path, branch, nodes, loaded=stage != "unloaded")
    if stage == "full":
        readings.append(_at(path, "source_v", nodes))
    title = {"unloaded": "converter joined, nothing at its output", "half": "half load", "full": "full load"}[stage]
    return Step(
        path,
        f"{branch.name}: {title}",
        _branch_actions(branch, stage),
        tuple(readings),
        BRANCH_STOP,
        (branch.name,),
        SHARES[stage],
        stops_at(case, readings, (branch.name,)),
    )


def _branch_readings(path: Path, branch: Branch, nodes: dict[str, NodeTriple], *, loaded: bool) -> list[Reading]:
    """The readings along one branch: its converter's ends, and its load's terminals."""
    name = branch.name
    converter, lead = branch.converter is not None, branch.lead is not None
    kept = {"in_v": loaded and (converter or lead), "out_v": converter, "out_a": converter and loaded}
    readings = [_at(path, key, nodes, name) for key, there in kept.items() if there]
    if loaded and (lead or not converter):
        load_v = _at(path, "load_v", nodes, name)
        readings.append(load_v._replace(where=load_v.where.format(terminals=branch.load.terminals(name))))
    return readings


def _branch_actions(branch: Branch, stage: str) -> tuple[str, ...]:
    name = branch.name
    if stage == "unloaded":
        set_to = "" if branch.converter is None else format_quantity(branch.converter.output_v, "V")
        return (
            f"Unplug. Join {name}'s converter to the trigger, nothing at its output. Plug in.",
            f"Set the output to {set_to} if it can be set, before you connect any load.",
        )
    if stage == "half":
        half = branch.load.at_peak().share(0.5).words()
        return (f'Unplug. Load "{name}" with {half}: a dummy load, or part of the real one. Plug in.',)
    load = branch.load
    first = (load.bench,) if load.bench else ()
    return (*first, f'Unplug. Load "{name}" in full: {load.at_peak().words()}. Plug in, read, and read again warm.')


def _together(case: Case, joined: list[Branch]) -> Step | None:
    nodes = expected_nodes(case, {branch.name: 1.0 for branch in joined})
    if nodes is None:
        return None
    readings = [_at(TOGETHER, key, nodes) for key in ("bus_v", "bus_a", "source_v")]
    for branch in joined:
        path = (*TOGETHER, branch.name)
        readings += _branch_readings(path, branch, nodes, loaded=True)
        readings.append(_at(path, "in_a", nodes, branch.name))
    actions = ("Unplug. Join every branch with its full load. Plug in, read, and read again after ten minutes.",)
    names = [branch.name for branch in joined]
    title, stop_at = "All branches together", stops_at(case, readings, names)
    return Step(TOGETHER, title, actions, tuple(readings), TOGETHER_STOP, tuple(names), 1.0, stop_at)


def _at(path: Path, key: str, nodes: dict[str, NodeTriple], name: str = "") -> Reading:
    found = nodes[_node(key, name)]
    return _reading(path, key, Expected(*(found.current_a if key.endswith("_a") else found.voltage_v)), name)


def _reading(path: Path, key: str, expected: Expected, name: str = "") -> Reading:
    where, outside, unit = READINGS[key]
    where, node = where.replace("{name}", name), _node(key, name)
    return Reading(path, key, where, unit, node, expected, outside, key in OPTIONAL)


def _node(key: str, name: str) -> str:
    """The node of the sums where a reading is taken; ``name`` is the branch."""
    if key == "source_v":
        return "source"
    return f"{name}/{'in' if key == 'input_ohm' else key.partition('_')[0]}" if name else "bus"
