"""Heat of loads that come and go: a build stepped through its days, until it gets no warmer, against what is told."""

from __future__ import annotations

from itertools import product
from math import pi, sqrt
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.judge import Judgement, judge

ALPHA, RHO, FILM = 0.00393, 1 / 58e6, 10.0  # IEC 60028; still air takes 10 W/(m2 K) off a thin wire [common practice]
SHED_W_K = 8.0 * 2 * (0.12 * 0.08 + 0.08 * 0.04 + 0.04 * 0.12)
SOURCE, CABLE = Source("5V 3A, 20V 5A", id="s", tolerance=0), Cable("C-C 5A", loop="150mOhm", id="c")
GAUGES = (20, 22, 24, 26)


def built(branches: list[dict[str, Any]], **more: Any) -> Rig:
    trigger = {"request": "20V", "rating": "5A", "resistance": "25mOhm"}
    return Rig.model_validate({"trigger": trigger, "branch": branches, **more})


def branch(at: int, gauge: int, load: dict[str, Any], efficiency: float | None) -> dict[str, Any]:
    told: dict[str, Any] = {"name": f"b{at}", "wire": {"awg": gauge, "length": 0.5}, "load": load}
    if efficiency is not None:
        told["converter"] = {
            "kind": "buck", "input": "12V-30V", "output": "9V", "efficiency": efficiency, "idle": 0.1, "rise": 20,
        }  # fmt: skip
    return told


@st.composite
def branches(draw: st.DrawFn) -> list[dict[str, Any]]:
    found = []
    for at in range(draw(st.integers(1, 3))):
        peak = draw(st.floats(2.0, 20.0))
        duty = {"duty": draw(st.floats(0.05, 1.0))}
        average = {"average": peak * draw(st.floats(0.05, 1.0))}
        stated: dict[str, Any] = {"power": peak} | draw(st.sampled_from([{}, duty, average]))
        if "average" in stated and draw(st.booleans()):
            stated |= {"power": stated["average"], "peak": peak}
        found.append(branch(at, draw(st.sampled_from(GAUGES)), stated, draw(st.none() | st.floats(0.75, 0.95))))
    return found


def on_and_off(load: dict[str, Any]) -> list[tuple[float, float]]:
    """Watts of a load in turn, with the part of the time of each."""
    if "average" in load:
        return [(1.0, load["average"])]
    duty = load.get("duty", 1.0)
    return [(duty, load["power"]), (1.0 - duty, 0.0)] if duty < 1.0 else [(1.0, load["power"])]


def stepped(listed: list[dict[str, Any]]) -> dict[str, float]:
    """Every temperature, walked through over and over, half of the way to where it leads each time."""
    wires = {each["name"]: 25.0 for each in listed}
    inside, boards = 25.0, dict.fromkeys(wires, 0.0)
    for _ in range(150):
        heat, squares, lost = 0.0, dict.fromkeys(wires, 0.0), dict.fromkeys(wires, 0.0)
        ohm, per_m = {}, {}
        for each in listed:
            d = 0.127e-3 * 92 ** ((36 - each["wire"]["awg"]) / 39)
            per_m[each["name"]] = RHO / (pi / 4 * d * d) * (1 + ALPHA * (wires[each["name"]] - 20)), d
            ohm[each["name"]] = 2 * each["wire"]["length"] * per_m[each["name"]][0]
        for state in product(*(on_and_off(each["load"]) for each in listed)):
            part, taken = 1.0, {}
            for (time, watts), each in zip(state, listed, strict=True):
                part *= time
                converter = each.get("converter")
                taken[each["name"]] = watts if converter is None else watts / converter["efficiency"] + 0.1
            bus, amps = 20.0, dict.fromkeys(wires, 0.0)
            for _ in range(60):
                for name, watts in taken.items():
                    amps[name] = 2 * watts / (bus + sqrt(bus * bus - 4 * ohm[name] * watts))
                bus += 0.7 * (20.0 - 0.175 * sum(amps.values()) - bus)
            heat += part * 0.025 * sum(amps.values()) ** 2
            for (_, watts), each in zip(state, listed, strict=True):
                name = each["name"]
                squares[name] += part * amps[name] ** 2
                lost[name] += part * ((taken[name] - watts) if "converter" in each else 0.0)
                heat += part * (amps[name] ** 2 * ohm[name] + ((taken[name] - watts) if "converter" in each else 0.0))
        inside += 0.5 * (25.0 + heat / SHED_W_K - inside)
        for name, celsius in wires.items():
            leads_to = inside + squares[name] * per_m[name][0] / (FILM * pi * per_m[name][1])
            wires[name] = 0.5 * (celsius + leads_to)
            boards[name] = inside + 20.0 * lost[name]
    found = {f"{name}/wire": each for name, each in wires.items()}
    found |= {f"{each['name']}/converter": boards[each["name"]] for each in listed if "converter" in each}
    return found | {"box": inside}


