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
from pdcheck.verdict.trying import COARSE, FINE, MOST_LOADS, MOST_WORK, WHOLE, Trying, flowing, loads_of, varied
from pdcheck.verdict.trying import given as given_on
from tests.parts import random_parts

DATA = Path(__file__).parents[2] / "pdcheck" / "data"


def findings_of(trying, pair, request, loads, first):
    """The findings at a position as the page puts them together: those of the first pair that is the same."""
    supply = trying.supply(pair, request)
    sources, cables = trying.alone
    supplied = first.setdefault((trying.same(supply), trying.looks(supply, loads)), (supply, loads))
    flows = first.setdefault((trying.same_flow(supply), loads), (supply, loads))
    found = [*sources[pair[0].id], *cables[id(pair[1])]]
    found += [*given_on(trying.case(*supplied)), *flowing(trying.case(*flows))]
    return by_gravity(finding for _, finding in sorted(found, key=lambda each: each[0]))


@pytest.mark.parametrize("name", ["pier-box", "pedalboard", "field-sensor"])
@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_findings_are_those_of_judge(name, data):
    rig, kit, *_ = kit_with(str(DATA / f"{name}.toml"), str(DATA / "kit.toml"), None, None)
    trying, first = Trying(rig, kit, tuple(pairs_of(kit))), {}
    shares = st.none() | st.sampled_from(FINE)
    loads = data.draw(st.tuples(*[shares] * len(rig.branches)).filter(any))
    request = data.draw(st.sampled_from(trying.requests))
    for pair in trying.pairs:
        expected = judge(varied(rig, request, loads), *pair)
        assert findings_of(trying, pair, request, loads, first) == list(expected.findings), pair


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
    trying, first = Trying(rig, kit, pairs), {}
    loads = data.draw(st.tuples(*[st.none() | st.sampled_from(FINE)] * len(rig.branches)).filter(any))
    request = data.draw(st.sampled_from(trying.requests))
    changed = varied(rig, request, loads)
    for pair in pairs:
        assert findings_of(trying, pair, request, loads, first) == list(judge(changed, *pair).findings), pair


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
    alike = {trying.same_flow(trying.supply(pair, each)) for pair in grid.pairs for each in grid.requests}
    # Each position solves a corner at least.
    assert len(alike) * len(grid.loads) <= MOST_WORK
    assert len(alike) * len(grid.loads) * branches <= MOST_LOADS
    assert rig.trigger.request in grid.requests
