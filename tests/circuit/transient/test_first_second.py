"""What builds do in their first second: the four that die at the bench, their harmless neighbours, and every event."""

from __future__ import annotations

import pytest

from pdcheck.circuit.transient.given import Branch, Circuit, Converter, Event, Level, Load, Source
from pdcheck.circuit.transient.result import Extreme, Result
from pdcheck.circuit.transient.run import run
from tests.circuit.transient.benches import CABLE, STIFF, TRIGGER, filtered, heater, module, source, stiff


def fates(result: Result) -> list[str]:
    return [fate.fate for fate in result.fates]


def extreme(result: Result, node: str) -> Extreme:
    return next(row for row in result.extremes if row.node == node)


def said(result: Result, what: str) -> list[float]:
    return [moment.time_s for moment in result.moments if moment.what == what]


# ---- the four cases, and their neighbours


def test_30_w_from_5_v_pulls_the_bus_down_again_and_again() -> None:
    """7 A wanted at 4.5 V where the charger holds 3 A; the bus falls to the cut-off of 3.5 V [checked: ngspice]."""
    result = run(Circuit(source(plain_a=3.0), CABLE, TRIGGER, (module(30.0, 4.5, 3.5),)), until_s=0.25)
    [fate] = result.fates
    assert fate.fate == "repeats" and fate.stops > 20
    assert extreme(result, "module/in").min_v == pytest.approx(3.5, abs=0.01)
    assert any(moment.what == "goes on so" for moment in result.moments)


def test_it_may_be_saved_by_the_contract_if_the_trigger_lives() -> None:
    """Cut off at 4.0 V the trigger never browns out, and at 20 V soft start lets the bus rise first."""
    result = run(Circuit(source(), CABLE, TRIGGER, (module(30.0, 4.5, 4.0),)))
    assert fates(result) == ["comes back"] and not said(result, "browns out")
    lower = run(Circuit(source(), CABLE, TRIGGER._replace(brown_out_v=4.3), (module(30.0, 4.5, 4.0),)))
    assert fates(lower) == ["repeats"] and said(lower, "browns out") and not said(lower, "contract")


@pytest.mark.parametrize("start_v", [5.5, 8.0, 12.0])
def test_a_start_voltage_above_5_v_is_the_remedy(start_v: float) -> None:
    result = run(Circuit(source(), CABLE, TRIGGER, (module(30.0, start_v, start_v - 0.5),)))
    assert fates(result) == ["starts"]
    assert said(result, "converter starts")[0] > 0.3


def test_12_w_from_5_v_starts() -> None:
    assert fates(run(Circuit(source(), CABLE, TRIGGER, (module(12.0, 4.5, 4.0),)))) == ["starts"]


def test_three_of_6_w_are_as_bad_as_one_of_18() -> None:
    three = tuple(module(6.0, 4.3, 4.0, name=f"m{index}") for index in range(3))
    result = run(Circuit(source(plain_a=3.0), CABLE, TRIGGER, three), until_s=0.2)
    assert set(fates(result)) <= {"repeats", "hangs", "cuts off"} and "repeats" in fates(result)
    two = run(Circuit(source(plain_a=3.0), CABLE, TRIGGER, three[:2]), until_s=0.2)
    assert all(fate.starts == 1 and fate.stops == 0 for fate in two.fates)


def test_a_converter_that_starts_at_8v6_never_starts_beside_a_heater() -> None:
    """9 V, 4.5 ohm: the bus is at 8.50 V [checked: ngspice]."""
    bench = Circuit(source(9.0), CABLE._replace(resistance_ohm=0.245), TRIGGER, (module(5.0, 8.6, 8.0), heater()))
    result = run(bench)
    assert fates(result) == ["hangs", "starts"]
    assert result.samples.nodes["bus"][-1] == pytest.approx(8.50, abs=0.005)
    alone = run(bench._replace(branches=(module(5.0, 8.6, 8.0),)))
    assert fates(alone) == ["starts"]
    sooner = run(bench._replace(branches=(module(5.0, 8.4, 8.0), heater())))
    assert fates(sooner) == ["starts", "starts"]


def test_24_v_on_a_bus_of_20_v_stays_off() -> None:
    assert fates(run(Circuit(source(), CABLE, TRIGGER, (module(5.0, 24.0, 23.0),)))) == ["stays off"]


def test_the_ring_of_a_branch_plugged_in_live() -> None:
    """20 V, 1 uH, 140 mOhm, 4 uF: 32.8 V [checked: ngspice]."""
    branch = filtered(5.0, 0.140, 1e-6, 4e-6, stop_v=90.0)._replace(joined=False)
    result = run(stiff(20.0, branch), (Event(0.05, "join", "module"),), until_s=0.06)
    row = extreme(result, "module/in")
    assert row.peak_v == pytest.approx(32.8, abs=0.05)
    assert row.peak_s == pytest.approx(0.05 + 6.4e-6, abs=0.5e-6)
    assert row.max_v == pytest.approx(20.0, abs=0.05)  # counted from 2 ms after the node has its voltage


