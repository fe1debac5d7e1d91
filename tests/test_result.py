"""Results: document, schema and rows from the annotations of a class, with a class made for the purpose."""

from __future__ import annotations

import json
import pickle
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal, NamedTuple, get_type_hints

import pytest
from jsonschema import Draft202012Validator

from pdcheck.bits.cable import CableReading
from pdcheck.intake.label_energy import Holds
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.ports import Ports
from pdcheck.marks import AMONG, AS_TEXT, IF_ANY, IF_KNOWN, UNLISTED, UNTOLD, HexWord, Mark, Named, listed, told
from pdcheck.quantities import Triple
from pdcheck.records import bare
from pdcheck.result import RESULTS, Result, schema_of, shows
from pdcheck.show.schema_files import results


class Rung(NamedTuple):
    kind: Literal["wood", "rope"]
    word: HexWord
    bus_v: Triple | None
    note: Annotated[str | None, IF_KNOWN] = None
    inner: Annotated[object, UNTOLD] = None

    @told
    def double(self) -> int:
        return 2 * self.word


@dataclass(frozen=True, repr=False)
class Ladder(Result):
    SCHEMA: ClassVar[str] = "ladder/3"
    TITLE: ClassVar[str] = "A ladder"
    ROWS: ClassVar[tuple[str, ...]] = ("rungs",)

    name: str
    works: bool
    rungs: tuple[Rung, ...]
    more: Annotated[Mapping[str, int], AMONG] = field(default_factory=dict)

    def answer(self) -> str:
        return f"{self.name}, {len(self.rungs)} rungs"


@dataclass(frozen=True, repr=False)
class Shed(Result):
    SCHEMA: ClassVar[str] = "shed/1"
    TITLE: ClassVar[str] = "Ladders"
    ALONE: ClassVar[str | None] = "ladders"
    owner: str
    ladders: tuple[Rung, ...]


MADE = Ladder("attic", True, (Rung("wood", 0x10, Triple(1.0, 2.0, 3.0), inner=object), Rung("rope", 2, None, "wet")))


def test_the_document_is_what_the_annotations_say() -> None:
    assert MADE.to_dict() == {
        "schema": "pdcheck/ladder/3",
        "name": "attic",
        "works": True,
        "rungs": [
            {"kind": "wood", "word": "00000010", "bus_v": {"min": 1.0, "typ": 2.0, "max": 3.0}, "double": 32},
            {"kind": "rope", "word": "00000002", "bus_v": None, "note": "wet", "double": 4},
        ],
    }
    assert json.loads(MADE.to_json()) == MADE.to_dict()


def test_the_schema_takes_the_document_and_nothing_else() -> None:
    schema = schema_of(Ladder)
    Draft202012Validator.check_schema(schema)
    strict = Draft202012Validator(schema)
    document = MADE.to_dict()
    assert strict.is_valid(document)
    assert not strict.is_valid({**document, "works": "yes"})
    assert not strict.is_valid({key: value for key, value in document.items() if key != "name"})
    rung = document["rungs"][0]
    assert not strict.is_valid({**document, "rungs": [{**rung, "kind": "iron"}]})
    assert not strict.is_valid({**document, "rungs": [{**rung, "extra": 1}]})
    assert not strict.is_valid({**document, "rungs": [{**rung, "word": "10"}]})


def test_one_record_alone_stands_at_the_top() -> None:
    one, two = Shed("x", MADE.rungs[:1]), Shed("x", MADE.rungs)
    assert one.to_dict()["kind"] == "wood" and "kind" not in two.to_dict()
    assert "ladders" not in one.to_dict() and len(two.to_dict()["ladders"]) == 2
    strict = Draft202012Validator(schema_of(Shed))
    assert strict.is_valid(one.to_dict()) and strict.is_valid(two.to_dict())
    assert not strict.is_valid({key: value for key, value in one.to_dict().items() if key != "word"})
    assert not strict.is_valid(one.to_dict() | two.to_dict())


def test_rows_are_flat() -> None:
    assert MADE.rows()[0] == {
        "name": "attic",
        "works": True,
        "kind": "wood",
        "word": "00000010",
        "bus_v_min": 1.0,
        "bus_v_typ": 2.0,
        "bus_v_max": 3.0,
        "note": None,
        "double": 32,
    }


class Maker(NamedTuple):
    name: str

    def __str__(self) -> str:
        return f"by {self.name}"


SPAN = Mark(lambda ends: dict(zip(("min", "max"), ends, strict=True)), {"type": "object"})


@dataclass(frozen=True, repr=False)
class Roof(Result):
    SCHEMA: ClassVar[str] = "roof/1"
    TITLE: ClassVar[str] = "A roof"
    maker: Annotated[Maker, AS_TEXT]
    kind: Annotated[str, Named("class")]
    counts: Annotated[Mapping[Literal["tiles", "holes"], int], UNLISTED]
    span: Annotated[tuple[float, float], SPAN]

    @listed
    def dry(self) -> bool:
        return not self.counts["holes"]


