"""The circuit in numbers: a source, what lies in series between it and the bus, and branches from there to loads.

    source --cable--+--trigger-- bus --+-- wire -- NAME/in [converter] NAME/out -- lead -- NAME/load
                                       +-- wire -- ...

Resistances are loop resistances: the way out and the way back together. SI units throughout. Loads and converters are
the parts themselves, which bring their own physics. For many circuits at once, any figure is an array of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from math import prod
from typing import Any

from pdcheck.errors import InputError
from pdcheck.facts.copper import ABSOLUTE_ZERO
from pdcheck.named import NamedTuple
from pdcheck.parts.converter import Converter
from pdcheck.parts.loads import Load, Turns
from pdcheck.physics.bus import BusSolution, solve_bus
from pdcheck.physics.number import Number
from pdcheck.physics.ports import NOTHING, CurrentPort, Port


class Source(NamedTuple):
    """An open-circuit voltage [V], and the current [A] at which it lets the voltage fall; None where it does not.

    What a fixed supply may give is no part of the circuit: past it the maker chooses what follows (a trip, a droop).
    """

    open_v: Number
    holds_a: Number | None = None


class Copper(NamedTuple):
    """A wire's loop as it warms: its copper at 20 degrees C [ohm], and what of it stays as it is [ohm].

    A current warms it by ``rise_k_a2`` [K/A2]; ``least_c`` [degrees C] is the least it has, where that is stated.
    """

    cool_ohm: Number
    fixed_ohm: Number
    rise_k_a2: float
    least_c: float = ABSOLUTE_ZERO


class Warmth(NamedTuple):
    """What warms a build, the mean over time: heat in its box [W], the square of all its current [A2], and by branch
    what its converter loses [W]."""

    inside_w: Number
    total_a2: Number
    lost_w: dict[str, Number]


class Heat(NamedTuple):
    """The air around a build [degrees C], and what its box sheds [W/K], None on an open bench.

    ``inside_c`` is the air in the box once it has settled, ``mean`` what warms the build then; ``surface`` how far the
    box's outside goes along. A cable rises by ``cable_k_a2`` [K/A2], what else is in series by ``module_k_w`` [K/W].
    """

    air_c: Number
    shed_w_k: Number | None = None
    surface: float = 1.0
    module_k_w: float = 0.0
    cable_k_a2: float = 0.0
    inside_c: Number | None = None
    mean: Warmth | None = None


class Branch(NamedTuple):
    """One path from the bus to a load. Without a converter the load hangs on the bus through wire and lead.

    Where heat counts, ``wire`` and ``lead`` are what of them warms, ``wire_c`` and ``lead_c`` their temperatures
    [degrees C] once these have settled (or are stated), ``rise_k_w`` [K/W] what a lost watt does to the converter, and
    ``turns`` what its load is over time.
    """

    name: str
    load: Load
    converter: Converter | None = None
    wire_ohm: Number = 0.0
    lead_ohm: Number = 0.0
    wire: Copper | None = None
    lead: Copper | None = None
    rise_k_w: float = 0.0
    wire_c: Number = None
    lead_c: Number = None
    turns: Turns = ()

    def demanding(self, factor: Number) -> Branch:
        """The same with a load that asks for that many times as much, at any time."""
        turns = tuple((part, load.demand(factor)) for part, load in self.turns)
        return self._replace(load=self.load.demand(factor), turns=turns)

    def output_a(self) -> Number | None:
        """What its converter delivers [A]; NaN where the lead has no solution, None without a converter."""
        return None if self.converter is None else self.converter.output_a(self.load.port(self.lead_ohm))

    def port(self) -> Port:
        """The branch as the bus sees it.

        >>> buck = Converter(kind="buck", output="12V", efficiency=0.9, idle="0.3W")
        >>> Branch("mount", Load("27W"), buck, wire_ohm=0.1).port()
        PowerPort(resistance_ohm=0.1, power_w=30.3)
        """
        if self.converter is None:
            return self.load.port(self.wire_ohm + self.lead_ohm)
        return self.converter.port(self.wire_ohm, self.output_a())


class Network(NamedTuple):
    """A source, what the bus itself draws [A], and the branches.

    ``series``: what lies between source and bus in that order, each by its name with its loop resistance [ohm]. With
    ``heat`` its wires warm up; see ``warm.py``, which settles them.
    """

    source: Source
    branches: tuple[Branch, ...]
    series: tuple[tuple[str, Number], ...] = ()
    bus_a: float = 0.0
    heat: Heat | None = None

    @property
    def series_ohm(self) -> Number:
        """Loop resistance between the source and the bus [ohm]."""
        return sum([ohm for _, ohm in self.series])

    def in_turn(self) -> list[tuple[float, Network]]:
        """What it is in turn, each with its part of the time (0..1): loads that go on and off do so each for itself.

        >>> lamp = Branch("lamp", Load("36W"), turns=((0.25, Load("36W")), (0.75, Load("1W"))))
        >>> [(part, each.branches[0].load.words()) for part, each in Network(Source(20.0), (lamp,)).in_turn()]
        [(0.25, '36 W'), (0.75, '1 W')]
        """
        return in_turn(self, [branch.turns or ((1.0, branch.load),) for branch in self.branches])

    def demanding(self, factor: Number) -> Network:
        """The same with loads that ask for that many times as much."""
        return self._replace(branches=tuple([branch.demanding(factor) for branch in self.branches]))

    def ports(self, off: frozenset[str] = frozenset()) -> list[Port]:
        """Each branch as the bus sees it, in order, then the bus's own draw if any; nothing of those in ``off``."""
        ports: list[Port] = [NOTHING if branch.name in off else branch.port() for branch in self.branches]
        return [*ports, CurrentPort(0.0, self.bus_a)] if self.bus_a else ports

    def solve(self, off: frozenset[str] = frozenset()) -> BusSolution:
        """The solved bus without the branches in ``off``; NaN where the bus, a wire or a lead collapses.

        >>> rig = Network(Source(20.0), (Branch("lamp", Load("36W")),), series=(("cable", 0.25),))
        >>> round(rig.solve().bus_v, 4)
        19.5394
        """
        return solve_bus(self.ports(off), self.source.open_v, self.series_ohm, self.source.holds_a)


def in_turn(whole: Any, turns: Iterable[Turns]) -> list[tuple[float, Any]]:
    """A network, or what it is made of, in each combination of its loads in turn, with its part of the time."""
    found = []
    for chosen in product(*turns):
        branches = [branch._replace(load=load) for branch, (_, load) in zip(whole.branches, chosen, strict=True)]
        found.append((prod(part for part, _ in chosen), whole._replace(branches=tuple(branches))))
    return found


def position(branches: tuple[Branch, ...], name: str) -> int:
    """The place of the branch of that name.

    Raises:
        InputError: there is none.
    """
    names = [branch.name for branch in branches]
    if name not in names:
        raise InputError(f"no branch named {name!r}", expected="one of " + (", ".join(names) or "none at all"))
    return names.index(name)
