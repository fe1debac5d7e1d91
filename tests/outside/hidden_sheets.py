"""Filled-in sheets of random benches with hidden faults, and how clearly each shows its fault (hidden_benches.py)."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.outside.hidden_benches import (
    BENCH,
    PEN,
    WAYS,
    Fault,
    Figures,
    Meter,
    Steps,
    every_reading,
    hide,
    random_rig,
    slip,
    stated,
    unit_of,
)

OPTIONAL = ("before_v", "source_v", "out_a", "in_a")
USUAL = {"wire": 0.003, "lead": 0.003, "supply": 0.003, "efficiency": 0.005, "idle": 0.01, "load": 0.01,
         "output": 0.01}  # fmt: skip
"""How far a sound figure is off at most: in its unit for some, as a part of it for the others."""
PLAIN = ("wire", "lead", "supply", "idle")


class Sheet(NamedTuple):
    """A filled-in sheet: what the planner made of the rig, the faults, the readings as typed, and the head.

    ``clear`` is how far (chi-squared) the readings are from any bench without the fault; ``alike`` names the other
    figures each of which alone would explain them too.
    """

    own: Any
    faults: tuple[Fault, ...]
    typed: dict[str, str]
    head: dict[str, str]
    clear: float
    alike: tuple[str, ...]
    way: str
    digits: int


def _spread(rng: random.Random, figures: Figures) -> Figures:
    """The same as a real bench has it."""
    found = dict(figures)
    for key, value in figures.items():
        most = USUAL.get(key.rpartition(" ")[2], 0.0)
        if most and value:
            off = rng.uniform(-most, most)
            found[key] = (
                value + off if key.rpartition(" ")[2] in ("wire", "lead", "supply", "idle") else value * (1 + off)
            )
    return found


def sheet(seed: int, kinds: tuple[str, ...], plan: Callable[..., tuple[Steps, Any]],
          ways: tuple[str, ...] = WAYS, whole: bool = False) -> Sheet | None:  # fmt: skip
    """The random sheet of a seed with a fault of each kind, or None where the rig has no place for it.

    ``plan`` gives the steps of a rig on its kit, and what the caller wants back (None where it will not do). A
    ``whole`` sheet has no blank readings.
    """
    rng = random.Random(seed)
    rig, kit = random_rig(rng)
    digits, share = rng.choice([(3, 0.01), (4, 0.005)])
    way = rng.choice(ways)
    steps, own = plan(rig, kit)
    if own is None:
        return None
    meter = Meter(rng, digits, share, way)
    sound = _spread(rng, stated(rig, kit)) if rng.random() < 0.5 else stated(rig, kit)
    sound["open"] *= 1 + rng.uniform(-0.035, 0.035)
    head = (
        {"burden": ""}
        if any("burden" in kind for kind in kinds)
        else rng.choice([{"burden": "out"}, {"burden": "out"}, {"burden": ""}, {"burden": "100mOhm"}])
    )
    sound["burden"] = 0.1 if head["burden"] == "100mOhm" else 0.0
    blank = 0.0 if whole else {"all": 0.0, "some": 0.5, "least": 1.0}[rng.choice(["all", "all", "some", "least"])]
    unread = ("out_a", "in_a") if "load-unread" in kinds and not whole else ()
    steps = [
        (path, joined, part, [each for each in keys if each[1] not in unread
                              and (each[1] not in OPTIONAL or rng.random() >= blank)])
        for path, joined, part, keys in steps
    ]  # fmt: skip
    true, faults = dict(sound), []
    for kind in kinds:
        if kind in BENCH:
            fault = hide(rig, true, meter, kind, rng)
            if fault is None:
                return None
            faults.append(fault)
    try:
        values = every_reading(rig, true, steps)
        clear, alike = clarity(rig, sound, true, steps, meter) if set(kinds) & set(BENCH) else (0.0, ())
    except (ValueError, KeyError):  # a bench that collapses
        return None
    typed = {}
    for _, _, _, keys in steps:
        for name, key, branch in keys:
            if name in values:
                typed[name] = meter.shows(unit_of(name), values[name])
            elif key == "polarity":
                typed[name] = "yes"
            elif key == "before_v":
                typed[name] = meter.shows("V", 5.1)
            elif key == "input_ohm":
                typed[name] = _ohmmeter(rig, true, meter, branch, rng)
    for kind in kinds:
        if kind in PEN:
            before = dict(typed)
            fault = slip(typed, kind, rng)
            if fault is None or not _slipped_far(before, typed, fault, share):
                return None
            faults.append(fault)
            clear = clear or 1e6
    return Sheet(own, tuple(faults), typed, head, clear, alike, way, digits)


def _ohmmeter(rig: dict[str, Any], true: Figures, meter: Meter, name: str, rng: random.Random) -> str:
    row = next(each for each in rig["branch"] if each["name"] == name)
    if "converter" in row or "resistance" not in row["load"]:
        return "OL"
    ohms = row["load"]["resistance"] / true[f"{name} load"] + rng.uniform(0.1, 0.4)
    return f"{ohms:.{max(0, min(1, meter.digits - 1 - math.floor(math.log10(ohms))))}f}"


def _slipped_far(before: dict[str, str], typed: dict[str, str], fault: Fault, share: float) -> bool:
    """Whether a slip is more than the meter's own error."""
    return all(
        abs(float(text) / float(before[name]) - 1) > 6 * share for name, text in typed.items() if text != before[name]
    )


