"""Cells in the cases that differ: verdict, rule and watts beside a single judgement, and nothing worked out twice."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.circuit.corners import NetworkSpec
from pdcheck.circuit.from_rig import network_spec
from pdcheck.circuit.plug_in import starts_of
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS
from pdcheck.verdict.gravest import NOTHING, gravest
from pdcheck.verdict.greatest import greatest_load
from pdcheck.verdict.judge import judge
from pdcheck.verdict.matrix import cells
from pdcheck.verdict.matrix.cell_case import CellCase, Circuit, SolvedTogether, spec_of
from pdcheck.verdict.matrix.cells import Outcome, RigCells, Shared
from pdcheck.verdict.not_judged import rigs_at_worst
from pdcheck.verdict.rules.every import RIG_RULES
from tests.parts import random_parts

SOURCE = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 3A; PPS 5-21V 2A", typec_current_a=3.0)
GOOD = Cable(id="c", kind="C-C", rating="5A", loop="100mOhm")
BOX: dict[str, Any] = {"kind": "buck-boost", "input": [5, 40], "output": 12, "efficiency": 0.9}
LATE = BOX | {"input": [5.6, 40]}
TABLE = {"input": [9, 15, 20], "output": [0.1, 2], "values": [[0.9, 0.88], [0.86, 0.84], [0.8, 0.82]]}
PACK = {"cells": 3, "end": 4.2, "current": 1, "efficiency": 0.9}
RESISTOR = {"led": {"count": 2, "vf": 3.0, "current": 0.1, "driver": "resistor"}}


def rig_of(request="15V", trigger=None, **branch):
    board = {"request": request, "rating": "5A"} | (trigger or {})
    return Rig.model_validate({"trigger": board, "branch": [{"name": "x", "load": {"power": 10}} | branch]})


def beside_a_heater(**box):
    heater = {"name": "heater", "load": {"resistance": 9}}
    late = {"name": "x", "load": {"power": 5}, "converter": LATE | box}
    return Rig.model_validate({"trigger": {"request": "15V", "rating": "5A"}, "branch": [heater, late]})


def source(**given):
    return Source.model_validate({"id": "s", "offers": "5V 3A, 9V 3A, 15V 3A, 20V 3A"} | given)


# What decides, and on which rig, source and cable: the verdict and the rule are told, the watts are those of the one.
CELLS = {
    "runs": (rig_of(), SOURCE, GOOD, "runs", None),
    "notes alone": (rig_of(converter=LATE), SOURCE, Cable(id="n", kind="C-C"), "runs", None),
    "breaks down on 5 V": (rig_of(converter=BOX), SOURCE, Cable(id="n", kind="C-C"), "fails", "start-overload"),
    "starts beside a heater": (beside_a_heater(start=14, stop=6), SOURCE, GOOD, "runs", None),
    "never starts beside a heater": (beside_a_heater(start=14.2, stop=6), SOURCE, GOOD, "fails", "start-blocked"),
    "swings": (
        rig_of(wire={"awg": 18, "length": "0.3m", "inductance": "2uH"}, converter=LATE | {"bulk": "2uF"}),
        SOURCE, GOOD, "fails", "input-swings",
    ),
    "a warning": (rig_of(load={"power": 40}), SOURCE, GOOD, "limited", "source-in-hand"),
    "too much": (rig_of(load={"power": 50}), SOURCE, GOOD, "fails", "source-current"),
    "a cable's own": (rig_of(), SOURCE, Cable(id="l", kind="C-C", loop="260mOhm"), "limited", "cable-loop"),
    "a source's own": (
        rig_of(),
        source(offers="5V 3A, 9V 3A, 15V 3A, 20V 5A", captured_over="3A"),
        GOOD,
        "limited",
        "source-capture-cable",
    ),
    "another voltage": (rig_of("12V"), SOURCE, GOOD, "limited", "contract-fallback"),
    "nothing at all": (rig_of("12V", {"fallback": "none"}), SOURCE, GOOD, "fails", "contract-off"),
    "unsafe": (rig_of(load={"power": 5, "voltage": [5, 12]}), SOURCE, GOOD, "unsafe", "load-voltage-high"),
    "unsafe at too much": (
        rig_of(load={"power": 80, "voltage": [5, 12]}), SOURCE, GOOD, "unsafe", "load-voltage-high",
    ),
    "does not start": (rig_of(converter=BOX | {"start": 15}), SOURCE, GOOD, "fails", "converter-start"),
    "stays off": (rig_of(converter=BOX | {"input": [16, 40]}), SOURCE, GOOD, "fails", "converter-input-low"),
    "never granted": (rig_of(), source(behaviour={"reject": "always"}), GOOD, "fails", "source-behaviour"),
    "collapses": (
        rig_of("5V"), SOURCE, Cable(id="t", kind="C-C", rating="5A", loop="900mOhm"), "fails", "bus-collapse",
    ),
    "held": (rig_of("pps 15V 2A", load={"resistance": 6}), SOURCE, GOOD, "fails", "pps-current-limit"),
    "latches": (rig_of("pps 15V 2A", converter=BOX, load={"power": 15}), SOURCE, GOOD, "fails", "start-latch"),
    "starts where efficiency varies": (
        rig_of("pps 15V 2A", converter=BOX | {"input": [8, 40], "efficiency": TABLE}), SOURCE, GOOD, "runs", None,
    ),
    "a pack": (rig_of(load={"pack": PACK, "voltage": [8, 25]}), SOURCE, GOOD, "runs", None),
    "a pack on the 5 V before": (
        rig_of(load={"pack": PACK, "voltage": [4, 25]}), SOURCE, GOOD, "fails", "start-overload",
    ),
    "a pack behind a converter": (
        rig_of(load={"pack": PACK, "voltage": [4, 25]}, converter=LATE), SOURCE, GOOD, "runs", None,
    ),
    "a pack that never gets full": (
        rig_of(load={"pack": PACK | {"headroom": 2.5}}), SOURCE, GOOD, "fails", "pack-headroom",
    ),
    "overcharged": (rig_of(load={"pack": PACK | {"end": 5}}), SOURCE, GOOD, "unsafe", "pack-end"),
    "a bus fuse": (rig_of(trigger={"fuse": "0.8A"}), SOURCE, GOOD, "fails", "fuse-current"),
    "a bus fuse for a thicker wire": (
        rig_of(trigger={"fuse": "3A"}, wire={"awg": 24, "length": 0.1}), SOURCE, GOOD, "fails", "fuse-bus-wire",
    ),
    "a string on its own resistor": (rig_of(load=RESISTOR), SOURCE, GOOD, "runs", None),
    "a wire of no length, where heat counts": (
        rig_of(wire={"awg": 20, "length": 0}, lead={"awg": 20, "length": 1}, converter=LATE | {"heat_limit": "77W"}),
        SOURCE, GOOD, "runs", None,
    ),
    "no PD": (rig_of("15V"), SOURCE, Cable(id="a", kind="A-C"), "limited", "cable-no-pd"),
}  # fmt: skip


def told_of(alone):
    return alone.verdict, alone.findings[0].rule if alone.findings and alone.findings[0].level != "note" else None


@pytest.mark.parametrize("name", CELLS)
def test_a_cell_is_what_judge_says(name):
    rig, given, cable, verdict, rule = CELLS[name]
    [found] = RigCells(rig).outcomes([(given, cable)])
    alone = judge(rig, given, cable)
    assert (found.verdict, found.rule) == (verdict, rule) == told_of(alone)
    most_w = 0.0 if verdict == "unsafe" else greatest_load(alone.case).load_w
    assert math.isclose(found.max_w, most_w, rel_tol=1e-4, abs_tol=1e-9)
    assert RigCells(rig, loads=False).outcomes([(given, cable)]) == [Outcome(verdict, rule, 0.0)]


def test_all_of_them_at_once_and_with_what_another_rig_left():
    pairs = [(given, cable) for _, given, cable, _, _ in CELLS.values()]
    shared = Shared()
    rigs = [each[0] for each in CELLS.values()]
    for rig in (rigs[0], CELLS["latches"][0]):
        found = RigCells(rig, shared, loads=False).outcomes(pairs)
        assert [each[:2] for each in found] == [told_of(judge(rig, *pair)) for pair in pairs]


def test_cables_that_differ_in_one_thing_get_their_own_contract():
    wide = Source(id="w", offers="5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A")
    loop = {"loop": "100mOhm"}
    cables = [
        Cable.model_validate({"id": "c"} | loop | given)
        for given in (
            {"kind": "C-C", "rating": "3A"},
            {"kind": "C-C", "rating": "5A"},
            {"kind": "EPR"},
            {"kind": "A-C"},
            {"kind": "C-C", "rating": "3A", "voltage": "9V"},
        )
    ]
    shared = Shared()
    rigs = [rig_of("28V"), rig_of("20V"), rig_of("28V", {"fallback": "5V"})]
    for rig in rigs:
        for cable in cables:
            contract = shared.contract(rig.trigger, wide, cable)
            assert contract == Case(rig, wide, cable).contract
            assert shared.seen(wide, cable) == Case(rig, wide, cable).seen
    pairs = [(wide, cable) for cable in cables]
    for rig in rigs:
        found = RigCells(rig, shared).outcomes(pairs)
        assert [each[:2] for each in found] == [told_of(judge(rig, *pair)) for pair in pairs]


def test_sources_on_the_same_contract_that_behave_otherwise_are_told_apart():
    sources = [source(), *(source(behaviour=each) for each in ({"reject": "always"}, {"ps_rdy": "480ms"}, {"wait": 2}))]
    found = RigCells(rig_of()).outcomes([(each, GOOD) for each in sources])
    assert [(each.verdict, each.rule) for each in found] == [
        ("runs", None),
        ("fails", "source-behaviour"),
        ("limited", "source-behaviour"),
        ("runs", None),
    ]


def test_parts_of_the_same_id_are_told_apart():
    bad, good = Cable(id="c", kind="C-C", loop="260mOhm"), Cable(id="c", kind="C-C", loop="100mOhm")
    odd = source(offers="5V 3A, 9V 3A, 15V 3A, 20V 5A", captured_over="3A")
    pairs = [(source(), bad), (source(), good), (odd, good), (source(), good)]
    found = [each.rule for each in RigCells(rig_of()).outcomes(pairs)]
    assert found == ["cable-loop", None, "source-capture-cable", None]


class Counted:
    """A function that counts how often it is asked, under its own name."""

    def __init__(self, monkeypatch, name):
        self.asked, self.plain = 0, getattr(cells, name)
        monkeypatch.setattr(cells, name, self)

    def __call__(self, *given, **named):
        self.asked += 1
        return self.plain(*given, **named)


def test_nothing_is_worked_out_twice(monkeypatch):
    counted = {
        name: Counted(monkeypatch, name)
        for name in ("available", "settle_on", "gravest", "network_spec", "SolvedTogether", "greatest_factors")
    }
    sources = [SOURCE, source(id="t", offers="5V 3A, 9V 3A, 15V 2A")]
    # Two of one class, which differ in resistance alone, and one more of no PD.
    cables = [GOOD, Cable(id="d", kind="C-C", rating="5A", loop="120mOhm"), Cable(id="a", kind="A-C", loop="100mOhm")]
    pairs = [(given, cable) for given in sources for cable in cables] * 2
    shared = Shared()
    judged = RigCells(rig_of(), shared)
    # Two figures are missing: it is judged as it stands, with both at their worst, and where that is worse with each.
    assert [len(each) for each in rigs_at_worst(rig_of())] == [2, 0]
    first = judged.outcomes(pairs)
    # Two sources over two classes of cable; 15 V and 5 V, which differ in no branch, with and without a contract.
    assert {name: each.asked for name, each in counted.items()} == {
        "available": 4,
        "settle_on": 4,
        # Two sources, three cables, supplies of 15 V at 3 A, 15 V at 2 A and two of 5 V; six circuits.
        # With both at their worst what fails has nothing to lose; what is worse then is looked at for each.
        "gravest": 2 + 3 + (4 + 6) + (4 + 5) + 2 * (3 + 5),
        "network_spec": 4 * 2,
        "SolvedTogether": 4 * 2,
        "greatest_factors": 2,
    }
    assert judged.outcomes(pairs) == first and first[:6] == first[6:]
    assert {name: counted[name].asked for name in ("available", "settle_on", "network_spec")} == {
        "available": 4,
        "settle_on": 4,
        "network_spec": 4 * 2,
    }
    again = RigCells(rig_of(load={"power": 12}), shared).outcomes(pairs)
    assert (counted["available"].asked, counted["settle_on"].asked) == (4, 4)
    assert len(again) == 12


@settings(random_parts.ANY_KIND, max_examples=40)
@given(
    random_parts.rigs,
    st.lists(random_parts.sources, min_size=1, max_size=3),
    st.lists(random_parts.cables, min_size=1, max_size=2),
)
def test_what_is_not_looked_at_or_solved_together_changes_nothing(rig, sources, cables):
    pairs = [(given, cable) for given in sources for cable in cables if given.cable is None]
    assume(pairs)
    told = RigCells(rig).outcomes(pairs)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(RigCells, "_may_be_unsafe", lambda *_: True)
        assert RigCells(rig).outcomes(pairs) == told
        patched.setattr(cells, "_FEW", 0)
        apart = RigCells(rig).outcomes(pairs)
        assert [each._replace(max_w=0.0) for each in apart] == [each._replace(max_w=0.0) for each in told]
        assert [each.max_w for each in apart] == pytest.approx([each.max_w for each in told], rel=1e-6)


@pytest.mark.parametrize(("ohms", "power", "unsafe"), [(9, 30, False), (9, 12, True), (30, 5, True), (60, 5, False)])
def test_what_fails_is_still_asked_whether_something_burns(ohms, power, unsafe):
    # At the thinnest or shortest that its wires may be, it fails in any case: 15 V, 3 A and a load of 60 W.
    heater = {"name": "heater", "load": {"resistance": ohms, "power": power}, "wire": {"awg": 20, "length": 1}}
    rig = Rig.model_validate({"trigger": {"request": "15V"}, "branch": [heater, {"name": "x", "load": {"power": 60}}]})
    [found] = RigCells(rig).outcomes([(SOURCE, GOOD)])
    assert found.verdict == ("unsafe" if unsafe else "fails") == judge(rig, SOURCE, GOOD).verdict
    for each in (each for listed in rigs_at_worst(rig) for each in listed):
        worst = RigCells(each, loads=False)
        assert worst._may_be_unsafe(SOURCE, GOOD) or worst.outcomes([(SOURCE, GOOD)])[0].verdict != "unsafe"


def test_a_string_s_resistor_makes_a_circuit_of_its_own_for_each_voltage():
    judged = RigCells(rig_of("highest", load=RESISTOR))
    nine, twenty = source(offers="5V 3A, 9V 3A"), source()
    assert [each.verdict for each in judged.outcomes([(nine, GOOD), (twenty, GOOD)])] == ["runs", "runs"]
    for at, volts in enumerate((9.0, 20.0)):
        assert judged.shared.kinds[at].spec.branches == network_spec(judged.rig, None, volts).branches
    plain = RigCells(rig_of("highest"))
    plain.outcomes([(nine, GOOD), (twenty, GOOD)])
    assert len(plain.shared.kinds) == 1


def test_the_gravest_of_a_scope():
    at = {rule.id: place for place, rule in enumerate(RIG_RULES)}
    case = Case(rig_of("12V", load={"power": 60, "voltage": [5, 8.9]}), SOURCE, GOOD)
    assert gravest("supply", case) == (LEVELS.index("stop"), at["load-voltage-high"])
    assert gravest("circuit", case) == (LEVELS.index("fail"), at["cable-current"])
    assert gravest("source", case) == gravest("cable", case) == NOTHING == (LEVELS.index("note"), len(RIG_RULES))
    assert gravest("cable", Case(rig_of(), SOURCE, Cable(id="l", kind="C-C", loop="260mOhm"))) == (
        LEVELS.index("warn"),
        at["cable-loop"],
    )
    # A rule may find something below its own level: PS_RDY after 0.48 s, where a source that never sends it fails.
    late = Case(rig_of(), source(behaviour={"ps_rdy": "480ms"}), GOOD)
    assert gravest("supply", late) == (LEVELS.index("warn"), at["source-behaviour"])
    noted = Case(rig_of(), source(behaviour={"silent": "capabilities"}), GOOD)
    assert gravest("source", noted) == NOTHING


@pytest.mark.parametrize(
    ("rig", "given", "cables"),
    [
        (
            rig_of(converter=BOX, wire={"awg": 20, "length": "1m"}, lead={"awg": 20, "length": "1m"}),
            SOURCE,
            ("0.1", "2"),
        ),
        (rig_of("pps 15V 2A", load={"resistance": 6.8}), SOURCE, ("0.05", "0.5")),
        (rig_of("pps 15V 2A", converter=BOX, load={"power": 15}), SOURCE, ("0.1", "0.3")),
        (rig_of("5V", load={"power": 8}), SOURCE, ("0.1", "0.9")),
        (rig_of(converter=BOX), SOURCE, ("0.1", "0.25")),
        (beside_a_heater(start=14, stop=6), SOURCE, ("0.1", "0.25")),
        (
            rig_of(wire={"awg": 18, "length": "0.3m", "inductance": "2uH"}, converter=LATE | {"bulk": "2uF"}),
            SOURCE,
            ("0.1", "0.2"),
        ),
        (rig_of(load={"led": {"count": 3, "vf": 3.0, "current": 0.5}}), SOURCE, ("0.1", "8")),
    ],
)
def test_a_solved_cell_answers_as_a_case_does(rig, given, cables):
    made = [Cable(id=f"c{at}", kind="C-C", rating="5A", loop=f"{ohms}ohm") for at, ohms in enumerate(cables)]
    alone = [Case(rig, given, cable) for cable in made]
    contract = alone[0].contract
    limit_a = contract.holds_a or math.inf
    sure_a = alone[0].before_a or 0.0
    circuits = [
        Circuit(case.source_v, case.cable.loop_ohm()[0], limit_a, 0, case.off, sure_a, contract.current_a)
        for case in alone
    ]
    spec, starts = network_spec(rig, None, contract.voltage_v), starts_of(rig, contract.voltage_v)
    solved = SolvedTogether(spec_of(circuits, spec), alone[0].off, circuits, starts)
    for at, case in enumerate(alone):
        # Made from the first one's case: it is the cable that counts.
        cell = CellCase(alone[0], made[at], solved, at)
        assert (cell.cable, cell.rig, cell.source, cell.contract) == (made[at], rig, given, contract)
        assert (cell.seen, cell.source_v, cell.off) == (case.seen, case.source_v, case.off)
        for every in (True, False):
            before = case.trouble_before(sure_a, every=every)
            assert (cell.trouble_before(sure_a, every=every) is None) == (before is None)
        mine_then, theirs_then = cell.trouble_on_contract(), case.trouble_on_contract()
        assert (mine_then and mine_then.what) == (theirs_then and theirs_then.what)
        for node in ("source", "bus", "x/in", "x/out", "x/load"):
            for mine, theirs in (
                (cell.node_voltage(node), case.node_voltage(node)),
                (cell.node_current(node), case.node_current(node)),
            ):
                assert (mine is None) == (theirs is None)
                assert mine is None or tuple(mine) == pytest.approx(tuple(theirs), rel=1e-9)
            assert cell.worst_current(node) == pytest.approx(case.worst_current(node), rel=1e-9)
        assert (cell.collapse is None) == (case.collapse is None)
        assert cell.collapse is None or cell.collapse.element == "bus"
        assert bool(cell.latches()) == bool(case.latches())
        mine_w, theirs_w = cell.greatest_power("x/in"), case.greatest_power("x/in")
        assert mine_w == (None if theirs_w is None else pytest.approx(theirs_w, rel=1e-9))
        if case.collapse is None:
            for ends in (("bus", "x/in"), ("x/out", "x/load")):
                assert cell.greatest_drop(*ends) == pytest.approx(case.greatest_drop(*ends), rel=1e-6, abs=1e-9)
        fallen_v = case.held_v()
        assert cell.held_v() == (None if fallen_v is None else pytest.approx(fallen_v))


def test_which_circuits_can_be_solved_together():
    range_v, one_v = Triple(8.55, 9.0, 9.45), Triple(9.0, 9.0, 9.0)
    cable, off = Triple(0.1, 0.1, 0.1), frozenset({"x"})
    plain = Circuit(range_v, cable, math.inf, 0, frozenset())
    assert plain.group + plain.ranged == (0, frozenset(), False, False, True, False)
    assert plain._replace(source_v=one_v).ranged == (False, False)
    assert plain._replace(cable=Triple(0.05, 0.1, 0.2)).ranged == (True, True)
    assert plain._replace(limit_a=3.0, kind=1, off=off).group == (1, off, True, False)
    assert plain._replace(before_a=0.5).group == (0, frozenset(), False, True)
    spec = NetworkSpec(Triple.exact(0.0), (), bus_a=0.25)
    free, held = (
        spec_of([plain._replace(limit_a=amps), plain._replace(source_v=one_v, limit_a=amps)], spec)
        for amps in (math.inf, 3.0)
    )
    assert [ends.tolist() for ends in held.source_v] == [[8.55, 9.0], [9.0, 9.0], [9.45, 9.0]]
    assert [ends.tolist() for ends in held.series[0][1]] == [[0.1, 0.1]] * 3
    assert held.holds_a.tolist() == [3.0, 3.0]
    assert (free.holds_a, free.bus_a) == (None, 0.25)
