"""The least source and cable on a market of a few sources: tight figures, each with why it stands where it does."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.parts.rig import Rig
from pdcheck.verdict.matrix.cells import RigCells, Shared
from pdcheck.verdict.need import least
from pdcheck.verdict.need.least import (
    CLASSES,
    PDPS_W,
    Market,
    Tried,
    cable_of,
    class_limit_ohm,
    runs,
    source_of,
    works,
    works_as_set,
)
from pdcheck.verdict.not_judged import place_of
from tests.verdict.test_need_around import CONVERTER, rig_of


@pytest.fixture
def window(monkeypatch):
    return lambda first_w, last_w: monkeypatch.setattr(least, "PDPS_W", range(first_w, last_w + 1))


STRAIGHT = {"power": 20.0}
BOX = {"converter": CONVERTER, "load": {"power": 24.0}}
HUNGRY = {"converter": CONVERTER | {"input": [21, 55]}, "load": {"power": 60.0}}

NEEDS = {
    # 20 W at 7.9 V are 2.53 A; what is left of 8.55 V there is 257 mOhm.
    "its loop": (
        rig_of("9V", load=STRAIGHT | {"voltage": [7.9, 13]}),
        works,
        (23, 30),
        [1.0],
        (23, 240, "3A", 0.2567, 23),
    ),
    "half of the limit": (
        rig_of("9V", load=STRAIGHT | {"voltage": [8.2, 13]}),
        works,
        (22, 30),
        [1.0, 0.5],
        (22, 240, "3A", 0.1435, None),
    ),
    "next to no resistance": (
        rig_of("9V", load=STRAIGHT | {"voltage": [8.5, 13]}),
        works,
        (24, 30),
        [1.0, 0.5, 0.25, 0.01],
        (24, 240, "3A", 0.02125, None),
    ),
    "nothing does": (
        rig_of("9V", load=STRAIGHT | {"voltage": [8.6, 13]}),
        works,
        (24, 26),
        [1.0, 0.5, 0.25, 0.01],
        None,
    ),
    "any loop": (rig_of("5V", load={"power": 0.001}), works, (24, 25), [1.0], (24, 240, "3A", None, 24)),
    "a lesser cable of less resistance": (rig_of("15V", **BOX), works, (26, 29), [1.0], (27, 240, "3A", 0.1833, None)),
    "as set": (rig_of("15V", **BOX), works_as_set, (26, 29), [1.0], (28, 240, "3A", 0.724, 28)),
    "20 % in hand": (
        rig_of("9V", load={"power": 16.0, "voltage": [5.6, 13]}),
        runs,
        (20, 24),
        [1.0],
        (22, 240, "3A", 0.1809, None),
    ),
    "harmed by more": (
        rig_of("highest", load={"power": 5.0, "voltage": [5.6, 12]}),
        works,
        (24, 29),
        [1.0],
        (24, 27, "3A", 3.304, 24),
    ),
    # It starts at 5 V and stops at 4.5 V: 5 W there are 1.11 A, which 0.5 V drive through 450 mOhm.
    "starts before the contract": (
        rig_of("9V", load={"power": 5.0, "voltage": [5, 12]}),
        works,
        (24, 29),
        [1.0],
        (24, 240, "3A", 0.45, 24),
    ),
    "a marked cable": (
        rig_of("20V", converter=CONVERTER, load={"power": 57.0}),
        works,
        (60, 64),
        [1.0],
        (62, 240, "5A", 0.1977, 62),
    ),
    "an EPR cable": (rig_of("28V", **HUNGRY), works, (99, 102), [1.0], (101, 240, "EPR", 1.96, 101)),
    # It may limit at 1.85 A: 10 W are 5.41 V then, and 3.14 V of 8.55 V are left.
    "programmed": (rig_of("pps 9V 2A", load={"power": 10}), works, (24, 25), [1.0], (24, 240, "3A", 1.699, 24)),
    # 0.5 A at 4 V: 1.5 ohm, on which it just works.
    "without PD": (rig_of("none", load={"power": 2.0}), works, (1, 5), [1.0], (3, 240, "3A", 1.5, 3)),
    # A plain resistance draws more over a better cable: 9.45 V / 3.3 ohm are 2.86 A without any. Below 9 V / sqrt 2 it
    # gets less than half of what it is there for.
    "a resistance": (rig_of("9V", load={"resistance": 3.3}), works, (24, 30), [1.0], (26, 240, "3A", 1.133, 26)),
    "a resistance beyond 3 A": (
        rig_of("9V", load={"resistance": 3.1}),
        works,
        (25, 30),
        [1.0, 0.5, 0.25, 0.01],
        None,
    ),
    "a resistance that needs 5 V": (
        rig_of("9V", load={"resistance": 3.6, "voltage": [5, 12]}),
        works,
        (22, 26),
        [1.0],
        (24, 240, "3A", 1.236, 24),
    ),
}


@pytest.mark.parametrize("name", NEEDS)
def test_the_least_source_and_cable(name, window):
    rig, accept, pdps_w, shares, expected = NEEDS[name]
    window(*pdps_w)
    market = Market()
    tried = market.all_tried(rig)
    assert [each.share for each in tried] == shares
    need = market.need(rig, accept, tried)
    assert (None if need is None else (*need[:4], need.any_cable_w)) == expected
    if need is None or expected is None:
        return
    loop = class_limit_ohm(need.cable_class) if need.loop_ohm is None else need.loop_ohm
    assert need.case.source is source_of(need.pdp_w, least.kind_of_source(rig.trigger.request))
    assert need.case.cable == cable_of(need.cable_class, loop)
    assert need.case is need.judgement.case and need.contract is need.case.contract
    assert accept(need.judgement.verdict, need.contract)


def test_a_need_tries_by_itself(window):
    window(26, 28)
    rig = rig_of("9V", load={"power": 5.0})
    alone, given = Market().need(rig, works), Market().need(rig, works, Market().all_tried(rig))
    assert alone is not None and given is not None
    assert alone[:5] == given[:5]


def test_every_class_and_source_is_tried_as_it_would_be_judged(window):
    window(27, 28)
    rig: Rig = rig_of("15V", **BOX)
    tried = Market().tried(rig, 0.5)
    assert tried.share == 0.5
    assert [span[:3] for span in tried.spans] == [(each, watts, watts) for each in CLASSES for watts in (27, 28)]
    for span in tried.spans:
        cable = cable_of(span.cable_class, 0.5 * class_limit_ohm(span.cable_class))
        found = least.judge(rig, source_of(span.from_w, "fixed"), cable)
        assert (span.verdict, span.contract) == (found.verdict, found.case.contract)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig), st.sampled_from((1.0, 0.25)))
def test_a_span_holds_on_each_of_its_sources(rig: Rig, share: float) -> None:
    """Spans are found from their ends: every PDP between, each judged, comes to the same."""
    spans = Market().tried(rig, share).spans
    for each in CLASSES:
        assert [watts for span in spans if span.cable_class == each for watts in span.pdps_w()] == list(PDPS_W)
    tried = Tried(share, spans)
    for accept in (works, works_as_set) if share == 1.0 else ():
        assert Market().lowest(rig, accept) == tried.lowest(accept)
    if share == 1.0:
        unsafe = [span.from_w for span in spans if span.verdict == "unsafe"]
        assert Market().unsafe_from_w(rig) == min(unsafe, default=None)
    kind, shared = least.kind_of_source(rig.trigger.request), Shared()
    grows = any(branch.load.grows_with_voltage for branch in rig.branches)
    for span in spans:
        loop = share * class_limit_ohm(span.cable_class)
        cables = [cable_of(span.cable_class, part * loop) for part in ((1.0, 0.5, 0.0) if grows else (1.0,))]
        pairs = [(source_of(watts, kind), cable) for watts in span.pdps_w() for cable in cables]
        contracts = [shared.contract(rig.trigger, *pair) for pair in pairs]
        assert {(each.outcome, each.kind, each.voltage_v) for each in contracts} == {
            (span.contract.outcome, span.contract.kind, span.contract.voltage_v)
        }
        verdicts = [outcome.verdict for outcome in RigCells(rig, shared, loads=False).outcomes(pairs)]
        for at in range(0, len(pairs), len(cables)):
            assert min(verdicts[at : at + len(cables)], key=place_of) == span.verdict


def test_loads_that_draw_more_over_a_better_cable(window):
    window(24, 30)
    strings = {"led": {"count": 2, "vf": 3.0, "current": 1.0, "driver": "resistor", "resistor": 1.2}}
    need = Market().need(rig_of("9V", load=strings), works)
    assert need is not None
    # (9.45 V - 6 V) / 1.2 ohm is 2.88 A over a cable of no resistance, and 2.38 A over 250 mOhm.
    assert (need.pdp_w, need.any_cable_w) == (26, 26)
