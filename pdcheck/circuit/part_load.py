"""A network with some of its loads set lower, or taken off, as in a first power-up step by step."""

from __future__ import annotations

from collections.abc import Mapping

from pdcheck.circuit.corners import NetworkSpec


def with_shares(spec: NetworkSpec, shares: Mapping[str, float]) -> NetworkSpec:
    """The network with the loads of the named branches at their shares, the others as they are."""
    branches = tuple(branch.sharing(shares.get(branch.name, 1.0)) for branch in spec.branches)
    return spec._replace(branches=branches)


def with_output_scaled(spec: NetworkSpec, factor: float) -> NetworkSpec:
    """The network with every converter set that much off."""
    branches = tuple(
        branch
        if branch.converter is None
        else branch._replace(converter=branch.converter.with_output(branch.converter.output_v * factor))
        for branch in spec.branches
    )
    return spec._replace(branches=branches)
