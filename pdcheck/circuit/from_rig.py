"""From a rig, a cable and a contract to the network in plain numbers, and to the limits of its parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pdcheck.circuit import network as net
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.errors import InputError
from pdcheck.facts.copper import REFERENCE_TEMPERATURE, at_temperature
from pdcheck.facts.voltage import NEW_TOLERANCE
from pdcheck.parts.cable import Cable
from pdcheck.parts.converter import UNKNOWN_EFFICIENCY, Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.load import Led, Load
from pdcheck.parts.request import AvsRequest, FixedRequest, PpsRequest
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple

if TYPE_CHECKING:
    from pdcheck.circuit.envelope import Limits


def network_spec(
    rig: Rig,
    cable: Cable | None,
    contract_v: float,
    *,
    source_tolerance: float | None = None,
    limit_a: float | None = None,
    limit_kind: net.LimitKind = "trip",
    bus_a: float = 0.0,
) -> NetworkSpec:
    """The network of a rig on one contract, with its tolerances.

    Args:
        rig: trigger, branches and tolerances.
        cable: between source and trigger; None for none (a trigger plugged straight in).
        contract_v: nominal voltage of the contract [V], 5 V without PD.
        source_tolerance: tolerance of the source's voltage (a ratio); None takes the rig's.
        limit_a: current of the contract [A]; None for not known.
        limit_kind: ``pps`` where the source holds the current at its limit, else ``trip``.
        bus_a: what the trigger itself draws from the bus [A].

    >>> rig = Rig(trigger={"request": "15V"}, branch=[{"name": "lamp", "load": "5W"}])
    >>> network_spec(rig, None, 15.0).source_v
    Triple(min=14.25, typ=15.0, max=15.75)
    """
    tolerance = rig.tolerance
    ratio = next(each for each in (source_tolerance, tolerance.source, NEW_TOLERANCE.value) if each is not None)
    return NetworkSpec(
        source_v=Triple(contract_v * (1.0 - ratio), contract_v, contract_v * (1.0 + ratio)),
        branches=tuple(_branch(branch, design_voltage(rig, contract_v)) for branch in rig.branches),
        limit_a=limit_a,
        limit_kind=limit_kind,
        cable=Triple.exact(0.0) if cable is None else cable.loop_ohm()[0],
        trigger=rig.trigger.resistance,
        bus_a=bus_a,
        resistance=_either_way(tolerance.resistance),
        efficiency=_either_way(tolerance.efficiency),
        load=_either_way(tolerance.load),
        copper=Triple(*(at_temperature(celsius) for celsius in tolerance.copper)),
    )


def part_limits(
    rig: Rig,
    cable: Cable | None,
    branch_name: str,
    *,
    source_a: float | None = None,
    source_w: float | None = None,
) -> Limits:
    """What the parts on the way to one branch may carry, for its envelope; wires by their own warming.

    Raises:
        InputError: no such branch.
    """
    branch = next((branch for branch in rig.branches if branch.name == branch_name), None)
    if branch is None:
        known = ", ".join(branch.name for branch in rig.branches)
        raise InputError(f"no branch named {branch_name!r}", expected=f"one of {known}")
    from pdcheck.circuit.envelope import Limits

    return Limits(
        source_a=source_a,
        source_w=source_w,
        cable_a=None if cable is None else cable.current_a,
        trigger_a=rig.trigger.rating_a,
        wire_a=None if branch.wire is None else branch.wire.ampacity_a(),
        lead_a=None if branch.lead is None else branch.lead.ampacity_a(),
    )


def design_voltage(rig: Rig, contract_v: float) -> float:
    """The bus voltage [V] that the rig is built for: what its trigger asks for, else what it has got.

    A series resistor that is not given is chosen for this one, and stays the same on a lesser contract.
    """
    request = rig.trigger.request
    if isinstance(request, FixedRequest | PpsRequest | AvsRequest):
        return request.voltage_v
    return contract_v


def _either_way(ratio: float) -> Triple:
    return Triple(1.0 - ratio, 1.0, 1.0 + ratio)


def _branch(branch: Branch, design_v: float) -> BranchSpec:
    supply_v = design_v if branch.converter is None else branch.converter.output_v
    return BranchSpec(
        branch.name,
        _load(branch.load, supply_v),
        None if branch.converter is None else converter_network(branch.converter),
        _conductor(branch.wire),
        _conductor(branch.lead),
    )


def _conductor(wire: Wire | None) -> Conductor:
    if wire is None:
        return Conductor()
    total = wire.resistance_ohm(REFERENCE_TEMPERATURE.value)
    if wire.temperature_c is not None:
        return Conductor(0.0, total)
    return Conductor(total - wire.contacts_ohm, wire.contacts_ohm)


def converter_network(converter: Converter) -> net.Converter:
    """A converter in plain numbers; an efficiency that nobody states is taken as the cautious one."""
    stated = converter.efficiency
    efficiency: float | net.EfficiencyTable
    if isinstance(stated, EfficiencyTable):
        efficiency = net.EfficiencyTable(stated.input_v, stated.output_a, stated.values)
    else:
        efficiency = UNKNOWN_EFFICIENCY.value if stated is None else stated
    least, most = converter.input_v or (None, None)
    return net.Converter(
        kind=converter.kind,
        output_v=converter.output_v,
        efficiency=efficiency,
        idle_w=converter.idle_w,
        dropout_v=converter.dropout_v,
        input_min_v=least,
        input_max_v=most,
        input_limit_a=converter.input_limit_a,
        input_limit_w=converter.input_power_w,
        output_limit_a=converter.output_limit_a,
        output_limit_w=converter.power_limit_w,
        start_v=converter.start_v,
    )


def _load(load: Load, supply_v: float) -> net.Load:
    if load.power_w is not None:
        return net.ConstantPower(load.power_w)
    if load.current_a is not None:
        return net.ConstantCurrent(load.current_a)
    if load.resistance_ohm is not None:
        return net.Resistance(load.resistance_ohm)
    led = load.led
    if led is None:
        raise AssertionError("a load is one of four kinds")
    if led.driver == "driver":
        return net.LedDriver(led.count, led.vf_v, led.current_a, led.headroom_v)
    return net.LedString(led.count, led.vf_v, series_resistor(led, supply_v))


def series_resistor(led: Led, supply_v: float) -> float:
    """The series resistor of a string [ohm]: as given, else for its current on a supply [V].

    On a supply that does not reach the string no resistor gives that current; then the one for twice the string's
    voltage stands in, and the string stays dark.

    >>> round(series_resistor(Led(count=3, vf="3.4V", current="250mA", driver="resistor"), 20.0), 6)
    39.2
    """
    if led.resistor_ohm is not None:
        return led.resistor_ohm
    over = supply_v - led.string_v
    return (over if over > 0.0 else led.string_v) / led.current_a
