"""What a bring-up found, written back: which keys of kit and rig the implied figures belong to, and what they get."""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from pdcheck.errors import InputError
from pdcheck.facts.trade import OHMMETER_LEADS, OHMMETER_SHARE
from pdcheck.parts.cable_face import LOOP_WAYS, Statement
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.keeping import change_together
from pdcheck.parts.kit import Kit
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Rig
from pdcheck.parts.toml_places import comment_above, remove_key, set_value, toml_value
from pdcheck.parts.toml_reading import read_toml_text
from pdcheck.parts.toml_text import read_toml
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.cause import Implied
from pdcheck.verdict.bringup.measured import Change, Comparison, TomlPath
from pdcheck.verdict.bringup.unknowns import cause_name, conductor_ohm, series_ohm
from pdcheck.verdict.case import Case

NOTHING_KNOWN: Mapping[str, str] = {}
"""Where changes are made by hand, of files as they are."""


def changes_for(found: Comparison, rig_path: str, kit_path: str | None, when: str = "") -> list[Change]:
    """The changes that the readings of a sheet support: figures that are off, and a cable that was never measured.

    What ``kept_back`` lists is left out, and what has no place in the files. ``kit_path`` is None where the kit stands
    in the rig file; ``when`` is the date of the sheet.
    """
    case = found.case
    rig = _data(rig_path)
    changes: list[Change] = []
    refused = kept_back(found)
    for each in found.implied:
        if "" in refused or f"{each.kind} {each.subject}" in refused:
            continue
        if each.kind == "supply":
            made = _cable(each, case, kit_path or rig_path)
        else:
            made = _of_branch(each, case, rig_path, rig) if each.above or each.below else None
        if made is not None and made.old != made.written:
            changes.append(made)
    if found.fell_to is not None and found.fell_to < found.plan.case.contract.voltage_v:
        changes += _fallback(found, rig_path, rig)
    return [each._replace(reason=f"{each.reason}, {when}") for each in changes] if when else changes


def kept_back(found: Comparison) -> dict[str, str]:
    """Figures that are not written, by name, and why: they rest on an assumption, are undecided, impossible, or
    contradicted. An empty name is all of them."""
    if any(each.kind in ("slip", "unexplained") for each in found.causes):
        return {"": "a reading of this sheet is wrong: correct it first"}
    if any(each.kind in ("polarity", "short", "bus-voltage", "meter-factor") for each in found.causes):
        return {"": "what these readings show has to be put right first"}
    undecided = {name for other in found.others for name in other.causes}
    if undecided:
        undecided |= {f"{each.kind} {each.subject}" for each in found.causes if each.level != "note"}
    refused = {}
    for each in found.implied:
        if not (each.above or each.below or (each.kind == "supply" and found.case.cable.loop is None)):
            continue
        name = f"{each.kind} {each.subject}"
        against = _against(found, each)
        if f"{cause_name(each.kind)} {each.subject}" in undecided:
            refused[name] = "another fault would explain the readings about as well"
        elif each.assumed:
            refused[name] = f"it holds only if {each.assumed}"
        elif against:
            refused[name] = against
    return refused


def _against(found: Comparison, each: Implied) -> str:
    """What speaks against a figure: that there is no such thing, or another reading of the sheet."""
    if each.value.typ <= 0 or (each.kind == "efficiency" and each.value.typ >= 1):
        return "no part is like that"
    if each.kind == "supply" and each.value.typ <= series_ohm(found.case.spec, but="cable").typ:
        return "it is less than the trigger alone"
    if each.kind == "load" and each.unit == "ohm":
        row = next((row for row in found.readings if row.name == f"unpowered.{each.subject}.input_ohm"), None)
        ohms = None if row is None or row.taken is None else row.taken.value
        if ohms is not None and math.isfinite(ohms):
            error = OHMMETER_SHARE.value * ohms + OHMMETER_LEADS.value
            if not each.value.min - error <= ohms <= each.value.max + error:
                return "the ohmmeter shows another resistance"
    return ""


def write(changes: Iterable[Change], texts: Mapping[str, str] = NOTHING_KNOWN) -> list[str]:
    """Write changes into their files, all of them or none; returns the files that were written.

    ``texts`` is what the changes were worked out from: a branch or cable is meant by its place in it. Raises
    ``InputError`` where a file holds another text by now, cannot be changed, or could not be read any more afterwards;
    then none is written.
    """
    return change_together(_edits(changes, texts))


def difference(changes: Iterable[Change], texts: Mapping[str, str] = NOTHING_KNOWN) -> str:
    """What writing changes would change, as a difference of each file. Raises ``InputError`` as ``write`` does."""
    lines: list[str] = []
    for name, edit in _edits(changes, texts).items():
        old = read_toml_text(name)
        new = edit(old)
        lines += difflib.unified_diff(old.splitlines(), new.splitlines(), name, f"{name} (new)", n=1, lineterm="")
    return "\n".join(lines)


def _edits(changes: Iterable[Change], texts: Mapping[str, str]) -> dict[str, Callable[[str], str]]:
    by_file: dict[str, list[Change]] = {}
    for each in changes:
        by_file.setdefault(each.file, []).append(each)

    def edit(now: str, name: str) -> str:
        if now != texts.get(name, now):
            raise InputError("was changed meanwhile", where=name, expected="to compare the sheet with it once more")
        return edited(now, by_file[name], name)

    return {name: partial(edit, name=name) for name in by_file}