@pytest.mark.parametrize(("at_source", "ohm", "settles"), [(9.0, 0.432, False), (9.0, 0.448, True)])
def test_9_v_at_the_source_needs_440_milliohm(at_source: float, ohm: float, settles: bool) -> None:
    """25 W, 2 uH, 2 uF [checked: ngspice and an own integrator]."""
    result = run(stiff(at_source, filtered(25.0, ohm, 2e-6, 2e-6)), until_s=0.03)
    assert fates(result) == (["starts"] if settles else ["repeats"])


@pytest.mark.parametrize(("ohm", "settles"), [(0.302, False), (0.316, True)])
def test_9_v_at_the_input_needs_309_milliohm(ohm: float, settles: bool) -> None:
    """25 W, 2 uH, 2 uF, 9 V at the converter's input [checked: ngspice and an own integrator]."""
    result = run(stiff(9.0 + ohm * 25.0 / 9.0, filtered(25.0, ohm, 2e-6, 2e-6)), until_s=0.04)
    assert fates(result) == (["starts"] if settles else ["repeats"])


@pytest.mark.parametrize("ohm", [0.35, 0.42])
def test_a_slow_soft_start_hides_no_instability(ohm: float) -> None:
    """Nothing kicks the filter; it leaves its point of rest by itself, and a long implicit step would not see it."""
    branch = filtered(25.0, ohm, 2e-6, 2e-6)
    assert branch.converter is not None
    slow = branch._replace(converter=branch.converter._replace(soft_start_s=0.03))
    assert fates(run(stiff(9.0, slow), until_s=0.06)) == ["repeats"]


def test_what_a_converter_takes() -> None:
    """12 W of output at 80 %, and 0.6 W of idle: 15.6 W at its input."""
    branch = module(12.0, 6.0, 5.5)
    assert branch.converter is not None
    lossy = branch._replace(converter=branch.converter._replace(efficiency=0.8, idle_w=0.6))
    result = run(Circuit(source(), CABLE, TRIGGER, (lossy,)))
    at_v = result.samples.nodes["module/in"][-1]
    taken = (20.0 - at_v) / (0.22 + 0.05)
    assert at_v * taken == pytest.approx(15.6, rel=1e-3)
    assert result.energies.losses_j["module/converter"] == pytest.approx(3.6 * 0.7, rel=0.01)


def test_a_small_normal_build_has_nothing_to_tell() -> None:
    result = run(Circuit(source(15.0), CABLE, TRIGGER, (module(15.0, 6.0, 5.5), heater(40.0))))
    assert fates(result) == ["starts", "starts"]
    assert not {"limits", "trips", "browns out", "goes on so"} & {moment.what for moment in result.moments}
    assert [moment.time_s for moment in result.moments] == sorted(moment.time_s for moment in result.moments)


# ---- sources


def test_a_hiccup_source_switches_off_and_tries_again() -> None:
    bench = Circuit(source(trips=True)._replace(retry_s=0.2), CABLE, TRIGGER, (heater(1.0),))
    result = run(bench, until_s=0.7)
    trips, plugs = said(result, "trips"), said(result, "plugged in")
    assert len(trips) >= 3
    assert [later - sooner for sooner, later in zip(trips, plugs[1:], strict=False)] == pytest.approx(
        [0.2] * min(len(trips), len(plugs) - 1)
    )
    held = run(bench._replace(source=source()), until_s=0.7)
    assert not said(held, "trips") and fates(held) == ["hangs"]
    assert held.samples.nodes["bus"][-1] == pytest.approx(3.0, abs=0.6)


def test_a_short_overload_does_not_trip() -> None:
    """The charge of 100 uF takes less than the source's patience."""
    branch = module(5.0, 6.0, 5.5)._replace(input_f=100e-6)
    result = run(Circuit(source(trips=True, plain_a=1.5), CABLE, TRIGGER, (branch,)))
    assert not said(result, "trips") and fates(result) == ["starts"]


def test_contract_rises_at_its_slew() -> None:
    result = run(Circuit(source(), CABLE, TRIGGER, (heater(40.0),)))
    assert said(result, "contract") == [0.3]
    assert said(result, "arrives")[1] == pytest.approx(0.3 + 15.0 / 30e3)


# ---- events


def test_load_off_and_on() -> None:
    events = (Event(0.5, "load off", "heater"), Event(0.6, "load on", "heater"))
    result = run(Circuit(source(), CABLE, TRIGGER, (heater(20.0), module(5.0, 6.0, 5.5))), events)
    assert fates(result) == ["starts", "starts"]
    assert said(result, "load off") == [0.5] and said(result, "load on") == [0.6]
    assert result.fates[0].stops == 0


