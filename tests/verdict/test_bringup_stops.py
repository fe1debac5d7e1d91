"""From which figure on to stop at the bench: the tightest limit of a part at each place where the meter is."""

from __future__ import annotations

import json
from typing import Any

import pytest

from pdcheck.parts.limits import known
from pdcheck.show.bringup import stop_lines, text
from pdcheck.show.bringup_sheet import sheet_text
from pdcheck.show.page.sections import bringup_section
from pdcheck.verdict.bringup.steps import BringUp, Step
from pdcheck.verdict.finding import GRAVE
from tests.verdict.lab import BUCK, FAN, LAMP, PUMP, RIG, lab

SHORT = {"awg": 16, "length": "0.1m"}


def step_of(plan: BringUp, path: str) -> Step:
    return next(step for step in plan.steps if ".".join(step.path) == path)


def told(plan: BringUp, path: str) -> dict[str, str]:
    """The figures of a step by their readings, without the step's own path."""
    step = step_of(plan, path)
    head = len(path) + 1
    return {f"{' x '.join(name[head:] for name in each.readings)} {each.sense}": each.text for each in step.stop_at}


def trigger(**keys: Any) -> dict[str, Any]:
    return {**RIG["trigger"], **keys}


def test_each_part_in_turn_is_the_tightest_on_the_current_of_the_bus() -> None:
    full = f"branch.{PUMP}.full"
    converter = {**BUCK, "input_limit": "900mA"}
    # 3 A of charger and cable; a fuse carries three quarters of its rating for hours (UL 248-14).
    assert told(lab(PUMP), full)["bus_a at_most"] == "above 3 A (cable)"
    assert told(lab(PUMP, cable={"rating": "5A"}), full)["bus_a at_most"] == "above 3 A (charger)"
    assert told(lab(PUMP, more={PUMP: {"fuse": "1.6A"}}), full)["bus_a at_most"] == "above 1.2 A (pump fuse)"
    assert told(lab(PUMP, trigger=trigger(fuse="2A IEC")), full)["bus_a at_most"] == "above 2 A (bus fuse)"
    assert told(lab(PUMP, trigger=trigger(rating="1.4666A")), full)["bus_a at_most"] == "above 1.466 A (trigger)"
    limited = told(lab(PUMP, more={PUMP: {"converter": converter}}), full)
    assert limited["bus_a at_most"] == "above 900 mA (pump's converter input)"
    both = told(lab(PUMP, more={PUMP: {"converter": converter, "fuse": "1A"}}), full)
    assert both["bus_a at_most"] == "above 750 mA (pump fuse)"


def test_a_part_stops_its_own_branch_alone_and_at_its_own_meter_with_all_together() -> None:
    plan = lab(more={PUMP: {"fuse": "1.6A"}})
    assert told(plan, f"branch.{PUMP}.half")["bus_a at_most"] == "above 1.2 A (pump fuse)"
    assert told(plan, f"branch.{FAN}.full")["bus_a at_most"] == "above 3 A (cable)"
    together = told(plan, "together")
    assert together["bus_a at_most"] == "above 3 A (cable)"
    assert together["pump.in_a at_most"] == "above 1.2 A (pump fuse)"


def test_volts_stop_where_they_are_read_and_already_before_anything_is_joined() -> None:
    plan = lab(PUMP, LAMP, more={LAMP: {"load": {"resistance": "30ohm", "voltage": "8V-17V"}}})
    assert told(plan, "trigger") == {
        "bus_v at_most": "above 17 V (lamp's load)",
        "bus_v at_least": "below 12 V (pump's converter input)",
    }
    alone = told(plan, f"branch.{PUMP}.unloaded")
    assert alone["bus_v at_most"] == "above 30 V (pump's converter input)"
    assert alone["bus_v at_least"] == "below 12 V (pump's converter input)"
    full = told(plan, f"branch.{PUMP}.full")
    assert full["in_v at_least"] == "below 12 V (pump's converter input)"
    assert full["in_v at_most"] == full["bus_v at_most"] == "above 30 V (pump's converter input)"
    assert "bus_v at_least" not in full


def test_a_load_behind_a_converter_is_kept_from_its_output_before_it_is_joined() -> None:
    plan = lab(PUMP, more={PUMP: {"load": {"power": "12W", "voltage": "9V-12.6V"}}})
    assert told(plan, f"branch.{PUMP}.unloaded")["out_v at_most"] == "above 12.6 V (pump's load)"
    full = told(plan, f"branch.{PUMP}.full")
    assert full["load_v at_most"] == full["out_v at_most"] == "above 12.6 V (pump's load)"
    assert full["load_v at_least"] == "below 9 V (pump's load)"


