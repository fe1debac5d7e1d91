"""The front door: one import that costs nothing, every command as a typed function, results that know themselves."""

from __future__ import annotations

import ast
import importlib
import inspect
import json
import pickle
import pkgutil
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import pdcheck
from pdcheck.cli import run
from pdcheck.cli.commands import COMMANDS
from pdcheck.errors import InputError
from pdcheck.result import RESULTS, Result, schema_of
from pdcheck.show.demo import copy_files
from tests.cli.example import example
from tests.patience import PATIENCE_S
from tests.test_docs import NOTEBOOK, cells

ROOT = Path(__file__).parent.parent
PROGRAMS = sorted((ROOT / "tests" / "notebook").glob("*.py"))
LOG = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"
PAIR = ("kit.toml", "wall-45", "thin-2m")
BANK = "20000mAh 74Wh; 5V 3A, 9V 3A, 15V 3A, 20V 3A"
NAMED = ["--kit", "kit.toml", "--source", "wall-45", "--cable", "thin-2m"]


def asked_as_in_help(command: str) -> tuple[Callable[[], Result], list[str]]:
    """A command's function with what the first example in the command's help asks of it."""
    arguments = example(command)

    def ask() -> Result:
        with patch.object(pdcheck, command, side_effect=InputError("asked")) as function:
            run(arguments_of := [command, *arguments])
        assert function.call_args, f"`pdcheck {shlex.join(arguments_of)}` asks nothing of pdcheck.{command}"
        result: Result = getattr(pdcheck, command)(*function.call_args.args, **function.call_args.kwargs)
        return result

    return ask, [command, *arguments]


# By function: how it is called, and the command that asks the same; else it is called as in the help of its command.
ASKED: dict[str, tuple[Callable[[], Result], list[str]]] = {
    "attached": (lambda: pdcheck.attached("tables"), ["decode", "--list", "tables"]),
    "audit": (lambda: pdcheck.audit(LOG), ["audit", LOG]),
    "bringup": (lambda: pdcheck.bringup("pier-box.toml", *PAIR), ["bringup", "pier-box.toml", *NAMED]),
    "cable": (lambda: pdcheck.cable("C-C 5A 1m", at="3A"), ["cable", "C-C 5A 1m", "--at", "3A"]),
    "change": (
        lambda: pdcheck.change("pier-box.toml", *PAIR, to="9V"),
        ["change", "pier-box.toml", *NAMED, "--to", "9V"],
    ),
    "share": (
        lambda: pdcheck.share(["pier-box.toml"], "C1 65W, C2 30W", cable="C-C 5A 1m"),
        ["share", "pier-box.toml", "--source", "C1 65W, C2 30W", "--cable", "C-C 5A 1m"],
    ),
    "check": (lambda: pdcheck.check("pier-box.toml", *PAIR), ["check", "pier-box.toml", *NAMED]),
    "decode": (lambda: pdcheck.decode(LOG), ["decode", LOG]),
    "draw": (lambda: pdcheck.draw("pier-box.toml", *PAIR), ["draw", "pier-box.toml", *NAMED]),
    "drop": (
        lambda: pdcheck.drop("5.12V", "4.80V", at="2A"),
        ["drop", "--source", "5.12V", "--sink", "4.80V", "--at", "2A"],
    ),
    "encode": (lambda: pdcheck.encode("5V 3A, 9V 3A"), ["encode", "5V 3A, 9V 3A"]),
    "envelope": (
        lambda: pdcheck.envelope("pier-box.toml", *PAIR, branch="mount"),
        ["envelope", "pier-box.toml", *NAMED, "--branch", "mount"],
    ),
    "fuse": (lambda: pdcheck.fuse("pier-box.toml", *PAIR), ["fuse", "pier-box.toml", *NAMED]),
    "kit": (lambda: pdcheck.kit("kit.toml"), ["kit", "list", "kit.toml"]),
    "led": (
        lambda: pdcheck.led(3, "3.4V", "250mA", on="9V,12V"),
        ["led", "--count", "3", "--vf", "3.4V", "--current", "250mA", "--on", "9V,12V"],
    ),
    "matrix": (
        lambda: pdcheck.matrix("pier-box.toml", "kit.toml", source="wall-45"),
        ["matrix", "pier-box.toml", "--kit", "kit.toml", "--source", "wall-45"],
    ),
    "measured": (lambda: pdcheck.measured("sheet.toml"), ["bringup", "--measured", "sheet.toml"]),
    "next_reading": (
        lambda: pdcheck.next_reading("sheet.toml"),
        ["bringup", "--measured", "sheet.toml", "--next"],
    ),
    "need": (lambda: pdcheck.need("pier-box.toml"), ["need", "pier-box.toml"]),
    "pick": (
        lambda: pdcheck.pick("wall-45", "12V@2A", kit="kit.toml"),
        ["pick", "--source", "wall-45", "--output", "12V@2A", "--kit", "kit.toml"],
    ),
    "rules": (lambda: pdcheck.rules("cable-current"), ["rules", "cable-current"]),
    "runtime": (
        lambda: pdcheck.runtime("pier-box.toml", source=BANK, cable="C-C 3A"),
        ["runtime", "pier-box.toml", "--source", BANK, "--cable", "C-C 3A"],
    ),
    "settings": (
        lambda: pdcheck.settings("5V 3A, 9V 3A", ["9V", "12V"]),
        ["settings", "9V", "12V", "--source", "5V 3A, 9V 3A"],
    ),
    "talk": (
        lambda: pdcheck.talk("pier-box.toml", *PAIR, until="2s"),
        ["talk", "pier-box.toml", *NAMED, "--until", "2s"],
    ),
    "transient": (
        lambda: pdcheck.transient("pier-box.toml", *PAIR, events=["unplug at 300ms"], until="400ms"),
        ["transient", "pier-box.toml", *NAMED, "--event", "unplug at 300ms", "--until", "400ms"],
    ),
    "wire": (
        lambda: pdcheck.wire("2m", "3A", drop="0.3V"),
        ["wire", "--length", "2m", "--current", "3A", "--drop", "0.3V"],
    ),
}
# What gives no result of a command: it changes a file, it is for arrays, it makes a rule.
OTHERS = {"kit_add", "kit_remove", "decode_objects", "object_rows", "rule"}
# Commands that ask the terminal, show the demo, or write a page or a schema.
NOT_ASKED = {"new", "demo", "report", "schema"}
ASKED |= {name: asked_as_in_help(name) for name in COMMANDS if name in pdcheck.__all__ and name not in ASKED}


