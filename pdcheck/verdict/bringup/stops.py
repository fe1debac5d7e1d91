"""From which figure on to stop at a step: the tightest limit of the parts at each place where the meter is."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Annotated, Literal

from pdcheck.named import NamedTuple
from pdcheck.parts.limits import LimitingPart, PartLimit, Sense, rounded
from pdcheck.quantities import format_quantity
from pdcheck.result import AS_UNIT, Named, told
from pdcheck.verdict.bringup.words import Reading
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE

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
