"""The bring-up sheet as a TOML file to fill in: each step with what to do, each reading with what to expect."""

from __future__ import annotations

from pdcheck.parts.toml_places import toml_key, toml_value
from pdcheck.quantities import format_quantity
from pdcheck.show.bringup import expected_text, stop_lines
from pdcheck.show.cells import wrapped
from pdcheck.show.check import contract_line
from pdcheck.show.clean import clean
from pdcheck.show.figures import pair_named
from pdcheck.verdict.bringup.found import can_show
from pdcheck.verdict.bringup.sheet import HEAD, METER_KEYS, SHEET_SCHEMA
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.words import Path, Reading

WIDTH = 100


def sheet_text(plan: BringUp, rig: str, kit: str, date: str = "") -> str:
    """The sheet of a plan; ``rig`` and ``kit`` are the paths that it names for the comparison, ``date`` is its day.

    Raises nothing; what comes from files is made safe for a comment line.
    """
    case = plan.case
    lines = [
        *_comment(f"Bring-up sheet: {case.rig.title or 'rig'} on {pair_named(case.source.id, case.cable.id)}."),
        *_comment(
            'Put every reading between the quotes with all the digits that the meter shows, as in bus_v = "14.52"; '
            "leave blank what was not taken. Then: pdcheck bringup --measured and the name of this file."
        ),
        *_comment(f"Expected contract: {contract_line(case.contract)}. Calculated verdict: {plan.judgement.verdict}."),
        "#",
        *(line for caution in plan.cautions for line in _comment(f"- {caution}", "  ")),
        "",
        f"[{HEAD}]",
    ]
    head = {"schema": SHEET_SCHEMA, "rig": rig, "kit": kit, "source": case.source.id, "cable": case.cable.id}
    head["date"] = date
    lines += [f"{key} = {toml_value(value)}" for key, value in head.items() if value]
    lines += _comment(
        "The meter: how true it reads, as 0.5%; and its ammeter's own resistance, as 100mOhm, or the word out where "
        "the ammeter is out of the line while voltages are read."
    )
    lines += [f'{key} = ""' for key in METER_KEYS]
    lines += [line for digits in (3, 4) for line in _comment(_shows(plan, digits), "  ")]
    for number, step in enumerate(plan.steps, 1):
        lines += ["", *_comment(f"{number}. {step.title}")]
        lines += [line for action in step.actions for line in _comment(action, "   ", "   ")]
        lines += [line for told in stop_lines(step) for line in _comment(told, "   ", "   ")]
        lines += _readings(step.path, step.readings)
    if plan.halted:
        lines += ["", *_comment(f"No further: {plan.halted}.")]
    return "\n".join(lines) + "\n"


def _shows(plan: BringUp, digits: int) -> str:
    """What a meter of so many digits can and cannot show, in one sentence each."""
    listed = can_show(plan, digits)
    if not listed:
        return ""
    names = {"supply": "cable and trigger", "source": "charger", "bus-draw": "a stray load"}
    can: list[str] = []
    cannot: list[str] = []
    for each in listed:
        kind, subject, unit = each.unknown.kind, each.unknown.subject, each.unknown.unit
        name = names.get(kind) or f"{subject}'s {kind}"
        unit = "%" if kind in ("efficiency", "load") else unit
        (can if each.shows else cannot).append(f"{name} {format_quantity(each.size, unit, 2)}" if each.shows else name)
    text = f"With {digits} digits this whole sheet shows a fault from this size on: {', '.join(can)}."
    return f"{text} It cannot show: {', '.join(cannot)}." if cannot else text


def _readings(path: Path, readings: tuple[Reading, ...]) -> list[str]:
    lines = [_header(path)]
    at = path
    for reading in readings:
        if reading.path != at:
            at = reading.path
            lines += ["", _header(at)]
        optional = ", optional" if reading.optional else ""
        lines += _comment(f"expect {expected_text(reading)}{optional}: {reading.where}", "  ")
        lines.append(f'{toml_key(reading.key)} = ""')
    return lines


def _header(path: Path) -> str:
    return f"[{'.'.join(toml_key(part) for part in path)}]"


def _comment(text: str, hang: str = "", indent: str = "") -> list[str]:
    return wrapped(clean(text, 2000), WIDTH, f"# {indent}", f"# {indent}{hang}")
