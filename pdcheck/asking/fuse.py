"""Fuse: which fuse fits on the bus and in each branch of a rig."""

from __future__ import annotations

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, none_fits, rig_and_pairs
from pdcheck.verdict.fuses import Fuses, fuses
from pdcheck.verdict.judge import MOST_IN_DETAIL


def fuse(
    rig: AnyRig, kit: AnyKit | None = None, source: AnySource | None = None, cable: AnyCable | None = None
) -> Fuses:
    """The standard fuses that carry what flows and blow before a wire burns, for the bus and each branch of a rig.

    What flows is the most over all pairs of source and cable on which the rig does its job.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig.
        source: only this one: a Source, an id of the kit, a label, hex, or a path.
        cable: only this one: a Cable, an id of the kit, a description, or the words of an e-marker.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, more pairs than can be worked out one by
            one, or none.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "wire": "22AWG 0.5m", "load": {"current": "1.2A"}}])
    >>> fuse(rig, source="5V 3A, 9V 3A", cable="C-C 3A loop=100mOhm")
    <Fuses: bus 1.6 A to 3.15 A, fan 1.6 A to 3.15 A>
    """
    built, pairs = rig_and_pairs(rig, kit, source, cable, MOST_IN_DETAIL)
    if not pairs:
        raise none_fits()
    return fuses(built, pairs)