def told(judged: Judgement) -> dict[str, Any]:
    found = {each.part: each.temp_c for each in judged.temperatures}
    assert judged.box is not None
    return found | {"box": judged.box.temp_c}


BOX = {"size": "120mm x 80mm x 40mm", "material": "plastic", "air": "25C"}


@settings(max_examples=40, deadline=None)
@given(branches())
def test_temperatures_of_what_comes_and_goes_against_steps_in_time(listed: list[dict[str, Any]]) -> None:
    assume(sum(each["load"].get("peak", each["load"]["power"]) for each in listed) < 45.0)
    found = told(judge(built(listed, box=BOX), SOURCE, CABLE))
    for part, celsius in stepped(listed).items():
        assert found[part].typ == pytest.approx(celsius, abs=0.02), part
        assert found[part].min <= found[part].typ <= found[part].max


@settings(max_examples=40, deadline=None)
@given(branches())
def test_what_is_told_of_the_course_never_makes_it_warmer_than_what_is_not(listed: list[dict[str, Any]]) -> None:
    """An average alone may come in bursts: no duty that has this average is warmer; and without any it is warmest."""
    assume(sum(each["load"].get("peak", each["load"]["power"]) for each in listed) < 45.0)

    def bursts(load: dict[str, Any]) -> dict[str, Any]:
        peak = load.get("peak", load["power"])
        return {"power": peak, "duty": load["average"] / peak} if "average" in load else load

    def always(load: dict[str, Any]) -> dict[str, Any]:
        return {"power": load.get("peak", load["power"])}

    found, hotter, hottest = (
        told(judge(built([each | {"load": as_told(each["load"])} for each in listed], box=BOX), SOURCE, CABLE))
        for as_told in (dict, bursts, always)
    )
    for part in found:
        assert found[part].max >= hotter[part].max - 1e-5, part
        assert hottest[part].max >= found[part].max - 1e-5, part


def test_the_circuit_is_judged_at_the_peak_and_its_heat_at_the_average() -> None:
    """30 W through 90 % lose 3.33 W in the converter, which sheds 2 W; at a duty of a quarter it sheds that."""
    wire = {"awg": 20, "length": 0.3}
    buck = {"kind": "buck", "input": "14V-30V", "output": "12V", "efficiency": 0.9, "idle": 0, "heat_limit": "2W"}
    buck |= {"input_limit": "5A", "output_limit": "5A"}

    def judged(load: dict[str, Any], **more: Any) -> Judgement:
        each = {"name": "x", "wire": wire, "lead": wire, "load": load, "converter": buck | more}
        return judge(built([each], box=BOX), SOURCE, CABLE)

    def found(each: Judgement) -> set[str]:
        return {finding.rule for finding in each.findings if finding.level in ("fail", "stop")}

    assert found(judged({"power": 30})) == {"converter-heat"}
    assert judged({"power": 30, "duty": 0.25}).works
    assert judged({"power": 30, "average": 7.5}).works
    assert judged({"power": 7.5, "peak": 30, "average": 7.5}).works
    assert found(judged({"power": 30, "duty": 0.25}, output_limit="2A")) == {"converter-output-current"}
    hot = judged({"power": 7.5, "peak": 30, "average": 7.5})
    assert hot.case.worst_current("x/out") > 2.5
