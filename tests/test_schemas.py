"""Every ``--json`` output validates against the schema that ships with the package, and the schemas are strict."""

from __future__ import annotations

import copy
import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from shutil import copytree
from typing import Any, ClassVar

import pydantic
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

import pdcheck
from pdcheck.bits.crc import with_crc
from pdcheck.bits.message import make_header
from pdcheck.cli import run
from pdcheck.cli.commands import COMMANDS
from pdcheck.key_words import TEXTS, UNITS
from pdcheck.parts.toml_text import read_toml
from pdcheck.result import Result
from pdcheck.show import closed_words
from pdcheck.show.demo import copy_files
from pdcheck.show.schema_files import (
    FILES,
    FOLDER,
    entered,
    file_text,
    fingerprint,
    markdown,
    read_ledger,
    results,
    schemas,
)
from pdcheck.verdict.bringup.sheet import SHEET_SCHEMA
from tests.cli.example import example

ROOT = Path(__file__).parent.parent
WRITE = "pdcheck/schemas/ is to be written anew: python -m pdcheck.show.schema_files"
MESSAGE = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"
MARKER = "0xFF00A041 0x18600000 0x00000000 0x00010001 0x000A2640"
KIT = ["--kit", "kit.toml"]
BANK = "Rated capacity 12000mAh 5V 3A, 20000mAh at 3.7V, 74Wh; 5V 3A, 9V 3A, 15V 3A, 20V 3A"
PAIR = [*KIT, "--source", "wall-45", "--cable", "thin-2m"]
EPR = [*KIT, "--source", "brick-140", "--cable", "epr-1m"]
RIGS = ["pier-box.toml", "pedalboard.toml", "field-sensor.toml"]

