"""Targets that read files of one's own making: kits, rigs, bring-up sheets, and the editor that keeps kits."""

from __future__ import annotations

import io
import tempfile
import tomllib
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

from pdcheck.asking.talk import talk
from pdcheck.parts.keeping import add_table, remove_table
from pdcheck.parts.kit import Kit
from pdcheck.parts.kit_result import KitResult
from pdcheck.parts.rig import Rig
from pdcheck.parts.toml_places import remove_key, set_value
from pdcheck.parts.toml_text import key_lines, read_toml
from pdcheck.show.bringup_sheet import sheet_text
from pdcheck.show.emit import csv_lines
from pdcheck.show.envelope import CSV_COLUMNS
from pdcheck.show.talk import text as talk_text
from pdcheck.verdict.bringup.measured import compare
from pdcheck.verdict.bringup.sheet import read_sheet, sheet_data, sheet_head
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.change.changes import changed
from pdcheck.verdict.envelopes import Enveloped, envelopes
from pdcheck.verdict.judge import judge, pairs_of
from tests.fuzz.chooser import Chooser
from tests.fuzz.judging import answered, same, shown

FOLDER = Path(tempfile.gettempdir()) / "no-such-folder"
MOST_PAIRS = 4

NUMBERS = (
    '"5V"',
    '"12V"',
    '"2A"',
    '"24W"',
    '"6ohm"',
    '"0.4m"',
    '"47uF"',
    '"92%"',
    '"0V"',
    '"0A"',
    '"1e-15ohm"',
    '"1000V"',
    '"1000A"',
    '"100kW"',
    '"1e9ohm"',
    '"10F"',
    '"1000m"',
    '"-5V"',
    '"1e999999V"',
    '"５V"',
    '"3V3"',
    '"1,5A"',
    '"6V-36V"',
    '"36V-6V"',
    "0",
    "-0.0",
    "nan",
    "inf",
    "-inf",
    "1e308",
    "5e-324",
    "9" * 400,
    "0x7fffffffffffffffffff",
    "true",
    '""',
    "[]",
    "[1, 2]",
    "{}",
    "{ min = 0, typ = 1, max = 2 }",
    "{ min = 2, typ = 1, max = 0 }",
    "1979-05-27",
    "20",
    "0.5",
    "1",
    "3",
)
WORDS = (
    '"15V"',
    '"highest"',
    '"pps 9V 3A"',
    '"pps 3.3V 50mA"',
    '"avs 24V"',
    '"avs 12V 3A"',
    '"prefer 20V 15V 9V"',
    '"power"',
    '"none"',
    '"5V"',
    '"next-lower"',
    '"buck"',
    '"boost"',
    '"buck-boost"',
    '"resistor"',
    '"driver"',
    '"C-C"',
    '"A-C"',
    '"EPR"',
    '"captive"',
    '"\\u001b[31m"',
    '"\\u202e"',
    '"=1+1"',
    '"5V 3A, 9V 3A; PPS 3.3-11V 3A"',
    '"5V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W"',
    '"5V 0.1A"',
)
KEYS = {
    "trigger": ("request", "fallback", "rating", "voltage_rating", "resistance", "bulk", "fuse"),
    "tolerance": ("source", "resistance", "efficiency", "load", "copper"),
    "wire": ("awg", "mm2", "length", "contacts", "temperature", "stranded"),
    "lead": ("awg", "mm2", "length", "contacts", "temperature", "stranded"),
    "converter": (
        *("kind", "input", "input_limit", "input_power", "output", "output_limit", "power_limit", "efficiency"),
        *("idle", "bulk", "dropout", "start", "output_range"),
    ),
    "load": ("power", "current", "resistance"),
    "led": ("count", "vf", "current", "driver", "resistor", "headroom"),
    "pack": ("cells", "end", "current", "efficiency", "headroom"),
    "cable": ("kind", "rating", "loop", "length", "awg", "words", "readings", "marker", "voltage"),
    "source": ("offers", "hex", "captured_over", "tolerance", "typec_current", "captive", "pdp", "behaviour", "cable"),
    "behaviour": (
        *("revision", "second_port", "steps_down", "tells", "reject", "wait", "skip_accept", "silent", "ps_rdy"),
        *("hard_reset", "goto_min", "order", "epr_entry"),
    ),
}
"""Keys of the tables of a file, some of them wrong where they stand."""
SOUND = {
    "trigger": {"request": '"15V"', "rating": '"5A"', "resistance": '"25mOhm"'},
    "wire": {"awg": "20", "length": '"0.4m"'},
    "lead": {"awg": "18", "length": '"1m"'},
    "converter": {"kind": '"buck-boost"', "input": '"6V-36V"', "output": '"12V"', "efficiency": "0.9"},
    "load": {"power": '"18W"'},
    "led": {"count": "3", "vf": '"3V"', "current": '"250mA"'},
    "pack": {"cells": "3", "end": '"4.2V"', "current": '"1A"'},
    "cable": {"kind": '"C-C"'},
    "source": {"offers": '"5V 3A, 9V 3A, 15V 3A, 20V 3A"'},
}


