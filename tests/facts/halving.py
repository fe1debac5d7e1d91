"""Every sentence with a number of the facts changed: what still shows the old figure has it from nobody.

python -m tests.facts.halving '[[20, "%"]]' prints the sentences that show 20 % whichever fact of 20 % is halved.
A figure that many facts have, and the builds that are asked about as well, such as 5 V, is made odd (4.95 V) in all of
them at once: python -m tests.facts.halving --odd '[[5, "V"]]'.

A number is changed where it stands in the source, before the package is imported, so that all that follows from it
follows. What people are told is then made anew: rules and what breaks them, helps, cautions, and what commands print.
"""

from __future__ import annotations

import ast
import importlib.abc
import importlib.util
import json
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

FACTS = Path(__file__).parents[2] / "pdcheck" / "facts"
SCALES = {"_US": 1e-6, "_MS": 1e-3}
PREFIXES = {"": 1.0, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6}
UNITS = {"Ω": "ohm", "ohm": "ohm", "Ohm": "ohm", "°C": "C"}
FIGURE = re.compile(
    r"(?<![\w.(])(\d+(?:\.\d+)?)\s?([numkM]|µ)?(V/s|V/µs|V|A|W|s|ohm|Ohm|Ω|F|H|m|K/W|K|°C|Wh|Ah|%)(?![\w/²·])"
)
GAUGE = re.compile(r"AWG (\d+)")
# Tables of plain numbers: the unit of each place, None for what is no figure.
TABLES: dict[str, tuple[Any, ...]] = {
    "_FULL_A": (("A",),),
    "_ENDS_W": (("W",),),
    "ProgrammableRange": (None, "V", "V", "V", "W", "W", "A"),
    "NORMATIVE_VOLTAGES": (("V",),),
}


class Number(NamedTuple):
    """A number in the source of the facts: where it stands, what it is, and of what."""

    module: str
    line: int
    column: int
    value: float
    shown: float
    """In ``unit``."""
    unit: str
    name: str


def numbers() -> list[Number]:
    """Every number of every fact that has a unit, in the order of the files."""
    return [each for path in sorted(FACTS.glob("*.py")) for each in _of_file(path)]


def _of_file(path: Path) -> Iterator[Number]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for call in ast.walk(tree):
        yield from (_number(path, *each) for each in _of_table(call))
        if not isinstance(call, ast.Call) or not isinstance(call.func, ast.Name):
            continue
        made, given = call.func.id, call.args
        if made == "Limit":
            sides, unit, scale = given[1:2], given[2], 1.0
        elif made == "Range" and len(given) > 4:
            sides, unit, scale = given[1:4], given[4], 1.0
        elif made == "row":
            sides, unit = given[1:3], ast.Constant("s")
            scale = SCALES.get(getattr(given[3], "id", ""), 1.0)
        else:
            continue
        if not isinstance(unit, ast.Constant):
            continue
        for side in sides:
            factor = scale * (_known(side) / _first(side) if _first(side) else 1.0)
            for node in [each for each in ast.walk(side) if _is_number(each)][:1]:
                name = str(given[0].value) if isinstance(given[0], ast.Constant) else made
                value = float(node.value)
                yield Number(path.stem, node.lineno, node.col_offset, value, value * factor, str(unit.value), name)


def _of_table(found: ast.AST) -> Iterator[tuple[ast.Constant, str, str]]:
    """The numbers of a row or list of ``TABLES``, each with its unit and the name of the table."""
    if isinstance(found, ast.Call) and isinstance(found.func, ast.Name):
        name, places = found.func.id, found.args
    elif isinstance(found, ast.Assign) and isinstance(found.targets[0], ast.Name):
        name, places = found.targets[0].id, [found.value]
    else:
        return
    for place, unit in zip(places, TABLES.get(name, ()), strict=False):
        units = unit if isinstance(unit, tuple) else (unit,)
        flat = [each for each in ast.walk(place) if _is_number(each)]
        for at, node in enumerate(flat):
            if units[0] is not None and isinstance(node, ast.Constant):
                yield node, units[at % len(units)], name


def _number(path: Path, node: ast.Constant, unit: str, name: str) -> Number:
    value = float(str(node.value))
    return Number(path.stem, node.lineno, node.col_offset, value, value, unit, name)


def _is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float) and node.value not in (0, True)


def _first(side: ast.expr) -> float:
    return next((float(each.value) for each in ast.walk(side) if _is_number(each)), 0.0)


def _known(side: ast.expr) -> float:
    """What a side comes to where it is made of numbers alone."""
    try:
        return float(eval(compile(ast.Expression(side), "", "eval"), {"__builtins__": {}}))
    except (NameError, AttributeError, TypeError):
        return _first(side)


