"""Run time: how long a power bank feeds a rig, what takes its energy, and what one change would bring."""

from __future__ import annotations

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pairs
from pdcheck.errors import InputError
from pdcheck.parts.energy import STATE_IT
from pdcheck.parts.store import is_bank
from pdcheck.verdict.judge import MOST_IN_DETAIL
from pdcheck.verdict.runtime import RunTimes, run_time


def runtime(
    rig: AnyRig, kit: AnyKit | None = None, source: AnySource | None = None, cable: AnyCable | None = None
) -> RunTimes:
    """How many hours each power bank feeds a rig, at least, with everything as stated, and at most.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: only this one: a Source, an id of the kit, a label, hex, or a path.
        cable: only this one: a Cable, an id of the kit, a description, or the words of an e-marker.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, more pairs than can be worked out one by one, no
            source that says what it holds.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "9W"}])
    >>> found = runtime(rig, source="20000mAh 74Wh; 5V 3A, 9V 2A", cable="C-C 3A loop=100mOhm")
    >>> found
    <RunTimes: source with cable: 6.49 h or more>
    >>> [(each.part, round(each.power_w, 2)) for each in found.results[0].shares]
    [('fan/load', 9.0), ('source', 1.48), ('cable', 0.1)]
    """
    built, pairs = rig_and_pairs(rig, kit, source, cable, MOST_IN_DETAIL)
    without = tuple(dict.fromkeys(each.id for each, _ in pairs if not is_bank(each)))
    found = [run_time(built, *pair) for pair in pairs if is_bank(pair[0])]
    results = tuple(each for each in found if each is not None)
    if not results:
        who = f"{without[0]} does not say" if len(without) == 1 else "no source says"
        raise InputError(f"{who} how much energy it holds", expected=f"{STATE_IT}, or a label that prints it")
    return RunTimes(built.title, results, without)
