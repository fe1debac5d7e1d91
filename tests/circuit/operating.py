"""The operating point of one network, or what collapses."""

from __future__ import annotations

from math import isnan

from pdcheck.circuit.collapse import Collapse, explain_collapse
from pdcheck.circuit.network import Network
from pdcheck.circuit.point import OperatingPoint, describe
from pdcheck.circuit.warm import settled


def operating_point(network: Network, off: frozenset[str] = frozenset()) -> OperatingPoint | Collapse:
    """The operating point with every branch at work but those in ``off``, or what collapses and at how many watts.

    Of several solutions the highest is the one that the circuit sits on. Limits do not change it. Source: Kirchhoff's
    laws and the constant-power quadratic [any circuits textbook].

    >>> from pdcheck.circuit.network import Branch, Source
    >>> from pdcheck.parts.loads import Load
    >>> rig = Network(Source(20.0), (Branch("lamp", Load("36W")),), series=(("cable", 0.25),))
    >>> point = operating_point(rig)
    >>> round(point.nodes["bus"].voltage_v, 4), round(point.losses["cable"], 4)
    (19.5394, 0.8486)
    >>> collapse = operating_point(rig._replace(series=(("cable", 4.0),)))
    >>> collapse.element, round(collapse.greatest_w, 6)
    ('bus', 25.0)
    """
    warm, solution = settled(network, off)
    return explain_collapse(warm, off) if isnan(solution.bus_v) else describe(warm, solution, off)
