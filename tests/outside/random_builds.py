"""Random USB-C builds for the solver in time: small, whole, some healthy and some not; one and the same by seed."""

from __future__ import annotations

import random

from pdcheck.circuit.transient.given import Branch, Cable, Circuit, Converter, Event, Level, Load, Source, Trigger

CONTRACT_S = 0.012
"""Short, so that ngspice has little to do; the real one is some hundred milliseconds."""


def _load(rng: random.Random, volts: float, watts: float) -> Load:
    kind = rng.choice(["power", "current", "resistance", "leds"])
    if kind == "power":
        start = rng.uniform(0.6, 0.8) * volts
        return Load("power", watts, start_v=start, stop_v=start * rng.uniform(0.8, 0.95))
    if kind == "current":
        return Load("current", watts / volts)
    if kind == "leds":
        string = rng.uniform(0.5, 0.8) * volts
        return Load("leds", (volts - string) * volts / watts, string_v=string)
    return Load("resistance", volts * volts / watts)


def _branch(rng: random.Random, name: str, contract_v: float, watts: float) -> Branch:
    wire = (rng.uniform(0.02, 0.2), rng.uniform(0.1e-6, 1.5e-6))
    if rng.random() < 0.3:
        load = _load(rng, contract_v, watts)
        bulk = 0.0 if load.kind != "power" and rng.random() < 0.6 else rng.uniform(2e-6, 47e-6)
        return Branch(name, *wire, bulk, rng.uniform(0.005, 0.05), None, rng.uniform(0.0, 0.05), load)
    start = rng.choice([rng.uniform(4.2, 4.7), rng.uniform(5.5, 8.0), rng.uniform(0.85, 1.05) * contract_v])
    output = rng.choice([3.3, 5.0, 12.0, 19.0])
    converter = Converter(
        output,
        rng.uniform(0.82, 0.95),
        rng.uniform(0.0, 0.3),
        start,
        start - rng.uniform(0.25, 1.0),
        rng.uniform(0.6e-3, 3e-3),
        rng.choice([0.0, 22e-6, 100e-6, 220e-6]),
    )
    bulk = rng.choice([rng.uniform(2e-6, 10e-6), rng.uniform(10e-6, 150e-6)])
    return Branch(
        name, *wire, bulk, rng.uniform(0.003, 0.15), converter, rng.uniform(0.0, 0.05), _load(rng, output, watts)
    )


def random_build(seed: int) -> tuple[Circuit, tuple[Event, ...]]:
    """A source, a cable, a trigger and one to three branches that want 15 to 140 % of what there is."""
    rng = random.Random(seed)
    contract_v = rng.choice([9.0, 12.0, 15.0, 20.0])
    contract_a = rng.uniform(1.5, 5.0)
    trips = rng.random() < 0.25
    source = Source(
        Level(5.0, rng.choice([1.6, 3.5]), trips),
        Level(contract_v, contract_a, trips),
        contract_s=CONTRACT_S,
        rise_s=rng.uniform(0.2e-3, 1e-3),
        trip_s=rng.uniform(0.5e-3, 2e-3),
        retry_s=rng.uniform(4e-3, 9e-3),
    )
    cable = Cable(rng.uniform(0.06, 0.25), rng.uniform(0.3e-6, 1.2e-6))
    trigger = Trigger(rng.uniform(0.01, 0.05), rng.uniform(2e-6, 40e-6), rng.uniform(0.005, 0.05), 3.6, CONTRACT_S)
    count = rng.randint(1, 3)
    share = rng.uniform(0.15, 1.4) / count
    watts = [contract_v * contract_a * share * rng.uniform(0.6, 1.4) for _ in range(count)]
    branches = tuple(_branch(rng, f"b{index}", contract_v, watt) for index, watt in enumerate(watts))
    events: tuple[Event, ...] = ()
    what = rng.random()
    if what < 0.2:
        branches = (*branches[:-1], branches[-1]._replace(joined=False))
        events = (Event(22e-3, "join", branches[-1].name),)
    elif what < 0.35:
        events = (Event(22e-3, "load off", branches[0].name),)
    elif what < 0.45 and contract_v > 9.0:
        events = (Event(22e-3, "level", level=Level(9.0, contract_a, trips)),)
    return Circuit(source, cable, trigger, branches), events


END_S = 40e-3
