"""Loads that say what they take over time: judged at the peak, counted at the average, and what contradicts itself."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case

LEDS = {"count": 3, "vf": "3V", "current": "0.5A"}


@pytest.mark.parametrize(
    ("stated", "peak", "turns"),
    [
        ({"power": "18W"}, "18 W", [(1.0, "18 W")]),
        ({"power": "18W", "average": "9W", "peak": "30W"}, "30 W", [(1.0, "9 W")]),
        ({"power": "18W", "peak": "30W"}, "30 W", [(1.0, "18 W")]),
        ({"power": "18W", "duty": "50%", "peak": "30W"}, "30 W", [(0.5, "18 W"), (0.5, "0 A")]),
        ({"current": "2A", "average": "500mA", "peak": "3A"}, "3 A", [(1.0, "500 mA")]),
        ({"resistance": "9ohm", "duty": 0.25}, "9 Ω", [(0.25, "9 Ω"), (0.75, "0 A")]),
        ({"resistance": "9ohm", "power": "16W", "average": "4W"}, "9 Ω", [(1.0, "4 W")]),
        ({"led": LEDS, "duty": "10%"}, "3 LEDs at 500 mA", [(0.1, "3 LEDs at 500 mA"), (0.9, "0 A")]),
        ({"led": LEDS, "average": "1W"}, "3 LEDs at 500 mA", [(1.0, "1 W")]),
        ({"power": "18W", "duty": "100%"}, "18 W", [(1.0, "18 W")]),
        # Both say the same.
        ({"power": "18W", "duty": "50%", "average": "9W"}, "18 W", [(0.5, "18 W"), (0.5, "0 A")]),
    ],
)
def test_peak_and_average(stated: dict[str, Any], peak: str, turns: list[tuple[float, str]]) -> None:
    load = Load(**stated)
    assert load.on(12.0).words() == load.at_peak().words() == peak
    assert [(part, each.words()) for part, each in load.over_time(12.0)] == turns
    assert Load(**load.to_dict()) == load


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ({"power": "18W", "peak": "9W"}, "load.peak: the peak is below"),
        ({"power": "18W", "average": "20W"}, "load.average: the average is above"),
        ({"power": "18W", "average": "5W", "duty": "50%"}, "load.duty: average and duty both say"),
        ({"resistance": "9ohm", "average": "5W", "duty": "50%"}, "average and duty both say"),
        ({"resistance": "9ohm", "peak": "5W"}, "unknown key|is not a|peak"),
        ({"power": "18W", "duty": "0%"}, "zero"),
        ({"power": "18W", "duty": 50}, "write 50% or 0.5"),
        ({"power": "18W", "average": "2A"}, "is a current, not a power"),
        ({"current": "2A", "average": "2W"}, "is a power, not a current"),
    ],
)
def test_what_contradicts_itself_is_refused(stated: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        Rig(trigger="9V", branch=[{"name": "x", "load": stated}])


def case(load: dict[str, Any], tolerance: float = 0.0) -> Case:
    rig = Rig(trigger="9V", tolerance={"load": tolerance}, branch=[{"name": "x", "load": load}])
    return Case(rig, Source("5V 3A, 9V 3A", tolerance=0), Cable("C-C 3A", loop="0ohm"))


def test_the_circuit_is_judged_at_the_peak_and_counted_at_the_average() -> None:
    found = case({"power": "9W", "average": "4.5W", "peak": "18W"})
    assert found.worst_current("source") == pytest.approx(2.0)
    assert found.over_time is not None
    assert found.over_time.source_w.typ == pytest.approx(4.5)
    assert found.over_time.lightest_a.typ == pytest.approx(0.5)


def test_a_tolerance_of_loads_is_one_of_peak_and_average() -> None:
    found = case({"power": "9W", "average": "4.5W", "peak": "18W"}, 0.1)
    assert found.worst_current("source") == pytest.approx(2.2)
    assert found.over_time is not None
    assert found.over_time.source_w == pytest.approx((4.05, 4.5, 4.95))


def test_on_and_off_loses_more_in_a_wire_than_a_steady_average() -> None:
    rig = {"trigger": "9V", "branch": [{"name": "x", "wire": "20AWG 3m", "load": {"current": "2A", "duty": "50%"}}]}
    pulsed = Case(Rig(**rig), Source("5V 3A, 9V 3A"), Cable("C-C 3A"))
    steady = case({"current": "2A", "average": "1A"})
    assert pulsed.over_time is not None and steady.over_time is not None
    wire = pulsed.over_time.losses["x/wire"].typ
    whole = Case(
        Rig.model_validate({**rig, "branch": [{**rig["branch"][0], "load": "2A"}]}), pulsed.source, pulsed.cable
    )
    assert whole.over_time is not None
    assert wire == pytest.approx(0.5 * whole.over_time.losses["x/wire"].typ)
    assert steady.over_time.source_w.typ == pytest.approx(9.0)


def test_many_loads_that_come_and_go_are_still_counted() -> None:
    branches = [{"name": f"x{number}", "load": {"current": "200mA", "duty": "50%"}} for number in range(9)]
    found = Case(Rig(trigger="9V", branch=branches), Source("5V 3A, 9V 3A", tolerance=0), Cable(loop="0ohm"))
    assert found.over_time is not None
    assert found.over_time.source_w.typ == pytest.approx(9 * 0.1 * 9.0)
