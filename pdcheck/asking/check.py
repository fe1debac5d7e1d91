"""Check: a rig judged on a source and cable, or on every pair of a kit."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pairs
from pdcheck.verdict.finding import Rule
from pdcheck.verdict.judge import MOST_PAIRS, Checked, judge_pairs


def check(
    rig: AnyRig,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
    *,
    rules: Sequence[Rule] = (),
) -> Checked:
    """Judge a rig on every pair of source and cable of a kit, or on those that are named.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: only this one: a Source, an id of the kit, a label, hex, or a path.
        cable: only this one: a Cable, an id of the kit, a description, or the words of an e-marker.
        rules: rules of one's own that join the others.

    Raises:
        InputError: a file or text that cannot be read, an id that is not in the kit, more pairs than can be judged one
            by one.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> check(rig, source="5V 3A, 9V 3A", cable="C-C 3A loop=100mOhm")
    <Checked: source with cable: runs>
    """
    built, pairs = rig_and_pairs(rig, kit, source, cable, MOST_PAIRS)
    return Checked(built.title, judge_pairs(built, pairs, rules))
