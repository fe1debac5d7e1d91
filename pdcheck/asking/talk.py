"""Talk: what the trigger of a rig and a source would tell each other, when, and what voltage that gives."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pair
from pdcheck.asking.values import quantity
from pdcheck.contract.talk.conversation import DEFAULT_UNTIL_S, converse
from pdcheck.contract.talk.events import Event, parse_event
from pdcheck.contract.talk.faults import FAULTS
from pdcheck.contract.talk.sink_port import Manner
from pdcheck.errors import InputError
from pdcheck.verdict.talk.talking import TalkResult


def talk(
    rig: AnyRig,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
    *,
    events: Iterable[str | Event] = (),
    until: str | float = DEFAULT_UNTIL_S,
    faults: Iterable[str] = (),
    give_back: str | float | None = None,
    seed: int | None = None,
) -> TalkResult:
    """What the trigger of a rig and a source tell each other over a cable, and what the branches see of it.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: a Source, an id of the kit, a label, hex, or a path; needed where the kit has several.
        cable: a Cable, an id of the kit, a description, or the words of an e-marker; likewise.
        events: what happens meanwhile, as in ``second port at 3s``.
        until: how long to listen [s].
        faults: what the trigger does wrong, by the keys of ``FAULTS``.
        give_back: the current [A] that the trigger offers to go down to (GiveBack).
        seed: draws each time from what the standard allows instead of taking its middle.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, more than one pair, no such event or fault.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> talk(rig, source="5V 3A, 9V 3A", cable="C-C 3A", until="2s")
    <TalkResult: source with cable: contract, 9 V 3 A>
    """
    built, supply, between = rig_and_pair(rig, kit, source, cable)
    until_s = quantity(until, "s", "until", zero=True)
    try:
        planned = [each if isinstance(each, Event) else parse_event(each, supply) for each in events]
    except InputError as error:
        raise error.of("event") from None
    manner = Manner()
    for fault in faults:
        if fault not in FAULTS:
            raise InputError(f"no such fault: {fault!r}", expected=", ".join(FAULTS))
        manner = manner._replace(**FAULTS[fault])
    if give_back is not None:
        manner = manner._replace(least_a=quantity(give_back, "A", "give_back", zero=True))
    said = converse(built.trigger, supply, between, events=planned, until_s=until_s, manner=manner, seed=seed)
    return TalkResult(built, said)
