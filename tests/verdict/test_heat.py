"""Heat judged: what check tells of it, that knowing more never hides anything, and that every question agrees."""

import json

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.asking.envelope import envelope
from pdcheck.circuit.warm import heat_inside_w
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.limits import Catalogue
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, VERDICTS
from pdcheck.verdict.greatest import greatest_load
from pdcheck.verdict.judge import judge
from pdcheck.verdict.matrix.cells import RigCells

SOURCE = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 3.25A")
CABLE = Cable(id="c", kind="C-C", rating="5A", loop="150mOhm")
BUCK = {"kind": "buck", "input": "14V-30V", "input_limit": "4A", "output": "12V", "output_limit": "4A"}
BUCK |= {"efficiency": 0.9, "idle": "0.1W"}
DERATE = {"air": ["40C", "70C"], "output": ["4A", "2A"]}
BOX = {"size": "120mm x 80mm x 40mm", "material": "painted metal", "air": "25C"}


def rig(*, load="30W", box=None, wire="20AWG 0.3m", trigger="20V", **converter):
    branch = {"name": "mount", "wire": wire, "lead": "20AWG 0.5m", "load": load, "converter": BUCK | converter}
    stated = {"trigger": {"request": trigger, "rating": "5A", "resistance": "25mOhm"}, "branch": [branch]}
    return Rig(stated | ({"box": box} if box else {}))


def gravity(verdict):
    return next(at for at, level in enumerate(LEVELS) if VERDICTS[level] == verdict)


def test_the_document_holds_temperatures_and_the_balance_of_the_box():
    judged = judge(rig(box=BOX, rise="12K/W"), SOURCE, CABLE)
    told = json.loads(json.dumps(judged.to_dict()))
    parts = {each["part"]: each["temp_c"] for each in told["temperatures"]}
    assert {"cable", "trigger", "mount/wire", "mount/converter", "mount/lead"} == set(parts)
    assert all(each["min"] <= each["typ"] <= each["max"] for each in parts.values())
    box, lost = told["box"], {each["part"]: each["loss_w"]["typ"] for each in told["losses"]}
    assert box["heat_w"]["typ"] == pytest.approx(heat_inside_w(lost), rel=1e-9)
    # Two pairs of sides of 120 x 80, 80 x 40 and 40 x 120 mm; 8 W/(m2 K).
    assert box["area_m2"] == pytest.approx(0.0352) and box["shed_w_k"]["typ"] == pytest.approx(0.2816)
    assert box["temp_c"]["typ"] == pytest.approx(25 + box["heat_w"]["typ"] / 0.2816)
    assert box["temp_c"]["max"] == pytest.approx(25 + box["heat_w"]["max"] / 0.2112)
    rise = parts["mount/converter"]["typ"] - box["temp_c"]["typ"]
    assert rise == pytest.approx(12 * lost["mount/converter"])


def test_without_a_word_on_heat_it_is_told_and_nothing_is_judged():
    judged = judge(rig(load="20W"), SOURCE, CABLE)
    told = judged.to_dict()
    assert told["box"] is None and told["verdict"] == "runs" and not told["not_judged"]
    assumed = {each["part"]: each["assumed"] for each in told["temperatures"]}
    assert "25 to 40 K/W" in assumed["mount/converter"] and assumed["mount/wire"] == ""
    assert judged.case.spec.heat is None


def test_the_derated_figure_is_the_one_that_is_judged():
    judged = judge(rig(load="33W", box=BOX | {"air": "45C"}, derate=DERATE), SOURCE, CABLE)
    found = next(each for each in judged.findings if each.rule == "converter-derated")
    inside = judged.box.temp_c.max
    assert found.limit == pytest.approx(4 - (inside - 40) / 15, abs=1e-6)
    assert found.value == pytest.approx(judged.case.node_current("mount/out").max)
    assert not [each for each in judge(rig(load="33W", derate=DERATE), SOURCE, CABLE).findings if each.level == "fail"]


def test_past_the_end_of_a_derating_nothing_may_be_taken():
    judged = judge(rig(load="1W", box={"air": "71C"}, derate=DERATE), SOURCE, CABLE)
    found = next(each for each in judged.findings if each.rule == "converter-derated")
    assert found.limit == pytest.approx(0, abs=1e-6)


def test_a_derating_alone_is_its_output_limit_in_cool_air():
    short = {key: each for key, each in BUCK.items() if key != "output_limit"}
    branch = {"name": "m", "load": "60W", "converter": short | {"derate": DERATE}}
    judged = judge(Rig(trigger={"request": "20V"}, branch=[branch]), SOURCE, CABLE)
    assert "converter-output-current" in {each.rule for each in judged.findings}


def test_in_a_box_a_rise_that_nobody_states_is_asked_for():
    asked = judge(rig(box=BOX), SOURCE, CABLE)
    [found] = asked.not_judged
    assert (found.what, found.sense, found.unit) == ("mount.converter.rise", "at_most", "K/W")
    assert judge(rig(box=BOX, rise=found.needs), SOURCE, CABLE).verdict == asked.verdict
    assert judge(rig(box=BOX, rise=found.needs * 1.01), SOURCE, CABLE).verdict == "fails"
    assert not judge(rig(load="4W", box=BOX), SOURCE, CABLE).not_judged
    cells = RigCells(rig(box=BOX)).outcomes([(SOURCE, CABLE)])
    assert cells[0].not_judged == 1


