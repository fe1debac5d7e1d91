"""Each number of the facts changed in turn: no sentence shows the old figure. PDCHECK_MORE=1 tries them all."""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.facts.halving import FACTS, figures, groups, numbers, old_figure
from tests.facts.test_quoted import EXAMPLE, NAMES

ROOT = Path(__file__).parents[2]
SHARED = [each for each in groups() if each in NAMES or (each[1] == "%" and (each[0] / 100, "1") in NAMES)]
"""Figures that are names as well, or that builds have too: there all that has one is changed at once."""
FIGURES = [each for each in groups() if each not in SHARED]
MORE = os.environ.get("PDCHECK_MORE")
ODD = [each for each in SHARED if each[1] != "%"]
Figure = tuple[float, str]

# Figures of the builds that are asked about, or worked out from them: by the figure, words of the sentence.
ELSEWHERE: dict[tuple[float, str], tuple[str, ...]] = {
    (0.05, "A"): ("gives only 50 mA", "below 50 mA they are too dark"),
    (0.06, "A"): ("below 60 mA this power bank",),
    (0.5, "A"): ("strip 0.4 A",),
    (1.5, "A"): ("in the worst case",),
    (0.15, "ohm"): ("loop resistance", "around the loop"),
    (0.5, "ohm"): ("its loop resistance 500",),
    (3.3, "V"): ("3 x 3.3 V", "PPS 3.3 to 11 V is none"),
    (0.1, "V"): ("the two low bits are zero",),
    (4.2, "V"): ("charges each cell to 4.2 V",),
    (4.0, "V"): ("before the contract, at 4 V",),
    (4.5, "V"): ("before the contract, at 4.5 V",),
    (8.0, "V"): ("cuts off at 8 V (assumed)",),
    (12.0, "V"): ("12 V is not on offer", "12 V fixed", "is rated for 12 V", "Args:", "pdcheck led"),
    (150.0, "%"): ("Peak Current",),
    (100.0, "W"): ("20 V at 5 A is 100 W", "100 W is all that SPR can show"),
    (45.0, "W"): ("which a source of 45 W must have",),
    (28.0, "V"): ("28 V 5 A",),
    (11.0, "V"): ("PPS 3.3 to 11 V is none",),
    (16.0, "V"): ("PPS 5 to 16 V is none",),
    (100.0, "C"): ("gets 100 °C",),
    (36.0, "V"): ("default: buck-boost",),
    (12.0, "s"): ("no Request for",),
    (48.0, "C"): ("a hand holds",),
    (5.0, "%"): ("strip/load",),
    (1.0, "%"): ("cable", "pump/wire"),
}
TABLE = re.compile(r"-{2,} -{2,}")
# What bits stand for on the wire, whatever the same figure is elsewhere: a step, a code, how exact a reading is.
FIELD = re.compile(r"\| [\d.]+ \|")
MEANING = re.compile(r"(?<=[|;] )(?:x|[01.]+|\+/-) [^;|]*")
# What is called by a figure whatever it is, what a person may type, and offers near to another voltage.
NAMED = (
    *("by Type-C", "without PD", "plain 5 V", "5 A cable", "from Rp at 3 A", "next-lower", "the next lower offer, 5 V"),
    *(
        "pdcheck ",
        "Args:",
        "default: buck-boost",
        "--to WHAT",
        "--trigger REQUEST",
        "is offered where the standard has",
    ),
    *("1 A: drops", "2 A or 3 A"),
)


def of_all(figures: list[Figure], few: int) -> pytest.MarkDecorator:
    """Every figure in turn, or a few, drawn by the test: its name is the same for all who run it side by side."""
    named = [pytest.param(each, id=f"{each[0]:g} {each[1]}") for each in figures]
    return pytest.mark.parametrize(
        "figure", named if MORE else [pytest.param(None, id=f"drawn-{at}") for at in range(few)]
    )


@of_all(FIGURES, 2)
def test_no_sentence_shows_the_old_figure(figure: Figure | None) -> None:
    figure = figure or random.Random().choice(FIGURES)
    known = ELSEWHERE.get(figure, ())
    left = [each for each in _left(figure) if not any(words in each for words in known)]
    assert not left, figure


@of_all(ODD, 1)
def test_no_sentence_shows_it_once_all_are_odd(figure: Figure | None) -> None:
    figure = figure or random.Random().choice(ODD)
    left = [each for each in _left(figure, "--odd") if not any(words in each for words in NAMED)]
    assert not left, figure


def _left(figure: Figure, *options: str) -> list[str]:
    """The sentences that still show a figure, and are no example of how a quantity is typed."""
    called = [sys.executable, "-m", "tests.facts.halving", *options, json.dumps([figure])]
    outcome = subprocess.run(called, cwd=ROOT, capture_output=True, text=True, check=False)
    assert outcome.returncode == 0, outcome.stderr
    [(_, _, left)] = [json.loads(line) for line in outcome.stdout.splitlines()]
    left = [MEANING.sub("", each) if FIELD.match(each) else each for each in left]
    left = [each for each in left if figure in figures(each)]
    return [each for each in left if not EXAMPLE.search(each) and not TABLE.search(each)]


def test_the_numbers_are_those_of_the_facts() -> None:
    found = {(each.name, old_figure(each)) for each in numbers()}
    assert ("current to spare on anything that runs continuously", (20.0, "%")) in found
    assert ("tSrcRecover", (0.66, "s")) in found and ("vSafe5V", (5.5, "V")) in found
    holding = {path.stem for path in FACTS.glob("*.py") if " = Limit(" in path.read_text(encoding="utf-8")}
    assert {each.module for each in numbers()} >= holding - {"origin"} and "cable" in holding


def test_a_figure_is_found_however_it_is_written() -> None:
    assert (30000.0, "V/s") in figures("rises at 30 mV/µs")
    assert (0.15, "ohm") in figures("at worst 150\u00a0mΩ, the limit")
    assert (35.0, "C") in figures("in a warm room at 35 °C")
    assert figures("a plug of 3.5 mm and 20 Vrms") == {(0.0035, "m")}
