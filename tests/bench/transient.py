"""The solver in time at length: beside ngspice, beside the rules of the first second, and how long it takes.

    python -m tests.bench.transient [BUILDS]

prints how many random builds have the same fates, extremes (1 %) and times (2 %) as ngspice, what differs and whether a
change of 2 % alters the fate there; then on ten times as many builds the rules beside the
solver; then the seconds of processor time for a second of a build of four branches.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from pdcheck.circuit.transient.given import Branch, Cable, Circuit, Converter, Event, Level, Load, Source, Trigger
from pdcheck.circuit.transient.run import run
from tests.outside.random_builds import random_build
from tests.outside.test_plugged_and_solved import agrees, said
from tests.outside.transient_agreement import compare

FOUR = Circuit(
    Source(Level(5.0, 3.5), Level(15.0, 5.0)),
    Cable(0.15, 0.7e-6),
    Trigger(0.025, 10e-6, 0.02, 3.6, 0.3),
    (
        Branch(
            "mount",
            0.04,
            0.3e-6,
            47e-6,
            0.05,
            Converter(12.0, 0.92, 0.3, 6.0, 5.5, 3e-3, 100e-6),
            0.03,
            Load("power", 24.0, start_v=9.0, stop_v=8.0),
        ),
        Branch(
            "camera",
            0.06,
            0.5e-6,
            22e-6,
            0.01,
            Converter(12.0, 0.9, 0.2, 6.0, 5.5, 2e-3, 220e-6),
            0.05,
            Load("resistance", 9.0),
        ),
        Branch("dew", 0.03, 0.2e-6, 0.0, 0.0, None, 0.02, Load("resistance", 40.0)),
        Branch("lights", 0.05, 0.4e-6, 1e-6, 0.01, None, 0.0, Load("leds", 15.0, string_v=10.2)),
    ),
)


def beside_ngspice(builds: int) -> None:
    ngspice = shutil.which("ngspice")
    if ngspice is None:
        print("ngspice is not installed")
        return
    counts: Counter[str] = Counter()
    for seed in range(builds):
        circuit, events = random_build(seed)
        with tempfile.TemporaryDirectory() as folder:
            found = compare(ngspice, circuit, events, Path(folder))
        if found is None:
            counts["ngspice gave up"] += 1
            continue
        counts["the same" if not found.differences else "near a boundary" if found.near else "different"] += 1
        counts.update(f"fate: {fate}" for fate in found.fates)
        if found.differences:
            print(
                seed, "near a boundary" if found.near else "DIFFERENT", found.fates, found.differences[:4], flush=True
            )
    print(dict(counts))


def beside_the_rules(builds: int) -> None:
    counts: Counter[str] = Counter()
    for seed in range(builds):
        one = said(seed)
        counts["near a boundary" if one.near else "agree" if agrees(one) else "differ"] += 1
        if not one.near and not agrees(one):
            print(seed, "DIFFERENT", one, flush=True)
    print(dict(counts))


def how_long() -> None:
    events = (Event(0.6, "load off", "camera"), Event(0.7, "load on", "camera"))
    start = time.process_time()
    result = run(FOUR, events)
    print(f"four branches, 1 s, two events: {time.process_time() - start:.2f} s, {result.steps} steps")


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    beside_ngspice(number)
    beside_the_rules(10 * number)
    how_long()
