"""Each number of the facts halved in turn: no sentence shows the old figure any more. PDCHECK_MORE=1 tries them all."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

from tests.facts.halving import FACTS, figures, groups, numbers, old_figure
from tests.facts.test_quoted import EXAMPLE, NAMES

ROOT = Path(__file__).parents[2]
FIGURES = [each for each in groups() if (each[0] / 100, "1") not in NAMES and each not in NAMES]
TRIED = FIGURES if os.environ.get("PDCHECK_MORE") else random.Random().sample(FIGURES, 2)

# Sentences that show such a figure and have it from elsewhere: by the figure, with the words that tell the sentence.
ELSEWHERE: dict[tuple[float, str], tuple[str, ...]] = {}


@pytest.mark.parametrize("figure", TRIED, ids=lambda each: f"{each[0]:g} {each[1]}")
def test_no_sentence_shows_the_old_figure(figure: tuple[float, str]) -> None:
    called = [sys.executable, "-m", "tests.facts.halving", json.dumps([figure])]
    outcome = subprocess.run(called, cwd=ROOT, capture_output=True, text=True, check=False)
    assert outcome.returncode == 0, outcome.stderr
    [(_, _, left)] = [json.loads(line) for line in outcome.stdout.splitlines()]
    known = ELSEWHERE.get(figure, ())
    assert not [each for each in left if not EXAMPLE.search(each) and not any(words in each for words in known)]


def test_the_numbers_are_those_of_the_facts() -> None:
    found = {(each.name, old_figure(each)) for each in numbers()}
    assert ("current to spare on anything that runs continuously", (20.0, "%")) in found
    assert ("tSrcRecover", (0.66, "s")) in found and ("vSafe5V", (5.5, "V")) in found
    assert len({each.module for each in numbers()}) >= 15 and FACTS.is_dir()


def test_a_figure_is_found_however_it_is_written() -> None:
    assert (30000.0, "V/s") in figures("rises at 30 mV/µs")
    assert (0.15, "ohm") in figures("at worst 150\u00a0mΩ, the limit")
    assert (35.0, "C") in figures("in a warm room at 35 °C")
    assert not figures("a plug of 3.5 mm and 20 Vrms")
