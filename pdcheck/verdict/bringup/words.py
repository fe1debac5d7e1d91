"""Reading, and the words of a first power-up: where the meter goes, what to do when one is outside, when to stop."""

from __future__ import annotations

from typing import Annotated, Literal

from pdcheck.facts.voltage import SAFE_5V
from pdcheck.named import NamedTuple
from pdcheck.result import UNTOLD, Named, told

Path = tuple[str, ...]
MeterUnit = Literal["V", "A", "ohm", ""]


class Expected(NamedTuple):
    """What a reading should be: its least, as stated, and its most; None where there is no such end."""

    min: float | None
    typ: float | None
    max: float | None


class Reading(NamedTuple):
    """One reading: its key and place in the sheet, where the meter goes, what to expect, what to do when outside.

    ``unit`` is V, A, ohm, or empty for yes and no. ``node`` names the node of the sums that it belongs to. Without an
    ``optional`` one the comparison still works.
    """

    path: Annotated[Path, UNTOLD]
    key: Annotated[str, UNTOLD]
    where: str
    unit: MeterUnit
    node: str
    expected: Expected
    outside: str
    optional: bool = False

    @told
    def name(self) -> Annotated[str, Named("reading")]:
        """Path and key in one, as in ``branch.mount.full.bus_v``."""
        return ".".join((*self.path, self.key))


# By key: where the meter goes, what to do when the reading is outside, its unit. {name} is the branch.
READINGS: dict[str, tuple[str, str, MeterUnit]] = {
    "polarity": (
        "eyes or ohmmeter: + to + and - to - at every branch",
        "Do not plug in. Swap the wires and look again.",
        "",
    ),
    "input_ohm": (
        "ohmmeter, input of {name}, joined to nothing",
        "Wait until it has stopped rising; OL is fine. Far below: a short, a part the wrong way round, a wrong load. "
        "Do not plug in before it is found.",
        "ohm",
    ),
    "before_v": (
        "voltmeter, trigger's output, before the contract",
        "0 V: the cable carries nothing, or the trigger has an output switch. Above "
        f"{SAFE_5V.require_max():g} V: it has a contract already.",
        "V",
    ),
    "bus_v": (
        "voltmeter, trigger's output",
        "Minus on the display: swapped poles. Quite another voltage: the trigger has not got what it is set to. "
        "Falls more under load than expected: cable, its plugs or the trigger drop too much.",
        "V",
    ),
    "bus_a": (
        "ammeter, between trigger and bus",
        "A plug-in meter at the charger works too. Too high: unplug, and look for a converter that wastes power, a "
        "larger load than stated, or something else on the bus.",
        "A",
    ),
    "source_v": (
        "voltmeter, source's end of the cable",
        "It falls under load: the charger is at its limit, or gives less than is printed on it.",
        "V",
    ),
    "in_v": (
        "voltmeter, input terminals of {name}",
        "On the terminals, not on the wires. Much lower than the bus: the wire, or a contact in it.",
        "V",
    ),
    "in_a": ("ammeter, input wire of {name}", "Too high: its converter or its load.", "A"),
    "out_v": (
        "voltmeter, output of {name}'s converter",
        "Set it again with no load. If it sags under load, it is at its limit or gets too little at its input.",
        "V",
    ),
    "out_a": (
        "ammeter, output of {name}'s converter",
        "The load is not what the rig file says. Left blank, the stated load is used.",
        "A",
    ),
    "load_v": (
        "voltmeter, {terminals}",
        "Much lower than where its wire starts: the wire or lead, or a contact in it.",
        "V",
    ),
}

OPTIONAL = ("before_v", "source_v", "in_a", "out_a")
"""Without these the comparison still works."""

UNPOWERED_DO = (
    "Source unplugged, nothing joined to the trigger. Use one meter for all voltages: its own error then cancels.",
    "One meter is enough. In each step read all voltages first, with a wire in the ammeter's place; then unplug, put "
    'the ammeter in and read the currents. So its own resistance spoils no voltage: burden is then "out".',
)
UNPOWERED_STOP = ("a pole is the wrong way round", "an input measures as a short")
TRIGGER_STOP = (
    "more voltage than was set, or any current: nothing is joined yet",
    "reversed poles",
    "a plug or the trigger gets warm with nothing on it",
)
BRANCH_STOP = (
    "a reading outside its range that you cannot explain",
    "a smell, smoke, a hot plug, wire or part",
    "the voltage comes and goes",
)
TOGETHER_STOP = (
    "the bus below its range: unplug, as a converter draws more the lower the bus gets, and pulls it down",
    "a plug, a wire or a converter too hot to touch",
)


def trigger_actions(source: str, cable: str, voltage: str, reason: str, outcome: str) -> tuple[str, ...]:
    """What to do with the trigger alone."""
    why = "" if outcome == "as-asked" else f" ({reason})"
    return (
        "Set the trigger first. Nothing but the meter on its output. Where it can be set to ask for nothing, read "
        "VBUS so as well.",
        f"Plug in {source} with cable {cable}. It should give {voltage}{why}.",
        "Unplug and plug in again twice: the same voltage must come each time.",
    )