def test_unplug_and_replug() -> None:
    bench = Circuit(source(), CABLE, TRIGGER, (module(10.0, 6.0, 5.5),))
    gone = run(bench, (Event(0.5, "unplug"),))
    assert fates(gone) == ["cuts off"]
    again = run(bench, (Event(0.5, "unplug"), Event(0.7, "replug")), until_s=1.3)
    assert fates(again) == ["comes back"]
    assert said(again, "contract") == pytest.approx([0.3, 1.0])


def test_hard_reset() -> None:
    result = run(Circuit(source(), CABLE, TRIGGER, (module(10.0, 6.0, 5.5),)), (Event(0.5, "hard reset"),), until_s=2.0)
    assert fates(result) == ["comes back"]
    assert said(result, "plugged in")[1] == pytest.approx(0.5 + 0.035 + 0.05 + 0.83)
    assert extreme(result, "bus").min_v == pytest.approx(0.0, abs=0.01)


def test_another_offer() -> None:
    """To 9 V: a module with a cut-off of 8.8 V is gone after its own capacitance, one of 6 V goes on."""
    bench = Circuit(source(), CABLE, TRIGGER, (module(10.0, 12.0, 8.8, name="a"), module(10.0, 7.0, 6.0, name="b")))
    result = run(bench, (Event(0.5, "level", level=Level(9.0, 3.0)),))
    assert fates(result) == ["cuts off", "starts"]
    stopped = [moment.time_s for moment in result.moments if moment.what == "converter stops"]
    assert stopped[0] == pytest.approx(0.5 + 11.0 / 30e3, abs=50e-6)


def test_a_branch_joined_to_the_live_bus_makes_a_dip() -> None:
    big = module(5.0, 6.0, 5.5, name="late")._replace(joined=False, input_f=470e-6)
    bench = Circuit(source(9.0), CABLE, TRIGGER, (module(10.0, 7.0, 6.5, name="first"), big))
    result = run(bench, (Event(0.5, "join", "late"),), until_s=1.2)
    assert fates(result)[0] == "comes back"
    small = bench._replace(branches=(bench.branches[0], big._replace(input_f=2e-6)))
    assert fates(run(small, (Event(0.5, "join", "late"),), until_s=1.2)) == ["starts", "starts"]


# ---- loads


def test_a_lamp_starts_with_more() -> None:
    lamp = heater(20.0, "lamp")._replace(load=Load("resistance", 20.0, start_factor=8.0, start_time_s=0.05, on=False))
    result = run(Circuit(source(), CABLE, TRIGGER, (lamp,)), (Event(0.5, "load on", "lamp"),))
    limits, free = said(result, "limits"), said(result, "regulates")
    assert limits[0] == pytest.approx(0.5, abs=1e-3)
    assert free[0] == pytest.approx(0.55, abs=2e-3)


def test_output_capacitance_carries_the_load_on() -> None:
    """C (V1^2 - V2^2) / (2 P) = 1000 uF x (12^2 - 6^2) / (2 x 6 W) = 9 ms from the cut-off to the load's own."""
    converter = Converter(12.0, 0.9, 0.0, 6.0, 5.5, 3e-3, 1000e-6)
    branch = Branch("m", 0.05, 0.3e-6, 10e-6, 0.01, converter, 0.0, Load("power", 6.0, start_v=8.0, stop_v=6.0))
    result = run(Circuit(source(), CABLE, TRIGGER, (branch,)), (Event(0.5, "unplug"),))
    stop = said(result, "converter stops")[0]
    assert said(result, "load stops")[0] - stop == pytest.approx(9e-3, rel=1e-6)
    at = result.samples
    volts = {round((time - stop) * 1e3, 1): volt for time, volt in zip(at.time_s, at.nodes["m/load"], strict=True)}
    halfway = [(after, volt) for after, volt in volts.items() if 3.0 < after < 6.0]
    assert halfway and all(volt == pytest.approx((144.0 - 12.0 * after) ** 0.5, abs=0.1) for after, volt in halfway)


def test_leds_on_a_resistor_below_their_voltage_stay_dark() -> None:
    dark = Branch("led", 0.05, 0.0, 0.0, 0.0, None, 0.0, Load("leds", 10.0, string_v=10.2))
    assert fates(run(Circuit(source(9.0), CABLE, TRIGGER, (dark,)))) == ["stays off"]
    assert fates(run(Circuit(source(15.0), CABLE, TRIGGER, (dark,)))) == ["starts"]


def test_no_contract_asked_for() -> None:
    bench = Circuit(Source(Level(5.0, 3.0)), CABLE, STIFF, (module(5.0, 4.5, 4.0), module(5.0, 6.0, 5.5, name="b")))
    assert fates(run(bench)) == ["starts", "stays off"]
