"""The least source and cable on a market of a few sources: tight figures, each with why it stands where it does."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.contract.settle import Contract
from pdcheck.parts.rig import Rig
from pdcheck.verdict.matrix.cells import RigCells, Shared
from pdcheck.verdict.need import least
from pdcheck.verdict.need.least import (
    CLASSES,
    PDPS_W,
    Market,
    OnMarket,
    cable_of,
    class_limit_ohm,
    runs,
    source_of,
    works,
    works_as_set,
)
from pdcheck.verdict.need.spans import spans_on
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
    tried = [share for share in (1.0, 0.5, 0.25, 0.01) if market.lowest(rig, works, share) is not None]
    assert shares[-1:] == (tried[:1] or [0.01])
    need = market.need(rig, accept)
    assert (None if need is None else (*need[:4], need.any_cable_w)) == expected
    if need is None or expected is None:
        return
    loop = class_limit_ohm(need.cable_class) if need.loop_ohm is None else need.loop_ohm
    assert need.case.source is source_of(need.pdp_w, least.kind_of_source(rig.trigger.request))
    assert need.case.cable == cable_of(need.cable_class, loop)
    assert need.case is need.judgement.case and need.contract is need.case.contract
    assert accept(need.judgement.verdict, need.contract)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig), st.sampled_from((1.0, 0.25)))
def test_what_is_found_from_the_ends_holds_on_each_source(rig: Rig, share: float) -> None:
    """Spans and lowest sources are found from the ends of rows: judged on every source they are the same."""
    market, shared = Market(), Shared()
    kind = least.kind_of_source(rig.trigger.request)
    grows = any(branch.load.grows_with_voltage for branch in rig.branches)
    found: dict[tuple[str, int], tuple[str, Contract]] = {}
    for each in CLASSES:
        loop = share * class_limit_ohm(each)
        cables = [cable_of(each, part * loop) for part in ((1.0, 0.5, 0.0) if grows else (1.0,))]
        pairs = [(source_of(watts, kind), cable) for watts in PDPS_W for cable in cables]
        verdicts = [outcome.verdict for outcome in RigCells(rig, shared, loads=False).outcomes(pairs)]
        for watts, at in zip(PDPS_W, range(0, len(pairs), len(cables)), strict=True):
            contract = shared.contract(rig.trigger, *pairs[at])
            found[each, watts] = min(verdicts[at : at + len(cables)], key=place_of), contract
        spans = spans_on(each, PDPS_W, OnMarket(market, rig, {each: loop}))
        assert [watts for span in spans for watts in range(span.from_w, span.to_w + 1)] == list(PDPS_W)
        for span in spans:
            assert found[each, span.from_w] == (span.verdict, span.contract)
            alike = {(found[each, at][0], *found[each, at][1][:3]) for at in range(span.from_w, span.to_w + 1)}
            assert alike == {(span.verdict, *span.contract[:3])}
    for accept in (works, works_as_set, runs):
        able = [(watts, CLASSES.index(each)) for (each, watts), one in found.items() if accept(*one)]  # type: ignore[arg-type]
        expected = (CLASSES[min(able)[1]], min(able)[0]) if able else None
        assert market.lowest(rig, accept, share) == expected
    if share == 1.0:
        unsafe = [watts for (_, watts), (verdict, _) in found.items() if verdict == "unsafe"]
        assert market.unsafe_from_w(rig) == min(unsafe, default=None)


def test_loads_that_draw_more_over_a_better_cable(window):
    window(24, 30)
    strings = {"led": {"count": 2, "vf": 3.0, "current": 1.0, "driver": "resistor", "resistor": 1.2}}
    need = Market().need(rig_of("9V", load=strings), works)
    assert need is not None
    # (9.45 V - 6 V) / 1.2 ohm is 2.88 A over a cable of no resistance, and 2.38 A over 250 mOhm.
    assert (need.pdp_w, need.any_cable_w) == (26, 26)