def clarity(
    rig: dict[str, Any], sound: Figures, true: Figures, steps: Steps, meter: Meter
) -> tuple[float, tuple[str, ...]]:
    """How clearly the readings show a fault, and which other figures would explain them as well as the true one.

    Generalised least squares by hand: the error of the meter and what is usual of each figure make the covariance of
    the readings; the difference that the fault makes is held against it, with each other figure free in turn.
    """
    clean, shown = every_reading(rig, sound, steps), every_reading(rig, true, steps)
    names = list(shown)
    factors = {
        name: meter.factor[unit_of(name)]
        * (meter.high[1] if name.endswith("_a") and shown[name] >= meter.high[0] else 1)
        for name in names
    }
    base = np.array([shown[name] for name in names])
    away = np.array([shown[name] * factors[name] - clean[name] for name in names])
    away_v = np.array([name[-2:] == "_v" for name in names])
    digits = np.array([meter.step(unit_of(name), shown[name]) / math.sqrt(12) for name in names])
    one = meter.share / math.sqrt(3)
    cover: NDArray[np.float64] = np.diag(digits**2 + (one * base) ** 2 * (meter.way == "each"))
    gains = {"meter V": away_v * base, "meter A": ~away_v * base}
    if meter.way != "each":
        for unit, mine in (("V", away_v), ("A", ~away_v)):
            ranges = [meter.range_of(unit, each) if meter.way == "range" else 0 for each in base]
            for at in set(ranges):
                column = np.where(mine & (np.array(ranges) == at), base, 0.0) * one
                cover += np.outer(column, column)
    moves = dict(gains)
    for end in (0.4, 0.6, 1.0):
        moves[f"meter {end}"] = np.where(~away_v & (base >= end), base, 0.0)
    for key in true:
        small = 1e-4 if key != "open" else 1e-3
        there = every_reading(rig, {**true, key: true[key] + small}, steps)
        column = (np.array([there[name] for name in names]) - base) / small
        kind = key.rpartition(" ")[2]
        usual = (
            0.5
            if key == "open"
            else USUAL.get(kind, 0.0) * (1.0 if kind in ("wire", "lead", "supply", "idle") else true[key])
        )
        cover += np.outer(column, column) * usual**2 / (1.0 if key == "open" else 3.0)
        moves[key] = column

    def cost(*free: NDArray[np.float64]) -> float:
        wide = cover + sum(np.outer(each, each) * 1e4 / max(1e-12, float(each @ each)) for each in free)
        return float(away @ np.linalg.solve(wide, away))

    changed = [key for key in true if true[key] != sound[key]]
    own = [moves[key] for key in changed]
    if any(each != 1.0 for each in factors.values()):
        own.append(np.where([each != 1.0 for each in factors.values()], base, 0.0))
        changed += ["meter A", "meter V"]
    each = [[other for other in own if other is not one] for one in own] or [[]]
    clear = min(cost(*others) for others in each)
    alike = tuple(
        key
        for key, column in moves.items()
        if key not in changed and any(cost(column, *others) < max(16.0, 0.05 * clear) for others in each)
    )
    return clear, alike
