"""Loads at a share, outputs off by a factor, and the current that a load takes at a voltage."""

from __future__ import annotations

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec, with_output_scaled, with_shares
from pdcheck.quantities import Triple
from tests.circuit.making import a_converter, led_driver, led_string, of_current, of_power, of_resistance

POWER, CURRENT, HEATER = of_power(18.0), of_current(2.0), of_resistance(6.0)
STRING, DRIVER = led_string(3, 3.0, 20.0), led_driver(3, 3.0, 0.5, 1.0, 0.75)
NONE = of_current(0.0)


def test_named_branches_get_their_share_and_nothing_else_changes() -> None:
    box = BranchSpec("box", POWER, a_converter("buck", 12.0, 0.9, idle_w=0.5), Conductor(0.1), Conductor(0.2))
    fan, dew = BranchSpec("fan", CURRENT), BranchSpec("dew", HEATER)
    spec = NetworkSpec(Triple(19.0, 20.0, 21.0), (box, fan, dew), 3.0, bus_a=0.1)
    assert with_shares(spec, {"box": 0.5, "dew": 0.0}) == spec._replace(
        branches=(box._replace(load=of_power(9.0)), fan, dew._replace(load=NONE))
    )
    assert with_shares(spec, {}) == spec
    assert with_output_scaled(spec, 0.5) == spec._replace(
        branches=(box._replace(converter=a_converter("buck", 6.0, 0.9, idle_w=0.5)), fan, dew)
    )
