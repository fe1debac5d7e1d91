"""Share: rigs on the ports of one charger, in every order, plugged in one after the other, judged at each step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations
from math import factorial, perm
from typing import Annotated, ClassVar, Literal

from pdcheck.bits.offers import Offer
from pdcheck.circuit.transient.result import Fate
from pdcheck.contract.available import available
from pdcheck.contract.lowering import left_of
from pdcheck.contract.settle import Contract
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE
from pdcheck.facts.current import USB_2_CURRENT
from pdcheck.intake.ports import Ports, port_of
from pdcheck.marks import UNTOLD, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.offer_text import offers_text
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.records import once
from pdcheck.result import Result
from pdcheck.verdict.change.changes import PathChange, moved
from pdcheck.verdict.finding import WORKS, Finding, Verdict
from pdcheck.verdict.judge import Judgement, judge
from pdcheck.verdict.transient.first_second import transient

MOST_RIGS = 4
MOST_ORDERS = 720
"""Ways to plug the rigs in; more of them nobody reads."""
UNSAID = "the charger does not say how these ports share: not judged"
_LOWERED_AT = "500ms"
_RANK: dict[Verdict | None, int] = {"unsafe": 0, "fails": 1, None: 2, "limited": 3, "runs": 4}


class Stage(NamedTuple):
    """A rig while these ports are in use: what its port offers, and how it is judged on that; no verdict where nobody
    says how the ports share."""

    in_use: tuple[str, ...]
    offers: tuple[Offer, ...]
    verdict: Verdict | None
    contract: Contract | None
    findings: tuple[Finding, ...]
    reason: str
    judgement: Annotated[Judgement | None, UNTOLD]


class FateInTime(NamedTuple):
    """What becomes of a branch by the solver in time."""

    branch: str
    fate: Fate


class Moved(NamedTuple):
    """What happens to a rig when another is plugged in: each way in which the charger may do it.

    ``in_time`` is what becomes of its branches by the solver in time; for the best assignment only, and where
    its offers change.
    """

    plugged: str
    effect: Literal["keeps its offers", "gets other offers", "not said"]
    paths: tuple[PathChange, ...]
    in_time: tuple[FateInTime, ...]
    in_time_works: bool | None

    @told
    def works(self) -> bool:
        """Whether every branch that ran goes on or comes back, whichever way the charger does it."""
        return self.effect != "not said" and all(each.works for each in self.paths) and self.in_time_works is not False


class PortResult(NamedTuple):
    """A rig on a port: each step from its own plugging in on, and what the rigs after it do to it."""

    rig: str
    port: str
    cable: str
    steps: tuple[Stage, ...]
    changes: tuple[Moved, ...]

    @told
    def verdict(self) -> Verdict | None:
        """The worst of its steps; none where one was not judged and no other one is worse."""
        return min((each.verdict for each in self.steps), key=_RANK.__getitem__)

    @told
    def works(self) -> bool:
        """Whether it does its job at every step, and gets from each to the next."""
        return self.verdict in WORKS and all(each.works for each in self.changes)


class Order(NamedTuple):
    """One way to plug the rigs in: ``order`` names them in turn, ``ports`` where each goes."""

    order: tuple[str, ...]
    ports: tuple[str, ...]
    results: tuple[PortResult, ...]

    @told
    def works(self) -> bool:
        """Whether all of them do their job from first to last."""
        return all(each.works for each in self.results)

    @property
    def score(self) -> tuple[int, ...]:
        """How good it is: how many work, then the verdicts, the worst first."""
        ranks = sorted(_RANK[each.verdict] for each in self.results)
        return (sum(each.works for each in self.results), *ranks)


class Place(NamedTuple):
    """A rig and its port."""

    rig: str
    port: str


@dataclass(frozen=True, repr=False)
class Shared(Result):
    """Rigs on the ports of a charger, each order, and the assignment that is best whatever the order."""

    SCHEMA: ClassVar[str] = "share/2"
    TITLE: ClassVar[str] = "Rigs that share a charger"
    ROWS: ClassVar[tuple[str, ...]] = ("orders", "results")

    source: str
    ports: Ports
    orders: tuple[Order, ...]
    best: tuple[Place, ...]

    @told
    def works(self) -> bool:
        """Whether on the best assignment all rigs do their job, in whatever order they are plugged in."""
        return all(order.works for order in self.of_best)

    @property
    def of_best(self) -> tuple[Order, ...]:
        """The orders of the best assignment."""
        return tuple(order for order in self.orders if _places(order) == self.best)

    def answer(self) -> str:
        """The best assignment, and whether it works."""
        listed = ", ".join(f"{each.rig} on {each.port}" for each in self.best)
        return f"{listed}: {'works' if self.works else 'does not work'}"


def shared(rigs: Sequence[tuple[str, Rig, Cable]], source: Source) -> Shared:
    """Judge rigs, each with its name and cable, on the ports of a source.

    Raises ``InputError`` for a source of which no ports are known, and for more rigs than it has ports or than are
    tried in every order.

    >>> desk = Source(id="desk", ports={"C1": "65W", "C2": "30W", "C1+C2": "45W+18W"})
    >>> rig = Rig(trigger={"request": "9V", "rating": "5A"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> shared([("a", rig, Cable("C-C loop=100mOhm")), ("b", rig, Cable("C-C loop=100mOhm"))], desk)
    <Shared: a on C1, b on C2: works>
    """
    if source.ports is None:
        raise InputError(
            f"{source.id} has no ports that are known",
            argument="source",
            expected='ports = { C1 = "65W", "C1+C2" = "45W+18W" } in the kit, or a label that says so',
        )
    names = source.ports.names
    if not rigs:
        raise InputError("no rig", expected="a rig for each port in use")
    if len(rigs) > min(MOST_RIGS, len(names)):
        most = f"at most {MOST_RIGS}" if len(names) > MOST_RIGS else f"one for each of {', '.join(names)}"
        raise InputError(f"{len(rigs)} rigs", expected=most)
    count = perm(len(names), len(rigs)) * factorial(len(rigs))
    if count > MOST_ORDERS:
        what = f"{len(rigs)} rigs on {len(names)} ports can be plugged in {count} ways"
        raise InputError(what, expected=f"fewer rigs: at most {MOST_ORDERS} ways are tried")
    bench = _Bench(rigs, source)
    orders = tuple(
        bench.order(turn, ports)
        for places in permutations(names, len(rigs))
        for turn in permutations(range(len(rigs)))
        for ports in [tuple(places[each] for each in turn)]
    )
    best = _best(orders)
    timed = tuple(
        bench.order(tuple(bench.names.index(each) for each in order.order), order.ports, timed=True)
        if _places(order) == best
        else order
        for order in orders
    )
    return Shared(source.id, source.ports, timed, best)


def _places(order: Order) -> tuple[Place, ...]:
    return tuple(sorted(map(Place, order.order, order.ports)))


def _best(orders: Sequence[Order]) -> tuple[Place, ...]:
    """The assignment whose worst order is best; of equals the first."""
    worst: dict[tuple[Place, ...], tuple[int, ...]] = {}
    for order in orders:
        places = _places(order)
        worst[places] = min(worst.get(places, order.score), order.score)
    return max(worst, key=worst.__getitem__)


class _Bench:
    """Judges each rig on each list once."""

    def __init__(self, rigs: Sequence[tuple[str, Rig, Cable]], source: Source) -> None:
        self.names = [name for name, _, _ in rigs]
        self.rigs = rigs
        self.source = source
        self._step, self._move = once(self._judged), once(self._moved)

    def order(self, turn: Sequence[int], ports: tuple[str, ...], *, timed: bool = False) -> Order:
        """One way to plug them in; ``timed`` with what becomes of each branch by the solver in time."""
        results = []
        for at, (rig, port) in enumerate(zip(turn, ports, strict=True)):
            used = [frozenset(ports[: upto + 1]) for upto in range(at, len(ports))]
            steps = tuple(self._step(rig, port, each) for each in used)
            later = zip(used[:-1], ports[at + 1 :], strict=True)
            moves = tuple(self._move(rig, port, before, plugged, timed) for before, plugged in later)
            results.append(PortResult(self.names[rig], port, self.rigs[rig][2].id, steps, moves))
        return Order(tuple(self.names[each] for each in turn), ports, tuple(results))

    def _judged(self, rig: int, port: str, in_use: frozenset[str]) -> Stage:
        listed = tuple(name for name in (self.source.ports or Ports((), (), None)).names if name in in_use)
        left = source_at(self.source, port, in_use)
        if left is None:
            return Stage(listed, (), None, None, (), UNSAID, None)
        judged = judge(self.rigs[rig][1], left, self._cable(rig))
        why = "" if judged.decided is None else f"{judged.decided.subject}: {judged.decided.text}"
        return Stage(listed, left.offers, judged.verdict, judged.contract, judged.findings, why, judged)

    def _cable(self, rig: int) -> Cable:
        return self.source.cable or self.rigs[rig][2]

    def _moved(self, rig: int, port: str, before: frozenset[str], plugged: str, timed: bool) -> Moved:
        first, then = self._step(rig, port, before), self._step(rig, port, before | {plugged})
        if first.judgement is None or then.judgement is None:
            return Moved(plugged, "not said", (), (), None)
        old, new = first.judgement.case.source, then.judgement.case.source
        if (old.offers, old.typec_current_a) == (new.offers, new.typec_current_a):
            return Moved(plugged, "keeps its offers", (), (), None)
        change = moved(first.judgement, f"{plugged} in use", available(new, self._cable(rig)))
        fates, works = tuple[FateInTime, ...](), None
        if timed and new.offers and first.judgement.contract.offer is not None:
            event = f"lower to {offers_text(new.offers)} at {_LOWERED_AT}"
            solved = transient(first.judgement.case, [event])
            fates = tuple(FateInTime(each.branch, each.fate) for each in solved.fates)
            works = solved.works
        return Moved(plugged, "gets other offers", change.paths, fates, works)


def changes_of(orders: Sequence[Order]) -> Iterator[tuple[PortResult, Moved]]:
    """Each change of each rig once, in the order that they come."""
    seen = set()
    for order in orders:
        for result in order.results:
            for step, change in zip(result.steps, result.changes, strict=False):
                key = (result.rig, result.port, step.in_use, change.plugged)
                if key not in seen:
                    seen.add(key)
                    yield result, change


def source_at(source: Source, port: str, in_use: frozenset[str]) -> Source | None:
    """The source as ``port`` has it while the ports ``in_use`` are; None where nobody says how they share.

    A power keeps the voltages of the port at power / voltage, see ``left_of``; offers of its own count as printed.
    A Type-A port gives 5 V, the lower of what it gives alone and what its part of the power allows.

    >>> desk = Source(id="desk", ports={"C1": "65W", "C2": "30W", "C1+C2": "45W+18W"})
    >>> found = source_at(desk, "C1", frozenset(("C1", "C2")))
    >>> found.id, [(offer.max_mv, offer.current_ma) for offer in found.offers][-1]
    ('desk:C1', (20000, 2250))
    >>> source_at(desk.replace(ports={"C1": "65W", "C2": "30W"}), "C1", frozenset(("C1", "C2")))
    """
    alone = source.at_port(port)
    ports = alone.ports
    if ports is None or (not ports.port(port).offers and in_use == {port} and ports.port(port).power_w is None):
        return None
    if in_use == {port}:
        return alone
    given = ports.left_to(port, in_use)
    if not given.said:
        return None
    if not alone.offers and ports.port(port).pd:
        # Alone it says nothing, so the power rules have to.
        offers = given.offers or port_of(port, given.power_w, ()).offers
        return _with(alone, offers=offers, typec_current_a=None)
    if not ports.port(port).pd:
        most = alone.typec_current_a or USB_2_CURRENT.value
        stated = port_of(port, None, given.offers).typec_a()
        if stated is None and given.power_w is not None:
            stated = given.power_w / FIRST_OBJECT_VOLTAGE.value
        return _with(alone, typec_current_a=most if stated is None else min(most, stated))
    offers = given.offers or left_of(alone.offers, given.power_w or 0.0)
    return _with(alone, offers=offers)


def _with(alone: Source, **changes: object) -> Source:
    """The source with another list, of which neither a capture nor the printed power of the port says anything."""
    behaviour = alone.behaviour
    if behaviour.order and len(alone.offers) != len(changes.get("offers", alone.offers)):  # type: ignore[arg-type]
        behaviour = behaviour.replace(order=())
    cleared = {"ports": None, "port": None, "capture": None, "pdp_w": None, "problems": (), "behaviour": behaviour}
    return alone.model_copy(update={**cleared, **changes})
