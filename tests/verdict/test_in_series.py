"""A part in series that no rig has: it is in every answer as soon as it stands in the one list of what is in series."""

from __future__ import annotations

import pytest

import pdcheck
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.parts.limits import Catalogue, LimitRule, PartLimit
from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple
from pdcheck.show.pictures.parts_picture import live_picture
from pdcheck.show.pictures.shapes import Frame, Stroke
from pdcheck.verdict import gravest, greatest
from pdcheck.verdict.bringup.unknowns import series_ohm
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS
from pdcheck.verdict.greatest import greatest_load, worst_spec
from pdcheck.verdict.rules import every

ON = {"source": "5V 3A, 9V 3A, 15V 3A", "cable": "C-C 3A 1m loop=150mOhm"}
KIT = pdcheck.Kit(
    source=[{"id": "s", "offers": ON["source"]}],
    cable=[{"id": f"c{ohm}", "kind": "C-C", "loop": f"{ohm}mohm"} for ohm in (50, 200, 310)],
)
BUCK = {"kind": "buck", "input": "7V-30V", "output": "5V", "efficiency": 0.9}
TOLD_APART = ("losses", "temperatures", "trunk", "changes")
"""What tells the parts one by one."""


class Switch:
    """A switch behind the trigger, of 100 mohm."""

    place = "switch"
    resistance = Triple.exact(0.1)

    def drawn_as(self):
        return "on or off"

    def limits(self):
        return iter(())


@pytest.fixture
def switch(monkeypatch):
    """A switch in every rig."""
    made, without = Switch(), Rig.series
    monkeypatch.setattr(Rig, "series", lambda self, cable: (*without(self, cable), made))
    return made


def rig_of(trigger):
    lamp = {"name": "lamp", "wire": "22AWG 1m", "load": {"power": "20W", "voltage": "12V-16V"}}
    box = {"name": "box", "wire": "20AWG 1m", "converter": BUCK, "load": "8W"}
    return Rig(
        trigger={"request": "15V", "resistance": trigger, "rating": "5A"},
        tolerance={"resistance": 0.1, "load": 0.05},
        box="120mm x 80mm x 40mm",
        branch=[lamp, box],
    )


ASKED = {
    "check": lambda rig: pdcheck.check(rig, **ON),
    "matrix": lambda rig: pdcheck.matrix(rig, kit=KIT),
    "envelope": lambda rig: pdcheck.envelope(rig, **ON),
    "need": pdcheck.need,
    "bringup": lambda rig: pdcheck.bringup(rig, **ON),
    "change": lambda rig: pdcheck.change(rig, **ON, to="9V"),
    "draw": lambda rig: pdcheck.draw(rig, **ON),
    "fuse": lambda rig: pdcheck.fuse(rig, **ON),
    "transient": lambda rig: pdcheck.transient(rig, **ON, until="400ms"),
}


def leaves(document, path=()):
    """Each figure and word of a document by its path, without what tells the parts one by one."""
    rows = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in rows:
        if isinstance(value, dict | list):
            yield from () if key in TOLD_APART else leaves(value, (*path, key))
        else:
            yield (*path, key), value


def nearly(value):
    return pytest.approx(value, rel=1e-6, abs=1e-9) if isinstance(value, float) else value


@pytest.fixture(scope="module")
def as_trigger():
    """All answers for a rig whose trigger has the resistance of the switch as well."""
    return {name: dict(leaves(ask(rig_of("125mohm")).to_dict())) for name, ask in ASKED.items()}


@pytest.mark.parametrize("name", ASKED)
def test_what_is_behind_it_is_as_behind_a_trigger_with_so_much_more_resistance(as_trigger, switch, name):
    found = dict(leaves(ASKED[name](rig_of("25mohm")).to_dict()))
    assert found == {path: nearly(value) for path, value in as_trigger[name].items()}


def test_it_is_told_and_drawn_by_its_own_name(switch):
    found = pdcheck.check(rig_of("25mohm"), **ON).to_dict()
    lost = {each["part"]: each["loss_w"]["typ"] for each in found["losses"]}
    assert lost["switch"] == pytest.approx(4.0 * lost["trigger"])
    assert [each["part"] for each in found["temperatures"]][:3] == ["cable", "trigger", "switch"]
    trunk = pdcheck.draw(rig_of("25mohm"), **ON).trunk
    assert [each.part for each in trunk] == ["source", "cable", "trigger", "switch", "bus"]


def test_what_the_bench_and_the_first_second_count_with_has_it_too(switch):
    case = Case(rig_of("25mohm"), pdcheck.Source(ON["source"]), pdcheck.Cable(ON["cable"]))
    assert case.series_ohm == pytest.approx(0.275)
    assert series_ohm(case.spec) == pytest.approx((0.9 * 0.275, 0.275, 1.1 * 0.275))
    assert series_ohm(case.spec, but="cable").typ == pytest.approx(0.125)
    assert dict(worst_spec(case.spec).series)["switch"] == Triple.exact(0.1)


@pytest.mark.parametrize("narrow", [False, True])
def test_it_stands_in_the_picture_between_trigger_and_bus(switch, narrow):
    shapes = live_picture(pdcheck.draw(rig_of("25mohm"), **ON), narrow=narrow).shapes
    named = {each.part: each for each in shapes if isinstance(each, Frame | Stroke)}
    above, below = named["trigger"], named["switch"]
    ends = [each.points for each in shapes if isinstance(each, Stroke) and not each.part]
    assert any(end[0][1] == above.y + above.height and end[-1][1] == below.y for end in ends)


def test_a_range_of_its_own_makes_corners_and_the_worst_of_it_counts(switch):
    least, typical, most = switch.resistance = Triple(0.05, 0.1, 0.2)
    pair = KIT.sources[0], KIT.cables[0]
    ranged = greatest_load(Case(rig_of("0ohm"), *pair))
    switch.resistance = Triple.exact(0.0)
    stated = rig_of({"min": f"{least}ohm", "typ": f"{typical}ohm", "max": f"{most}ohm"})
    assert ranged.load_w == pytest.approx(greatest_load(Case(stated, *pair)).load_w)


def test_its_limit_counts_for_one_circuit_and_for_many(switch, monkeypatch):
    rule = LimitRule("made-up", "fail", "Too much", COMMON_PRACTICE, "Less.", "{value} of {limit}", about="trigger")
    Catalogue.rules.remove(rule)
    limit = PartLimit(rule, "bus", "current", "at_most", 2.3, "switch", "trigger")
    switch.limits = lambda: iter([limit])
    monkeypatch.setitem(gravest._PLACES, rule.id, (LEVELS.index("fail"), 0))
    monkeypatch.setattr(greatest, "_GRAVE_RULES", (*greatest._GRAVE_RULES, every._of_limit(rule)))
    rig = rig_of("25mohm")
    cells = pdcheck.matrix(rig, kit=KIT).cells
    for cell in cells:
        found = greatest_load(Case(rig, KIT.source(cell.source), KIT.cable(cell.cable)))
        assert cell.max_w == pytest.approx(found.load_w, rel=1e-5)
        assert found.first is not None and found.first.subject == "switch"
    assert len({round(cell.max_w, 4) for cell in cells}) == len(cells) == 3
