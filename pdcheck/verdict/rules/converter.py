"""Rules on converters: input too low or too high at every voltage that occurs, currents, powers, output."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.current import PULL_UPS
from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.facts.trade import CURRENT_IN_HAND
from pdcheck.facts.voltage import CONNECTOR, VALID_MARGIN
from pdcheck.parts.converter import Converter
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, over, rule, under

MAKER = Origin("the converter's own figures, from the rig file", "rig")


def _converters(case: Case) -> Iterator[tuple[str, Converter]]:
    for branch in case.branches():
        if branch.converter is not None:
            yield branch.name, branch.converter


@rule(
    "converter-input-low",
    "fail",
    "Each converter gets the input voltage that it needs at the worst corner",
    MAKER,
    "Set a higher voltage, use a converter with a lower least input, or a cable and wires that drop less.",
)
def converter_input_low(case: Case, find: Find) -> Iterator[Finding]:
    """Input voltage at the contract, worst corner, against the least input (output plus dropout for a buck)."""
    for name, converter in _converters(case):
        least = converter.minimum_input_v()
        voltage = case.node_voltage(f"{name}/in")
        if name in case.off and under(case.source_v.max, least):
            high = case.source_v.max
            text = (
                f"off: its input is never above {high:.4g} V on {case.contract.voltage_v:g} V and it needs {least:g} V"
            )
            yield find(name, text, high, least, "V")
        elif voltage is not None and under(voltage.min, least):
            text = f"its input falls to {voltage.min:.4g} V on {case.contract.voltage_v:g} V and it needs {least:g} V"
            yield find(name, text, voltage.min, least, "V")


@rule(
    "converter-start",
    "fail",
    "Each converter gets the voltage that it needs to start",
    MAKER,
    "Set a higher voltage: it would not start on this one.",
    scope="supply",
)
def converter_start(case: Case, find: Find) -> Iterator[Finding]:
    """Least source voltage, before anything draws, against the start-up voltage."""
    for name, converter in _converters(case):
        if converter.start_v is not None and under(case.source_v.min, converter.start_v):
            text = f"it starts at {converter.start_v:g} V and the bus may be no more than {case.source_v.min:.4g} V"
            yield find(name, text, case.source_v.min, converter.start_v, "V")


@rule(
    "converter-input-high",
    "stop",
    "No converter sees more than the end of its input range, unloaded and with the source at its highest",
    MAKER,
    "Do not connect it: set a lower voltage, or use a converter that stands this one.",
    scope="supply",
)
def converter_input_high(case: Case, find: Find) -> Iterator[Finding]:
    """Highest source voltage without load against the end of the input range."""
    high = case.idle_high()
    for name, converter in _converters(case):
        most = converter.survives_v
        if most is not None and over(high, most):
            text = f"{high:.4g} V can stand at its input on {case.contract.voltage_v:g} V and it stands {most:g} V"
            yield find(name, text, high, most, "V")


@rule(
    "converter-input-transient",
    "note",
    "The source's transients stay within each converter's input range too",
    CONNECTOR,
    "A converter with more input voltage in hand, or a clamp on the bus, takes these short peaks.",
    scope="supply",
)
def converter_input_transient(case: Case, find: Find) -> Iterator[Finding]:
    """vSrcValid: 0.5 V more for up to 5 ms."""
    high = case.idle_high()
    peak = high + VALID_MARGIN.value
    for name, converter in _converters(case):
        most = converter.survives_v
        if most is not None and not over(high, most) and over(peak, most):
            text = f"for moments (vSrcValid) {peak:.4g} V can stand at its input and it stands {most:g} V"
            yield find(name, text, peak, most, "V")


@rule(
    "converter-before-contract",
    "note",
    "What each converter does on the 5 V before the contract is known",
    CONNECTOR,
    "Keep the load off until the contract stands, or use a converter that starts above 5.5 V.",
)
def converter_before_contract(case: Case, find: Find) -> Iterator[Finding]:
    """Most triggers have no output switch: the bus is at 5 V first."""
    if not case.seen.pd or case.contract.kind == "type-c":
        return
    for name, converter in _converters(case):
        start = converter.start_v if converter.start_v is not None else converter.minimum_input_v()
        before = case.before_v
        if under(before.max, start):
            text = f"off on the 5 V before the contract: it needs {start:g} V"
            yield find(name, text, before.max, start, "V", advice="Nothing to do; it starts with the contract.")
            continue
        output = case.node_current(f"{name}/out")
        if output is None:
            continue
        wanted = converter.input_power_for(output.typ * converter.output_v, before.typ) / before.min
        if over(wanted, case.seen.typec_a):
            text = (
                f"may start on the 5 V before the contract, and would then want {wanted:.3g} A "
                f"where {case.seen.typec_a:g} A is sure"
            )
            yield find(name, text, wanted, case.seen.typec_a, "A", origin=PULL_UPS)


@rule(
    "converter-output-over",
    "stop",
    "A boost converter's input stays below its output",
    Origin("a boost passes its input through, any circuits textbook", "physics"),
    "Do not connect the load: set a lower voltage or use a buck-boost.",
    scope="supply",
)
def converter_output_over(case: Case, find: Find) -> Iterator[Finding]:
    """A boost whose input can exceed its output hands the input to the load."""
    high = case.idle_high()
    for name, converter in _converters(case):
        if converter.kind == "boost" and over(high, converter.output_v):
            text = f"a boost set to {converter.output_v:g} V passes its input of up to {high:.4g} V on to the load"
            yield find(name, text, high, converter.output_v, "V")


@rule(
    "converter-input-current",
    "fail",
    "Each converter's input current stays within its limit at the worst corner",
    MAKER,
    "Set a higher voltage: the same power then needs less current.",
)
def converter_input_current(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case input current against the limit."""
    for name, converter in _converters(case):
        worst = case.worst_current(f"{name}/in")
        if converter.input_limit_a is not None and over(worst, converter.input_limit_a):
            text = f"takes {worst:.4g} A at worst at its input and stands {converter.input_limit_a:g} A"
            yield find(name, text, worst, converter.input_limit_a, "A")


