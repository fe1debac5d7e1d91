"""The walk over the bus voltage beside the solver in time, on one random build; and why they may differ."""

from __future__ import annotations

from typing import NamedTuple

from pdcheck.circuit.transient.filter import input_v, settles
from pdcheck.circuit.transient.given import Branch, Circuit
from pdcheck.circuit.transient.laws import POWER, Law
from pdcheck.circuit.transient.port import law_of
from pdcheck.circuit.transient.run import run
from pdcheck.circuit.transient.walk import Draw, Stage, Walk, walk
from tests.outside.random_builds import END_S, random_build


class Pair(NamedTuple):
    """What both say of one branch: the solver's fate, what sticks in the walk; ``why`` they may differ, or None."""

    branch: str
    fate: str
    sticks: str
    why: str | None


def draw_of(branch: Branch) -> Draw:
    """A branch as the walk takes it."""
    load, converter = branch.load, branch.converter
    if converter is None:
        return Draw(branch.name, law_of(load, 1.0), branch.wire_ohm + branch.lead_ohm, load.start_v, load.stop_v)
    law = law_of(load, 1.0)
    volts = converter.output_v
    if law.kind == POWER:
        current = law.size / volts
    elif law.kind == 2:
        current = max(volts - law.threshold_v, 0.0) / (1.0 / law.size + branch.lead_ohm)
    else:
        current = law.size
    charge_w = converter.output_f * volts * volts / converter.soft_start_s / converter.efficiency
    watts = Law(POWER, volts * current / converter.efficiency + converter.idle_w)
    return Draw(branch.name, watts, branch.wire_ohm, converter.start_v, converter.stop_v, charge_w)


def walked(circuit: Circuit) -> Walk:
    source = circuit.source
    levels = [source.plain, *([source.contract] if source.contract else [])]
    loop = source.resistance_ohm + circuit.cable.resistance_ohm + circuit.trigger.resistance_ohm
    stages = tuple(Stage(level.voltage_v, level.limit_a) for level in levels)
    return walk(stages, loop, tuple(draw_of(branch) for branch in circuit.branches))


def rings(circuit: Circuit) -> bool:
    """Whether an input filter, or the cable with everything on the bus, does not settle at the source's voltages."""
    for branch in circuit.branches:
        draw = draw_of(branch)
        if draw.law.kind != POWER or branch.input_f <= 0.0:
            continue
        for volts in {circuit.source.plain.voltage_v, (circuit.source.contract or circuit.source.plain).voltage_v}:
            at_v = input_v(volts, branch.wire_ohm, draw.law.size + draw.charge_w)
            if at_v is None or at_v < draw.stop_v:
                continue
            ohm, watts = branch.wire_ohm, (draw.law.size + draw.charge_w) * 1.1
            if not settles(watts, at_v, ohm, branch.wire_h, branch.input_f, branch.esr_ohm):
                return True
            farad = branch.input_f + circuit.trigger.bulk_f
            if not settles(watts, at_v, circuit.cable.resistance_ohm, circuit.cable.inductance_h, farad):
                return True
    return False


def short_soft_start(circuit: Circuit) -> bool:
    """Whether a soft start is not long beside the rise of the bus: the walk takes the bus as the faster of the two."""
    level = circuit.source.contract or circuit.source.plain
    farad = circuit.trigger.bulk_f + sum(branch.input_f for branch in circuit.branches)
    rise_s = level.voltage_v * farad / min(level.limit_a, circuit.source.plain.limit_a)
    converters = [branch.converter for branch in circuit.branches if branch.converter is not None]
    return any(converter.soft_start_s < 3.0 * rise_s for converter in converters)


def _softer(branch: Branch, factor: float) -> Branch:
    converter = branch.converter
    if converter is None:
        return branch
    return branch._replace(converter=converter._replace(soft_start_s=factor * converter.soft_start_s))


def pairs(seed: int, soft_start: float = 1.0) -> list[Pair]:
    """Both on one build without events; a source that holds, as the walk knows no hiccup.

    ``soft_start``: how many times longer every soft start is; the walk stands on its being long.
    """
    circuit, _ = random_build(seed)
    source = circuit.source
    plain, contract = source.plain._replace(trips=False), source.contract
    assert contract is not None
    circuit = circuit._replace(
        source=source._replace(plain=plain, contract=contract._replace(trips=False)),
        branches=tuple(_softer(branch, soft_start)._replace(joined=True) for branch in circuit.branches),
    )
    result, steps = run(circuit, (), END_S * max(1.0, soft_start / 2)), walked(circuit)
    last = len(steps.bus_v) - 1
    starved = steps.bus_v[0] < circuit.trigger.brown_out_v
    browned = any(moment.what == "browns out" for moment in result.moments)
    pulled = any(stuck.what == "pulls down" and stuck.stage == last for stuck in steps.stuck)
    rows = []
    for branch, fate in zip(circuit.branches, result.fates, strict=True):
        mine = {f"{each.what} {each.stage}" for each in steps.stuck if each.branch == branch.name}
        sticks = mine & {"pulls down 0", "pulls down 1", "never starts 1", "held down 1"}
        if starved and draw_of(branch).start_v < contract.voltage_v:
            sticks = {"starved"}
        why = None
        if rings(circuit):
            why = "a filter rings"
        elif browned:
            why = "the trigger browned out"
        elif pulled and "pulls down 1" not in sticks:
            why = "another branch pulls the bus down"
        elif short_soft_start(circuit):
            why = "soft start is short beside the rise of the bus"
        rows.append(Pair(branch.name, fate.fate, "/".join(sorted(sticks)), why))
    return rows


def agrees(pair: Pair) -> bool:
    """Whether what sticks in the walk goes with the fate."""
    if not pair.sticks:
        return pair.fate in ("starts", "comes back", "stays off")
    if pair.sticks == "pulls down 0":
        return pair.fate in ("comes back", "repeats")
    if pair.sticks in ("starved", "held down 1", "never starts 1"):
        return pair.fate in ("hangs", "stays off", "cuts off")
    return pair.fate in ("repeats", "hangs", "cuts off")
