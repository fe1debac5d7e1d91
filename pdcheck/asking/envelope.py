"""Envelope: what each output of a rig can deliver, on every contract that can occur."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pairs
from pdcheck.asking.values import voltages as read_voltages
from pdcheck.verdict.envelopes import Enveloped, envelopes
from pdcheck.verdict.judge import MOST_IN_DETAIL


def envelope(
    rig: AnyRig,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
    *,
    branch: str | None = None,
    voltages: str | Sequence[float] | None = None,
) -> Enveloped:
    """The greatest current [A] and power [W] at each output of a rig, and the part that sets the limit.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: only this one: a Source, an id of the kit, a label, hex, or a path.
        cable: only this one: a Cable, an id of the kit, a description, or the words of an e-marker.
        branch: only this one.
        voltages: output voltages [V] to try, or ``5V,9V,12V`` or ``5V..24V``; else the converter's range.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, no such branch, none of the voltages within what
            its converter gives, more pairs than can be worked out one by one.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": "5W"}])
    >>> envelope(rig, source="5V 3A, 9V 2A", cable="C-C 3A loop=100mOhm")
    <Enveloped: fan 16.7 W>
    """
    places = read_voltages(voltages, "voltages") if isinstance(voltages, str) else voltages
    built, pairs = rig_and_pairs(rig, kit, source, cable, MOST_IN_DETAIL)
    return Enveloped(built.title, tuple(envelopes(built, *pair, branch=branch, voltages=places) for pair in pairs))