@rule(
    "converter-input-power",
    "fail",
    "Each converter's input power stays within its limit",
    MAKER,
    "Take less from its output, or use a larger converter.",
)
def converter_input_power(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case input power against the limit."""
    for name, converter in _converters(case):
        worst = case.greatest_input_w(name)
        if converter.input_power_w is not None and worst is not None and over(worst, converter.input_power_w):
            text = f"takes {worst:.4g} W at worst at its input and stands {converter.input_power_w:g} W"
            yield find(name, text, worst, converter.input_power_w, "W")


@rule(
    "converter-output-current",
    "fail",
    "Each converter's output current stays within its limit",
    MAKER,
    "Take less from it, or use a larger converter.",
)
def converter_output_current(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case output current against the limit."""
    for name, converter in _converters(case):
        worst = case.worst_current(f"{name}/out")
        if converter.output_limit_a is not None and over(worst, converter.output_limit_a):
            text = f"gives {worst:.4g} A at worst and is good for {converter.output_limit_a:g} A"
            yield find(name, text, worst, converter.output_limit_a, "A")


@rule(
    "converter-output-power",
    "fail",
    "Each converter's output power stays within its limit",
    MAKER,
    "Take less from it, or use a larger converter.",
)
def converter_output_power(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case output power against the limit."""
    for name, converter in _converters(case):
        worst = case.worst_current(f"{name}/out") * converter.output_v
        if converter.power_limit_w is not None and over(worst, converter.power_limit_w):
            text = f"gives {worst:.4g} W at worst and is good for {converter.power_limit_w:g} W"
            yield find(name, text, worst, converter.power_limit_w, "W")


@rule(
    "converter-in-hand",
    "warn",
    "20 % of each converter's current stays in hand",
    CURRENT_IN_HAND.origin,
    "It works, with little to spare: watch its temperature in the box that it will live in.",
)
def converter_in_hand(case: Case, find: Find) -> Iterator[Finding]:
    """Input and output currents against 80 % of the limits."""
    for name, converter in _converters(case):
        sides = (("in", converter.input_limit_a, "input"), ("out", converter.output_limit_a, "output"))
        for end, limit, side in sides:
            worst = case.worst_current(f"{name}/{end}")
            if limit is not None and over(worst, limit * (1 - CURRENT_IN_HAND.value)) and not over(worst, limit):
                text = f"its {side} carries {worst:.4g} A at worst of {limit:g} A: less than 20 % in hand"
                yield find(name, text, worst, limit * (1 - CURRENT_IN_HAND.value), "A")


@rule(
    "converter-unknown",
    "note",
    "What each converter accepts and wastes is known",
    COMMON_PRACTICE,
    "Look it up on its sheet; what is not stated is not judged.",
    scope="supply",
)
def converter_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """Figures of a converter that nobody states."""
    for name, converter in _converters(case):
        for text in converter.assumed:
            yield find(name, text)
        if converter.input_v is None:
            yield find(name, "its input range is not stated: too low or too high is not judged")


RULES = (
    converter_input_high,
    converter_output_over,
    converter_input_low,
    converter_start,
    converter_input_current,
    converter_input_power,
    converter_output_current,
    converter_output_power,
    converter_in_hand,
    converter_input_transient,
    converter_before_contract,
    converter_unknown,
)
