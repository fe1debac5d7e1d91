"""What the solver in time is given: source, cable, trigger, branches and events, in plain SI numbers.

    source --R, L of cable, R of trigger-- bus (bulk, ESR) --+-- R, L of wire -- NAME/in (C, ESR) [converter] NAME/out
                                                             +-- ...                             -- lead R -- NAME/load

Resistances and inductances are those of the loop, out and back. What is not known is for the caller to fill in
(``facts.motion`` has the defaults); here every figure counts as it stands.
"""

from __future__ import annotations

from typing import Literal

from pdcheck.errors import InputError
from pdcheck.facts.voltage import SLEW_RISING
from pdcheck.named import NamedTuple

LEAST_INDUCTANCE_H = 10e-9
"""Some millimetres of conductor: nothing that is joined by metal has less, and the equations need it above 0."""
LEAST_RESISTANCE_OHM = 1e-3
LEAST_SOFT_START_S = 50e-6
"""A converter that is up at once would charge its output capacitance with an endless current."""

LoadKind = Literal["power", "current", "resistance", "leds"]
EventKind = Literal["load on", "load off", "join", "level", "hard reset", "unplug", "replug"]


class Level(NamedTuple):
    """A voltage that the source holds [V], the current at which it limits [A], and what it does then.

    ``trips``: it switches off after ``Source.trip_s`` in its limit and tries again (hiccup); else it holds the current
    and lets the voltage fall.
    """

    voltage_v: float
    limit_a: float
    trips: bool = False


class Source(NamedTuple):
    """A source: ``plain`` before a contract, ``contract`` from ``contract_s`` [s] after plugging in (None: never).

    It rises from 0 V within ``rise_s`` [s] and moves between levels at ``slew_v_per_s`` [V/s]. A Hard Reset takes
    ``reset_delay_s`` until VBUS goes down, ``reset_fall_s`` on the way to 0 V, ``reset_off_s`` there.
    """

    plain: Level
    contract: Level | None = None
    contract_s: float = 0.3
    slew_v_per_s: float = SLEW_RISING.value
    rise_s: float = 1e-3
    trip_s: float = 1e-3
    retry_s: float = 0.5
    reset_delay_s: float = 0.035
    reset_fall_s: float = 0.05
    reset_off_s: float = 0.83


class Cable(NamedTuple):
    """The cable's loop: resistance [ohm] and inductance [H]."""

    resistance_ohm: float
    inductance_h: float


class Trigger(NamedTuple):
    """The trigger board: resistance [ohm], what stands on the bus [F, ohm], and when it forgets its contract.

    Below ``brown_out_v`` [V] its controller stops; the source then goes back to 5 V, and a contract comes ``restart_s``
    [s] after the bus has risen above that voltage again and stays there.
    """

    resistance_ohm: float
    bulk_f: float
    esr_ohm: float
    brown_out_v: float
    restart_s: float


class Converter(NamedTuple):
    """A converter: constant power at its input, from ``start_v`` on until ``stop_v`` [V].

    Its output rises evenly within ``soft_start_s`` [s] from 0 V; what its output capacitance ``output_f`` [F] still
    holds feeds the load until the rise has passed it.
    """

    output_v: float
    efficiency: float
    idle_w: float
    start_v: float
    stop_v: float
    soft_start_s: float
    output_f: float = 0.0


class Load(NamedTuple):
    """A load: ``value`` in W, A or ohm by ``kind``; for ``leds`` the ohms of the resistor above ``string_v`` [V].

    It draws from ``start_v`` on until ``stop_v`` [V]; a load of constant power must have both. For ``start_time_s``
    after it got its voltage it takes ``start_factor`` times as much. ``on``: whether it is switched on when all begins.
    """

    kind: LoadKind
    value: float
    string_v: float = 0.0
    start_v: float = 0.0
    stop_v: float = 0.0
    start_factor: float = 1.0
    start_time_s: float = 0.0
    on: bool = True


class Branch(NamedTuple):
    """One path from the bus: wire, input capacitance with ESR, converter (None: the load hangs on the bus), lead, load.

    Without capacitance at its end a wire's inductance is left out: it rings with nothing. ``joined``: whether it is on
    the bus from the beginning, or comes with the event ``join``.
    """

    name: str
    wire_ohm: float
    wire_h: float
    input_f: float
    esr_ohm: float
    converter: Converter | None
    lead_ohm: float
    load: Load
    joined: bool = True


class Circuit(NamedTuple):
    """Everything that is solved together."""

    source: Source
    cable: Cable
    trigger: Trigger
    branches: tuple[Branch, ...]


class Event(NamedTuple):
    """Something from outside at ``at_s`` [s] after plugging in.

    ``subject`` names the branch of ``load on``, ``load off`` and ``join``; ``level`` is where the source goes with
    ``level`` (another offer, or the same one with less current).
    """

    at_s: float
    kind: EventKind
    subject: str = ""
    level: Level | None = None


def check_given(circuit: Circuit, events: tuple[Event, ...]) -> None:
    """Refuse what the equations cannot hold.

    Raises:
        InputError: a figure that must be above 0 and is not, a cut-off voltage that is not below its start voltage, a
            constant power without a cut-off voltage, an event for a branch that is not there.

    >>> from pdcheck.circuit.transient.given import Branch, Cable, Circuit, Load, Source, Trigger
    >>> heater = Branch("heater", 0.05, 0.0, 0.0, 0.0, None, 0.0, Load("resistance", 4.5))
    >>> bench = Circuit(Source(Level(5.0, 3.0)), Cable(0.2, 1e-6), Trigger(0.02, 10e-6, 0.02, 3.6, 0.3), (heater,))
    >>> check_given(bench, ())
    >>> check_given(bench, (Event(1.0, "load off", "heater"),))
    """
    source, trigger = circuit.source, circuit.trigger
    for level in (source.plain, *([source.contract] if source.contract else [])):
        _above("the source", voltage=level.voltage_v, current=level.limit_a)
    _above("the source", slew=source.slew_v_per_s, rise=source.rise_s, retry=source.retry_s)
    _above("the trigger", bulk=trigger.bulk_f, brown_out=trigger.brown_out_v, restart=trigger.restart_s)
    names = [branch.name for branch in circuit.branches]
    for branch in circuit.branches:
        _check_branch(branch)
    for event in events:
        if event.kind in ("load on", "load off", "join") and event.subject not in names:
            raise InputError(f"{event.kind}: there is no branch {event.subject!r}", expected=", ".join(names))
        if event.kind == "level" and event.level is None:
            raise InputError("the source goes to another level, and none is given", expected="a voltage and a current")


def _check_branch(branch: Branch) -> None:
    converter, load, where = branch.converter, branch.load, f"branch {branch.name!r}"
    _above(where, load=load.value, start_factor=load.start_factor)
    if converter is not None:
        _above(where, input_bulk=branch.input_f, output=converter.output_v, efficiency=converter.efficiency)
        _hysteresis(where, converter.start_v, converter.stop_v)
    if load.kind == "power" or load.stop_v > 0.0:
        _hysteresis(where, load.start_v, load.stop_v)


def _above(where: str, **figures: float) -> None:
    for name, value in figures.items():
        if not 0.0 < value < float("inf"):
            raise InputError(f"{name.replace('_', ' ')} is {value:g}", where=where, expected="a figure above 0")


def _hysteresis(where: str, start_v: float, stop_v: float) -> None:
    if not 0.0 < stop_v < start_v:
        raise InputError(
            f"it starts at {start_v:g} V and cuts off at {stop_v:g} V",
            where=where,
            expected="a cut-off below the start",
        )
