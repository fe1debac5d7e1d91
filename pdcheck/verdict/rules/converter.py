"""Rules on converters: input too low or too high at every voltage that occurs, currents, powers, output."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.heat import AIR, BARE_MODULE, BOARD, MODULE
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.facts.trade import FAR_BEYOND_TABLE
from pdcheck.facts.voltage import CONNECTOR, VALID_MARGIN
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.physics.number import Condition, Number, any_of
from pdcheck.quantities import format_quantity, over, under
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rig_rule


def _converters(case: Case) -> Iterator[tuple[str, Converter]]:
    for branch in case.branches():
        if branch.converter is not None:
            yield branch.name, branch.converter


@rig_rule(
    "note",
    CONNECTOR,
    "Most converters survive it; one rated for more voltage, or a clamp on the bus, makes sure.",
    scope="supply",
)
def converter_input_transient(case: Case, find: Find) -> Iterator[Finding]:
    """Short peaks of the charger above a converter's rating.

    vSrcValid, for some milliseconds.
    """
    high = case.idle_high()
    peak = high + VALID_MARGIN.value
    for name, converter in _converters(case):
        most = converter.survives_v
        if most is not None and not over(high, most) and over(peak, most):
            reached = format_quantity(peak, "V", 3, beside=most)
            text = f"its input may get {reached} for a few milliseconds (vSrcValid) and is rated for {most:g} V"
            yield find(name, text, peak, most, "V")


@rig_rule("note", CONNECTOR, "Normal: it starts when the contract comes.", scope="supply")
def converter_before_contract(case: Case, find: Find) -> Iterator[Finding]:
    """A converter that waits for the contract.

    Most triggers have no output switch: the bus is at 5 V first.
    """
    if not case.seen.pd or case.contract.kind == "type-c":
        return
    for name, converter in _converters(case):
        start = converter.start_v if converter.start_v is not None else converter.minimum_input_v()
        before = case.before_v
        if under(before.max, start):
            text = f"off on the {before.typ:g} V before the contract: it needs {start:g} V"
            yield find(name, text, before.max, start, "V")


def _tables(case: Case) -> Iterator[tuple[str, EfficiencyTable]]:
    for name, converter in _converters(case):
        if isinstance(converter.efficiency, EfficiencyTable) and name not in case.off:
            yield name, converter.efficiency


@rig_rule(
    "warn",
    COMMON_PRACTICE,
    "Beyond the table its edge is used. Add the row or column from the sheet, or measure there.",
    may=lambda case: any(_tables(case)),
)
def converter_efficiency_range(case: Case, find: Find) -> Iterator[Finding]:
    """An efficiency table used beyond its ends."""
    for name, table in _tables(case):
        volts, amps = case.node_voltage(f"{name}/in"), case.node_current(f"{name}/out")
        if volts is None or amps is None:
            continue
        for axis, reached, unit, what in (
            (table.input_v, volts, "V", "input"),
            (table.output_a, amps, "A", "output"),
        ):
            value, end = (reached.max, axis[-1]) if over(reached.max, axis[-1]) else (reached.min, axis[0])
            if not (over(value, axis[-1]) or under(value, axis[0])) or (len(axis) == 1 and what == "input"):
                continue
            far = abs(value - end) > FAR_BEYOND_TABLE.value * end
            text = (
                f"its efficiency table ends at {format_quantity(end, unit, 3)} {what}, and "
                f"{format_quantity(value, unit, 3, beside=end)} occurs: the edge is used"
            )
            yield find(name, text, value, end, unit, level="warn" if far else "note")


def _bare(case: Case) -> Iterator[tuple[str, Number, Number, Condition]]:
    """Of each board on an open bench its name, what it loses [W], how warm that makes it [C], and whether too warm."""
    for name, converter in _converters(case):
        lost = None if case.rig.box is not None or converter.states_heat else case.typical_loss(f"{name}/converter")
        if lost is not None:
            reached = AIR.value + MODULE.typ * lost
            yield name, lost, reached, over(reached, BOARD.value)


@rig_rule(
    "note",
    BARE_MODULE,
    "Look up how many K/W it rises by, and write it into the rig file as rise: then it is judged.",
    may=lambda case: any_of(hot for *_, hot in _bare(case)),
)
def converter_may_be_hot(case: Case, find: Find) -> Iterator[Finding]:
    """A converter that may get too hot.

    A bare board, on an open bench, of which nobody states the rise; in a box it is one of the figures asked for.
    """
    for name, lost, reached, hot in _bare(case):
        if hot:
            text = (
                f"turns {format_quantity(lost, 'W', 2)} into heat: a bare board gets about {reached:.0f} °C "
                "from that, if nothing cools it"
            )
            yield find(name, text, reached, BOARD.value, "C")


@rig_rule("note", COMMON_PRACTICE, "Look it up on its sheet; what is not stated is not judged.", scope="supply")
def converter_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """A converter of which something is not known."""
    for name, converter in _converters(case):
        for text in converter.assumed:
            yield find(name, text)
        if converter.input_v is None:
            yield find(name, "its input range is not stated: not judged")
