"""Latches, complete: where a branch is stuck, what it wants and gets there, and from where it would start."""

from __future__ import annotations

import pytest

from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.startup import Latch, start_up, start_voltage
from tests.circuit.making import (
    a_converter,
    a_table,
    changed,
    led_driver,
    led_string,
    of_current,
    of_power,
    of_resistance,
)
from tests.circuit.nearly import same

# 18 W at its input whatever the voltage, from 3 V on.
BOOST = a_converter("boost", 12.0, 0.75, start_v=3.0)
BOX = Branch("box", of_power(13.5), BOOST)


@pytest.mark.parametrize(
    ("branch", "volts"),
    [
        (BOX, 3.0),
        (BOX._replace(converter=changed(BOOST, start_v=3.0, input_min_v=5.0)), 3.0),
        (BOX._replace(converter=changed(BOOST, start_v=None, input_min_v=5.0)), 5.0),
        (BOX._replace(converter=changed(BOOST, start_v=None)), None),
        (Branch("spot", led_driver(3, 3.0, 0.5, 1.5)), 10.5),
        (Branch("strip", led_string(3, 3.0, 20.0)), 0.0),
        (Branch("fan", of_current(1.0)), 0.0),
        (Branch("dew", of_resistance(6.0)), 0.0),
        (Branch("lamp", of_power(6.0)), None),
    ],
)
def test_where_each_branch_starts(branch: Branch, volts: float | None) -> None:
    assert start_voltage(branch) == volts


ONE_BOX: list[tuple[Network, float, Latch | None]] = [
    # Stuck at 3 V, where 18 W are 6 A; at the limit of 4 A it would start from 4.5 V.
    (Network(Source(9.0), (BOX,)), 4.0, Latch("box", 3.0, 6.0, 4.0, 4.5)),
    (Network(Source(9.0), (BOX,)), 6.0, None),
    (Network(Source(9.0), (BOX,)), 6.0 * (1 - 5e-10), None),
    (Network(Source(9.0), (BOX,)), 6.0 * (1 - 5e-9), Latch("box", 3.0, 6.0, 6.0 * (1 - 5e-9), 3.0 * (1 + 4e-9))),
    # 1.9 A are less than it takes at 9 V too: no start-up voltage helps.
    (Network(Source(9.0), (BOX,)), 1.9, Latch("box", 3.0, 6.0, 1.9, None)),
    (Network(Source(9.0), (BOX,), bus_a=0.5), 4.0, Latch("box", 3.0, 6.0, 3.5, 18.0 / 3.5)),
    (
        Network(Source(9.0), (BOX, Branch("fan", of_current(1.0)))),
        4.0,
        Latch("box", 3.0, 6.0, 3.0, 6.0),
    ),
    # A resistance beside it takes V / 6: 18 / V = 4 - V / 6 at V = 6.
    (
        Network(Source(9.0), (Branch("dew", of_resistance(6.0)), BOX)),
        4.0,
        Latch("box", 3.0, 6.0, 3.5, 6.0),
    ),
    # One of 3 ohm: 18 / V + V / 3 = 5 at 6 V and at 9 V, where all together are just on the limit.
    (Network(Source(9.0), (BOX, Branch("dew", of_resistance(3.0)))), 5.0, Latch("box", 3.0, 6.0, 4.0, 6.0)),
    # Of 1 ohm: 11 A in the end are too many, whatever is free on the way.
    (
        Network(Source(9.0), (BOX._replace(converter=changed(BOOST, start_v=1.5)), Branch("dew", of_resistance(1.0)))),
        10.99,
        Latch("box", 1.5, 12.0, 9.49, None),
    ),
    # The others take more than there is: nothing is left, not less than nothing.
    (Network(Source(9.0), (BOX, Branch("fan", of_current(5.0)))), 4.0, Latch("box", 3.0, 6.0, 0.0, None)),
    # A string in the way takes nothing below its own voltage.
    (
        Network(Source(9.0), (Branch("s", led_string(2, 3.0, 6.0)), BOX)),
        4.0,
        Latch("box", 3.0, 6.0, 4.0, 4.5),
    ),
    # A lamp of which nobody knows when it starts is left out of account.
    (Network(Source(9.0), (Branch("lamp", of_power(9.0)), BOX)), 4.0, Latch("box", 3.0, 6.0, 4.0, 4.5)),
    # A driver waits for 8 V, and then takes 6 W.
    (Network(Source(9.0), (Branch("d", led_driver(2, 3.0, 1.0, 2.0)), BOX)), 4.0, Latch("box", 3.0, 6.0, 4.0, 4.5)),
    # Behind 2 ohm of cable, 10 V above the input bring 5 A.
    (Network(Source(13.0), (BOX,), (("cable", 2.0),)), 9.0, Latch("box", 3.0, 6.0, 5.0, 4.0)),
    # Behind 1 ohm of wire, 6 A need 9 V on the bus: nothing is left. V + 18 / V = 8.9 from 3.1 V on.
    (
        Network(Source(8.9), (BOX._replace(wire_ohm=1.0),)),
        9.0,
        Latch("box", 3.0, 6.0, 0.0, 4.45 - 7.21**0.5 / 2),
    ),
    # The start is where the branch is already: no way up to look at.
    (Network(Source(3.0), (BOX,)), 1.0, None),
    (Network(Source(3.001), (BOX,)), 5.0, Latch("box", 3.0, 6.0, 5.0, None)),
]


