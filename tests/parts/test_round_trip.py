"""Any part survives its own dump, its table and its file, and what is changed in one is that thing alone."""

from __future__ import annotations

import copy
import pickle
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.fields import Part
from pdcheck.parts.file_schema import kit_schema, rig_schema
from pdcheck.parts.kit import Kit
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Branch, Rig, Tolerance
from pdcheck.parts.source import Source
from tests.parts import random_parts

SCHEMAS = {Kit: Draft202012Validator(kit_schema()), Rig: Draft202012Validator(rig_schema())}
RIG = Rig(
    title="Pier box",
    trigger="15V",
    branch=[
        Branch("mount", wire="20AWG 0.4m", converter={"kind": "buck-boost", "output": "12V"}, load="24W"),
        Branch("dew-heater", load="36ohm"),
    ],
    kit=Kit(source=Source("5V 3A, 9V 3A", id="wall"), cable=Cable("C-C 3A 1m", id="thin")),
)


@given(random_parts.parts)
def test_a_part_survives_dump_table_json_pickle_and_copy(part: Part) -> None:
    model = type(part)
    for again in (
        model(**part.model_dump()),
        model.model_validate(part.model_dump(by_alias=True)),
        model.model_validate_json(part.model_dump_json()),
        model(part.to_dict()),
        model(**part.to_dict()),
        pickle.loads(pickle.dumps(part)),
        copy.deepcopy(part),
        part.replace(),
    ):
        assert again == part
        assert hash(again) == hash(part)
        assert again.to_dict() == part.to_dict()


@given(random_parts.rigs | random_parts.kits)
def test_a_file_reads_back_as_itself_and_is_the_same_text_each_time(part: Rig | Kit) -> None:
    text = part.to_toml()
    again = type(part).from_toml(text)
    assert again == part
    assert again.to_toml() == text
    SCHEMAS[type(part)].validate(tomllib.loads(text))


@given(random_parts.tolerances, random_parts.sources)
def test_a_dumped_tolerance_judges_as_before(tolerance: Tolerance, source: Source) -> None:
    assert Tolerance(**tolerance.model_dump()).of_source(source) == tolerance.of_source(source)


@given(st.data())
def test_only_what_is_replaced_changes(data: st.DataObject) -> None:
    rig = data.draw(random_parts.rigs)
    at = data.draw(st.integers(0, len(rig.branches) - 1))
    load = data.draw(random_parts.loads)
    new = rig.replace({f"branch.{rig.branches[at].name}.load": load})
    assert new.branches[at].load == load
    assert new.branches[at].replace(load=rig.branches[at].load) == rig.branches[at]
    assert [each for index, each in enumerate(new.branches) if index != at] == [
        each for index, each in enumerate(rig.branches) if index != at
    ]
    assert new.model_copy(update={"branches": rig.branches}) == rig


def test_minimal_and_in_the_keys_and_units_of_a_file() -> None:
    rig = RIG.replace({"mount.converter.input": (6, 36), "mount.converter.idle": 0.3, "trigger.resistance": 0.025})
    assert (
        rig.to_toml()
        == """title = "Pier box"

[trigger]
request = "15V"
resistance = "25mOhm"

[[branch]]
name = "mount"
wire = { length = "400mm", awg = 20 }
converter = { kind = "buck-boost", input = "6V-36V", output = "12V", idle = "300mW" }
load = { power = "24W" }

[[branch]]
name = "dew-heater"
load = { resistance = "36Ohm" }

[[source]]
id = "wall"
offers = "5V 3A, 9V 3A"

[[cable]]
id = "thin"
kind = "C-C"
rating = "3A"
length = "1m"
"""
    )


def test_write_and_read(tmp_path: Path) -> None:
    path = tmp_path / "pier-box.toml"
    RIG.write(path)
    assert Rig.read(path) == RIG
    before = path.read_bytes()
    with pytest.raises(InputError, match="is there already"):
        RIG.replace(trigger="20V").write(path)
    assert path.read_bytes() == before
    RIG.replace(trigger="20V").write(path, overwrite=True)
    assert Rig.read(path).trigger.request.voltage_v == 20.0
    assert [each.name for each in tmp_path.iterdir()] == ["pier-box.toml"]
    with pytest.raises(InputError, match="no such folder"):
        RIG.write(tmp_path / "nowhere" / "box.toml")


