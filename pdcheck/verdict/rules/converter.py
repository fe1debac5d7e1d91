"""Rules on converters: input too low or too high at every voltage that occurs, currents, powers, output."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.current import PULL_UPS
from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.facts.voltage import CONNECTOR, VALID_MARGIN
from pdcheck.parts.converter import Converter
from pdcheck.quantities import over, under
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rule

MAKER = Origin("the converter's own figures, from the rig file", "rig")


def _converters(case: Case) -> Iterator[tuple[str, Converter]]:
    for branch in case.branches():
        if branch.converter is not None:
            yield branch.name, branch.converter


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
