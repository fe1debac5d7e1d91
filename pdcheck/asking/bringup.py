"""Bring-up: a first power-up step by step, and the readings of it compared."""

from __future__ import annotations

from dataclasses import replace
from os import PathLike
from pathlib import Path

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pair
from pdcheck.errors import InputError
from pdcheck.named import NamedTuple
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.toml_reading import read_toml_text
from pdcheck.verdict.bringup.measured import Comparison, compare
from pdcheck.verdict.bringup.next_reading import Advice, advised
from pdcheck.verdict.bringup.sheet import read_sheet, sheet_data, sheet_head
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.bringup.write_back import changes_for, kept_back
from pdcheck.verdict.judge import UNKNOWN_CABLE, judge


def bringup(
    rig: AnyRig, kit: AnyKit | None = None, source: AnySource | None = None, cable: AnyCable | None = None
) -> BringUp:
    """The steps of a safe first power-up of a rig: where the meter goes, what to expect there, when to stop.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: a Source, an id of the kit, a label, hex, or a path; needed where the kit has several.
        cable: a Cable, an id of the kit, a description, or the words of an e-marker; likewise.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, more than one pair.

    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> bringup(rig, source="5V 3A, 9V 3A", cable="C-C 3A loop=100mOhm")
    <BringUp: source with cable: runs, 4 steps>
    """
    return bring_up(judge(*rig_and_pair(rig, kit, source, cable)))


class SheetOf(NamedTuple):
    """What a sheet is of, as ``bringup`` takes it."""

    rig: AnyRig
    kit: AnyKit | None
    source: AnySource | None
    cable: AnyCable | None


def sheet_of(
    sheet: str | PathLike[str],
    rig: AnyRig | None = None,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
) -> SheetOf:
    """What a sheet says that it is of; what is given counts before that.

    Raises ``InputError`` for what is no sheet, and for one that names no rig.
    """
    name = str(sheet)
    head = sheet_head(sheet_data(read_toml_text(name), name), name)
    folder = Path(name).parent
    built = rig or (str(folder / head["rig"]) if head.get("rig") else None)
    if built is None:
        raise InputError("the sheet names no rig", where=name, expected="RIG on the command line")
    owned = kit or (str(folder / head["kit"]) if head.get("kit") else None)
    # A kit without cables has one of which nothing is known, and no name to ask for.
    named = None if head.get("cable") == UNKNOWN_CABLE.id else head.get("cable")
    return SheetOf(built, owned, source or head.get("source"), cable or named)


def measured(
    sheet: str | PathLike[str],
    rig: AnyRig | None = None,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
) -> Comparison:
    """The readings of a filled-in sheet compared with what was expected, what they imply and what they point to.

    Args:
        sheet: the path of the sheet; it says which rig, kit, source and cable it is of, unless they are given.
        rig: as for ``bringup``; likewise ``kit``, ``source`` and ``cable``.

    Raises:
        InputError: what cannot be read, with line and key.
    """
    of = sheet_of(sheet, rig, kit, source, cable)
    files = [] if isinstance(of.rig, Rig) or isinstance(of.kit, Kit) else [of.rig, of.kit]
    # Before anything is worked out of them: what is written back goes into these texts and no others.
    texts = {str(path): read_toml_text(str(path)) for path in files if path is not None}
    plan = bringup(*of)
    filled = read_sheet(read_toml_text(str(sheet)), plan, str(sheet))
    found = compare(plan, filled)
    if not files:
        return found
    kit_path = None if of.kit is None else str(of.kit)
    changes = tuple(changes_for(found, str(of.rig), kit_path, filled.head.get("date", "")))
    kept = tuple(f"{name}: {why}" if name else why for name, why in kept_back(found).items())
    return replace(found, changes=changes, kept_back=kept, texts=texts)


def next_reading(
    sheet: str | PathLike[str],
    rig: AnyRig | None = None,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
) -> Advice:
    """The next best reading of a sheet that is being filled in, one at a time: what tells most, and is safe now.

    Args:
        sheet: as for ``measured``; likewise ``rig``, ``kit``, ``source`` and ``cable``.

    Raises:
        InputError: what cannot be read, with line and key.
    """
    plan = bringup(*sheet_of(sheet, rig, kit, source, cable))
    filled = read_sheet(read_toml_text(str(sheet)), plan, str(sheet))
    return advised(compare(plan, filled), filled)