# By command: the arguments to try; where none stand here, the first example in the command's help.
OUTPUTS: dict[str, list[list[str]]] = {
    "decode": [
        ["5V 3A, 9V 3A; PPS 3.3-11V 3A; AVS 9-20V 3A/2A; AVS 15-28V 140W"],
        ["C1 65W, C2: 5V 3A, A 5V 2.4A, C1+C2: 45W+15W, C1+A: 50W total; Total 65W"],
        [MESSAGE],
        [MESSAGE[:-1] + "7"],
        ["0x1304B12C", "--request-as", "pps"],
        ["talk.log"],
        ["talk.vcd"],
        [BANK],
    ],
    "encode": [["5V 3A, 9V 3A"], ["5V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W"]],
    "cable": [["C-C 5A 1m"], ["C-C 3A loop=180mOhm", "--at", "5A"], [MARKER], ["A-C"]],
    "pick": [
        ["--source", "wall-45", *KIT, "--output", "12V@2A", "--converter", "buck-boost:6-36V:5A:92%"],
        ["--source", "brick-140", *KIT, "--cable", "drawer", "--output", "48V@9A"],
    ],
    "check": [[rig, *KIT] for rig in RIGS] + [[rig, *pair] for rig in RIGS for pair in (PAIR, EPR)],
    "report": [[RIGS[0], *PAIR], [RIGS[0], *KIT, "-o", "page.html"]],
    "matrix": [[*RIGS, *KIT], [*RIGS, *KIT, "--hours"]],
    "need": [[rig] for rig in RIGS],
    "envelope": [[RIGS[0], *PAIR], [RIGS[2], *EPR], [RIGS[1], *KIT, "--source", "old-18"]],
    "draw": [[RIGS[0], *KIT], *([rig, *pair] for rig in RIGS for pair in (PAIR, EPR))],
    "fuse": [[rig, *KIT] for rig in RIGS] + [[RIGS[0], *PAIR]],
    "audit": [["talk.log"], ["talk.vcd"], [MESSAGE]],
    "settings": [["--source", "wall-45", *KIT], ["--source", "brick-140", *KIT, "--cable", "a-to-c"]],
    "talk": [[RIGS[0], *PAIR], [RIGS[2], *EPR, "--event", "lower to 20W at 5s"], [RIGS[1], *KIT, "--source", "old-18",
              "--cable", "a-to-c"]],
    "transient": [[RIGS[0], *PAIR, "--until", "300ms"], [RIGS[2], *EPR, "--event", "load radio off at 350ms"],
                  [RIGS[1], *KIT, "--source", "old-18", "--cable", "a-to-c"]],
    "runtime": [[rig, "--source", BANK] for rig in RIGS] + [[RIGS[0], *KIT, "--source", BANK]],
    "change": [[RIGS[0], *PAIR], [RIGS[0], *PAIR, "--to", "unplug"], [RIGS[2], *EPR, "--to", "9V"]],
    "share": [
        [RIGS[0], RIGS[1], "--source", "C1 65W, A 5V 2.4A, C1+A: 45W+7W", "--cable", "C-C 5A 1m"],
        [RIGS[0], RIGS[0], "--source", "C1 65W, C2 65W, C1+C2 65W total", "--cable", "C-C 5A 1m"],
    ],
    "bringup": [[RIGS[0], *PAIR], [RIGS[2], *PAIR], [RIGS[2], *EPR], ["--measured", "sheet.toml"]],
    "new": [
        ["made.toml", "--yes", "--output", "12V@1A", "--converter", "buck-boost", *KIT],
        ["other.toml", "--yes", "--output", "9V@500mA", "--converter", "none"],
    ],
    "kit": [
        ["list", "kit.toml"],
        ["show", "kit.toml", "board-27"],
        ["add", "kit.toml", "--cable", "fat", "C-C 5A"],
        ["add", "kit.toml", "--source", "log", "talk.log"],
        ["add", "kit.toml", "--source", "bank", BANK],
        ["show", "kit.toml", "bank-60"],
        ["remove", "kit.toml", "old-18"],
    ],
    "wire": [
        ["--length", "2m", "--current", "3A", "--drop", "0.3V"],
        ["--length", "2m", "--current", "3A", "--awg", "20"],
        ["--length", "200m", "--current", "90A", "--drop", "1mV"],
    ],
    "led": [
        ["--count", "3", "--vf", "3.4V", "--current", "250mA", "--on", "5V,9V,12V,20V"],
        ["--count", "3", "--vf", "3.4V", "--current", "250mA", "--on", "9V,20V", "--driver", "--headroom", "1V"],
        ["--count", "3", "--vf", "3.4V", "--ohm", "40ohm", "--on", "9V,20V"],
    ],
    "drop": [["--source", "5.12V", "--sink", "4.80V", "--at", "2A", "--error", "5mV", "--also", "1A,3A"]],
    "rules": [[]],
    "schema": [[]],
    "demo": [[]],
}  # fmt: skip
OUTPUTS |= {name: [example(name)] for name in COMMANDS if name in pdcheck.__all__ and name not in OUTPUTS}


