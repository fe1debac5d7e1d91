"""The circuit of the solver in time as an ngspice netlist, and what ngspice says of it.

Nothing here uses the solver's own equations. Ideal parts: the source is a current (its limit) into the cable with a
diode of next to no drop that takes what is left into the source's own voltage; every hysteresis is ngspice's voltage
controlled switch; everything with a rate (slew, soft start, timers) is a capacitor of 1 F with a behavioural current.
"""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.transient.given import Branch, Circuit, Event, Load

OPTIONS = (
    "method=trap reltol=1e-4 abstol=1e-9 vntol=1e-6 chgtol=1e-15 itl4=200 gmin=1e-12",
    "method=trap reltol=1e-3 abstol=1e-6 vntol=1e-4 chgtol=1e-13 itl4=500 gmin=1e-9",
    "method=gear maxord=2 reltol=1e-3 abstol=1e-6 vntol=1e-4 chgtol=1e-13 itl4=500 gmin=1e-9",
)
"""Tried in turn until ngspice gets to the end; near a bound of stability Gear's method would damp what really rings."""


class Trace(NamedTuple):
    """Time [s] and the vectors by name, on ngspice's own points."""

    time_s: NDArray[np.float64]
    of: dict[str, NDArray[np.float64]]


def _latch(name: str, control: str, on: float, off: float) -> list[str]:
    """A node that goes to 1 V as ``control`` passes ``on`` and back to 0 V below ``off``, within 0.1 us."""
    return [
        f"V{name}s {name}s 0 1",
        f"S{name} {name}s {name} {control} 0 M{name} OFF",
        f"R{name} {name} 0 10",
        f"C{name} {name} 0 10n ic=0",
        f".model M{name} SW(vt={(on + off) / 2!r} vh={(on - off) / 2!r} ron=0.05 roff=1e9)",
    ]


def _integrator(name: str, rate: str, start: float = 0.0) -> list[str]:
    return [f"C{name} {name} 0 1 ic={start!r}", f"R{name}x {name} 0 1e12", f"B{name} 0 {name} I = {rate}"]


def _draw(load: Load, volt: str, ohm: float, gate: str, factor: str) -> str:
    """The current of a load behind ``ohm`` on the voltage ``volt``."""
    match load.kind:
        case "power":
            inside = f"max({volt}*{volt} - {4 * ohm * load.value!r}*{factor}, 1e-9)"
            current = f"{2 * load.value!r}*{factor}/(max({volt}, 0.01) + sqrt({inside}))"
        case "current":
            knee = 0.1
            slope = f"({ohm!r} + {knee}/({load.value!r}*{factor}))"
            current = f"min({load.value!r}*{factor}, max({volt}, 0)/{slope})"
        case _:
            current = f"max({volt} - {load.string_v!r}, 0)/({ohm!r} + {load.value!r}/({factor}))"
    return f"({gate})*({current})"


