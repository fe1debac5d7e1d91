"""The house keeps its shape: imports run one way, files say what lives in them, light rooms stay light."""

from __future__ import annotations

import ast
import importlib
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "pdcheck"
# From the ground up: a room imports from itself and from rooms before it.
ROOMS = (
    "named",
    "errors",
    "patterns",
    "quantities",
    "marks",
    "records",
    "key_words",
    "result",
    "facts",
    "bits",
    "intake",
    "physics",
    "parts",
    "contract",
    "circuit",
    "verdict",
    "show",
    "asking",
    "cli",
    "__main__",
)
MODULES = sorted(PACKAGE.rglob("*.py"))
MOST_LINES = 450


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def room_of(module: str) -> str | None:
    parts = module.split(".")
    return parts[1] if parts[0] == "pdcheck" and len(parts) > 1 and parts[1] in ROOMS else None


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_run_one_way(path: Path) -> None:
    here = room_of(name_of(path))
    if here is None:
        return
    for module in imported(ast.parse(path.read_text(encoding="utf-8"))):
        there = room_of(module)
        if there is not None:
            assert ROOMS.index(there) <= ROOMS.index(here), f"{name_of(path)} ({here}) imports {module} ({there})"


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_file_says_what_lives_in_it_and_can_be_read_in_one_go(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert ast.get_docstring(ast.parse(text)), f"{path} has no docstring on its first line"
    assert text.startswith('"""')
    assert len(text.splitlines()) <= MOST_LINES
    assert not re.search(r"util|helper|common|misc", path.stem), "name it after what lives there"


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_named_tuples_are_made_the_quick_way(path: Path) -> None:
    if name_of(path) != "pdcheck.named":
        assert "typing.NamedTuple" not in set(imported(ast.parse(path.read_text(encoding="utf-8")))), (
            "take NamedTuple from pdcheck.named: that of typing takes twice as long, a hundred times at each start"
        )


def circles(needs: dict[str, set[str]]) -> Iterator[tuple[str, ...]]:
    """The ways from a file back to itself, each once."""
    done: set[str] = set()

    def visit(module: str, above: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        if module in above:
            yield (*above[above.index(module) :], module)
        elif module not in done:
            for needed in sorted(needs[module]):
                yield from visit(needed, (*above, module))
            done.add(module)

    for module in sorted(needs):
        yield from visit(module, ())


def test_files_import_each_other_in_no_circle() -> None:
    """Neither at the top, nor lazily in a function, nor for types alone: whoever reads a file reads on downwards."""
    names = {name_of(path) for path in MODULES}
    needs = {
        name: {each for each in imported(ast.parse(path.read_text(encoding="utf-8"))) if each in names} - {name}
        for path, name in ((path, name_of(path)) for path in MODULES)
    }
    found = [" -> ".join(circle) for circle in circles(needs)]
    assert not found, "\n".join(found)


def test_a_circle_is_found() -> None:
    assert list(circles({"a": {"b"}, "b": {"c"}, "c": {"b"}})) == [("b", "c", "b")]
    assert not list(circles({"a": {"b", "c"}, "b": {"c"}, "c": set()}))


@pytest.mark.parametrize(
    ("code", "absent"),
    [
        ("import pdcheck.cli", ("construct", "pydantic", "numpy", "json")),
        (
            "import pdcheck.intake.sniff, pdcheck.show.decode",
            ("construct", "pydantic", "numpy", "dataclasses"),
        ),
        ("import pdcheck.verdict.judge, pdcheck.show.check", ("numpy", "matplotlib")),
    ],
)
def test_commands_start_light(code: str, absent: tuple[str, ...]) -> None:
    listing = f"{code}\nimport sys\nprint(' '.join(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", listing], capture_output=True, text=True, check=True).stdout.split()
    assert not set(absent) & set(loaded)


@pytest.mark.parametrize("name", sorted(path.stem for path in (ROOT / "tests/bench").glob("*.py")))
def test_what_measures_the_program_still_finds_it(name: str) -> None:
    importlib.import_module(f"tests.bench.{name}")


def test_the_top_level_holds_what_it_should() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split()
    if not listed:
        pytest.skip("not a git checkout")
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "CHANGELOG.md",
        "pyproject.toml",
        "pdcheck",
        "tests",
        "vectors",
        "docs",
    }
    extra = {name.split("/")[0] for name in listed} - allowed
    assert not {name for name in extra if not name.startswith(".")}
