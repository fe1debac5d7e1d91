"""All measurements side by side, as ratios, in the table that docs/speed.md keeps.

python -m tests.bench [--quick] [--only PART] [--write]: ``--write`` puts the table into docs/speed.md.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from tests.bench import logs, matrix, moments, solver, startup, words
from tests.bench.row import Row

PAGE = Path(__file__).parents[2] / "docs" / "speed.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
CELLS_A_MINUTE = 300_000


def waveforms(quick: bool) -> Iterator[Row]:
    """The rows of tests.bench.waveform, whose readings have processes of their own."""
    command = [sys.executable, "-m", "tests.bench.waveform", *(["--quick"] if quick else [])]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    for line in told[1:]:
        name, (theirs, ours, ratio, peak, packets) = line[:28].strip(), line[28:].split()
        text = f"{ours} s, NumPy {theirs} s; {packets} packets, {peak} MB"
        yield Row(f"waveform {name} to packets", "NumPy's loadtxt of the file", ratio, "", text)


def cells(quick: bool) -> Iterator[Row]:
    """Cells a minute of tests.bench.matrix, and how the time grows."""
    for sources in (25, 100) if quick else (250, 1000):
        for differ in (False, True):
            judged, seconds, _ = matrix.measure(sources, all_differ=differ, processes=None)
            kind = "no two alike" if differ else "like a drawer"
            rate = judged / seconds * 60
            bar = f"≥ {CELLS_A_MINUTE:,} a minute"
            yield Row(f"matrix, {judged:,} cells, {kind}", "", f"{rate:,.0f} a minute", bar, f"{seconds:.1f} s")


def rows(only: str | None, quick: bool) -> Iterator[Row]:
    """Every row, or those of one part."""
    parts = {
        "startup": lambda: startup.rows(5 if quick else 15),
        "words": lambda: words.rows(200_000 if quick else 4_000_000, 3 if quick else 7),
        "solver": lambda: solver.rows(3 if quick else 15),
        "moments": lambda: moments.rows(2 if quick else 7),
        "waveform": lambda: waveforms(quick),
        "matrix": lambda: cells(quick),
        "logs": lambda: logs.rows(100_000 if quick else 1_000_000),
    }
    if only is not None and only not in parts:
        raise SystemExit(f"no part {only!r}; expected one of {', '.join(parts)}")
    for name, part in parts.items():
        if only in (None, name):
            yield from part()


def table(measured: list[Row]) -> str:
    """Rows as a table, under the date and the class of machine."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30 if hasattr(os, "sysconf") else 0
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    system = f"{platform.system()}, Python {platform.python_version()}"
    machine = f"{platform.machine()}, {cores} cores, {memory:.0f} GiB, {system}"
    lines = [
        f"Measured {datetime.now(UTC):%Y-%m-%d} on {machine}.",
        "",
        "| what | against | ratio | bar | |",
        "|---|---|---:|---|---|",
        *(f"| {' | '.join(row)} |" for row in measured),
    ]
    return "\n".join(lines)


def main() -> None:
    """Measure, print, and write the page where asked."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=str(__doc__).splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a tenth of the work")
    parser.add_argument("--only", metavar="PART", help="startup, words, solver, moments, waveform, matrix or logs")
    parser.add_argument("--write", action="store_true", help=f"put the table into {PAGE.name}")
    options = parser.parse_args()
    measured = []
    for row in rows(options.only, options.quick):
        print(f"{row.what:46} {row.against:36} {row.ratio:>16}  {row.bar:18} {row.told}", flush=True)
        measured.append(row)
    if options.write:
        before, rest = PAGE.read_text(encoding="utf-8").split(BEGIN)
        _, after = rest.split(END)
        PAGE.write_text(f"{before}{BEGIN}\n{table(measured)}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
