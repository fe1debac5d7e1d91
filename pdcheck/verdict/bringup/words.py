"""Reading, and the words of a first power-up: where the meter goes, what to do when one is outside, when to stop."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Annotated, Literal

from pdcheck.facts.voltage import SAFE_5V
from pdcheck.marks import AS_UNIT, UNTOLD, Named, told
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import LimitingPart, PartLimit, Sense, rounded
from pdcheck.quantities import format_quantity
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE

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


_TO_THE = {"source": "charger"}
StopUnit = Literal["V", "A", "W"]


class StopAt(NamedTuple):
    """A figure that no reading may pass: on it is still well, beyond it the bench is switched off.

    ``readings`` are those to look at; two of them, volts and amperes, stand for their product in W. ``part`` with
    ``subject`` sets the figure, by the rule ``rule`` of the list of limits.
    """

    readings: tuple[str, ...]
    sense: Sense
    limit: float
    unit: Annotated[StopUnit, AS_UNIT]
    subject: str
    part: LimitingPart
    branch: str
    rule: Annotated[str, Named("rule")]

    @told
    def text(self) -> str:
        """The figure and whose it is, rounded to the safe side."""
        most = self.sense == "at_most"
        figure = format_quantity(rounded(self.limit, up=not most, digits=4), self.unit, 4)
        return f"{'above' if most else 'below'} {figure} ({whose(self.subject, self.part, self.branch)})"


def whose(subject: str, part: str, branch: str) -> str:
    """The part that sets a limit, in words.

    >>> whose("mount", "converter input", "mount"), whose("mount fuse", "fuse", "mount"), whose("source", "source", "")
    ("mount's converter input", 'mount fuse', 'charger')
    """
    return f"{branch}'s {part}" if branch and subject == branch else _TO_THE.get(subject, subject)


def stops_at(
    case: Case, readings: Sequence[Reading], joined: Collection[str], *, flows: bool = True
) -> tuple[StopAt, ...]:
    """The tightest limit of each reading of a step, and of each power that two of them make.

    ``joined`` are the branches that are on the bus, or, where nothing ``flows`` yet, those that will be.

    >>> from pdcheck.parts.kit import Kit
    >>> from pdcheck.parts.rig import Rig
    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "rating": "3A"}])
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "fuse": "1.6A", "load": {"current": "1A"}}])
    >>> from pdcheck.verdict.bringup.steps import bring_up
    >>> from pdcheck.verdict.judge import judge
    >>> plan = bring_up(judge(rig, kit.sources[0], kit.cables[0]))
    >>> [(each.readings, each.text) for each in stops_at(plan.case, plan.steps[-1].readings, ("fan",))]
    [(('branch.fan.full.bus_a',), 'above 1.2 A (fan fuse)')]
    """
    volts = {each.node: each.name for each in reversed(readings) if each.unit == "V"}
    amperes = {each.node: each.name for each in reversed(readings) if each.unit == "A"}
    # What the load of a branch without a converter takes is what its input takes.
    straight = frozenset(branch.name for branch in case.rig.branches if branch.converter is None)
    tightest: dict[tuple[tuple[str, ...], Sense], StopAt] = {}
    for limit in _that_count(case, joined, flows=flows):
        figure = _figure(case, limit)
        if figure is None:
            continue
        for names in _readings(limit, volts, amperes, straight, joined):
            unit: StopUnit = "V" if limit.quantity == "voltage" else "W" if len(names) == 2 else "A"
            found = StopAt(names, limit.sense, figure, unit, limit.subject, limit.part, limit.branch, limit.rule.id)
            other = tightest.get((names, limit.sense))
            if other is None or (figure < other.limit if limit.sense == "at_most" else figure > other.limit):
                tightest[names, limit.sense] = found
    order = {each.name: at for at, each in enumerate(readings)}
    return tuple(sorted(tightest.values(), key=lambda each: (len(each.readings), order[each.readings[0]])))


def _that_count(case: Case, joined: Collection[str], *, flows: bool) -> Iterator[PartLimit]:
    """The limits of what is on the bus that a meter can show broken and that harm where they are.

    What is too dim or too little of a current is no reason to unplug.
    """
    for limit in case.known_limits:
        if limit.rule.level not in GRAVE or limit.state == "rating" or limit.quantity in ("temperature", "heat"):
            continue
        if limit.branch and limit.branch not in joined:
            continue
        # Before anything is joined no current is right, and a converter needs most to start.
        now = limit.state != "starting" if flows else limit.quantity == "voltage"
        if now and (limit.sense == "at_most" or limit.quantity == "voltage"):
            yield limit


def _figure(case: Case, limit: PartLimit) -> float | None:
    """What a meter may show of a limit [V, A or W]."""
    figure = limit.limit
    if figure is None:
        return None
    if limit.state == "nominal":
        # A rating for a contract of so many volts covers what a supply of them may really give.
        return figure * case.source_v.max / case.contract.ends[1]
    if limit.quantity == "derated":
        value = case.reached(limit)
        return case.derated(limit, value)[1] if value else None
    return figure


def _readings(
    limit: PartLimit,
    volts: Mapping[str, str],
    amperes: Mapping[str, str],
    straight: Collection[str],
    joined: Collection[str],
) -> list[tuple[str, ...]]:
    """The readings that a limit is held against: one, or volts and amperes; none where no meter is on its way.

    A limit of too much voltage is also held against the first reading upstream: it is higher, and is read first.
    """
    ahead = _ahead(limit, straight)
    read = [volts[node] for node in ahead if node in volts]
    if limit.quantity == "voltage":
        if limit.sense == "at_least":
            return [(read[0],)] if read else []
        return [(name,) for name in dict.fromkeys((read[0], read[-1]))] if read else []
    through = ahead
    if limit.branch and len(joined) > 1:
        # Through the bus goes what all of the branches take.
        through = tuple(node for node in ahead if node.startswith(f"{limit.branch}/"))
    elif not limit.branch:
        through = (*ahead, "bus", "source")
    current = next((amperes[node] for node in through if node in amperes), None)
    if current is None or (limit.quantity == "power" and not read):
        return []
    return [(read[0], current)] if limit.quantity == "power" else [(current,)]


def _ahead(limit: PartLimit, straight: Collection[str]) -> tuple[str, ...]:
    """The node of a limit and those that feed it, up to the bus or to the output of a converter."""
    branch, _, end = limit.node.rpartition("/")
    if not branch:
        return (limit.node,)
    if limit.quantity == "derated":
        end = "out"
    if end == "in":
        return (limit.node, "bus")
    if branch in straight:
        return (f"{branch}/load", f"{branch}/in", "bus")
    return (f"{branch}/load", f"{branch}/out") if end == "load" else (f"{branch}/out",)
