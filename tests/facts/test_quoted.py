"""A figure of a fact is never typed again in a sentence: change the fact, and every sentence changes with it."""

import ast
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pdcheck
from pdcheck import facts
from pdcheck.facts.origin import Limit, Range

PACKAGE = Path(pdcheck.__file__).parent

# What cables, offers and connectors are called by: names, as "a 5 A cable" and "the 5 V of Type-C" are.
NAMES = {
    (0.0, "V"),
    (5.0, "V"),
    (20.0, "V"),
    (48.0, "V"),
    (50.0, "V"),
    (9.0, "V"),
    (15.0, "V"),
    (3.0, "A"),
    (5.0, "A"),
    (1.0, "1"),
    (0.01, "1"),
}
# A sentence that shows how a quantity is typed; its figures are nobody's.
EXAMPLE = re.compile(r"\b(?:such as|as in|some|about|in one word also)\b|\bas \d|, or \d|@|\"|: (?:\d|[A-Z])")
FIGURE = re.compile(r"(?<![\w.(])(\d+(?:\.\d+)?) ?(m|u|µ|k)?(V/s|V/µs|V|A|W|s|ohm|Ω|F|%)(?!\w)")
SCALE = {"m": 1e-3, "u": 1e-6, "µ": 1e-6, "k": 1e3, "": 1.0}


def every_fact() -> Iterator[tuple[str, float, str]]:
    for module in iter_modules(facts.__path__):
        for value in vars(import_module(f"{facts.__name__}.{module.name}")).values():
            for fact in value.values() if isinstance(value, dict) else (value,):
                if isinstance(fact, Limit):
                    yield fact.name, fact.value, fact.unit
                elif isinstance(fact, Range):
                    yield from ((fact.name, side, fact.unit) for side in fact[1:4] if side is not None)


def known_figures() -> dict[tuple[float, str], str]:
    return {
        (float(f"{100 * value:.6g}"), "%") if unit == "1" else (float(f"{value:.6g}"), unit): name
        for name, value, unit in every_fact()
        if (value, unit) not in NAMES
    }


def spoken(path: Path) -> Iterator[tuple[int, str]]:
    """Every piece of text in the code that is not a docstring, with its line."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone:
            yield node.lineno, node.value


def retyped(text: str) -> Iterator[str]:
    known = known_figures()
    for number, prefix, unit in FIGURE.findall(text):
        scaled = float(f"{float(number) * SCALE[prefix] * (1e6 if unit == 'V/µs' else 1.0):.6g}")
        name = known.get((scaled, {"Ω": "ohm", "V/µs": "V/s"}.get(unit, unit)))
        if name:
            yield f"{number} {prefix or ''}{unit} ({name})"


def test_no_sentence_types_the_figure_of_a_fact_again() -> None:
    again = [
        f"{path.relative_to(PACKAGE)}:{line}: {figure}"
        for path in sorted(PACKAGE.rglob("*.py"))
        if path.relative_to(PACKAGE).parts[0] not in {"facts", "bits"}  # a table of a word is the fact itself
        for line, text in spoken(path)
        if " " in text and not EXAMPLE.search(text)
        for figure in retyped(text)
    ]
    assert not again, "\n".join(again)


def test_a_figure_typed_again_is_noticed() -> None:
    assert list(retyped("no more than 30 mV/µs"))
    assert list(retyped("above 5.5 V it has a contract"))
    assert list(retyped("some 20 % to spare"))
    assert not list(retyped("a 5 A cable"))