def _table(choice: Chooser, name: str) -> dict[str, str]:
    """A sound table with up to three keys set to something else, or gone."""
    table = dict(SOUND.get(name, {}))
    for _ in range(choice.up_to(3)):
        key = choice.one_of(KEYS[name])
        if choice.chance(8):
            table.pop(key, None)
        else:
            table[key] = choice.one_of(WORDS if choice.chance(2) else NUMBERS)
    return table


def _inline(table: dict[str, str]) -> str:
    return "{ " + ", ".join(f"{key} = {value}" for key, value in table.items()) + " }"


def _lines(table: dict[str, str]) -> list[str]:
    return [f"{key} = {value}" for key, value in table.items()]


def built_text(data: bytes) -> str:
    """The text of a rig file with its kit, made from choices."""
    choice = Chooser(data)
    lines = ["[trigger]", *_lines(_table(choice, "trigger"))]
    if choice.chance(3):
        lines += ["[tolerance]", *_lines(_table(choice, "tolerance"))]
    for index in range(1 + choice.up_to(3)):
        lines += ["[[branch]]", f'name = "b{index if not choice.chance(30) else 0}"']
        for name in ("wire", "converter", "lead"):
            if choice.chance(2):
                lines.append(f"{name} = {_inline(_table(choice, name))}")
        inside = ("led" if choice.chance(2) else "pack") if choice.chance(3) else ""
        load = {inside: _inline(_table(choice, inside))} if inside else _table(choice, "load")
        lines.append(f"load = {_inline(load)}")
    for kind in ("source", "cable"):
        for index in range(1 + choice.up_to(1)):
            lines += [f"[[{kind}]]", f'id = "{kind}{index}"', *_lines(_table(choice, kind))]
            if kind == "source" and choice.chance(4):
                lines += ["[source.behaviour]", *_lines(_table(choice, "behaviour"))]
    return "\n".join(lines) + "\n"


def _kit_shown(kit: Kit) -> None:
    answered(KitResult(kit))


def _rig_shown(rig: Rig) -> None:
    if rig.kit is None or not rig.kit.sources:
        return
    _kit_shown(rig.kit)
    for source, cable in list(pairs_of(rig.kit))[:MOST_PAIRS]:
        judgement = judge(rig, source, cable)
        answered(judgement)


def kit(data: bytes) -> None:
    """The text of a kit file."""
    text = data.decode("utf-8", "replace")
    _kit_shown(Kit.from_toml(text, folder=FOLDER))
    key_lines(text)


def rig(data: bytes) -> None:
    """The text of a rig file."""
    _rig_shown(Rig.from_toml(data.decode("utf-8", "replace"), folder=FOLDER))


def built(data: bytes) -> None:
    """A rig made from choices: judged on its kit."""
    _rig_shown(Rig.from_toml(built_text(data), folder=FOLDER))


def worked(data: bytes) -> None:
    """A rig made from choices: its conversation, envelope, changes and first power-up."""
    rig = Rig.from_toml(built_text(data), folder=FOLDER)
    assert rig.kit is not None
    source, cable = next(iter(pairs_of(rig.kit)))
    said = talk(rig, None, source, cable)
    answered(said)
    shown(talk_text(said, states=True))
    shown(said.conversation.log())
    found = Enveloped(rig.title, (envelopes(rig, source, cable),))
    answered(found)
    table = io.StringIO()
    table.writelines(csv_lines(found.rows(), CSV_COLUMNS))
    shown(table.getvalue())
    answered(replace(changed(rig, source, cable), asked="all of it"))
    plan = bring_up(judge(rig, source, cable))
    answered(plan)
    tomllib.loads(sheet_text(plan, "rig.toml", ""))


@cache
def _plan() -> BringUp:
    folder = files("pdcheck.data")
    rig = Rig.from_toml(folder.joinpath("pier-box.toml").read_text(encoding="utf-8"))
    kit = Kit.from_toml(folder.joinpath("kit.toml").read_text(encoding="utf-8"))
    return bring_up(judge(rig, kit.source("wall-45"), kit.cable("thin-2m")))


def sheet(data: bytes) -> None:
    """The text of a bring-up sheet that was filled in."""
    text = data.decode("utf-8", "replace")
    sheet_head(sheet_data(text, "sheet"), "sheet")
    answered(compare(_plan(), read_sheet(text, _plan())))


def keeping(data: bytes) -> None:
    """A kit file edited: what is read before and after differs by the edit alone."""
    choice = Chooser(data)
    kind, edit = choice.one_of(("source", "cable")), choice.up_to(3)
    text = choice.rest().decode("utf-8", "replace")
    Kit.from_toml(text, folder=FOLDER)
    before = read_toml(text)
    table = {"id": "new-one", "kind": "C-C"} if kind == "cable" else {"id": "new-one", "offers": "5V 3A"}
    match edit:
        case 0:
            after = add_table(text, kind, table, comment="told")
            same("one more", len(Kit.from_toml(after, folder=FOLDER).sources) >= 0, True)
        case 1:
            first = (before.get(kind) or [{}])[0].get("id", "new-one")
            add_table(text, kind, {**table, "id": first}, replace=True)
        case 2:
            first = (before.get(kind) or [{}])[0].get("id", "new-one")
            remove_table(text, kind, first)
        case _:
            set_value(text, (kind, 0), "loop", "240mOhm")
            remove_key(text, (kind, 0), "title")