def edited(text: str, listed: list[Change], name: str) -> str:
    """The text of a file with changes made, each with a comment above its table that says where it comes from."""
    for each in listed:
        for key in each.drop:
            text = remove_key(text, each.table, key)
        text = set_value(text, each.table, each.key, each.new)
    for each in listed:
        mark = f"bring-up: {each.key}: "
        text = comment_above(text, each.table, each.key, f"{mark}{each.reason}", mark)
    read = Rig.from_toml if "trigger" in read_toml(text) else Kit.from_toml
    read(text, name, folder=Path(name).parent)
    return text


def _data(path: str) -> dict[str, Any]:
    try:
        return read_toml(read_toml_text(path))
    except tomllib.TOMLDecodeError:
        return {}


def _cable(each: Implied, case: Case, path: str) -> Change | None:
    data = _data(path)
    place = _cable_place(data, case)
    if place is None or (case.cable.loop is not None and not (each.above or each.below)):
        return None
    table = _at(data, place)
    own = series_ohm(case.spec, but="cable")
    loop = Triple(*(max(0.0, all_of - its) for all_of, its in zip(each.value, reversed(own), strict=True)))
    step = _step(loop)
    low, high = math.floor(loop.min / step) * step, math.ceil(loop.max / step) * step
    new = {"min": _milliohms(low), "typ": _milliohms(round(loop.typ / step) * step), "max": _milliohms(high)}
    drop = tuple(key for key in Statement.rules_out["loop"] if key in table)
    old = next((toml_value(table[key]) for key in LOOP_WAYS if key in table), "")
    return Change(path, place, "loop", old, new, drop, "measured at bring-up, the trigger's own part taken off")


def _cable_place(data: dict[str, Any], case: Case) -> TomlPath | None:
    """Where the cable stands in the kit's file: a table of its own, or the one fixed to its source."""
    for prefix in ((), ("kit",)):
        inner = _at(data, prefix)
        for index, row in enumerate(inner.get("cable", [])):
            if row.get("id") == case.cable.id:
                return (*prefix, "cable", index)
        for index, row in enumerate(inner.get("source", [])):
            if row.get("id") == case.source.id and isinstance(row.get("cable"), dict):
                return (*prefix, "source", index, "cable")
    return None


def _at(data: Any, path: TomlPath) -> Any:
    for part in path:
        data = data.get(part, {}) if isinstance(data, dict) else data[int(part)]
    return data


def _set(file: str, data: Any, table: TomlPath, key: str, new: str, reason: str = "measured at bring-up") -> Change:
    """A key with what stands there now."""
    inside = _at(data, table)
    old = inside.get(key) if isinstance(inside, dict) else None
    return Change(file, table, key, "" if old is None else toml_value(old), new, (), reason)


def _of_branch(each: Implied, case: Case, path: str, rig: dict[str, Any]) -> Change | None:
    rows = rig.get("branch", [])
    index = next((index for index, row in enumerate(rows) if row.get("name") == each.subject), None)
    if index is None:
        return None
    branch = next(one for one in case.rig.branches if one.name == each.subject)
    place: TomlPath = ("branch", index)
    match each.kind:
        case "wire" | "lead":
            wire = branch.wire if each.kind == "wire" else branch.lead
            if wire is None:
                return None
            spec = next(one for one in case.spec.branches if one.name == each.subject)
            copper = conductor_ohm(case.spec, spec.wire if each.kind == "wire" else spec.lead).typ - wire.contacts_ohm
            contacts, step = each.value.typ - copper, _step(each.value)
            if contacts < 0:
                return None  # less than the copper alone: the gauge or the length is not what is stated
            new, why = _milliohms(round(contacts / step) * step), "measured at bring-up, the copper taken off"
            return _set(path, rig, (*place, each.kind), "contacts", new, why)
        case "efficiency":
            if branch.converter is None or isinstance(branch.converter.efficiency, EfficiencyTable):
                return None  # one measured point is no new table
            return _set(path, rig, (*place, "converter"), "efficiency", f"{100 * _rounded(each.value):.6g}%")
        case "idle":
            return _set(path, rig, (*place, "converter"), "idle", f"{_rounded(each.value):.6g}W")
        case "load":
            written = f"{_rounded(each.value):.6g}{each.unit}"
            if isinstance(rows[index].get("load"), str):
                return _set(path, rig, place, "load", written)
            key = next(kind.key for kind in Load.kinds.values() if kind.unit == each.unit)
            return _set(path, rig, (*place, "load"), key, written)
    return None


def _fallback(found: Comparison, path: str, rig: dict[str, Any]) -> list[Change]:
    """A fall-back to 5 V where the rig says the next lower one: the only case that the file has a word for."""
    asked = found.plan.case.contract
    if asked.outcome != "fallback" or found.fell_to != 5.0 or found.plan.case.rig.trigger.fallback == "5V":
        return []
    return [_set(path, rig, ("trigger",), "fallback", "5V", "what the trigger did at bring-up")]


def _step(value: Triple) -> float:
    """The place to round to: a tenth of the uncertainty or finer, so that rounding adds nothing to speak of."""
    half = max(value.max - value.min, 1e-9) / 2
    return float(10.0 ** math.floor(math.log10(half) - 0.3))


def _rounded(value: Triple) -> float:
    step = _step(value)
    return round(value.typ / step) * step


def _milliohms(ohms: float) -> str:
    return f"{1000 * ohms:.6g}mOhm"