class Change(NamedTuple):
    """Numbers of the facts with what becomes of each, and how the builds of the tests are rewritten."""

    numbers: Sequence[Number]
    factor: float
    rewrite: Callable[[str], str] | None = None


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports the modules of some numbers with these changed, and the tests with their texts rewritten."""

    def __init__(self, change: Change) -> None:
        self.change = change
        self.places = {f"pdcheck.facts.{each.module}" for each in change.numbers}

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> ModuleSpec | None:
        rewritten = self.change.rewrite and fullname.startswith("tests.") and fullname != "tests.facts.halving"
        if fullname in self.places or rewritten:
            there = Path(__file__).parents[2].joinpath(*fullname.split("."))
            if there.with_suffix(".py").is_file():
                return importlib.util.spec_from_file_location(fullname, there.with_suffix(".py"), loader=self)
        return None

    def create_module(self, spec: ModuleSpec) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        path = Path(str(module.__file__))
        tree = ast.parse(path.read_text(encoding="utf-8"))
        here = module.__name__.rpartition(".")[2] if module.__name__ in self.places else None
        changed = {(each.line, each.column): each for each in self.change.numbers if each.module == here}
        for node in ast.walk(tree):
            if not isinstance(node, ast.Constant):
                continue
            number = changed.get((node.lineno, node.col_offset))
            if number is not None and _is_number(node):
                node.value = float(f"{number.value * self.change.factor:.6g}")
            elif here is None and self.change.rewrite and isinstance(node.value, str):
                node.value = self.change.rewrite(node.value)
        exec(compile(tree, str(path), "exec"), module.__dict__)


def anew(change: Change | None, tell: Callable[[], Iterable[str]]) -> list[str]:
    """What is told with numbers changed, of the package imported once more; the one in use stays as it is."""
    own = ("pdcheck", "tests")
    kept = {name: each for name, each in sys.modules.items() if name.split(".")[0] in own and name != "tests"}
    for name in kept:
        del sys.modules[name]
    finder = None if change is None else _Changed(change)
    if finder is not None:
        sys.meta_path.insert(0, finder)
    try:
        return list(tell())
    finally:
        if finder is not None:
            sys.meta_path.remove(finder)
        for name in [name for name in sys.modules if name.split(".")[0] in own and name != "tests"]:
            del sys.modules[name]
        sys.modules.update(kept)


def figures(sentence: str) -> set[tuple[float, str]]:
    """The figures of a sentence, each in its unit without a prefix.

    >>> sorted(figures("20 % of 47 µF, AWG 26"))
    [(4.7e-05, 'F'), (20.0, '%'), (26.0, 'AWG')]
    """
    found = {(float(number), "AWG") for number in GAUGE.findall(sentence)}
    for number, prefix, unit in FIGURE.findall(sentence):
        scale = PREFIXES[prefix] * (1e6 if unit == "V/µs" else 1.0)
        found.add((float(f"{float(number) * scale:.6g}"), {"V/µs": "V/s"}.get(unit, UNITS.get(unit, unit))))
    return found


def old_figure(number: Number) -> tuple[float, str]:
    """The figure as sentences would show it."""
    share = number.unit == "1"
    return float(f"{number.shown * (100 if share else 1):.6g}"), "%" if share else number.unit


def told() -> Iterator[str]:
    """Every sentence that people may be told, as far as some hundred questions get them."""
    from tests.facts.sentences import all_sentences

    yield from all_sentences()


def groups() -> dict[tuple[float, str], list[Number]]:
    """The numbers that sentences show by one and the same figure."""
    out: dict[tuple[float, str], list[Number]] = {}
    for number in numbers():
        out.setdefault(old_figure(number), []).append(number)
    return out


def nobodys(figure: tuple[float, str]) -> list[str]:
    """The sentences that show a figure whichever of its numbers is halved: it is typed there, and not quoted."""
    left: set[str] | None = None
    for number in groups()[figure]:
        shown = {each for each in anew(Change([number], 0.5), told) if figure in figures(each)}
        left = shown if left is None else left & shown
        if not left:
            break
    return sorted(left or ())


def odd(figure: tuple[float, str]) -> float:
    """A figure near another that nobody would write, but that still fits into the words on the wire."""
    return figure[0] - 0.05 if figure[1] == "V" else figure[0] - 0.03


def not_odd(figure: tuple[float, str]) -> list[str]:
    """The sentences that show a figure once all facts and all builds that had it have an odd one in its place."""
    value, unit = figure
    written = re.compile(rf"(?<![\w.]){value:g}(?:\.0)?(?= ?{unit}\b)")
    change = Change(groups()[figure], odd(figure) / value, lambda text: written.sub(f"{odd(figure):g}", text))
    return sorted({each for each in anew(change, told_of_rigs) if figure in figures(each)})


def told_of_rigs() -> Iterator[str]:
    """What is told but for captured conversations, of which the words cannot be rewritten."""
    from tests.facts.sentences import all_sentences

    yield from all_sentences(captures=False)


if __name__ == "__main__":
    find = not_odd if sys.argv[1] == "--odd" else nobodys
    for value, unit in json.loads(sys.argv[-1]):
        print(json.dumps([value, unit, find((value, unit))], ensure_ascii=False), flush=True)
