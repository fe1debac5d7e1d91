"""The operating point of a network: every node, every part's loss, and flags for what is out of its limits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from pdcheck.circuit.network import Branch, Converter, LedDriver, LedString, Network
from pdcheck.circuit.ports import output_current
from pdcheck.circuit.solve import ON_THE_LIMIT, BusSolution

FlagKind = Literal[
    "source-current",
    "constant-current",
    "input-low",
    "input-high",
    "start-low",
    "dropout",
    "output-below-input",
    "input-current",
    "input-power",
    "output-current",
    "output-power",
    "led-dark",
    "led-headroom",
]


class Node(NamedTuple):
    """Voltage [V] at a node and the current [A] through it towards the loads."""

    voltage_v: float
    current_a: float


class Flag(NamedTuple):
    """Something out of its limit at the operating point: where, what, the value, the limit it should keep."""

    node: str
    kind: FlagKind
    value: float
    limit: float


class OperatingPoint(NamedTuple):
    """Nodes ``source``, ``bus`` and per branch ``NAME/in``, ``NAME/out``, ``NAME/load``; power in watts.

    ``losses``: by part, ``cable``, ``trigger``, ``bus`` (its own draw), ``NAME/wire``, ``NAME/converter``,
    ``NAME/lead``, ``NAME/resistor`` or ``NAME/driver`` (inside an LED load). ``loads``: what is useful in each branch's
    load. ``source_w`` is the sum of both.
    """

    nodes: dict[str, Node]
    losses: dict[str, float]
    loads: dict[str, float]
    source_w: float
    constant_current: bool
    flags: tuple[Flag, ...]


def describe(network: Network, solution: BusSolution, off: frozenset[str] = frozenset()) -> OperatingPoint:
    """Every node, loss and flag that goes with a solved bus."""
    bus_v, total_a = solution.bus_v, solution.current_a
    squared = total_a * total_a
    nodes = {"source": Node(solution.source_v, total_a), "bus": Node(bus_v, total_a)}
    losses = {"cable": squared * network.cable_ohm, "trigger": squared * network.trigger_ohm}
    if network.bus_a:
        losses["bus"] = bus_v * network.bus_a
    loads: dict[str, float] = {}
    flags: list[Flag] = []
    source = network.source
    if solution.constant_current and source.limit_a is not None:
        flags.append(Flag("source", "constant-current", solution.source_v, source.open_v))
    elif source.limit_a is not None and total_a > source.limit_a * (1.0 + ON_THE_LIMIT):
        flags.append(Flag("source", "source-current", total_a, source.limit_a))
    for branch, input_a in zip(network.branches, solution.port_a, strict=False):
        if branch.name in off:
            nodes[f"{branch.name}/in"] = Node(bus_v, 0.0)
            nodes[f"{branch.name}/out"] = nodes[f"{branch.name}/load"] = Node(0.0, 0.0)
        else:
            _describe_branch(branch, bus_v, input_a, nodes, losses, loads, flags)
    return OperatingPoint(nodes, losses, loads, solution.source_v * total_a, solution.constant_current, tuple(flags))


def _describe_branch(
    branch: Branch,
    bus_v: float,
    input_a: float,
    nodes: dict[str, Node],
    losses: dict[str, float],
    loads: dict[str, float],
    flags: list[Flag],
) -> None:
    name, converter = branch.name, branch.converter
    input_v = bus_v - branch.wire_ohm * input_a
    output_v, output_a = input_v, input_a
    losses[f"{name}/wire"] = input_a * input_a * branch.wire_ohm
    if converter is not None:
        output_v = converter.output_v
        output_a = output_current(converter, branch) or 0.0
        losses[f"{name}/converter"] = input_v * input_a - output_v * output_a
        flags.extend(_converter_flags(name, converter, input_v, input_a, output_a))
    load_v = output_v - branch.lead_ohm * output_a
    losses[f"{name}/lead"] = output_a * output_a * branch.lead_ohm
    nodes[f"{name}/in"] = Node(input_v, input_a)
    nodes[f"{name}/out"] = Node(output_v, output_a)
    nodes[f"{name}/load"] = Node(load_v, output_a)
    useful = load_v * output_a
    load = branch.load
    if isinstance(load, LedString):
        losses[f"{name}/resistor"] = output_a * output_a * load.resistor_ohm
        useful -= losses[f"{name}/resistor"]
        if load_v <= load.string_v:
            flags.append(Flag(f"{name}/load", "led-dark", load_v, load.string_v))
    elif isinstance(load, LedDriver):
        losses[f"{name}/driver"] = useful * (1.0 - load.efficiency)
        useful *= load.efficiency
        needed = load.string_v + load.headroom_v
        if load_v < needed * (1.0 - ON_THE_LIMIT):
            flags.append(Flag(f"{name}/load", "led-headroom", load_v, needed))
    loads[name] = useful


def _converter_flags(
    name: str, converter: Converter, input_v: float, input_a: float, output_a: float
) -> Iterator[Flag]:
    over, under = 1.0 + ON_THE_LIMIT, 1.0 - ON_THE_LIMIT
    entry, exit_ = f"{name}/in", f"{name}/out"
    if converter.input_min_v is not None and input_v < converter.input_min_v * under:
        yield Flag(entry, "input-low", input_v, converter.input_min_v)
    if converter.input_max_v is not None and input_v > converter.input_max_v * over:
        yield Flag(entry, "input-high", input_v, converter.input_max_v)
    if converter.start_v is not None and input_v < converter.start_v * under:
        yield Flag(entry, "start-low", input_v, converter.start_v)
    if converter.kind == "buck" and input_v < (converter.output_v + converter.dropout_v) * under:
        yield Flag(entry, "dropout", input_v, converter.output_v + converter.dropout_v)
    if converter.kind == "boost" and input_v > converter.output_v * over:
        yield Flag(entry, "output-below-input", input_v, converter.output_v)
    if converter.input_limit_a is not None and input_a > converter.input_limit_a * over:
        yield Flag(entry, "input-current", input_a, converter.input_limit_a)
    if converter.input_limit_w is not None and input_v * input_a > converter.input_limit_w * over:
        yield Flag(entry, "input-power", input_v * input_a, converter.input_limit_w)
    if converter.output_limit_a is not None and output_a > converter.output_limit_a * over:
        yield Flag(exit_, "output-current", output_a, converter.output_limit_a)
    output_w = converter.output_v * output_a
    if converter.output_limit_w is not None and output_w > converter.output_limit_w * over:
        yield Flag(exit_, "output-power", output_w, converter.output_limit_w)
