"""Change: what happens in a rig when its source offers less, or the plug is pulled and put back."""

from __future__ import annotations

from pdcheck.asking.given import AnyCable, AnyKit, AnyRig, AnySource, rig_and_pair
from pdcheck.verdict.change.changes import Changed, changed


def change(
    rig: AnyRig,
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
    to: str | None = None,
) -> Changed:
    """What happens in a rig when its source goes to ``to``, or to everything that it may go to.

    Args:
        rig: a Rig, or the path of its file.
        kit: a Kit, or the path of its file; without it the kit inside the rig, else beside it.
        source: a Source, an id of the kit, a label, hex, or a path; needed where the kit has several.
        cable: a Cable, an id of the kit, a description, or the words of an e-marker; likewise.
        to: ``9V`` (nothing above it is offered any more), ``offer 2``, ``30W`` (less current), ``unplug``.

    Raises:
        InputError: what cannot be read, an id that is not in the kit, more than one pair, no such change.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A", "voltage": "7V-12V"}}])
    >>> change(rig, source="5V 3A, 9V 3A", cable="C-C 3A", to="5V")
    <Changed: nothing above 5 V: does not work>
    """
    return changed(*rig_and_pair(rig, kit, source, cable), to)