@pytest.fixture(autouse=True, scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    path = tmp_path_factory.mktemp("front")
    copy_files(str(path))
    port = path / "tables" / "class" / "typec" / "port0"
    port.mkdir(parents=True)
    (port / "data_role").write_text("[host] device\n")
    (port / "power_role").write_text("[source] sink\n")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(path)
        run(["bringup", "pier-box.toml", *NAMED, "--toml", "sheet.toml"])
        sheet = path / "sheet.toml"
        sheet.write_text(sheet.read_text().replace('bus_v = ""', 'bus_v = "14.5"'))
        yield path


@cache
def answer(name: str) -> Result:
    return ASKED[name][0]()


def printed(code: str) -> str:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()


def test_the_import_loads_nothing_but_itself() -> None:
    code = "import sys; before = set(sys.modules); import pdcheck; dir(pdcheck); print(set(sys.modules) - before)"
    assert printed(code) == "{'pdcheck'}"


@pytest.mark.parametrize("name", ["InputError", "decode", "encode"])
def test_a_light_function_loads_nothing_heavy(name: str) -> None:
    code = f"import sys, pdcheck; pdcheck.{name}; print(*sys.modules)"
    assert not {"numpy", "matplotlib", "click", "pydantic"} & set(printed(code).split())


def test_what_a_type_checker_sees_is_what_there_is() -> None:
    tree = ast.parse(Path(pdcheck.__file__).read_text(encoding="utf-8"))
    typed = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("pdcheck."):
            for alias in node.names:
                assert alias.asname == alias.name
                typed[alias.name] = f"{node.module}:{alias.name}"
    assert typed == {name: f"{place}:{name}" for name, place in pdcheck._PLACES.items()}
    assert sorted(typed) == sorted(pdcheck.__all__)


@pytest.mark.parametrize("name", pdcheck.__all__)
def test_every_name_is_there_and_says_what_it_is(name: str) -> None:
    assert name in dir(pdcheck)
    found = getattr(pdcheck, name)
    assert inspect.unwrap(found) is getattr(importlib.import_module(pdcheck._PLACES[name]), name)
    if inspect.isfunction(found):
        assert found.__name__ == name
        assert ">>>" in (found.__doc__ or "") or name in {
            "attached",
            "measured",
            "next_reading",
            "kit_add",
            "kit_remove",
        }
        assert "InputError" in (found.__doc__ or "") or name in {"rule", "object_rows"}


def test_every_name_is_taught() -> None:
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    missing = [name for name in pdcheck.__all__ if f"`{name}`" not in page]
    assert not missing, f"docs/python.md, the table of functions, has no row with {missing}"


def test_there_is_nothing_else() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        pdcheck.nonsense  # type: ignore[attr-defined]
    rooms = {found.name for found in pkgutil.iter_modules(pdcheck.__path__)}
    assert not rooms & set(pdcheck.__all__), "a room of that name would hide the function"


def test_every_command_is_a_function() -> None:
    functions = {name for name in pdcheck.__all__ if inspect.isfunction(getattr(pdcheck, name))}
    missing = set(COMMANDS) - NOT_ASKED - functions
    told = [f"from pdcheck.asking.{name} import {name} as {name}" for name in sorted(missing)]
    assert not missing, f"pdcheck/__init__.py lacks, under TYPE_CHECKING: {told}"
    assert not functions - set(ASKED) - OTHERS, "ASKED above says how each function that is no command's is called"


@pytest.mark.parametrize("name", ASKED)
def test_a_result_prints_and_is_written_as_the_command_does(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    result, arguments = answer(name), ASKED[name][1]
    code = run(arguments)
    assert capsys.readouterr().out == f"{result}\n"
    assert code == (0 if result else 1)
    assert run([*arguments, "--json"]) == code
    assert json.loads(capsys.readouterr().out) == result.to_dict() == json.loads(result.to_json())
    assert Draft202012Validator(schema_of(type(result))).is_valid(result.to_dict())


@pytest.mark.parametrize("name", ASKED)
def test_a_result_compares_pickles_and_is_a_table(name: str) -> None:
    result = answer(name)
    assert result == ASKED[name][0]() and result is not ASKED[name][0]()
    copied = pickle.loads(pickle.dumps(result))
    assert copied == result and str(copied) == str(result) and {result: name}[copied] == name
    shown = repr(result)
    assert shown.startswith(f"<{type(result).__name__}: ") and len(shown) < 300 and " at 0x" not in shown
    rows = result.rows()
    assert rows and len({tuple(row) for row in rows}) == 1
    assert all(isinstance(value, str | int | float | bool | None) for row in rows for value in row.values())
    assert result._repr_html_().count("<tr>") > 1 and " at 0x" not in result._repr_html_()


def test_every_kind_of_result_finds_its_text_by_itself() -> None:
    for found in pkgutil.walk_packages(pdcheck.__path__, "pdcheck."):
        if not found.name.endswith("__main__"):
            importlib.import_module(found.name)
    own = [cls for cls in RESULTS if cls.__module__.startswith("pdcheck.")]
    assert len(own) > 20
    for cls in own:
        # As a fresh interpreter has it, with no text loaded; the text may stand beside the class.
        name = f"pdcheck.show.{cls.SHOWN or cls.SCHEMA.partition('/')[0]}"
        code = f"import contextlib, {cls.__module__}\nwith contextlib.suppress(ModuleNotFoundError): import {name}\n"
        code += "from pdcheck import result; print(*(each.__name__ for each in result._SHOWN))"
        assert cls.__name__ in printed(code).split(), cls


def test_a_rig_is_made_changed_swept_written_and_read_back(folder: Path) -> None:
    heater = pdcheck.Branch("heater", wire="20AWG 1m", load="20W")
    rig = pdcheck.Rig(title="Mast", trigger=pdcheck.Trigger("15V"), branch=[heater])
    lengths = [rig.replace({"heater.wire.length": length}) for length in ("1m", "5m", "25m")]
    assert lengths[0] == rig and len(set(map(repr, (each.to_dict() for each in lengths)))) == 3
    found = [pdcheck.check(each, source="5V 3A, 9V 3A, 15V 3A", cable="C-C 3A").results[0] for each in lengths]
    lows = [node.voltage_v.min for result in found for node in result.nodes if node.node == "heater/load"]
    assert lows == sorted(lows, reverse=True) and len(set(lows)) == 3
    rig.write(folder / "mast.toml")
    assert pdcheck.Rig.read(folder / "mast.toml") == rig == pdcheck.Rig.from_toml(rig.to_toml())
    with pytest.raises(pdcheck.InputError, match="is there already"):
        rig.write(folder / "mast.toml")
    kit = pdcheck.Kit(source=pdcheck.Source("5V 3A", id="wall"), cable=pdcheck.Cable("C-C", id="thin"))
    assert pdcheck.Kit.from_toml(kit.to_toml()) == kit == pickle.loads(pickle.dumps(kit))


def test_rules_of_ones_own_join_the_judgement() -> None:
    @pdcheck.rule("no-pps", "fail", "No PPS in the shed", "the shed", "Take another charger.")
    def no_pps(case: pdcheck.Case, find: pdcheck.Find) -> Iterator[pdcheck.Finding]:
        if any(offer.kind == "pps" for offer in case.source.offers):
            yield find("source", "offers PPS", 1, 0)

    judged = pdcheck.check("pier-box.toml", *PAIR, rules=[no_pps])
    assert not judged and answer("check")
    assert judged.results[0].findings[0].rule == "no-pps"
    assert str(judged.results[0].findings[0].origin) == "the shed [rig]"
    assert "offers PPS" in str(judged)


def test_bulk_decoding_is_the_single_decoder_a_million_times() -> None:
    words = np.random.default_rng(11).integers(0, 1 << 32, 1 << 20, dtype=np.uint32)
    columns = pdcheck.decode_objects(words)
    assert {len(column) for column in columns.values()} == {1 << 20}
    fixed = np.flatnonzero(columns["kind"] == "fixed")[:5]
    for at in fixed:
        # A fixed source object: 50 mV in bits 19..10, 10 mA in bits 9..0 (USB PD R3.2, table of fixed supply objects).
        word = int(words[at])
        assert (columns["voltage_mv"][at], columns["current_ma"][at]) == (
            (word >> 10 & 0x3FF) * 50,
            (word & 0x3FF) * 10,
        )


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: pdcheck.decode("5V 3 apples", form="label"),
        lambda: pdcheck.decode("5V", form="nonsense"),
        lambda: pdcheck.encode("no offers"),
        lambda: pdcheck.cable("rope"),
        lambda: pdcheck.audit("5V"),
        lambda: pdcheck.check("none.toml"),
        lambda: pdcheck.talk("pier-box.toml", *PAIR, faults=["nonsense"]),
        lambda: pdcheck.talk("pier-box.toml", *PAIR, until="-1s"),
        lambda: pdcheck.wire("0m", "3A"),
        lambda: pdcheck.led(3, "3.4V"),
        lambda: pdcheck.drop("5V", "4V", at="0A"),
        lambda: pdcheck.kit("kit.toml", "nobody"),
        lambda: pdcheck.rules("nonsense"),
        lambda: pdcheck.settings("5V 3A", ["sideways"]),
        lambda: pdcheck.Source("nonsense"),
        lambda: pdcheck.Wire("20AWG"),
        lambda: pdcheck.Rig(trigger="9V", branch=[], nonsense=1),
        lambda: pdcheck.decode_objects([1 << 40]),
    ],
)
def test_whatever_is_wrong_is_one_exception(wrong: Callable[[], Any]) -> None:
    with pytest.raises(pdcheck.InputError) as told:
        wrong()
    assert isinstance(told.value, ValueError)
    assert "\n" not in str(told.value) and "--" not in str(told.value)
    assert str(pickle.loads(pickle.dumps(told.value))) == str(told.value)