@cache
def validator(name: str) -> Draft202012Validator:
    return Draft202012Validator(json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("schemas")
    copy_files(str(path))
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(path)
        run(["talk", RIGS[2], *EPR, "--log", "talk.log", "--vcd", "talk.vcd", "--json"])
        run(["bringup", RIGS[0], *PAIR, "--toml", "sheet.toml"])
    text = (path / "sheet.toml").read_text()
    (path / "sheet.toml").write_text(re.sub(r'bus_v = ""', 'bus_v = "14.5"', re.sub('bus_a = ""', "bus_a = 1.0", text)))
    return path


def outputs() -> Iterator[Any]:
    for command, calls in OUTPUTS.items():
        for index, arguments in enumerate(calls):
            yield pytest.param(command, arguments, id=f"{command}-{index}")


@pytest.mark.parametrize(("command", "arguments"), list(outputs()))
def test_what_a_command_prints_validates(
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    command: str,
    arguments: list[str],
) -> None:
    # A folder of its own: some commands change the kit.
    monkeypatch.chdir(copytree(folder, tmp_path / "own"))
    code = run([command, *arguments, "--json"])
    printed = capsys.readouterr()
    assert code in (0, 1), printed.err
    document = json.loads(printed.out)
    name = document["schema"].removeprefix("pdcheck/").split("/")[0]
    errors = [
        f"{'/'.join(map(str, each.absolute_path))}: {each.message}" for each in validator(name).iter_errors(document)
    ]
    assert not errors


@pytest.mark.parametrize("name", list(schemas()))
def test_the_shipped_files_are_what_the_program_goes_by(name: str) -> None:
    schema = schemas()[name]
    Draft202012Validator.check_schema(schema)
    if name in FILES and tuple(map(int, pydantic.VERSION.split(".")[:2])) < (2, 10):
        pytest.skip("older versions of pydantic write the same schema of a model in other words")
    shipped = FOLDER / f"{name}.json"
    assert shipped.is_file() and shipped.read_text(encoding="utf-8") == file_text(schema), WRITE


def test_nothing_else_is_shipped_and_the_page_lists_them_all() -> None:
    assert {each.stem for each in FOLDER.glob("*.json")} == set(schemas()), WRITE
    page = (ROOT / "docs/schemas.md").read_text(encoding="utf-8")
    shown, made = (re.sub(r"```console.*?```", "", each, flags=re.DOTALL) for each in (page, markdown()))
    assert shown == made, "docs/schemas.md is to be written anew: python -m tests.test_docs"


@dataclass(frozen=True, repr=False)
class Crate(Result):
    SCHEMA: ClassVar[str] = "crate/1"
    TITLE: ClassVar[str] = "A crate"
    apples: int


@dataclass(frozen=True, repr=False)
class FullerCrate(Result):
    SCHEMA: ClassVar[str] = "crate/1"
    TITLE: ClassVar[str] = "A crate"
    apples: int
    title: str


@dataclass(frozen=True, repr=False)
class NextCrate(Result):
    SCHEMA: ClassVar[str] = "crate/2"
    TITLE: ClassVar[str] = "A crate of apples and pears"
    apples: int
    title: str


def test_a_document_whose_keys_have_changed_needs_another_number() -> None:
    """A failure here names the class whose SCHEMA goes up; then python -m pdcheck.show.schema_files."""
    ledger, complaints = entered(read_ledger(), results())
    assert not complaints
    assert ledger == read_ledger(), WRITE


def test_the_ledger_takes_new_numbers_and_no_new_keys_under_an_old_one() -> None:
    first, complaints = entered({}, [Crate])
    assert list(first) == ["crate/1"] and not complaints
    assert entered(first, [Crate]) == (first, [])
    kept, complaints = entered(first, [FullerCrate])
    assert kept == first and len(complaints) == 1
    assert complaints[0].startswith("the keys of crate/1 have changed") and complaints[0].endswith("crate/2")
    both, complaints = entered(first, [NextCrate])
    assert list(both) == ["crate/1", "crate/2"] and both["crate/1"] == first["crate/1"] and not complaints


def test_a_fingerprint_is_of_keys_and_types_and_not_of_their_order_or_titles() -> None:
    schema = schemas()["decode"]
    turned = json.loads(json.dumps(schema | {"title": "x", "required": schema["required"][::-1]}, sort_keys=True))
    assert fingerprint(turned) == fingerprint(schema)
    offer = copy.deepcopy(schema)
    offer["$defs"]["Offer"]["oneOf"][0]["properties"]["spare_ma"] = {"type": "integer"}
    typed = copy.deepcopy(schema)
    typed["properties"]["form"] = {"type": "integer"}
    assert len({fingerprint(each) for each in (schema, offer, typed)}) == 3


def places(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*path, key)
            yield from places(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value[:3]):
            yield from places(inner, (*path, index))


@cache
def examples() -> dict[str, dict[str, Any]]:
    """One document of each of some kinds, made without the command line."""
    from pdcheck.asking.decode import decode
    from pdcheck.asking.given import source_of
    from pdcheck.parts.kit_result import KitResult
    from pdcheck.show.demo import demo_kit, demo_rig
    from pdcheck.verdict.bringup.steps import bring_up
    from pdcheck.verdict.judge import judge
    from pdcheck.verdict.pick import Wanted, pick

    kit = demo_kit()
    judgement = judge(demo_rig("pier-box"), kit.source("wall-45"), kit.cable("thin-2m"))
    source, cable = source_of("5V 3A, 9V 3A"), kit.cable("thin-2m")
    return {
        "check": judgement.to_dict(),
        "bringup": bring_up(judgement).to_dict(),
        "kit": KitResult(kit).to_dict(),
        "pick": pick(source, cable, Wanted(9.0, 1.0)).to_dict(),
        "decode": decode(MESSAGE).to_dict(),
    }


OPTIONAL = {"source", "cable", "verdict", "contract", "nodes", "losses", "findings"}


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_missing_key_and_a_wrong_type_are_caught(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(examples())))
    document = copy.deepcopy(examples()[name])
    path = data.draw(st.sampled_from(list(places(document))))
    inner: Any = document
    for part in path[:-1]:
        inner = inner[part]
    if data.draw(st.booleans()):
        inner[path[-1]] = {"not": ["what", "was"]} if not isinstance(inner[path[-1]], dict) else 7
    else:
        del inner[path[-1]]
        if name == "decode" and "objects" in path:
            return  # an offer among a message's objects without its voltage is still an object
    assert not validator(name).is_valid(document), f"{name}: {path}"


