"""Kit and rig files by path or by text: TOML in, parts out; every mistake with its file, its line and its key."""

from __future__ import annotations

from pathlib import Path

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig

load_kit = Kit.read
load_rig = Rig.read


def parse_kit(text: str, name: str = "kit", *, folder: Path | None = None) -> Kit:
    """A kit from the text of its file; ``name`` stands for the file in messages, captures are sought in ``folder``.

    >>> parse_kit('[[source]]\\nid = "wall"\\noffers = "5V 3A"').sources[0].id
    'wall'
    """
    return Kit.from_toml(text, name, folder=folder)


def parse_rig(text: str, name: str = "rig", *, folder: Path | None = None) -> Rig:
    """A rig from the text of its file, as parse_kit.

    >>> parse_rig('[trigger]\\nrequest = "9V"\\n[[branch]]\\nname = "marker"\\nload = { power = "5V" }', "box.toml")
    Traceback (most recent call last):
    pdcheck.errors.InputError: box.toml, line 5: branch.load.power: '5V' is a voltage, not a power; expected a power ...
    """
    return Rig.from_toml(text, name, folder=folder)
