"""From a rig, a cable and a contract to the network in plain numbers."""

from __future__ import annotations

from pdcheck.circuit.corners import EXACT, BranchSpec, Conductor, HeatSpec, NetworkSpec
from pdcheck.circuit.network import in_turn
from pdcheck.facts.copper import ABSOLUTE_ZERO, REFERENCE_TEMPERATURE, at_temperature
from pdcheck.facts.heat import CABLE_RISE, CABLE_SHARE, MODULE, SURFACE_SHARE
from pdcheck.facts.voltage import NEW_TOLERANCE
from pdcheck.parts.box import Box
from pdcheck.parts.cable import Cable
from pdcheck.parts.kept import kept
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple

MOST_PULSED = 6
"""Loads that go on and off of which every combination is solved."""
MOST_HEATING = 4
"""The same where heat is solved with them, which takes its steps."""


def network_spec(
    rig: Rig,
    cable: Cable | None,
    contract_v: float,
    *,
    holds_a: float | None = None,
) -> NetworkSpec:
    """The network of a rig on one contract, with its tolerances.

    Args:
        rig: trigger, branches and tolerances.
        cable: between source and trigger; None for none (a trigger plugged straight in).
        contract_v: nominal voltage of the contract [V], 5 V without PD.
        holds_a: current [A] at which the source lets its voltage fall; None where it does not.

    >>> rig = Rig(trigger={"request": "15V"}, branch=[{"name": "lamp", "load": "5W"}])
    >>> network_spec(rig, None, 15.0).source_v
    Triple(min=14.25, typ=15.0, max=15.75)
    """
    tolerance = rig.tolerance
    ratio = NEW_TOLERANCE.value if tolerance.source is None else tolerance.source
    return NetworkSpec(
        source_v=Triple(contract_v * (1.0 - ratio), contract_v, contract_v * (1.0 + ratio)),
        branches=branch_specs(rig, contract_v),
        holds_a=holds_a,
        series=tuple([(part.place, part.resistance) for part in rig.series(cable)]),
        resistance=_either_way(tolerance.resistance),
        efficiency=_either_way(tolerance.efficiency),
        load=_either_way(tolerance.load),
        copper=Triple(*(at_temperature(celsius) for celsius in tolerance.copper)),
        heat=heat_of(rig, cable) if rig.states_heat else None,
    )


def heat_of(rig: Rig, cable: Cable | None) -> HeatSpec:
    """The air around a rig, its box, and what counts for heat where nobody states it.

    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}], box="120mm x 80mm x 40mm")
    >>> [round(each, 3) for each in heat_of(rig, None).shed_w_k]
    [0.352, 0.282, 0.106]
    """
    box = rig.box or Box()
    shed = box.shed_w_k()
    rise = CABLE_RISE.value / cable.current_a**2 if cable is not None and cable.current_a else 0.0
    stated = "copper" in rig.tolerance.model_fields_set
    return HeatSpec(
        box.around_c,
        # The less it sheds the hotter it gets.
        None if box.size_m is None else Triple(shed.max, shed.typ, shed.min),
        SURFACE_SHARE,
        MODULE,
        Triple(*(share * rise for share in CABLE_SHARE)),
        rig.tolerance.copper if stated else Triple.exact(ABSOLUTE_ZERO),
    )


def warming(spec: NetworkSpec, rig: Rig, cable: Cable | None) -> NetworkSpec:
    """A network as it is once it has warmed up: what temperatures are told of.

    Its loads warm it with what they take over time, where that is stated.
    """
    return spec._replace(heat=heat_of(rig, cable)._replace(cold=False), copper=EXACT)


def design_voltage(rig: Rig, contract_v: float) -> float:
    """The bus voltage [V] that the rig is built for: what its trigger asks for, else what it has got.

    A series resistor that is not given is chosen for this one, and stays the same on a lesser contract.
    """
    return contract_v if rig.design_v is None else rig.design_v


def _either_way(ratio: float) -> Triple:
    return Triple(1.0 - ratio, 1.0, 1.0 + ratio)


def over_time(rig: Rig, spec: NetworkSpec, contract_v: float) -> list[tuple[float, NetworkSpec]]:
    """What a circuit is in turn, each with its part of the time (0..1): loads at their average, or on and off.

    Loads that go on and off do so independently of each other, in every combination; past ``MOST_PULSED`` of them the
    others count as a steady load of the same average.

    >>> rig = Rig(trigger="9V", branch=[{"name": "radio", "load": {"power": "2W", "duty": "25%"}}])
    >>> [(part, spec.branches[0].load.words()) for part, spec in over_time(rig, network_spec(rig, None, 9.0), 9.0)]
    [(0.25, '2 W'), (0.75, '0 A')]
    """
    design_v = design_voltage(rig, contract_v)
    turns = [branch.load.over_time(_supply_v(branch, design_v)) for branch in rig.branches]
    pulsed = 0
    for at, each in enumerate(turns):
        pulsed += len(each) > 1
        if len(each) > 1 and pulsed > MOST_PULSED:
            part, load = each[0]
            turns[at] = ((1.0, load.demand(part)),)
    return in_turn(spec, turns)


def _supply_v(branch: Branch, design_v: float) -> float:
    return design_v if branch.converter is None else branch.converter.output_v


def branch_specs(rig: Rig, contract_v: float) -> tuple[BranchSpec, ...]:
    """The branches of a rig on one contract [V], before tolerance."""
    specs, pulsed = [_branch(branch, design_voltage(rig, contract_v)) for branch in rig.branches], 0
    for at, spec in enumerate(specs):
        pulsed += len(spec.harshest) > 1
        if pulsed > MOST_HEATING:
            # Past so many a load counts for heat as if it were on all the time.
            specs[at] = spec._replace(turns=(), harshest=())
    return tuple(specs)


@kept
def _branch(branch: Branch, design_v: float) -> BranchSpec:
    return BranchSpec(
        branch.name,
        branch.load.on(_supply_v(branch, design_v)),
        branch.converter,
        _conductor(branch.wire),
        _conductor(branch.lead),
        Triple.exact(0.0) if branch.converter is None else branch.converter.counted_rise,
        *branch.load.heating(_supply_v(branch, design_v)),
    )


def _conductor(wire: Wire | None) -> Conductor:
    if wire is None:
        return Conductor()
    total = wire.resistance_ohm(REFERENCE_TEMPERATURE.value)
    if wire.temperature_c is not None:
        return Conductor(0.0, total, wire.rise_k_a2, wire.temperature_c)
    return Conductor(total - wire.contacts_ohm, wire.contacts_ohm, wire.rise_k_a2)
