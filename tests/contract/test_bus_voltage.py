"""VBUS over time: every figure of a segment, moves that end, are broken off or go nowhere."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.bits.offers import battery, epr_avs, fixed, pps, spr_avs, variable
from pdcheck.contract.talk.bus_voltage import OFF, BusVoltage, Level, Segment, contract_level, margin_of, plain_level
from pdcheck.contract.talk.clock import Clock

NINE = contract_level(fixed(9000, 3000, 2), 9000, 3000)
TWENTY = contract_level(fixed(20000, 3000, 2), 20000, 3000)
PLAIN = plain_level(1.5)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.mark.parametrize(
    ("level", "expected"),
    [
        (OFF, (0.0, 0.0, 0.8, None, False, "off (vSafe0V)")),
        (PLAIN, (5.0, 4.75, 5.5, 1.5, False, "5 V, no contract (vSafe5V)")),
        (plain_level(None), (5.0, 4.75, 5.5, None, False, "5 V, no contract (vSafe5V)")),
        (NINE, (9.0, 8.55, 9.45, 3.0, False, "fixed 9 V, 3 A (vSrcNew)")),
        (contract_level(fixed(5000, 3000), 5000, 900), (5.0, 4.75, 5.5, 0.9, False, "fixed 5 V, 0.9 A (vSafe5V)")),
        (contract_level(pps(3300, 11000, 3000), 8000, 2000),
         (8.0, 7.6, 8.4, 2.0, True, "pps 8 V, 2 A (vPpsNew, vAvsNew)")),
        (contract_level(spr_avs(3000, 2250), 18000, 2250),
         (18.0, 17.1, 18.9, 2.25, False, "spr avs 18 V, 2.25 A (vPpsNew, vAvsNew)")),
        (contract_level(epr_avs(15000, 28000, 140, 9), 24100, 4500),
         (24.1, 22.895, 25.305, 4.5, False, "epr avs 24.1 V, 4.5 A (vPpsNew, vAvsNew)")),
        (contract_level(variable(9000, 12000, 2000, 2), 12000, 1500),
         (12.0, 9.0, 12.0, 1.5, False, "variable 12 V, 1.5 A (the object's own ends)")),
        (contract_level(battery(8000, 9000, 20000, 2), 9000, 2222),
         (9.0, 8.0, 9.0, 2.222, False, "battery 9 V, 2.222 A (the object's own ends)")),
    ],
)  # fmt: skip
def test_levels(level: Level, expected: tuple[object, ...]) -> None:
    assert tuple(level) == expected


@pytest.mark.parametrize(
    ("offer", "margin"),
    [(None, 0.5), (fixed(9000, 3000), 0.5), (pps(3300, 11000, 3000), 0.1), (spr_avs(3000, 2250), 0.5),
     (epr_avs(15000, 28000, 140), 0.5), (variable(8000, 9000, 3000), 0.5)],
)  # fmt: skip
def test_what_a_transition_may_add(offer: object, margin: float) -> None:
    assert margin_of(offer) == margin  # type: ignore[arg-type]


def test_an_even_move_at_each_moment() -> None:
    move = Segment(2.0, 4.0, 5.0, 15.0, 4.25, 16.25, False, None, False, "to 15 V")
    assert [move.at(second) for second in (1.0, 2.0, 2.5, 3.0, 4.0, 9.0)] == [5.0, 5.0, 7.5, 10.0, 15.0, 15.0]
    assert move._replace(steady=True, from_v=1.0).at(2.0) == 15.0
    assert move._replace(end_s=2.0).at(2.0) == 15.0
    assert move._replace(start_s=2.0, end_s=2.5).at(2.25) == 10.0


def test_a_move_with_all_its_figures(clock: Clock) -> None:
    bus, done = BusVoltage(clock), []
    assert not bus.present
    clock.run(1.0)
    bus.move(PLAIN, 0.5, 0.5, lambda: done.append(clock.now_s))
    clock.run(1.25)
    assert not bus.present
    assert bus.so_far() == [
        Segment(0.0, 1.0, 0.0, 0.0, 0.0, 0.8, True, None, False, "off (vSafe0V)"),
        Segment(1.0, 1.25, 0.0, 2.5, 0.0, 6.0, False, None, False, "to 5 V"),
    ]
    clock.run(2.0)
    assert done == [1.5]
    assert bus.present
    bus.move(NINE, 0.0, 0.1, lambda: done.append(clock.now_s))
    clock.run(2.5)
    assert done == [1.5, 2.0]
    assert bus.so_far()[1:] == [
        Segment(1.0, 1.5, 0.0, 5.0, 0.0, 6.0, False, None, False, "to 5 V"),
        Segment(1.5, 2.0, 5.0, 5.0, 4.75, 5.5, True, 1.5, False, "5 V, no contract (vSafe5V)"),
        Segment(2.0, 2.5, 9.0, 9.0, 8.55, 9.45, True, 3.0, False, "fixed 9 V, 3 A (vSrcNew)"),
    ]


def test_another_level_at_the_same_voltage_counts_at_once(clock: Clock) -> None:
    bus, done = BusVoltage(clock), []
    bus.hold(NINE)
    clock.run(1.0)
    less = contract_level(fixed(9000, 3000, 2), 9000, 1000)
    bus.move(less, 0.5, 0.5, lambda: done.append(clock.now_s))
    assert bus.level == less
    assert bus.present
    clock.run(2.0)
    assert done == [1.5]
    assert [(part.start_s, part.end_s, part.current_a) for part in bus.so_far()] == [(0.0, 1.0, 3.0), (1.0, 2.0, 1.0)]


def test_what_is_held_already_begins_no_segment(clock: Clock) -> None:
    bus = BusVoltage(clock)
    bus.hold(NINE)
    clock.run(1.0)
    bus.hold(NINE)
    assert bus.segments == []
    clock.run(2.0)
    bus.hold(PLAIN)
    assert bus.segments == [Segment(0.0, 2.0, 9.0, 9.0, 8.55, 9.45, True, 3.0, False, "fixed 9 V, 3 A (vSrcNew)")]
    assert bus.so_far() == bus.segments


def test_a_move_broken_off_tells_nobody_and_starts_where_it_was(clock: Clock) -> None:
    bus, done = BusVoltage(clock), []
    bus.hold(PLAIN)
    clock.run(1.0)
    bus.move(TWENTY, 0.3, 0.5, lambda: done.append("20 V"))
    clock.run(1.1)
    bus.move(NINE, 0.2, 0.1, lambda: done.append("9 V"))
    clock.run(1.2)
    bus.hold(PLAIN)
    clock.run(3.0)
    assert done == ["9 V"]
    moves = [part for part in bus.so_far() if not part.steady]
    assert [(round(part.from_v, 6), part.to_v, part.min_v, part.max_v, part.text) for part in moves] == [
        (5.0, 10.0, 4.25, 21.5, "to 20 V"),
        (10.0, 9.5, 4.65, 10.1, "to 9 V"),
    ]


def test_equal_neighbours_are_one_and_moves_are_not(clock: Clock) -> None:
    bus = BusVoltage(clock)
    steady = Segment(0.0, 1.0, 5.0, 5.0, 4.75, 5.5, True, 1.5, False, "5 V")
    move = Segment(3.0, 4.0, 5.0, 9.0, 4.0, 10.0, False, None, False, "to 9 V")
    again = steady._replace(start_s=1.0, end_s=3.0)
    bus.segments = [steady, again, move, move._replace(start_s=4.0, end_s=5.0)]
    assert bus.so_far() == [steady._replace(end_s=3.0), move, move._replace(start_s=4.0, end_s=5.0)]


@pytest.mark.parametrize("make", [variable, battery])
def test_what_wanders_stays_between_its_own_ends(make: Any) -> None:
    level = contract_level(make(8000, 12000, 2000, 2), 12000, 1500)
    assert level[:5] == (12.0, 8.0, 12.0, 1.5, False)
    assert "the object's own ends" in level.text