def _branch(branch: Branch, events: tuple[Event, ...]) -> list[str]:
    name, load, converter = branch.name, branch.load, branch.converter
    lines: list[str] = []
    switched = " * ".join(
        ["1"]
        + [
            f"(time {'<' if event.kind == 'load off' else '>='} {event.at_s!r} ? 1 : 0)"
            for event in events
            if event.subject == name and event.kind in ("load on", "load off")
        ]
    )
    joined = next((event.at_s for event in events if event.kind == "join" and event.subject == name), None)
    start = "bus"
    if joined is not None:
        lines += [f"Vj{name} j{name} 0 PWL(0 0 {joined!r} 0 {joined + 1e-9!r} 1)"]
        lines += [f"Sj{name} bus b{name} j{name} 0 JOIN OFF"]
        start = f"b{name}"
    inductance = branch.wire_h if branch.input_f > 0 else 0.0
    lines += [f"R{name}w {start} {name}a {max(branch.wire_ohm, 1e-3)!r}"]
    lines += [f"L{name}w {name}a {name}in {inductance!r}"] if inductance else [f"V{name}w {name}a {name}in 0"]
    if branch.input_f > 0:
        lines += [f"C{name}i {name}in {name}c {branch.input_f!r} ic=0"]
        lines += [f"R{name}e {name}c 0 {branch.esr_ohm!r}"] if branch.esr_ohm else [f"V{name}e {name}c 0 0"]
    if converter is None:
        gate = switched
        if load.stop_v > 0:
            lines += _latch(f"{name}on", f"{name}ld", load.start_v, load.stop_v)
            gate = f"(v({name}on) > 0.5 ? 1 : 0) * {switched}"
        lines += [f"R{name}l {name}in {name}ld {max(branch.lead_ohm, 1e-6)!r}"]
        lines += [f"B{name}l {name}ld 0 I = {_draw(load, f'v({name}ld)', 0.0, gate, '1')}"]
        return lines
    # The converter: its output is a voltage on a 1 F integrator, and its input takes the power of it.
    lines += _latch(f"{name}cv", f"{name}in", converter.start_v, converter.stop_v)
    gate = switched
    if load.stop_v > 0:
        lines += _latch(f"{name}on", f"{name}ld", load.start_v, load.stop_v)
        gate = f"(v({name}on) > 0.5 ? 1 : 0) * {switched}"
    out = f"v({name}out)"
    draw = _draw(load, out, branch.lead_ohm, gate, "1")
    lines += [f"B{name}io {name}io 0 V = {draw}"]
    lines += [f"B{name}ld {name}ld 0 V = {out} - {branch.lead_ohm!r}*v({name}io)"]
    rise = converter.output_v / converter.soft_start_s
    up = f"{rise!r}*min(1, max(0, ({converter.output_v!r} - {out})*1000))"
    down = f"v({name}io)/{converter.output_f!r}" if converter.output_f else f"{out}*1e6"
    # Soft start begins at 0 V each time; until it has passed what the output still holds, that feeds the load.
    ramp = f"v({name}rp)"
    more = f"{rise!r}*min(1, max(0, ({converter.output_v!r} - {ramp})*1000))"
    # Off at once and on within 50 ns: with a large ESR the input is above the start voltage as soon as it lets go.
    enabled = f"v({name}en)"
    lines += _integrator(f"{name}en", f"v({name}cv) > 0.5 ? (1 - {enabled})*2e7 : -{enabled}*1e9")
    lines += _integrator(f"{name}rp", f"{enabled} > 0.5 ? {more} : -{ramp}*1e9")
    given = f"{enabled} > 0.5 && {ramp} >= {out} - 0.002"
    lines += _integrator(f"{name}out", f"{given} ? {up} : -({down})")
    full = f"{out}*(v({name}io) + {converter.output_f!r}*{up})/{converter.efficiency!r} + {converter.idle_w!r}"
    power = f"({given} ? {full} : {converter.idle_w!r})"
    lines += [f"B{name}p {name}in 0 I = min(1, max(0, 2*{enabled} - 0.5))*({power})/max(v({name}in), 0.5)"]
    return lines


