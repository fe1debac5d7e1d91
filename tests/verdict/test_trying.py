"""Trying: what is shared between positions is what ``judge`` says of each of them, and a grid stays within its work."""

from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.asking.given import kit_with
from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Rig
from pdcheck.verdict.finding import by_gravity
from pdcheck.verdict.judge import judge, pairs_of
from pdcheck.verdict.trying import COARSE, FINE, MOST_LOADS, MOST_WORK, WHOLE, Trying, found_on, loads_of, varied
from tests.parts import random_parts

DATA = Path(__file__).parents[2] / "pdcheck" / "data"


def shares(data, branches):
    """Some positions of the loads: what is found on a supply is shared between them."""
    one = st.tuples(*[st.none() | st.sampled_from(FINE)] * branches).filter(lambda loads: set(loads) != {None})
    return data.draw(st.lists(one, min_size=1, max_size=4, unique=True))


def compared(rig, kit, pairs, data):
    """The findings at positions as the page puts them together, of the first that is the same, are the judge's."""
    trying, first = Trying(rig, kit, pairs), {}
    request = data.draw(st.sampled_from(trying.requests))
    sources, cables = trying.alone
    told = []
    for loads in shares(data, len(rig.branches)):
        for pair in pairs:
            at = trying.supply(pair, request), loads
            supplied = first.setdefault((trying.same(at[0]), trying.looks(*at)), at)
            told.append((pair, loads, supplied, first.setdefault((trying.same_flow(at[0]), loads), at)))
    for (pair, loads, supplied, _), flows in zip(told, trying.cases(flows for *_, flows in told), strict=True):
        found = [*sources[pair[0].id], *cables[id(pair[1])]]
        found += [*found_on("supply", trying.case(*supplied)), *found_on("circuit", flows)]
        found = by_gravity(finding for _, finding in sorted(found, key=lambda each: each[0]))
        expected = judge(varied(rig, request, loads), *pair)
        assert list(map(words, found)) == list(map(words, expected.findings)), (pair, loads)
        assert list(map(numbers, found)) == [pytest.approx(numbers(each)) for each in expected.findings], (pair, loads)
        nodes = [] if expected.case.point is None else expected.case.point.nodes
        losses = [] if expected.case.point is None else expected.case.point.losses
        told = figures(expected.case, nodes, losses)
        assert figures(flows, nodes, losses) == pytest.approx(told, rel=1e-6, abs=1e-12), (pair, loads)


def words(finding):
    """A finding without its figures, which stand in its text as well: solved together they may differ in a last bit."""
    return finding._replace(value=None, limit=None)


def numbers(finding):
    return [0.0 if each is None else each for each in (finding.value, finding.limit)]


def figures(case, nodes, losses):
    """What the page shows of a circuit, by what it is."""
    told = {name: case.typical_loss(name) for name in losses}
    for node in nodes:
        ends = (*(case.node_voltage(node) or ()), *(case.node_current(node) or ()))
        told |= {f"{node} {at}": end for at, end in enumerate(ends)}
    return told


@pytest.mark.parametrize("name", ["pier-box", "pedalboard", "field-sensor"])
@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_findings_are_those_of_judge(name, data):
    rig, kit, *_ = kit_with(str(DATA / f"{name}.toml"), str(DATA / "kit.toml"), None, None)
    compared(rig, kit, tuple(pairs_of(kit)), data)


@settings(random_parts.ANY_KIND, max_examples=25)
@given(
    random_parts.rigs,
    st.lists(random_parts.sources, min_size=1, max_size=3),
    st.lists(random_parts.cables, min_size=1, max_size=3),
    st.data(),
)
def test_on_rigs_and_kits_of_any_kind(rig, sources, cables, data):
    try:
        kit = Kit(source=sources, cable=cables)
        pairs = tuple(pairs_of(kit))
    except InputError:
        assume(False)
    compared(rig, kit, pairs, data)


@pytest.mark.parametrize(
    ("stated", "half"),
    [
        ({"power": "18W", "average": "9W", "peak": "30W"}, {"power": "9W", "average": "4.5W", "peak": "15W"}),
        ({"current": "2A", "duty": "25%"}, {"current": "1A", "duty": "25%"}),
        (
            {"resistance": "9ohm", "power": "9W", "least": "7W"},
            {"resistance": "18ohm", "power": "4.5W", "least": "3.5W"},
        ),
        (
            {"led": {"count": 3, "vf": "3.4V", "current": "250mA", "driver": "resistor", "resistor": "10ohm"}},
            {"led": {"count": 3, "vf": "3.4V", "current": "125mA", "driver": "resistor", "resistor": "20ohm"}},
        ),
        (
            {"pack": {"cells": 3, "end": "4.2V", "current": "1A"}},
            {"pack": {"cells": 3, "end": "4.2V", "current": "0.5A"}},
        ),
    ],
)
def test_half_a_load_is_the_load_whose_file_states_half(stated, half):
    assert Load(**stated).sized(0.5) == Load(**half)


def test_as_stated_nothing_is_changed():
    rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}, {"name": "lamp", "load": "10ohm"}])
    assert varied(rig, rig.trigger.request, (WHOLE, WHOLE)) == rig


@pytest.mark.parametrize("branches", [1, 2, 3, 8, 32])
@pytest.mark.parametrize("sources", [1, 40])
def test_a_grid_stays_within_its_work(branches, sources):
    rig = Rig(trigger="9V", branch=[{"name": f"b{at}", "load": "0.5W"} for at in range(branches)])
    kit = Kit(
        source=[{"id": f"s{at}", "offers": f"5V 3A, 9V {2 + at / 50:.2f}A, 15V 2A"} for at in range(sources)],
        cable=[{"id": f"c{at}", "kind": "C-C", "loop": f"{100 + at}mOhm"} for at in range(sources)],
    )
    trying = Trying(rig, kit, tuple(pairs_of(kit)))
    grid = trying.grid(trying.pairs[0])
    assert trying.pairs[0] in grid.pairs and (WHOLE,) * branches in grid.loads
    assert grid.steps in (FINE, COARSE) and len(set(grid.loads)) == len(grid.loads)
    assert grid.each == (len(grid.loads) == len(loads_of(branches, grid.steps, each=True)) if branches < 4 else False)
    alike = {trying.same(trying.supply(pair, each)) for pair in grid.pairs for each in grid.requests}
    # Each position solves a corner at least.
    assert len(alike) * len(grid.loads) <= MOST_WORK
    assert len(alike) * len(grid.loads) * branches <= MOST_LOADS
    assert rig.trigger.request in grid.requests
