"""The solver in time beside ngspice on one build: fates told from ngspice's own curves, extremes and times compared."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.transient.given import Branch, Circuit, Event, Level
from pdcheck.circuit.transient.result import Result
from pdcheck.circuit.transient.run import run
from tests.outside.random_builds import END_S
from tests.outside.spice_transient import Trace, simulate

VOLTS, TIMES = 0.01, 0.02
STEP_S = 0.5e-6


class Agreement(NamedTuple):
    """What differs between the two, in words; ``near``: a small change of the figures alters the fate."""

    differences: list[str]
    near: bool
    fates: tuple[str, ...]
    skipped: bool


def _edges(trace: Trace, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    on = trace.of[name] > 0.5
    ups = trace.time_s[1:][on[1:] & ~on[:-1]]
    downs = trace.time_s[1:][~on[1:] & on[:-1]]
    return ups, downs


def ngspice_fate(trace: Trace, branch: Branch, circuit: Circuit, events: tuple[Event, ...]) -> str:
    """The fate of a branch by the definitions, from the curves alone."""
    name, converter, load = branch.name, branch.converter, branch.load
    time, end_s = trace.time_s, float(trace.time_s[-1])
    levels = [event.level for event in events if event.level is not None]
    offer = levels[-1] if levels else circuit.source.contract or circuit.source.plain
    off_at = next((event.at_s for event in events if event.kind == "load off" and event.subject == name), np.inf)
    last_event_s = max((event.at_s for event in events), default=0.0)
    if converter is not None:
        running = trace.of[f"v({name}cv)"] > 0.5
        needed = converter.start_v
        if load.stop_v > 0.0:
            running = running & (trace.of[f"v({name}on)"] > 0.5)
    elif load.stop_v > 0.0:
        running, needed = trace.of[f"v({name}on)"] > 0.5, load.start_v
    else:
        string = load.string_v
        up = max(0.8 * offer.voltage_v, string + 0.2 * (offer.voltage_v - string) if string else 0.0)
        volts, running, state = trace.of[f"v({name}ld)"], np.zeros(len(time), bool), False
        for place, volt in enumerate(volts):
            state = volt > up if not state else volt > up * 0.875
            running[place] = state
        needed = string
    before = time < off_at
    running = running & before if off_at < np.inf else running
    if not running.any():
        return "stays off" if needed >= offer.voltage_v else "hangs"
    stops = time[1:][~running[1:] & running[:-1]]
    stops = stops[stops < off_at - 1e-9] if off_at < np.inf else stops
    recent = stops[stops > last_event_s]
    if len(recent) >= 2 and end_s - recent[-1] <= 2.5 * np.diff(recent[-4:]).max():
        return "repeats"
    if not running[-1]:
        return "cuts off"
    tail = time > end_s - 1e-4
    lacks = circuit.source.contract is not None and trace.of["v(con)"][tail].mean() < 0.5
    for vector in (name for name in trace.of if name.endswith(("cv)", "on)")) and name != "v(con)"):
        _, downs = _edges(trace, vector)
        if len(downs) >= 2 and end_s - downs[-1] <= 2.5 * np.diff(downs[-4:]).max():
            tail = tail | (time > downs[-2])  # the limit counts only if it outlasts what goes on and off
    limited = np.median((trace.of["v(own)"] - trace.of["v(s)"])[tail]) > 0.05 and (
        (trace.of["v(own)"] - trace.of["v(s)"])[tail].min() > 0.02
    )
    if lacks or limited:
        return "hangs"
    return "comes back" if len(stops) else "starts"


def _varied(circuit: Circuit, factor: float) -> Circuit:
    """The same build with limits and thresholds moved a little against each other."""

    def level(one: Level) -> Level:
        return one._replace(limit_a=one.limit_a * factor)

    def branch(one: Branch) -> Branch:
        if one.converter is None:
            return one
        start = one.converter.start_v
        return one._replace(converter=one.converter._replace(start_v=max(start / factor, one.converter.stop_v + 0.05)))

    source = circuit.source
    contract = None if source.contract is None else level(source.contract)
    return circuit._replace(
        source=source._replace(plain=level(source.plain), contract=contract),
        branches=tuple(branch(one) for one in circuit.branches),
    )


def _damped(circuit: Circuit, factor: float) -> Circuit:
    branches = tuple(
        one._replace(wire_ohm=one.wire_ohm * factor, esr_ohm=one.esr_ohm * factor) for one in circuit.branches
    )
    return circuit._replace(branches=branches)


def near_a_boundary(circuit: Circuit, events: tuple[Event, ...], result: Result) -> bool:
    """Whether 2 % on limits and start voltages, or on what damps, give another fate."""
    fates = [one.fate for one in result.fates]
    others = [_varied(circuit, 0.98), _varied(circuit, 1.02), _damped(circuit, 0.98), _damped(circuit, 1.02)]
    return any([one.fate for one in run(other, events, END_S).fates] != fates for other in others)


def compare(ngspice: str, circuit: Circuit, events: tuple[Event, ...], folder: Path) -> Agreement | None:
    """Both on one build; None where ngspice does not get to the end."""
    result = run(circuit, events, END_S)
    trace = simulate(ngspice, circuit, events, result.end_s, STEP_S, folder)
    if trace is None:
        return None
    skipped = bool(result.samples.gaps)
    differences = []
    fates = tuple(one.fate for one in result.fates)
    for branch, fate in zip(circuit.branches, fates, strict=True):
        theirs = ngspice_fate(trace, branch, circuit, events)
        if theirs != fate:
            differences.append(f"{branch.name}: {fate}, ngspice {theirs}")
    rated_v = max((circuit.source.contract or circuit.source.plain).voltage_v, 5.0)
    if "repeats" in fates:  # each try differs from the last by what a ring was at: no two programs agree on the widest
        return Agreement(
            differences, near_a_boundary(circuit, events, result) if differences else False, fates, skipped
        )
    vectors = {"bus": "v(bus)"} | {f"{one.name}/in": f"v({one.name}in)" for one in circuit.branches}
    vectors |= {f"{one.name}/load": f"v({one.name}ld)" for one in circuit.branches}
    extremes = {one.node: one for one in result.extremes}
    for node, vector in vectors.items():
        volts, own = trace.of[vector], extremes[node]
        joined = [event.at_s for event in events if event.kind == "join" and node.startswith(f"{event.subject}/")]
        if joined:  # before, ngspice's open switch lets the node float to the bus
            volts = np.where(trace.time_s < joined[0], 0.0, volts)
        passed = np.nonzero(volts > 4.75)[0]
        if own.min_v is None or own.max_v is None or len(passed) == 0:
            if (own.min_v is None) != (len(passed) == 0) and abs(volts.max() - 4.75) > 0.05:
                differences.append(f"{node}: only one of the two passes 4.75 V")
            continue
        since = trace.time_s[passed[0]] + 2e-3
        counted = volts[trace.time_s > since]
        if len(counted) == 0:
            continue
        for what, mine, theirs in (("min", own.min_v, counted.min()), ("max", own.max_v, counted.max())):
            if abs(mine - theirs) > VOLTS * rated_v:
                differences.append(f"{node} {what}: {mine:.3f} V, ngspice {theirs:.3f} V")
        if abs(own.peak_v - volts.max()) > VOLTS * rated_v:
            differences.append(f"{node} peak: {own.peak_v:.3f} V, ngspice {volts.max():.3f} V")
    for branch in circuit.branches:
        if branch.converter is None:
            continue
        mine = [one.time_s for one in result.moments if one.subject == branch.name and one.what == "converter starts"]
        ups, _ = _edges(trace, f"v({branch.name}cv)")
        for number, (own_s, their_s) in enumerate(zip(mine[:2], ups[:2], strict=False)):
            if abs(own_s - their_s) > TIMES * their_s + 2e-6:
                differences.append(f"{branch.name} start {number}: {own_s:.6f} s, ngspice {their_s:.6f} s")
    return Agreement(differences, near_a_boundary(circuit, events, result) if differences else False, fates, skipped)
