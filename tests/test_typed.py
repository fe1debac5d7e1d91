"""The examples of the docstrings as a user's own code: a strict type checker takes every one of them."""

from __future__ import annotations

import ast
import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

import pdcheck

api = pytest.importorskip("mypy.api", reason="mypy is with the tools of a developer")

# An example knows which of several answers it gets, and looks into it at once; that is all that may be refused.
OUTCOME = "union-attr"
# Examples that hand such an answer on; to be emptied.
HANDED_ON = {
    "pdcheck.circuit.led",
    "pdcheck.circuit.startup",
    "pdcheck.circuit.wire",
    "pdcheck.intake.hexline",
    "pdcheck.intake.waveform.packets",
    "pdcheck.verdict.bringup.steps",
    "pdcheck.verdict.change.effects",
}


def modules() -> Iterator[ModuleType]:
    for found in pkgutil.walk_packages(pdcheck.__path__, "pdcheck."):
        if not found.name.endswith("__main__"):
            yield importlib.import_module(found.name)


def imports_of(tree: ast.AST) -> dict[str, str]:
    """Every imported name with the line that imports it."""
    found: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            for alias in node.names:
                start = f"from {node.module} import" if isinstance(node, ast.ImportFrom) else "import"
                name = alias.asname or alias.name.partition(".")[0]
                found[name] = f"{start} {alias.name}" + (f" as {alias.asname}" if alias.asname else "")
    return found


def as_user_code(module: ModuleType) -> str:
    """Every docstring of a module as one function of a user's file, with the imports that it needs."""
    there = imports_of(ast.parse(inspect.getsource(module)))
    imports: set[str] = set()
    functions: list[str] = []
    for test in doctest.DocTestFinder(exclude_empty=True).find(module, module.__name__):
        if not test.examples:
            continue
        tree = ast.parse("".join(example.source for example in test.examples))
        names = [node for node in ast.walk(tree) if isinstance(node, ast.Name)]
        own = {node.id for node in names if isinstance(node.ctx, ast.Store)} | imports_of(tree).keys()
        for name in {node.id for node in names} & vars(module).keys() - own:
            imports.add(there.get(name, f"from {module.__name__} import {name}"))
        body = "\n".join(f"    {line}" for line in ast.unparse(tree).splitlines())
        functions.append(f"def _{test.name.replace('.', '_')}() -> None:\n{body}\n")
    return "\n".join([*sorted(imports), "", *functions]) if functions else ""


def test_examples_are_typed_as_they_are_shown(tmp_path: Path) -> None:
    files = []
    for module in modules():
        code = as_user_code(module)
        if code:
            files.append(tmp_path / f"{module.__name__.replace('.', '__')}.py")
            files[-1].write_text(code, encoding="utf-8")
    assert len(files) > 100
    config = Path(__file__).parent.parent / "pyproject.toml"
    told, broken, _ = api.run(["--strict", "--no-error-summary", "--config-file", str(config), *map(str, files)])
    assert not broken
    refused = []
    for line in told.splitlines():
        found = re.match(r"(?P<path>.*?\.py):\d+: error: .*\[(?P<code>[\w-]+)\]$", line)
        assert found, line
        module = Path(found["path"]).stem.replace("__", ".")
        in_parts = module.startswith(("pdcheck.parts", "pdcheck.quantities"))
        if (found["code"] != OUTCOME or in_parts) and not (found["code"] == "arg-type" and module in HANDED_ON):
            refused.append(line)
    assert not refused, "\n".join(refused)


def test_a_wrong_example_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "wrong.py"
    path.write_text("from pdcheck.quantities import parse_quantity\n\nparse_quantity(volts=3)\n", encoding="utf-8")
    told, _, code = api.run(["--strict", str(path)])
    assert code == 1
    assert 'Unexpected keyword argument "volts"' in told
