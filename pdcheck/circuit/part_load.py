"""A network with some of its loads set lower, or taken off, as in a first power-up step by step."""

from __future__ import annotations

from collections.abc import Mapping

from pdcheck.circuit.corners import NetworkSpec
from pdcheck.circuit.network import ConstantCurrent, ConstantPower, LedDriver, LedString, Load, Resistance


def at_share(load: Load, share: float) -> Load:
    """A load that takes a share (0..1) of what is stated; at 0 nothing hangs on the output at all.

    A resistance is set by one of more ohms: the same share of the current at the same voltage. Strings of LEDs are on
    or off.

    >>> at_share(ConstantPower(18.0), 0.5), at_share(Resistance(6.0), 0.5)
    (ConstantPower(power_w=9.0), Resistance(resistance_ohm=12.0))
    >>> at_share(Resistance(6.0), 0.0)
    ConstantCurrent(current_a=0.0)
    """
    if share >= 1.0:
        return load
    if share <= 0.0:
        return ConstantCurrent(0.0)
    match load:
        case ConstantPower(power_w):
            return ConstantPower(power_w * share)
        case ConstantCurrent(current_a):
            return ConstantCurrent(current_a * share)
        case Resistance(resistance_ohm):
            return Resistance(resistance_ohm / share)
        case LedString() | LedDriver():
            return load


def can_be_halved(load: Load) -> bool:
    """Whether a test load can take half of it."""
    return not isinstance(load, LedString | LedDriver)


def with_shares(spec: NetworkSpec, shares: Mapping[str, float]) -> NetworkSpec:
    """The network with the loads of the named branches at their shares, the others as they are."""
    branches = tuple(
        branch._replace(load=at_share(branch.load, shares.get(branch.name, 1.0))) for branch in spec.branches
    )
    return spec._replace(branches=branches)


def with_output_scaled(spec: NetworkSpec, factor: float) -> NetworkSpec:
    """The network with every converter set that much off."""
    branches = tuple(
        branch
        if branch.converter is None
        else branch._replace(converter=branch.converter._replace(output_v=branch.converter.output_v * factor))
        for branch in spec.branches
    )
    return spec._replace(branches=branches)


def load_current(load: Load, voltage_v: float) -> float | None:
    """Current [A] that a load takes at its terminals' voltage [V]; None where no one current goes with it.

    >>> load_current(ConstantPower(18.0), 12.0), load_current(Resistance(6.0), 12.0)
    (1.5, 2.0)
    """
    if voltage_v <= 0.0:
        return None
    match load:
        case ConstantPower(power_w):
            return power_w / voltage_v
        case ConstantCurrent(current_a):
            return current_a
        case Resistance(resistance_ohm):
            return voltage_v / resistance_ohm
        case LedString():
            return max(0.0, voltage_v - load.string_v) / load.resistor_ohm
        case LedDriver():
            return load.power_w / voltage_v
