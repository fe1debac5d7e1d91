"""What became of each branch, from how often it ran and stopped and how things are at the end."""

from __future__ import annotations

from itertools import pairwise

from pdcheck.circuit.transient.equations import Mode
from pdcheck.circuit.transient.machine import Machine
from pdcheck.circuit.transient.port import Port
from pdcheck.circuit.transient.result import BranchFate, Fate

STILL_GOING = 2.5
"""A branch whose last stop is less than so many of its last pauses ago has not come to rest."""


def held_down(machine: Machine, time_s: float) -> bool:
    """Whether the source stays in its limit, or a contract that was to come is not there, at the end.

    Where a branch goes on and off, the limit counts only if it outlasts that.
    """
    if machine.offer is not None and not machine.in_contract:
        return True
    since = machine.limit_since_s
    if since is None or machine.equations.mode not in (Mode.CURRENT, Mode.SHORTED):
        return False
    return all(since < port.stop_times[-2] for port in machine.ports if still_cycling(port, machine, time_s))


def needs_v(port: Port) -> float:
    """The voltage [V] below which a branch never begins."""
    if port.converter is not None:
        return port.converter.start_v
    if port.has_threshold:
        return port.load.start_v
    return port.load.string_v


def still_cycling(port: Port, machine: Machine, time_s: float) -> bool:
    """Whether it has stopped at least twice since the last event from outside, the last time a short while ago."""
    stops = [at for at in port.stop_times if at > machine.last_event_s]
    if len(stops) < 2:
        return False
    longest = max(later - sooner for sooner, later in pairwise(stops[-4:]))
    return time_s - stops[-1] <= STILL_GOING * longest


def undecided(machine: Machine, time_s: float) -> bool:
    """Whether the end is too early to tell: something tries again, a contract is due, and nothing repeats yet."""
    if any(still_cycling(port, machine, time_s) for port in machine.ports):
        return False
    trying = any(port.stops and (port.rising or port.waiting) for port in machine.ports)
    return trying or any(name in ("plug", "contract", "trip", "reset down") for name, _ in machine.due)


def fate_of(port: Port, machine: Machine, time_s: float, *, swings: bool = False) -> BranchFate:
    """The fate of one branch at the end; ``swings``: its input never settles."""
    fate: Fate
    if port.starts == 0:
        never = not port.joined or not port.ever_on or needs_v(port) >= machine.best_v
        fate = "stays off" if never else "hangs"
    elif swings or still_cycling(port, machine, time_s):
        fate = "repeats"
    elif not port.running:
        fate = "cuts off"
    elif held_down(machine, time_s):
        fate = "hangs"
    else:
        fate = "comes back" if port.stops else "starts"
    return BranchFate(port.name, fate, port.starts, port.stops)