def keys(schema: Any, of: str = "") -> Iterator[tuple[str, Any]]:
    """Every property in a schema, with the place that it stands at."""
    if isinstance(schema, dict):
        for name, inner in schema.items():
            if name == "properties":
                yield from ((f"{of}.{key}", each) for key, each in inner.items())
            yield from keys(inner, name if of in ("", "$defs") else of)
    elif isinstance(schema, list):
        for inner in schema:
            yield from keys(inner, of)


@pytest.mark.parametrize("name", list(schemas()))
def test_every_key_says_what_it_means_and_in_which_unit(name: str) -> None:
    silent = [place for place, each in keys(schemas()[name]) if not each.get("description", "").strip()]
    assert not silent, "pdcheck/key_words.py does not say what these keys mean, nor has a property a docstring for it"
    for place, each in keys(schemas()[name]):
        last = place.rpartition("_")[2]
        unit = UNITS.get(last) if "_" in place.rpartition(".")[2] else None
        assert unit is None or f"[{unit}]" in each["description"], (place, each)


def test_every_text_about_a_key_is_used() -> None:
    used = {place.rpartition(".")[2] for each in schemas().values() for place, _ in keys(each)}
    assert not {key.rpartition(".")[2] for key in TEXTS} - used


def test_every_rule_that_is_told_of_is_among_those_that_the_schema_knows() -> None:
    told = re.compile(r'\bFinding\(\s*"([a-z-]+)"')
    found = {rule for path in (ROOT / "pdcheck").rglob("*.py") for rule in told.findall(path.read_text("utf-8"))}
    assert found and found <= set(closed_words.RULES)


def test_every_cause_that_is_told_of_is_among_those_that_the_schema_knows() -> None:
    told = re.compile(r'\bCause\(\s*"([a-z-]+)"')
    found = {cause for path in (ROOT / "pdcheck").rglob("*.py") for cause in told.findall(path.read_text("utf-8"))}
    assert found and found <= set(closed_words.WORDS["Cause.cause"])


def test_a_line_of_a_log_is_what_its_schema_says(capsys: pytest.CaptureFixture[str]) -> None:
    svids = build("Vendor_Defined", [0xFF00A043, 0xFF018087, 0])
    for text in (MESSAGE, svids, build("Request", [0x1304B12C]), build("GoodCRC", []), "Hard Reset"):
        assert run(["decode", "--jsonl", f"0.5 SOP {text}\n1.0 SOP {MESSAGE}"]) == 0
        for line in capsys.readouterr().out.splitlines():
            validator("message").validate(json.loads(line))
        assert run(["decode", "--json", f"0.5 SOP {text}"]) in (0, 1)
        validator("decode").validate(json.loads(capsys.readouterr().out))


def build(name: str, words: list[int]) -> str:
    raw = make_header(name, len(words)).to_bytes(2, "little") + b"".join(each.to_bytes(4, "little") for each in words)
    return with_crc(raw).hex()


