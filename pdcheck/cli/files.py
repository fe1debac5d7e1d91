"""The files that several commands take: a rig, and the kit beside it or inside it."""

from __future__ import annotations

from collections.abc import Sequence
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


def named_rigs(paths: Sequence[str], kit_path: str | None) -> list[tuple[str, Rig, Kit]]:
    """Several rigs, each under its file's name (its path where two have one name) and with its kit, read once.

    Raises ``InputError`` as ``rig_and_kit`` does.
    """
    from collections import Counter
    from pathlib import Path

    from pdcheck.parts.tomlfile import load_kit, load_rig

    shared = None if kit_path is None else load_kit(kit_path)
    stems = Counter(Path(path).stem for path in paths)
    named: list[tuple[str, Rig, Kit]] = []
    for path in paths:
        rig, kit = (load_rig(path), shared) if shared is not None else rig_and_kit(path, None)
        named.append((Path(path).stem if stems[Path(path).stem] == 1 else path, rig, kit))
    return named
