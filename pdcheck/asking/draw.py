"""Draw: one picture of a rig on a source and cable, from the charger to every load."""

from __future__ import annotations

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pairs
from pdcheck.verdict.drawn import Drawn, drawn
from pdcheck.verdict.judge import MOST_PAIRS, judge
from pdcheck.verdict.matrix.matrix import best_pair


def draw(
    rig: AnyRig, kit: AnyKit | None = None, source: AnySource | None = None, cable: AnyCable | None = None
) -> Drawn:
    """A rig on a source and cable, part by part; printed, it is a drawing made of text.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: a Source, an id of the kit, a label, hex, or a path; without it that of the best pair.
        cable: a Cable, an id of the kit, a description, or the words of an e-marker; without it that of the best pair.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, more pairs than can be judged one by one.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}])
    >>> draw(rig, source="5V 3A, 9V 2A", cable="C-C 3A loop=100mOhm").branches[0].parts[0].kind
    'load'
    """
    built, pairs = rig_and_pairs(rig, kit, source, cable, MOST_PAIRS)
    return drawn(judge(built, *best_pair(built, pairs)))