def test_an_unknown_key_is_caught() -> None:
    for name, document in examples().items():
        assert validator(name).is_valid(document)
        assert not validator(name).is_valid({**document, "more": 1})


EXAMPLES_OF_FILES = re.findall(r"^```toml\n(.*?)^```$", (ROOT / "docs/files.md").read_text("utf-8"), re.M | re.S)


def _keys(schema: object) -> set[str]:
    if isinstance(schema, list):
        return set().union(*map(_keys, schema))
    if not isinstance(schema, dict):
        return set()
    return {*schema.get("properties", {})}.union(*map(_keys, schema.values()))


@pytest.mark.parametrize("name", ["rig-file", "kit-file"])
def test_every_key_of_a_file_is_taught(name: str) -> None:
    pages = "".join((ROOT / "docs" / page).read_text("utf-8") for page in ("files.md", "talk.md"))
    keys = _keys(json.loads((ROOT / "pdcheck/schemas" / f"{name}.json").read_text("utf-8")))
    missing = sorted(key for key in keys if not re.search(rf"\b{key}\b", pages))
    assert len(keys) > 20 and not missing, f"docs/files.md does not know {missing}"


def test_the_demo_files_validate() -> None:
    data = ROOT / "pdcheck/data"
    for path in data.glob("*.toml"):
        name = "kit-file" if path.stem == "kit" else "rig-file"
        validator(name).validate(tomllib.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("text", EXAMPLES_OF_FILES)
def test_the_tables_of_the_docs_validate(text: str) -> None:
    data = read_toml(text)
    if {"trigger", "branch", "tolerance", "box"} & set(data):
        whole = {"trigger": {"request": "15V"}, "branch": [{"name": "x", "load": "5W"}]} | data
        validator("rig-file").validate(whole)
    else:
        validator("kit-file").validate(data)


@pytest.mark.parametrize(
    "wrong",
    [
        {"source": [{"id": "a", "offers": "5V 3A", "ofers": "x"}]},
        {"source": [{"offers": "5V 3A"}]},
        {"source": [{"id": "a"}]},
        {"source": [{"id": "a", "hex": 3.5}]},
        {"cable": [{"id": "a", "rating": True}]},
        {"cable": [{"id": "a", "construction": "passive", "kind": "C-C"}]},
        {"cable": [{"id": "a", "construction": "woven"}]},
        {"source": [{"id": "a", "offers": "5V 3A", "cable": {"construction": "captive", "curent": "3A"}}]},
        {"cable": {"id": "a"}},
    ],
)
def test_what_a_kit_file_must_not_hold_is_caught(wrong: dict[str, Any]) -> None:
    assert not validator("kit-file").is_valid(wrong)


@pytest.mark.parametrize(
    "wrong",
    [
        {"branch": [{"name": "x", "load": "5W"}]},
        {"trigger": {"request": "9V"}, "branch": [{"name": "x"}]},
        {"trigger": {"request": "9V"}, "branch": [{"name": "x", "load": {"power": "5W", "current": "1A"}}]},
        {"trigger": {"request": "9V"}, "branch": [{"name": "x", "load": "5W", "wire": {"length": "1m"}}]},
        {"trigger": {"request": "9V", "fallback": "6V"}, "branch": [{"name": "x", "load": "5W"}]},
        {"trigger": {"request": "9V"}, "branch": [{"name": "x", "load": "5W", "wire": {"awg": 20, "lenght": "1m"}}]},
    ],
)
def test_what_a_rig_file_must_not_hold_is_caught(wrong: dict[str, Any]) -> None:
    assert not validator("rig-file").is_valid(wrong)


NAMED = re.compile(r"pdcheck/([a-z-]+/[0-9]+)")


@pytest.mark.parametrize(
    "path", sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")]), ids=lambda path: path.name
)
def test_a_page_that_names_a_document_names_it_as_it_is_now(path: Path) -> None:
    """docs/changelog.md tells of others as well, without the name of the program before them."""
    now = {each.SCHEMA for each in results()}
    assert not set(NAMED.findall(path.read_text("utf-8"))) - now - {SHEET_SCHEMA.removeprefix("pdcheck/")}