def _about(finding):
    """A collapse is one of the whole circuit: where it is weakest may change."""
    return "" if finding.rule == "bus-collapse" else finding.subject


boxes = st.fixed_dictionaries(
    {},
    optional={
        "size": st.lists(st.integers(30, 300).map(lambda each: each / 1000), min_size=3, max_size=3),
        "air": st.integers(-20, 70),
    },
).filter(bool)
rigs = st.fixed_dictionaries(
    {
        "load": st.builds(
            lambda kind, size, in_time: (
                ({"power": size} if kind else {"resistance": 144 / size, "power": size}) | in_time(size)
            ),
            st.booleans(),
            st.integers(50, 550).map(lambda each: each / 10),
            st.sampled_from([lambda _: {}, lambda _: {"duty": 0.3}, lambda size: {"average": 0.3 * size}]),
        )
    },
    optional={
        "rise": st.integers(5, 60),
        "heat_limit": st.integers(1, 8),
        "derate": st.just(DERATE),
        "trigger": st.sampled_from(["20V", "15V"]),
        "wire": st.sampled_from(["20AWG 0.3m", "24AWG 1m 20mOhm", "26AWG 2m"]),
    },
)
cables = st.sampled_from([CABLE, Cable(id="thin", kind="C-C", rating="3A"), Cable(id="a", kind="A-C")])


@settings(max_examples=60)
@given(rigs, boxes, cables)
def test_stating_a_box_hides_no_finding_that_stood_before(stated, box, cable):
    before, after = judge(rig(**stated), SOURCE, cable), judge(rig(**stated, box=box), SOURCE, cable)
    found = {(each.rule, _about(each)) for each in after.findings}
    kept = {(each.rule, _about(each)) for each in before.findings if each.rule != "converter-may-be-hot"}
    # What was judged in the heat of 25 degrees C may do better in air that is known to be colder.
    assume(box.get("air", 25) >= 25 or not before.case.rig.states_heat)
    # Too little to spare becomes too much.
    harder = {each.near.id: each.id for each in Catalogue.rules if each.near is not None}
    # What is too low at rest is not also said to be so in a dip.
    harder["dip-cuts-off"] = "converter-input-low"
    missed = {(rule, subject) for rule, subject in kept - found if (harder.get(rule), subject) not in found}
    # Where the warmer copper makes the bus collapse, nothing at rest is left to be judged beside that.
    assert not missed or ("bus-collapse", "") in found - kept
    assert gravity(after.verdict) <= gravity(before.verdict)


@settings(max_examples=40)
@given(rigs, boxes, cables)
def test_the_matrix_says_what_check_says(stated, box, cable):
    build = rig(**stated, box=box)
    case = Case(build, SOURCE, cable)
    judged = judge(build, SOURCE, cable)
    [cell] = RigCells(build).outcomes([(SOURCE, cable)])
    assert cell.verdict == judged.verdict and cell.not_judged == len(judged.not_judged)
    assert cell.rule == (judged.decided.rule if judged.decided else None)
    if judged.verdict != "unsafe":
        assert cell.max_w == pytest.approx(greatest_load(case).load_w, rel=1e-5, abs=1e-6)


@settings(max_examples=10)
@given(rigs, boxes)
def test_the_envelope_ends_where_a_limit_in_heat_is_met(stated, box):
    stated = stated | {"load": {"current": 0.5}, "rise": 30}
    build = rig(**stated, box=box)
    assume(judge(build, SOURCE, CABLE).works)
    [branch] = envelope(build, source=SOURCE, cable=CABLE).results[0].contracts[0].branches
    [point] = [each for each in branch.points if each.output_v == 12.0]
    at = point.current_a.min
    judged = judge(rig(**stated | {"load": {"current": at * 0.9999}}, box=box), SOURCE, CABLE)
    assert judged.works
    assert not judge(rig(**stated | {"load": {"current": at * 1.0001}}, box=box), SOURCE, CABLE).works


@pytest.mark.parametrize(
    ("box", "said"),
    [
        ({"size": "120mm x 80mm"}, "three lengths"),
        ({"size": "120 x 80 x 40"}, "no unit"),
        ({"size": "0mm x 80mm x 40mm"}, "zero"),
        ({"vents": True}, "without a size"),
        ({"size": "1m x 1m x 1m", "material": "glass"}, "plastic"),
        ({"air": "warm"}, "temperature"),
    ],
)
def test_a_box_that_is_none(box, said):
    with pytest.raises(InputError, match=said):
        rig(box=box)


@pytest.mark.parametrize(
    ("derate", "said"),
    [
        ({"air": ["40C", "30C"], "output": ["4A", "2A"]}, "do not rise"),
        ({"air": ["40C", "70C"], "output": ["2A", "4A"]}, "do not fall"),
        ({"air": ["40C", "70C"], "output": ["2A"]}, "1 currents for 2"),
        ({"air": [], "output": []}, "at least one"),
    ],
)
def test_a_derating_that_is_none(derate, said):
    with pytest.raises(InputError, match=said):
        rig(derate=derate)


def test_the_size_of_a_box_as_people_type_it():
    said = ["120mm x 80mm x 40mm", "120 x 80 x 40 mm", "12cm×8cm×4cm", "0.12m*0.08m*0.04m"]
    assert {rig(box={"size": each}).box.size_m for each in said} == {(0.12, 0.08, 0.04)}
