"""How many cells of a matrix are judged a second, and how the time grows: ``python -m tests.bench.matrix [--quick]``.

Two kits of invented chargers and cables: one like a drawer, where many chargers offer the same, and one where every
charger's tolerance and every cable's loop resistance differs, so that no two cells share a circuit. Prints a table.
"""

from __future__ import annotations

import argparse
import random
import resource
import sys
from collections.abc import Sequence
from time import perf_counter
from typing import Any

from pdcheck.facts.power_rules import fixed_offers_for
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.matrix.matrix import build, judge_matrix

CABLES, RIGS = 20, 10
REQUESTS = ("9V", "12V", "15V", "20V", "highest", "prefer 20V 15V 9V")


def random_kit(chance: random.Random, sources: int, *, all_differ: bool) -> Kit:
    """Chargers by the power rules, and cables; with ``all_differ`` no two chargers and no two cables are alike."""

    def source(at: int) -> dict[str, Any]:
        offers = ", ".join(f"{volts:g}V {amperes:g}A" for volts, amperes in fixed_offers_for(chance.uniform(15, 240)))
        told = {"id": f"source-{at}", "offers": offers, "captured_over": "EPR"}
        return told | ({"tolerance": round(chance.uniform(0.01, 0.05), 5)} if all_differ else {})

    def cable(at: int) -> dict[str, Any]:
        told: dict[str, Any] = {"id": f"cable-{at}", "kind": "C-C", "rating": chance.choice(("3A", "5A"))}
        if at % 5 == 0:
            told = {"id": f"cable-{at}", "kind": "EPR"}
        loop = round(chance.uniform(0.05, 0.15), 5)
        if all_differ:
            told["loop"] = {"min": 0.9 * loop, "typ": loop, "max": 1.1 * loop}
        elif at % 2:
            told["loop"] = round(loop, 2)
        return told

    return Kit.model_validate(
        {"source": [source(at) for at in range(sources)], "cable": [cable(at) for at in range(CABLES)]}
    )


def random_rig(chance: random.Random) -> Rig:
    """A mount behind a converter, a heater on the bus and lights on a driver, of random powers."""
    return Rig.model_validate(
        {
            "trigger": {"request": chance.choice(REQUESTS), "rating": "5A", "resistance": "25mOhm"},
            "tolerance": chance.choice(({}, {"load": 0.05}, {"efficiency": 0.02, "resistance": 0.05})),
            "branch": [
                {
                    "name": "mount",
                    "wire": {"awg": chance.choice((18, 20, 22)), "length": "0.4m", "contacts": "10mOhm"},
                    "converter": {
                        "kind": "buck-boost",
                        "input": "5V-50V",
                        "input_limit": "6A",
                        "output": "12V",
                        "output_limit": "4A",
                        "efficiency": round(chance.uniform(0.85, 0.95), 3),
                        "idle": "0.3W",
                    },
                    "lead": {"awg": 18, "length": "1.5m"},
                    "load": {"power": round(chance.uniform(5, 40), 1)},
                },
                {"name": "heater", "load": {"resistance": round(chance.uniform(20, 90), 1)}},
                {"name": "light", "load": {"led": {"count": 2, "vf": "3V", "current": "150mA", "headroom": "0.5V"}}},
            ],
        }
    )


def measure(sources: int, *, all_differ: bool, processes: int | None) -> tuple[int, float, float]:
    """Cells judged, the seconds they took, and the seconds of all processors; reading the kit is not in it."""
    chance = random.Random(sources)
    kit = random_kit(chance, sources, all_differ=all_differ)
    builds = [build(f"rig-{at}", random_rig(chance), kit) for at in range(RIGS)]
    began, worked = perf_counter(), processor_s()
    cells = judge_matrix(builds, processes=processes)
    return len(cells), perf_counter() - began, processor_s() - worked


def processor_s() -> float:
    """Processor time of this process and of its children that have ended [s]."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def peak_mb() -> float:
    """The most memory that this process and any of its children had [MB]."""
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return sum(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / unit


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of the cells")
    parser.add_argument("--processes", type=int, help="processes to use; one on each core if not given")
    chosen = parser.parse_args(arguments)
    sizes = (25, 50, 100) if chosen.quick else (250, 500, 1000)
    print("| kit | sources | cells | seconds | cells/s | processor s | cells/s of one | peak MB |")
    print("|---|---|---|---|---|---|---|---|")
    for all_differ in (False, True):
        for sources in sizes:
            cells, seconds, worked = measure(sources, all_differ=all_differ, processes=chosen.processes)
            figures = [
                "all differ" if all_differ else "drawer",
                f"{sources}",
                f"{cells:,}",
                f"{seconds:.1f}",
                f"{cells / seconds:,.0f}",
                f"{worked:.1f}",
                f"{cells / worked:,.0f}",
                f"{peak_mb():.0f}",
            ]
            print(f"| {' | '.join(figures)} |", flush=True)


if __name__ == "__main__":
    main()