@pytest.mark.parametrize(("network", "limit_a", "expected"), ONE_BOX)
def test_one_box(network: Network, limit_a: float, expected: Latch | None) -> None:
    found = start_up(network, limit_a)
    assert same(found, () if expected is None else (expected,), rel=3e-9)


def test_a_start_at_nothing_is_followed_from_next_to_nothing() -> None:
    box = BOX._replace(converter=changed(BOOST, start_v=0.0))
    assert same(start_up(Network(Source(9.0), (box,)), 4.0), (Latch("box", 9e-6, 2e6, 4.0, 4.5),))


def test_every_branch_is_told_in_order() -> None:
    network = Network(Source(9.0), (BOX, Branch("two", of_power(9.0), BOOST)))
    # 12 W beside 18 W: what one has is gone for the other.
    found = start_up(network, 8.0)
    assert same(found, (Latch("box", 3.0, 6.0, 4.0, 3.75), Latch("two", 3.0, 4.0, 2.0, 3.75)), rel=3e-9)


def test_below_its_least_voltage_another_converter_pulls_as_hard_as_it_ever_does() -> None:
    # 16 W behind 1 ohm of wire cannot be had below 8 V, and take 4 A there.
    other = Branch("other", of_power(12.0), a_converter("boost", 12.0, 0.75, start_v=2.0), 1.0)
    [latch] = [each for each in start_up(Network(Source(20.0), (BOX, other)), 9.0) if each.branch == "box"]
    assert same((latch.input_v, latch.wanted_a, latch.available_a), (3.0, 6.0, 5.0), rel=1e-6)


def test_a_table_counts_at_each_voltage_on_the_way() -> None:
    # 12 W at 50 % are 24 W at 3 V, at 75 % 16 W at 9 V.
    table = a_table((3.0, 9.0), (1.0,), ((0.5,), (0.75,)))
    box = Branch("box", of_power(12.0), changed(BOOST, efficiency=table))
    [latch] = start_up(Network(Source(9.0), (box,)), 4.0)
    assert same(latch[:4], ("box", 3.0, 8.0, 4.0))
    # 12 / (0.375 + V / 24) = 4 V
    assert latch.start_v == pytest.approx((-9.0 + (81.0 + 4 * 72.0) ** 0.5) / 2.0, rel=1e-8)


def test_what_has_no_operating_point_is_not_followed() -> None:
    broken = Branch("box", of_power(50.0), a_converter("buck", 5.0, 0.9, start_v=1.0), 0.0, 0.25)
    assert start_up(Network(Source(9.0), (broken,)), 0.1) == ()
    assert start_up(Network(Source(9.0), (BOX,), (("cable", 2.0),)), 0.1) == ()
    assert start_up(Network(Source(9.0), ()), 0.1) == ()