def test_a_captured_source_reads_back_wherever_its_file_goes(tmp_path: Path) -> None:
    (tmp_path / "wall.log").write_text("0x0801912C 0x0002D12C")
    kit = Kit.from_toml('[[source]]\nid = "wall"\ncapture = "wall.log"', folder=tmp_path)
    assert Kit.from_toml(kit.to_toml()) == kit
    assert kit.sources[0].capture == "wall.log"


def test_what_no_file_can_say_is_not_written() -> None:
    odd = RIG.model_copy(update={"title": "two\nlines"})
    with pytest.raises(InputError, match="is not a title"):
        odd.to_toml()


UNKNOWN = [
    ({"triger": "20V"}, "unknown key 'triger'; expected trigger"),
    ({"munt.load": "3W"}, "unknown key 'munt'; expected mount"),
    ({"mount.laod": "3W"}, "mount: unknown key 'laod'; expected load"),
    ({"branch.munt.load": "3W"}, "nothing is named 'munt'; expected mount "),
    ({"mount.converter.efficency": "3"}, "mount.converter: unknown key 'efficency'; expected efficiency"),
    ({"mount.converter.efficiency": "880%"}, "mount.converter.efficiency: '880%' is out of range"),
    ({"mount.lead.length": "3m"}, "mount.lead: there is nothing in it to change"),
    ({"mount.load": "3V"}, "mount.load: '3V' is not a load"),
    ({"mount": {"name": "dew-heater", "load": 1}}, "branches[0].load: 1 is not a load"),
    ({"mount.name": "dew-heater"}, "branch[1].name: 'dew-heater' is the name of another branch"),
    ({"kit.thin.ratin": "3A"}, "kit.thin: unknown key 'ratin'; expected rating"),
    ({"trigger": "20V", "trigger.rating": "3A"}, "trigger: is changed whole and in part"),
]


@pytest.mark.parametrize(("changes", "told"), UNKNOWN, ids=str)
def test_replace_tells_what_is_wrong(changes: dict[str, object], told: str) -> None:
    with pytest.raises(InputError) as caught:
        RIG.replace(changes)
    assert told in str(caught.value)


def test_one_way_to_say_a_thing_replaces_the_other() -> None:
    wire = RIG.replace({"mount.wire.mm2": "0.75mm2"}).branches[0].wire
    assert wire is not None and (wire.awg, wire.mm2, wire.length_m) == (None, 0.75, 0.4)
    assert Load("24W").replace(current="2A") == Load("2A")
    assert Cable("C-C 22AWG 1m").replace(loop="90mOhm") == Cable("C-C 1m loop=90mOhm")
    assert Cable("C-C 3A 1m").replace(rating="5A").current_a == 5.0
    assert Cable("C-C 3A 1m").replace(current_a=2).current_a == 2.0
    label = Source("5V 3A, 9V 3A 27W", captive=True)
    assert label.replace(offers="5V 3A, 20V 5A").cable == Source("5V 3A, 20V 5A", captive=True).cable
    assert label.replace(offers="5V 3A").pdp_w is None
    assert label.replace(title="wall").pdp_w == 27.0


def test_a_sweep_is_a_list_comprehension() -> None:
    loads = [RIG.replace({"mount.load": watts}).branches[0].load.power_w for watts in ("10W", "20W", "30W")]
    assert loads == [10.0, 20.0, 30.0]


def test_short_to_look_at() -> None:
    assert str(RIG) == repr(RIG) == "Rig('Pier box': mount, dew-heater)"
    assert repr(RIG.kit) == "Kit('': wall, thin)"
    assert repr(RIG.branches[1]) == "Branch(name='dew-heater', load={'resistance': '36Ohm'})"
    assert eval(repr(RIG.branches[0])) == RIG.branches[0]