@pytest.mark.parametrize("program", PROGRAMS, ids=lambda path: path.stem)
def test_small_programs_run(program: Path, folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(program)], cwd=folder, capture_output=True, text=True, check=False, timeout=PATIENCE_S
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout and not done.stderr
    named = [node for node in ast.walk(ast.parse(program.read_text())) if isinstance(node, ast.Import | ast.ImportFrom)]
    assert all("pdcheck." not in ast.unparse(each) for each in named), "from an inner room"


@pytest.fixture(scope="module")
def programs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The programs and the notebook as files of a user's own."""
    path = tmp_path_factory.mktemp("programs")
    for program in PROGRAMS:
        shutil.copy(program, path)
    (path / "the_notebook.py").write_text("\n\n".join(cells(NOTEBOOK.read_text(encoding="utf-8"))))
    (path / "wrong.py").write_text("import pdcheck\n\npdcheck.check(3)\npdcheck.nonsense\n")
    return path


def test_mypy_takes_them_all(programs: Path) -> None:
    api = pytest.importorskip("mypy.api", reason="mypy is with the tools of a developer")
    assert len(PROGRAMS) >= 10
    told, broken, _ = api.run(["--strict", "--no-error-summary", *map(str, sorted(programs.glob("*.py")))])
    assert not broken
    refused = [line for line in told.splitlines() if "error:" in line]
    assert [line.rpartition("[")[2] for line in refused] == ["arg-type]", "attr-defined]"], told


def test_pyright_takes_them_all(programs: Path) -> None:
    pytest.importorskip("pyright", reason="pyright is with the tools of a developer")
    (programs / "pyrightconfig.json").write_text(
        json.dumps({"typeCheckingMode": "strict", "extraPaths": [str(ROOT)], "reportUnknownMemberType": False})
    )
    done = subprocess.run(
        [sys.executable, "-m", "pyright", "--outputjson", "--pythonpath", sys.executable],
        cwd=programs,
        capture_output=True,
        text=True,
        check=False,
    )
    try:
        found = json.loads(done.stdout)["generalDiagnostics"]
    except ValueError:
        pytest.skip("pyright could not fetch what it runs on")
    errors = [(Path(each["file"]).stem, each["rule"]) for each in found if each["severity"] == "error"]
    assert {name for name, _ in errors} == {"wrong"}, found
