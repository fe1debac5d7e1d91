"""Filled-in sheets of a first power-up, each with one thing wrong, and what people are told of them.

Every sheet is compared and written back; below what is said stands what changed in the files. Readings inside are shown
of the first sheet only.
"""

from __future__ import annotations

import contextlib
import difflib
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.toml_places import toml_key, toml_value
from pdcheck.verdict.bringup.measured import shown
from pdcheck.verdict.bringup.sheet import Filled
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.judge import judge
from tests.conftest import call
from tests.verdict.bench import Faults, readings, truth, typed

DATA = Path(__file__).parent.parent.parent / "pdcheck" / "data"
RIGS = Path(__file__).parent / "rigs"
METER = {"V": 2, "A": 3}
TRUE = Faults()


class Sheet(NamedTuple):
    """A rig on a source and a cable, what is wrong with it, and readings written over those of the faulty bench.

    ``alone`` leaves everything but the written readings blank; ``needed`` leaves the optional ones blank.
    """

    rig: str
    source: str
    cable: str
    faults: Faults = TRUE
    written: str = ""
    alone: bool = False
    needed: bool = False


def pier(faults: Faults = TRUE, written: str = "", *, alone: bool = False, needed: bool = False) -> Sheet:
    return Sheet("pier-box", "wall-45", "thin-2m", faults, written, alone, needed)


MOUNT = Faults(branch="mount")
HEATER = Faults(branch="dew-heater")
SHEETS = {
    "as stated": pier(),
    "nothing filled in": pier(alone=True),
    "a cable of 150 mΩ more": pier(Faults(supply_ohm=0.150)),
    "a cable known by readings, of 150 mΩ more": Sheet("pier-box", "wall-45", "short-5a", Faults(supply_ohm=0.150)),
    "a cable that was never measured": Sheet("pier-box", "wall-45", "drawer", Faults(supply_ohm=0.030)),
    "a cable fixed to its source, better than stated": Sheet("amplifier", "board-27", "", Faults(supply_ohm=-0.1)),
    "a contact of 150 mΩ in a wire": pier(MOUNT._replace(wire_ohm=0.150)),
    "a contact of 15 mΩ in a wire": pier(MOUNT._replace(wire_ohm=0.015)),
    "a contact of 80 mΩ in a lead": pier(MOUNT._replace(lead_ohm=0.080), needed=True),
    "a converter at 80 %, its current not read": pier(MOUNT._replace(efficiency=0.80 / 0.92), needed=True),
    "a converter at 91 %": pier(MOUNT._replace(efficiency=0.91 / 0.92)),
    "a converter that idles at 0.8 W": pier(MOUNT._replace(idle_w=0.5)),
    "more load": pier(MOUNT._replace(load=1.15)),
    "less ohms": pier(HEATER._replace(load=1.2)),
    "150 mA that no branch takes": pier(Faults(bus_a=0.150)),
    "150 mA that no branch takes, the trigger alone not read": pier(Faults(bus_a=0.150), "trigger.bus_a -"),
    "fallen back to 5 V": Sheet("pedalboard", "wall-45", "thin-2m", written="trigger.bus_v 5.06", alone=True),
    "fallen back to 9 V": pier(written="trigger.bus_v 9.02", alone=True),
    "fallen back to nothing that is offered": pier(written="trigger.bus_v 11.9", alone=True),
    "set too high": Sheet("pier-box", "desk-65", "short-5a", written="trigger.bus_v 20.1", alone=True),
    "swapped poles and a short": pier(
        written="unpowered.polarity no\nunpowered.mount.input_ohm 0.6\ntrigger.bus_v -15.0", alone=True
    ),
    "an output set too high": pier(written="branch.mount.unloaded.out_v 13.80", alone=True),
    "an output set too low": pier(written="branch.mount.unloaded.out_v 11.10", alone=True),
    "an output that sags": pier(written="branch.mount.full.out_v 10.4"),
    "a source that sags": pier(written="branch.mount.full.source_v 13.9", alone=True),
    "a reading outside alone": pier(written="trigger.before_v 6.20", alone=True),
    "steps that do not agree": pier(Faults(supply_ohm=0.1), "branch.mount.full.bus_v 14.20", needed=True),
    "a converter by its table, a wire too long": Sheet(
        "rover", "wall-45", "short-5a", Faults(branch="arm", lead_ohm=0.2, load=1.2, efficiency=0.93)
    ),
    "a source that holds its current": Sheet("amplifier", "wall-45", "thin-2m", Faults(branch="tuner", load=1.3)),
}


