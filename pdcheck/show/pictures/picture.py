"""Which picture of a drawn rig is wanted."""

from __future__ import annotations

from pdcheck.errors import InputError
from pdcheck.quantities import quoted
from pdcheck.show.pictures import PictureName
from pdcheck.show.pictures.parts_picture import parts_picture
from pdcheck.show.pictures.shapes import Picture
from pdcheck.show.pictures.voltage_picture import voltage_picture
from pdcheck.show.pictures.watts_picture import watts_picture
from pdcheck.verdict.drawn import Drawn


def picture(drawn: Drawn, which: PictureName = "parts", branch: str | None = None, *, narrow: bool = False) -> Picture:
    """Every part, the voltage down the chain to a branch (the first without one), or where the watts go.

    Raises ``InputError`` for a branch that is not in the rig.
    """
    if which == "watts":
        return watts_picture(drawn, narrow=narrow)
    if which == "parts":
        return parts_picture(drawn, narrow=narrow)
    found = next((each for each in drawn.branches if branch in (None, each.branch)), None)
    if found is None:
        known = ", ".join(each.branch for each in drawn.branches)
        raise InputError(f"no branch named {quoted(branch or '')}", expected=f"one of {known}")
    return voltage_picture(drawn, found, narrow=narrow)
