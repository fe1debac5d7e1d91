"""A second of a build in time and its picture, in seconds of one core: calm, one that repeats, one joined live."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median
from time import process_time
from typing import Any

from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show.pictures.transient_picture import transient_picture
from pdcheck.show.transient import text
from pdcheck.verdict.case import Case
from pdcheck.verdict.transient.first_second import transient
from tests.bench.row import Row

BAR_S = 3.0
MODULE = {"kind": "buck-boost", "input": "4.5V-36V", "output": "12V", "efficiency": 0.92, "bulk": "22uF"}


def four_branches(watts: float) -> Case:
    """Three converters and a heater on 20 V."""
    branches: list[dict[str, Any]] = [
        {"name": f"b{place}", "wire": "20AWG 0.4m", "converter": MODULE, "load": f"{watts}W"} for place in range(3)
    ]
    branches.append({"name": "heater", "wire": "20AWG 0.4m", "load": "60ohm"})
    rig = Rig(trigger={"request": "20V", "brown_out": "4.2V"}, branch=branches)
    return Case(rig, Source("5V 3A, 20V 3A", typec_current="3A"), Cable("C-C 3A 1m loop=200mOhm"))


def rows(runs: int) -> Iterator[Row]:
    """One row for each build."""
    builds = {
        "that starts": (four_branches(3.0), ()),
        "that starts and fails, again and again": (four_branches(12.0), ()),
        "of which one is joined live": (four_branches(3.0), ("join b2 at 600ms",)),
    }
    for what, (case, events) in builds.items():
        taken, steps = [], 0
        for _ in range(runs):
            begin = process_time()
            found = transient(case, events)
            text(found)
            transient_picture(found).headed().svg()
            taken.append(process_time() - begin)
            steps = len(found.samples.time_s)
        seconds = median(taken)
        told = f"{seconds:.2f} s of one core, {steps} samples kept"
        yield Row(f"a second of four branches {what}, with its picture", "3 s", f"{seconds / BAR_S:.2f}", "1", told)