def page() -> str:
    told = []
    for name, sheet in SHEETS.items():
        # Told by their names alone, files are told on lines of the same length wherever the folder is.
        with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
            lines = [line for each in _told(sheet) for line in each.splitlines()]
        told += [f"== {name}", *(line for line in lines if sheet == pier() or not line.endswith(" inside")), ""]
    return "\n".join(told)


def _told(sheet: Sheet) -> Iterable[str]:
    found = RIGS if (RIGS / f"{sheet.rig}.toml").exists() else DATA
    rig, kit, file = Path("rig.toml"), Path("kit.toml"), Path("sheet.toml")
    before = {rig: (found / f"{sheet.rig}.toml").read_text("utf-8"), kit: (DATA / "kit.toml").read_text("utf-8")}
    for path, text in before.items():
        path.write_text(text, encoding="utf-8")
    plan = _plan(rig, kit, sheet)
    file.write_text(_written(plan, _readings(plan, sheet)), encoding="utf-8")
    done = call("bringup", "--measured", file, "--write-back", "--yes")
    yield f"{done.out}{done.err}[exit code {done.code}]"
    for path, text in before.items():
        lines = difflib.unified_diff(text.splitlines(), path.read_text("utf-8").splitlines(), n=0, lineterm="")
        yield from [f"{path.name} {line}" for line in lines if not line.startswith(("---", "+++", "@@"))]


def _plan(rig: Path, kit: Path, sheet: Sheet) -> BringUp:
    listed = Kit.read(kit)
    source = listed.source(sheet.source)
    cable = source.cable if source.cable is not None else listed.cable(sheet.cable)
    return bring_up(judge(Rig.read(rig), source, cable))


def _readings(plan: BringUp, sheet: Sheet) -> Filled:
    taken = {} if sheet.alone else _bench(plan, sheet).readings
    blank = [line.removesuffix(" -") for line in sheet.written.splitlines() if line.endswith(" -")]
    written = "\n".join(line for line in sheet.written.splitlines() if not line.endswith(" -"))
    kept = {place: value for place, value in taken.items() if ".".join((*place[0], place[1])) not in blank}
    return Filled({}, kept | (typed(plan, written).readings if written else {}))


def _bench(plan: BringUp, sheet: Sheet) -> Filled:
    return readings(plan, truth(plan.case, sheet.faults), METER, optional=not sheet.needed)


def _written(plan: BringUp, taken: Filled) -> str:
    head = {"schema": "pdcheck/sheet/1", "rig": "rig.toml", "kit": "kit.toml"}
    head |= {"source": plan.case.source.id, "cable": plan.case.cable.id}
    lines = ["[sheet]", *(f"{key} = {toml_value(value)}" for key, value in head.items())]
    units = {(each.path, each.key): each.unit for step in plan.steps for each in step.readings}
    tables: dict[tuple[str, ...], list[str]] = {}
    for (path, key), value in taken.readings.items():
        text = "OL" if value.value == float("inf") else shown(value, units[path, key]).replace("Ω", "ohm")
        tables.setdefault(path, []).append(f'{key} = "{text}"')
    for path, rows in tables.items():
        lines += [f"[{'.'.join(toml_key(part) for part in path)}]", *rows]
    return "\n".join(lines) + "\n"