def test_a_converter_that_starts_high_says_so_while_the_trigger_is_alone() -> None:
    plan = lab(PUMP, more={PUMP: {"converter": {**BUCK, "start": "13.5V"}}})
    assert told(plan, "trigger")["bus_v at_least"] == "below 13.5 V (pump's converter input)"
    assert told(plan, f"branch.{PUMP}.unloaded")["bus_v at_least"] == "below 12 V (pump's converter input)"


def test_a_rating_for_a_contract_covers_what_a_supply_of_it_may_really_give() -> None:
    plan = lab(LAMP, trigger=trigger(voltage_rating="15V"))
    assert told(plan, "trigger")["bus_v at_most"] == "above 15.75 V (trigger)"
    assert step_of(plan, "trigger").stop_at[0].limit == pytest.approx(15 * 1.05)


def test_watts_stop_as_the_product_of_two_readings() -> None:
    converter = {**BUCK, "input_power": "22W", "power_limit": "14W", "output_limit": None}
    converter = {key: value for key, value in converter.items() if value is not None}
    full = told(lab(PUMP, more={PUMP: {"converter": converter, "wire": SHORT, "lead": SHORT}}), f"branch.{PUMP}.full")
    assert full["in_v x bus_a at_most"] == "above 22 W (pump's converter input)"
    assert full["out_v x out_a at_most"] == "above 14 W (pump's converter output)"


def test_every_figure_is_in_the_list_of_limits_and_none_of_the_list_is_tighter() -> None:
    """The list is gone through anew, by node and quantity, for the branch and the bus of each step."""
    plan = lab(more={PUMP: {"fuse": "1.6A"}, LAMP: {"fuse": "800mA"}}, trigger=trigger(fuse="2.5A"))
    listed = [each for each in known(plan.case.limits) if each.rule.level in GRAVE]
    for step in plan.steps[2:]:
        readings = {each.name: each for each in step.readings}
        for stop in step.stop_at:
            assert any(each.rule.id == stop.rule and each.limit == stop.limit for each in listed)
            if stop.unit != "A":
                continue
            nodes = {"bus": ("source", "bus"), f"{PUMP}/out": (f"{PUMP}/out", f"{PUMP}/load")}
            node = readings[stop.readings[0]].node
            looked = nodes.get(node, (node, node.replace("/in", "/load")))
            if node == "bus" and len(step.branches) == 1:
                name = step.branches[0]
                looked += (f"{name}/in",) if name == PUMP else (f"{name}/in", f"{name}/load")
            found = [
                each.limit
                for each in listed
                if each.node in looked and (each.quantity, each.sense, each.state) == ("current", "at_most", "loaded")
            ]
            assert stop.limit == min(found), stop


def test_a_step_that_will_pass_a_limit_has_its_figure_all_the_same() -> None:
    plan = lab(PUMP, more={PUMP: {"fuse": "1A"}})
    full = step_of(plan, f"branch.{PUMP}.full")
    reading = next(each for each in full.readings if each.key == "bus_a")
    stop = next(each for each in full.stop_at if each.readings == (reading.name,))
    assert (stop.limit, stop.rule) == (0.75, "fuse-current")
    assert reading.expected.max is not None
    assert reading.expected.max > stop.limit


def test_text_sheet_page_and_document_say_the_same_figures() -> None:
    plan = lab(PUMP, more={PUMP: {"fuse": "1.6A"}})
    line = stop_lines(step_of(plan, f"branch.{PUMP}.unloaded"))[0]
    said = "bus_v below 12 V (pump's converter input); bus_v above 30 V (pump's converter input); "
    assert line == f"Stop from here on: {said}bus_a above 1.2 A (pump fuse)."
    assert " ".join(line.split()) in " ".join(text(plan).split())
    assert line in " ".join(sheet_text(plan, "rig.toml", "kit.toml").replace("#", " ").split())
    page = bringup_section(plan.judgement).steps[2]
    assert page.stop[2] == "ammeter, between trigger and bus: above 1.2 A (pump fuse)"
    document = json.loads(plan.to_json())["steps"][2]["stop_at"][2]
    assert (document["readings"], document["unit"]) == (["branch.pump.unloaded.bus_a"], "A")
    assert document["limit"] == pytest.approx(1.2)
    assert (document["rule"], document["part"]) == ("fuse-current", "fuse")


def test_nothing_is_said_of_figures_where_nothing_is_on() -> None:
    assert step_of(lab(LAMP), "unpowered").stop_at == ()
    assert step_of(lab(trigger={"request": "28V", "fallback": "none"}), "trigger").stop_at == ()
