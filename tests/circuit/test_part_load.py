"""Loads at a share, outputs off by a factor, and the current that a load takes at a voltage."""

from __future__ import annotations

import pytest

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.circuit.network import (
    ConstantCurrent,
    ConstantPower,
    Converter,
    LedDriver,
    LedString,
    Load,
    Resistance,
)
from pdcheck.circuit.part_load import at_share, can_be_halved, load_current, with_output_scaled, with_shares
from pdcheck.quantities import Triple

POWER, CURRENT, HEATER = ConstantPower(18.0), ConstantCurrent(2.0), Resistance(6.0)
STRING, DRIVER = LedString(3, 3.0, 20.0), LedDriver(3, 3.0, 0.5, 1.0, 0.75)
NONE = ConstantCurrent(0.0)


@pytest.mark.parametrize(
    ("load", "half", "halved"),
    [
        (POWER, ConstantPower(9.0), True),
        (CURRENT, ConstantCurrent(1.0), True),
        (HEATER, Resistance(12.0), True),
        (STRING, STRING, False),
        (DRIVER, DRIVER, False),
    ],
)
def test_shares_of_each_load(load: Load, half: Load, halved: bool) -> None:
    for share, expected in ((0.5, half), (1.0, load), (1.5, load), (0.0, NONE), (-0.5, NONE)):
        assert at_share(load, share) == expected
        assert type(at_share(load, share)) is type(expected)
    assert can_be_halved(load) == halved


@pytest.mark.parametrize(
    ("load", "volts", "amps"),
    [
        (POWER, 12.0, 1.5),
        (POWER, 0.5, 36.0),
        (CURRENT, 12.0, 2.0),
        (HEATER, 12.0, 2.0),
        (STRING, 12.0, 0.15),
        (STRING, 9.0, 0.0),
        (STRING, 5.0, 0.0),
        (DRIVER, 12.0, 0.5),
    ],
)
def test_the_current_at_a_voltage(load: Load, volts: float, amps: float) -> None:
    assert load_current(load, volts) == pytest.approx(amps, rel=1e-12)
    assert load_current(load, 0.0) is None
    assert load_current(load, -1.0) is None


def test_named_branches_get_their_share_and_nothing_else_changes() -> None:
    box = BranchSpec("box", POWER, Converter("buck", 12.0, 0.9, idle_w=0.5), Conductor(0.1), Conductor(0.2))
    fan, dew = BranchSpec("fan", CURRENT), BranchSpec("dew", HEATER)
    spec = NetworkSpec(Triple(19.0, 20.0, 21.0), (box, fan, dew), 3.0, "pps", bus_a=0.1)
    assert with_shares(spec, {"box": 0.5, "dew": 0.0}) == spec._replace(
        branches=(box._replace(load=ConstantPower(9.0)), fan, dew._replace(load=NONE))
    )
    assert with_shares(spec, {}) == spec
    assert with_output_scaled(spec, 0.5) == spec._replace(
        branches=(box._replace(converter=Converter("buck", 6.0, 0.9, idle_w=0.5)), fan, dew)
    )
