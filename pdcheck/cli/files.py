"""The files that several commands take: a rig, and the kit beside it or inside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pdcheck.errors import InputError

if TYPE_CHECKING:
    from pdcheck.parts.kit import Kit
    from pdcheck.parts.rig import Rig


def rig_and_kit(rig_path: str, kit_path: str | None) -> tuple[Rig, Kit]:
    """Read a rig file and its kit: the file named, else the kit inside the rig file.

    Raises ``InputError`` for what cannot be read, and where there is no kit at all.
    """
    from pdcheck.parts.tomlfile import load_kit, load_rig

    rig = load_rig(rig_path)
    if kit_path is not None:
        return rig, load_kit(kit_path)
    if rig.kit is None:
        raise InputError("no kit in this file", where=rig_path, expected="--kit KIT, or [[source]] and [[cable]] in it")
    return rig, rig.kit