def test_marks_of_text_name_and_place_hold_in_document_schema_and_rows() -> None:
    roof = Roof(Maker("x"), "flat", {"tiles": 9, "holes": 0}, (1.0, 2.0))
    document = roof.to_dict()
    assert document["maker"] == "by x" and document["class"] == "flat" and "dry" not in document
    assert roof.rows() == [{"maker": "by x", "class": "flat", "span_min": 1.0, "span_max": 2.0, "dry": True}]
    strict = schema_of(Roof)["properties"]["counts"]
    assert Draft202012Validator(strict).is_valid(document["counts"])
    assert not Draft202012Validator(strict).is_valid({"tiles": 9})
    assert not Draft202012Validator(strict).is_valid({"tiles": 9, "holes": 0, "moss": 1})


def test_a_result_tells_its_answer_compares_and_pickles() -> None:
    assert repr(MADE) == "<Ladder: attic, 2 rungs>" == str(MADE)
    assert MADE and not Ladder("y", False, ())
    assert pickle.loads(pickle.dumps(MADE.rungs[1])) == MADE.rungs[1]
    assert Ladder("y", False, ()) == Ladder("y", False, ())
    assert "<td>wood</td>" in MADE._repr_html_()
    with pytest.raises(AttributeError):
        MADE.name = "z"  # type: ignore[misc]


def test_what_shows_it_is_what_it_prints() -> None:
    @dataclass(frozen=True, repr=False)
    class Hut(Result):
        SCHEMA: ClassVar[str] = "hut/1"
        TITLE: ClassVar[str] = "A hut"

    @shows(Hut)
    def text(hut: Hut) -> str:
        return "a hut, as printed"

    assert str(Hut()) == "a hut, as printed"


class Handle(NamedTuple):
    length_m: float
    bent: bool | None


class Blade(NamedTuple):
    steel: str


class Bristles(NamedTuple):
    rows: int


class Tool(NamedTuple):
    name: str
    handle: Annotated[Handle | None, AMONG]
    working: Annotated[Blade | Bristles, AMONG]
    worn: Annotated[bool, IF_ANY] = False


@dataclass(frozen=True, repr=False)
class Chest(Result):
    SCHEMA: ClassVar[str] = "chest/1"
    TITLE: ClassVar[str] = "A chest of tools"
    ROWS: ClassVar[tuple[str, ...]] = ("tools",)
    tools: tuple[Tool, ...]


def test_the_keys_of_a_record_stand_among_others_all_or_none() -> None:
    knife = Tool("knife", Handle(0.1, None), Blade("plain"))
    head = Tool("head", None, Bristles(90), worn=True)
    chest = Chest((knife, head))
    first, second = chest.to_dict()["tools"]
    assert first == {"name": "knife", "length_m": 0.1, "bent": None, "steel": "plain"}
    assert second == {"name": "head", "rows": 90, "worn": True}
    strict = Draft202012Validator(schema_of(Chest))
    assert strict.is_valid(chest.to_dict())
    for wrong in (
        {key: value for key, value in first.items() if key != "bent"},
        {key: value for key, value in first.items() if key != "steel"},
        {**first, "rows": 3},
        {**first, "more": 3},
        {**first, "worn": 3},
    ):
        assert not strict.is_valid({**chest.to_dict(), "tools": [wrong]}), wrong


def test_every_row_has_every_column() -> None:
    rows = Chest((Tool("knife", Handle(0.1, None), Blade("plain")), Tool("head", None, Bristles(90)))).rows()
    assert rows[0].keys() == rows[1].keys() == {"name", "length_m", "bent", "steel", "worn", "rows"}
    assert (rows[1]["length_m"], rows[1]["rows"]) == (None, 90)


def test_a_record_without_inner_ones_has_a_row_of_its_own() -> None:
    @dataclass(frozen=True, repr=False)
    class Yard(Result):
        SCHEMA: ClassVar[str] = "yard/1"
        TITLE: ClassVar[str] = "A yard"
        ROWS: ClassVar[tuple[str, ...]] = ("chests", "tools")
        chests: tuple[Chest, ...]

    assert [row["name"] for row in Yard((Chest(()), Chest((Tool("rag", None, Blade("")),)))).rows()] == [None, "rag"]
    assert Yard(()).rows() == []


def test_every_result_is_entered_once() -> None:
    assert Chest in RESULTS and Ladder in RESULTS and Result not in RESULTS


FOR_TYPES = {each.__name__: each for each in (BadPacket, CableReading, Holds, Ports)}
"""What a class that is loaded early imports for its annotations alone."""


def declared(cls: Any, path: str) -> Any:
    """The type at the end of a path, as fields, properties and ``__init__`` say it."""
    for name in path.split("."):
        own = getattr(cls, name, None)
        if isinstance(own, property | cached_property):
            found = get_type_hints(own.fget if isinstance(own, property) else own.func, include_extras=True)["return"]
        else:
            found = (get_type_hints(cls.__init__) | get_type_hints(cls, localns=FOR_TYPES, include_extras=True))[name]
        cls, _ = bare(found)
    return cls


def test_what_is_passed_on_has_the_type_that_is_said_of_it() -> None:
    passes = [(cls, each) for cls in results() for each in vars(cls).values() if hasattr(each, "path")]
    assert len(passes) > 20
    for cls, each in passes:
        [said] = each.fget.__annotations__.values()
        assert declared(cls, each.path) == bare(said)[0], f"{cls.__name__}: {each.path} is no {said}"
