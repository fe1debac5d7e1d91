"""The rules of the first second beside the solver in time, on random builds: the same fate, but near a boundary."""

from __future__ import annotations

import random
from typing import NamedTuple

import pytest

from pdcheck.circuit.corners import TYPICAL, network_at
from pdcheck.circuit.network import Source as Feed
from pdcheck.circuit.plug_in import before_voltages, inputs, trouble
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.transient.first_second import transient

BOUNDARY = (0.97, 1.0, 1.03)
"""Limits and start voltages are moved so far: where that changes the answer, the two need not agree."""


class Said(NamedTuple):
    """What both say of one build; ``charges``: some output takes more while it starts than when it runs."""

    foretold: frozenset[str]
    near: bool
    charges: bool
    fates: tuple[str, ...]
    stopped: bool


def random_case(seed: int) -> Case:
    """A build of one to three branches with all that matters stated, none of which is plugged in later."""
    draw = random.Random(seed)
    branches = []
    for at in range(draw.randint(1, 3)):
        branch = {
            "name": f"b{at}",
            "wire": {"awg": 20, "length": f"{draw.uniform(0.05, 0.4):.2f}m", "inductance": "50nH"},
        }
        if draw.random() < 0.75:
            start = draw.choice([4.0, 4.5, 6.0, 8.0, round(draw.uniform(4, 9), 2)])
            branch["converter"] = {
                "kind": "buck-boost",
                "input": "3V-40V",
                "output": "12V",
                "efficiency": round(draw.uniform(0.8, 0.95), 2),
                "start": start,
                "stop": round(start - draw.uniform(0.2, 0.8), 2),
                "bulk": f"{draw.choice([22, 47, 100])}uF",
                "esr": "50mOhm",
                "soft_start": f"{draw.uniform(3, 8):.1f}ms",
                "output_bulk": draw.choice(["1uF", "100uF", "470uF"]),
            }
            branch["load"] = f"{10 ** draw.uniform(0, 1.5):.1f}W"
        else:
            branch["load"] = {"resistance": f"{10 ** draw.uniform(0.6, 1.6):.1f}ohm", "voltage": "0.1V-30V"}
        branches.append(branch)
    rig = Rig.model_validate(
        {
            "trigger": {
                "request": draw.choice(["9V", "15V", "20V"]),
                "bulk": "22uF",
                "esr": "50mOhm",
                "brown_out": "1V",
            },
            "branch": branches,
        }
    )
    charger = Source("5V 3A, 9V 3A, 15V 3A, 20V 3A", tolerance=0, typec_current="3A", over_current="hold")
    return Case(rig, charger, Cable("C-C 3A 1m", loop=f"{draw.uniform(0.05, 0.35):.2f}ohm", inductance="300nH"))


def foretold(case: Case, by: float = 1.0) -> frozenset[str]:
    """What the rules say with typical figures: at 5 V before the contract, and on it."""
    starts = tuple(each._replace(start_v=each.start_v * by, stop_v=each.stop_v * by) for each in case.starts)
    network = network_at(case.spec, TYPICAL)
    found: set[str] = set()
    at_5v = [waiting for volts, waiting in before_voltages(starts) if volts <= 5.0]
    if at_5v:
        told = trouble(network._replace(source=Feed(5.0)), starts, (case.before_a or 0.0) / by, at_5v[-1], last=False)
        found |= {"pulls down on 5 V"} if told else set()
    told = trouble(network, starts, case.contract.current_a / by, case.off, last=True)
    found |= {told.what} if told else set()
    if case.collapse is not None or case.worst_current("source") > case.contract.current_a:
        found.add("too much, once it runs")
    found |= {"swings" for each in inputs(network, starts, case.off) if each.runs and not each.settles}
    return frozenset(found)


def said(seed: int) -> Said:
    case = random_case(seed)
    several = {foretold(case, by) for by in BOUNDARY}
    solved = transient(case, until_s=1.2)
    stopped = any(each.stops for each in solved.fates)
    charges = any(start.charge_a > 0.1 for start in case.starts)
    return Said(foretold(case), len(several) > 1, charges, tuple(each.fate for each in solved.fates), stopped)


def agrees(one: Said) -> bool:
    """Whether the fates are what was foretold."""
    if not one.foretold:
        return not one.stopped and all(fate == "starts" for fate in one.fates)
    if (
        one.charges
        and one.foretold <= {"pulls down", "pulls down on 5 V"}
        and set(one.fates) <= {"starts", "comes back"}
    ):
        # The end of a soft start is over before the bus has fallen: what the rules say is on the safe side there.
        return True
    if one.foretold == {"pulls down on 5 V"}:
        # What cannot start together on 5 V may do so on the contract, if the trigger gets to ask for one.
        return one.stopped or any(fate != "starts" for fate in one.fates)
    return any(fate not in ("starts", "comes back") for fate in one.fates)


@pytest.mark.parametrize("seed", range(24))
def test_what_the_rules_foretell_comes_to_pass(seed: int) -> None:
    one = said(seed)
    assert one.near or agrees(one), one


def test_both_kinds_of_build_are_among_them() -> None:
    kinds = {bool(foretold(random_case(seed))) for seed in range(24)}
    assert kinds == {True, False}
