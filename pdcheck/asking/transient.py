"""Transient: what happens to a rig in the first second after it is plugged in."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pair
from pdcheck.asking.values import quantity
from pdcheck.errors import InputError
from pdcheck.verdict.case import Case
from pdcheck.verdict.transient.first_second import UNTIL_S, Transient
from pdcheck.verdict.transient.first_second import transient as solved

LONGEST_S = 60.0
"""What happens later is for sums that do not follow every microsecond."""


def transient(
    rig: AnyRig,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
    *,
    events: Iterable[str] = (),
    until: str | float = UNTIL_S,
) -> Transient:
    """What happens to bus and branches of a rig from plugging in on: fates, moments, extremes, samples, energy.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: a Source, an id of the kit, a label, hex, or a path; needed where the kit has several.
        cable: a Cable, an id of the kit, a description, or the words of an e-marker; likewise.
        events: what happens meanwhile, as in ``load heater off at 500ms``, ``unplug at 1s``, ``lower to 20W at 1s``.
        until: how long to look [s]; somewhat longer where that leaves a fate open.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, more than one pair, no such event.

    >>> from pdcheck.parts.rig import Rig
    >>> amp = {"kind": "buck", "input": "4.5V-36V", "output": "5V", "efficiency": 0.9}
    >>> rig = Rig(trigger="20V", branch=[{"name": "amp", "converter": amp, "load": "20W"}])
    >>> found = transient(rig, source="5V 3A, 20V 3A", cable="C-C 3A 1m", until="400ms")
    >>> found, found.fates[0].stops > 0
    (<Transient: amp comes back>, True)
    """
    case = Case(*rig_and_pair(rig, kit, source, cable))
    until_s = quantity(until, "s", "until")
    if until_s > LONGEST_S:
        raise InputError(f"{until_s:g} s is too long", argument="until", expected=f"at most {LONGEST_S:g} s")
    try:
        return solved(case, events, until_s)
    except InputError as error:
        raise error.of("event") from None
