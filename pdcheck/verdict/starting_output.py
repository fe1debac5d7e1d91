"""How much of an output also starts: once it runs a branch may deliver more than it ever gets to run with."""

from __future__ import annotations

from pdcheck.parts.loads.current import CurrentLoad
from pdcheck.parts.rig import Branch
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE
from pdcheck.verdict.rules.contract import start_latch
from pdcheck.verdict.rules.starting import input_swings, start_blocked, start_overload

_RULES = (start_latch, start_overload, start_blocked, input_swings)
_NEXT_TO_NOTHING = 1e-6
_RESOLUTION = 1e-7


def share_that_starts(case: Case, branch: Branch, output_v: float, most_a: float) -> float:
    """The greatest share of a current [A] that starts, at the output of a branch's converter set to a voltage [V].

    1 where all of ``most_a`` does, and where there is no converter; 0 where not even next to nothing does. The other
    branches have their loads as stated.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> box = {"kind": "buck-boost", "input": "4.5V-36V", "output": "12V", "efficiency": 0.9, "idle": "0W"}
    >>> rig = Rig(trigger="20V", branch=[{"name": "amp", "converter": box, "load": "6W"}])
    >>> case = Case(rig, Source(id="s", offers="5V 3A, 20V 3A"), Cable(id="c", kind="C-C", loop="0.1ohm"))
    >>> 0.2 < share_that_starts(case, rig.branches[0], 12.0, 4.0) < 0.3
    True
    """

    converter = None if branch.converter is None else branch.converter.with_output(output_v)

    def starts(share: float) -> bool:
        load = CurrentLoad.model_construct(current_a=share * most_a)
        tried = case.with_rig(case.rig.with_branch(branch, load=load, converter=converter))
        return not any(found.level in GRAVE for rule in _RULES for found in rule.findings(tried))

    if converter is None or most_a <= 0.0 or starts(1.0):
        return 1.0
    low, high = 0.0, 1.0
    if not starts(_NEXT_TO_NOTHING):
        return 0.0
    while high - low > _RESOLUTION * high:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if starts(middle) else (low, middle)
    return low
