"""Need: the least source and cable that a rig works on."""

from __future__ import annotations

from pdcheck.asking.given import AnyRig, rig_of
from pdcheck.verdict.need.around import Needs, all_needs


def need(rig: AnyRig) -> Needs:
    """The lowest power [W], the voltages and the least cable that a rig works on, and what would change that.

    Args:
        rig: a Rig, or the path of its file.

    Raises:
        InputError: a file that cannot be read.

    >>> from pdcheck.parts.rig import Rig
    >>> need(Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A", "voltage": "7V-12V"}}]))
    <Needs: 16 W, 3A cable>
    """
    return all_needs(rig_of(rig))