def netlist(circuit: Circuit, events: tuple[Event, ...], until_s: float, step_s: float, output: Path) -> str:
    """The whole circuit; ``level`` events change what a contract stands for, ``trips`` is understood for all levels."""
    source, cable, trigger = circuit.source, circuit.cable, circuit.trigger
    plain, contract = source.plain, source.contract or source.plain
    volts, amps = repr(contract.voltage_v), repr(contract.limit_a)
    for event in events:
        if event.kind == "level" and event.level is not None:
            volts = f"(time < {event.at_s!r} ? {volts} : {event.level.voltage_v!r})"
            amps = f"(time < {event.at_s!r} ? {amps} : {event.level.limit_a!r})"
    live = "v(con) > 0.5" if source.contract else "0 > 1"
    trips = plain.trips
    off = "v(off) > 0.5" if trips else "0 > 1"
    lines = ["* a USB-C build from plugging in", ".model IDEAL D(n=0.02 is=1e-9 rs=1e-4)"]
    lines += [".model JOIN SW(vt=0.5 vh=0.1 ron=1e-6 roff=1e9)"]
    slew = (
        f"(time < {source.rise_s!r} || v(fresh) < 0.5 ? {plain.voltage_v / source.rise_s!r} : {source.slew_v_per_s!r})"
    )
    target = f"({live} ? {volts} : {plain.voltage_v!r})"
    move = f"{slew}*max(-1, min(1, ({target} - v(own))*20))"
    lines += _integrator("own", f"{off} ? (max(v(bus), 0) - v(own))*1e5 : {move}")
    # ``fresh`` is 1 once the source has arrived at 5 V after it was switched on.
    lines += _latch("fresh", "freshc", 0.9, 0.1)
    lines += [f"Bfreshc freshc 0 V = {off} ? 0 : (v(own) > {plain.voltage_v * 0.999!r} ? 1 : 0.5)"]
    lines += [f"Bk k 0 V = {off} ? 1000 : v(own)"]
    limit = f"({live} ? {amps} : {plain.limit_a!r})"
    lines += [f"Bs 0 s I = {off} ? 0 : {limit}", "Dk s k IDEAL", "Df 0 s IDEAL"]
    # What every real node has, and ngspice needs to get past a corner: next to nothing, and damped.
    lines += ["Cs s 0 2n", "Rs s sn 3", "Csn sn 0 20n"]
    if trips:
        lines += _integrator(
            "tr",
            f"{off} ? -1/{source.retry_s!r} : (v(own) - v(s) > 0.05 ? 1/{source.trip_s!r} : -max(v(tr), 0)*1e6)",
        )
        lines += _latch("off", "tr", 0.99, 0.01)
    loop = cable.resistance_ohm + trigger.resistance_ohm
    lines += [f"Rc s ca {loop!r}", f"Lc ca cb {cable.inductance_h!r} ic=0", "Vc cb bus 0"]
    lines += [f"Cb bus bb {trigger.bulk_f!r} ic=0", f"Rb bb 0 {max(trigger.esr_ohm, 1e-6)!r}"]
    lines += _latch("woke", "bus", trigger.brown_out_v, -trigger.brown_out_v)
    lines += _integrator(
        "tm",
        f"{off} ? -v(tm)*1e8 : (v(bus) > {trigger.brown_out_v - 0.02!r} ? "
        f"(v(tm) < 1.1 ? 1/{trigger.restart_s!r} : 0) : "
        f"(v(woke) < 0.5 && time < 0.99*{source.contract_s!r} ? 1/{trigger.restart_s!r} : -v(tm)*1e8))",
    )
    lines += _latch("con", "tm", 0.999, 0.05)
    for branch in circuit.branches:
        lines += _branch(branch, events)
    vectors = ["v(bus)", "v(s)", "i(Vc)", "v(con)", "v(own)"]
    for branch in circuit.branches:
        vectors += [f"v({branch.name}in)", f"v({branch.name}ld)"]
        if branch.converter is not None:
            vectors += [f"v({branch.name}cv)", f"v({branch.name}out)"]
        if branch.load.stop_v > 0:
            vectors += [f"v({branch.name}on)"]
    lines += [f".options {OPTIONS[0]}"]
    lines += [".control", "set wr_singlescale", "set wr_vecnames", "option numdgt=9"]
    lines += [f"tran {step_s!r} {until_s!r} 0 {step_s!r} uic", f"wrdata {output} {' '.join(vectors)}", "quit", ".endc"]
    return "\n".join([*lines, ".end"]) + "\n"


def simulate(
    ngspice: str, circuit: Circuit, events: tuple[Event, ...], until_s: float, step_s: float, folder: Path
) -> Trace | None:
    """Run ngspice; None where it gives up before the end (no convergence)."""
    for options in OPTIONS:
        trace = _simulate(ngspice, netlist(circuit, events, until_s, step_s, folder / "trace.txt"), options, folder)
        if trace is not None and trace.time_s[-1] >= until_s * 0.999:
            return trace
    return None


def _simulate(ngspice: str, text: str, options: str, folder: Path) -> Trace | None:
    output, deck = folder / "trace.txt", folder / "deck.cir"
    output.unlink(missing_ok=True)
    deck.write_text(text.replace(OPTIONS[0], options), encoding="utf-8")
    try:
        run = subprocess.run([ngspice, "-b", deck], capture_output=True, text=True, check=False, timeout=300)
    except subprocess.TimeoutExpired:
        return None
    if not output.exists():
        raise AssertionError(run.stdout[-2000:] + run.stderr[-2000:])
    with output.open(encoding="utf-8") as file:
        names = file.readline().split()
        table = np.fromstring(file.read(), sep=" ").reshape(-1, len(names))
    return Trace(table[:, 0], {name.lower(): table[:, place] for place, name in enumerate(names)})
