"""From a rig on a source and cable to the solver's circuit, with all that nobody stated and was taken for it."""

from __future__ import annotations

from pdcheck.circuit.from_rig import design_voltage
from pdcheck.circuit.transient.given import Branch, Cable, Circuit, Converter, Level, Load, LoadKind, Source, Trigger
from pdcheck.contract.available import Available
from pdcheck.contract.settle import Contract
from pdcheck.facts import motion
from pdcheck.facts.copper import awg_diameter_m
from pdcheck.facts.origin import COMMON_PRACTICE, Limit, Origin, Range
from pdcheck.facts.timing import timer
from pdcheck.facts.voltage import SAFE_5V, SLEW_RISING
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable as CablePart
from pdcheck.parts.converter import Converter as ConverterPart
from pdcheck.parts.loads.load import Load as LoadPart
from pdcheck.parts.rig import Branch as BranchPart
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source as SourcePart
from pdcheck.parts.wire import Wire
from pdcheck.physics.ports import CurrentPort, LinearPort, PowerPort
from pdcheck.quantities import format_quantity

START = Limit("start voltage of a converter or load of which none is stated", 4.5, "V", COMMON_PRACTICE)
"""So that what nobody stated starts on the 5 V before a contract, which is where a build may hang."""
LOAD_START = Limit(
    "voltage from which a load behind a converter starts, of the converter's output", 0.9, "1", motion.ASSUMED
)
LOAD_STOP = Limit("voltage below which it stops, of the converter's output", 0.8, "1", motion.ASSUMED)
CABLE_LENGTH = Limit("length of a cable of which none is stated", 1.0, "m", COMMON_PRACTICE)
PD_BEFORE = Limit("current before the contract of a source whose Rp is not stated, at most", 3.0, "A", motion.ASSUMED)

LEAST_BULK_F = 0.1e-6
"""A bus without any capacitance has that of its wires and boards all the same, and the equations need it above 0."""


class Assumed(NamedTuple):
    """A figure that nobody stated: whose it is, what was taken for it, and where that comes from."""

    subject: str
    text: str
    origin: Origin


class Built(NamedTuple):
    """A circuit, and what was taken where the rig, the source and the cable say nothing."""

    circuit: Circuit
    assumed: tuple[Assumed, ...]


class _Filling:
    """Fills in what is not stated, and keeps a list of it."""

    def __init__(self) -> None:
        self._taken: list[tuple[str, str, float | None, str, Origin]] = []

    def take(self, stated: float | None, subject: str, what: str, value: float, unit: str, origin: Origin) -> float:
        """The stated figure, else ``value``."""
        if stated is not None:
            return stated
        self._taken.append((subject, what, value, unit, origin))
        return value

    def usual(self, stated: float | None, subject: str, what: str, figure: Limit | Range) -> float:
        """The stated figure, else the usual one."""
        value = figure.value if isinstance(figure, Limit) else figure.typ or 0.0
        return self.take(stated, subject, what, value, figure.unit, figure.origin)

    def say(self, subject: str, text: str, origin: Origin) -> None:
        """Something else that was taken for granted."""
        self._taken.append((subject, text, None, "", origin))

    @property
    def assumed(self) -> tuple[Assumed, ...]:
        """The list, in words, which are made when somebody reads it."""
        return tuple(
            Assumed(subject, what if value is None else f"{what}: {format_quantity(value, unit, 3)}", origin)
            for subject, what, value, unit, origin in self._taken
        )


def circuit_of(rig: Rig, source: SourcePart, cable: CablePart, seen: Available, contract: Contract) -> Built:
    """The circuit of a rig with every figure at its stated or typical value.

    ``seen`` is what ``source`` offers over ``cable``, ``contract`` what the trigger gets of it.

    >>> from pdcheck.contract.available import available
    >>> from pdcheck.contract.settle import settle
    >>> rig = Rig(trigger="9V", branch=[{"name": "heater", "load": "4.5ohm"}])
    >>> charger, between = SourcePart("5V 3A, 9V 3A"), CablePart("C-C 3A 1m loop=200mOhm")
    >>> seen, contract = available(charger, between), settle(rig.trigger, charger, between)
    >>> circuit, assumed = circuit_of(rig, charger, between, seen, contract)
    >>> circuit.source.contract, circuit.cable
    (Level(voltage_v=9.0, limit_a=3.0, trips=False), Cable(resistance_ohm=0.2, inductance_h=5.5e-07))
    >>> [each.text for each in assumed][:2]
    ['at 5 V before the contract: 3 A', 'past its limit it holds the current and lets the voltage fall']
    """
    filling = _Filling()
    circuit = Circuit(
        _source(filling, source, seen, contract),
        _cable(filling, cable),
        _trigger(filling, rig),
        _branches(filling, rig, contract.voltage_v),
    )
    return Built(circuit, filling.assumed)


def branch_of(
    branch: BranchPart, copper_c: float, contract_v: float, supply_v: float
) -> tuple[Branch, tuple[Assumed, ...]]:
    """A branch as the circuit has it on a contract [V] in a rig built for ``supply_v``, and what was taken for granted.

    >>> heater = Rig(trigger="9V", branch=[{"name": "heater", "load": "4.5ohm"}]).branches[0]
    >>> branch_of(heater, 20.0, 9.0, 9.0)[0].load.value
    4.5
    """
    filling = _Filling()
    return _branch(filling, branch, copper_c, contract_v, supply_v), filling.assumed


def feed_of(rig: Rig, cable: CablePart) -> tuple[float, float]:
    """What stands before the branches: inductance of the cable [H], and capacitance on the bus [F].

    >>> feed_of(Rig(trigger="9V", branch=[{"name": "x", "load": "1W"}]), CablePart("C-C 3A 1m"))
    (5.5e-07, 1e-05)
    """
    filling = _Filling()
    return _cable(filling, cable).inductance_h, _trigger(filling, rig).bulk_f


def _branches(filling: _Filling, rig: Rig, contract_v: float) -> tuple[Branch, ...]:
    supply_v = design_voltage(rig, contract_v)
    copper_c = rig.tolerance.copper.typ
    return tuple(_branch(filling, branch, copper_c, contract_v, supply_v) for branch in rig.branches)


def level_of(source: SourcePart, contract: Contract) -> Level:
    """Where a source goes on a contract, and what it does past its current."""
    return Level(
        contract.voltage_v, contract.current_a, source.over_current == "hiccup" and not contract.limits_current
    )


def before_a(source: SourcePart, seen: Available) -> float:
    """The current [A] to count on at 5 V before any contract: as stated, else by what a PD source offers at 5 V.

    >>> from pdcheck.contract.available import available
    >>> charger, cable = SourcePart("5V 3A, 9V 3A"), CablePart("C-C 3A")
    >>> before_a(charger, available(charger, cable)), before_a(charger, available(charger, CablePart("A-C")))
    (3.0, 0.5)
    """
    if seen.typec_known or not seen.offers:
        return seen.typec_a
    five = seen.offers[0].current_ma_at(seen.offers[0].max_mv) / 1000
    return max(min(five, PD_BEFORE.value), seen.typec_a)


def _source(filling: _Filling, source: SourcePart, seen: Available, contract: Contract) -> Source:
    name = source.id
    plain_a = before_a(source, seen)
    filling.take(source.typec_current_a, name, "at 5 V before the contract", plain_a, "A", PD_BEFORE.origin)
    if source.over_current is None:
        filling.say(name, "past its limit it holds the current and lets the voltage fall", COMMON_PRACTICE)
    trips = source.over_current == "hiccup"
    retry_s = motion.HICCUP_RETRY.value if source.retry_s is None else source.retry_s
    if trips:
        filling.usual(source.retry_s, name, "tries again after", motion.HICCUP_RETRY)
    first, transition = timer("tFirstSourceCap"), timer("tSrcTransition")
    contract_s = first.require_max() + transition.require_max()
    if contract.offer is not None:
        filling.say(name, f"contract {format_quantity(contract_s, 's', 3)} after the 5 V", first.origin)
    five_v = SAFE_5V.typ or 0.0
    return Source(
        Level(five_v, plain_a if contract.offer is not None else contract.current_a, trips),
        None if contract.offer is None else level_of(source, contract),
        contract_s,
        SLEW_RISING.value,
        motion.SOURCE_RISE.value,
        trip_s=motion.HICCUP_PATIENCE.value,
        retry_s=retry_s,
        reset_off_s=timer("tSrcRecover", epr=contract.epr).require_min(),
    )


def _cable(filling: _Filling, cable: CablePart) -> Cable:
    loop, unmeasured = cable.loop_ohm()
    if unmeasured:
        filling.say(cable.id, f"loop: {format_quantity(loop.typ, 'ohm', 3)}, half of what is allowed", COMMON_PRACTICE)
    per_m, length_m = motion.CABLE_INDUCTANCE, CABLE_LENGTH.value if cable.length_m is None else cable.length_m
    taken = length_m * (per_m.typ or 0.0) + motion.CONNECTOR_INDUCTANCE.value
    return Cable(loop.typ, filling.take(cable.inductance_h, cable.id, "inductance", taken, "H", per_m.origin))


def _trigger(filling: _Filling, rig: Rig) -> Trigger:
    """The board, with all that the rig has in series before its bus."""
    trigger, name = rig.trigger, "trigger"
    bulk_f = max(filling.usual(trigger.bulk_f, name, "bulk", motion.TRIGGER_BULK), LEAST_BULK_F)
    least_v = filling.usual(trigger.brown_out_v, name, "brown_out", motion.BROWN_OUT)
    restart_s = filling.usual(trigger.restart_s, name, "restart", motion.TRIGGER_RESTART)
    return Trigger(
        sum(part.resistance.typ for part in rig.series(None)),
        bulk_f,
        _esr(filling, name, trigger.esr_ohm, bulk_f),
        least_v,
        restart_s or motion.TRIGGER_RESTART.value,
    )


def _esr(filling: _Filling, subject: str, stated: float | None, capacitance_f: float) -> float:
    return filling.usual(stated, subject, "ESR of its capacitance", motion.esr_of(capacitance_f))


def _branch(filling: _Filling, branch: BranchPart, copper_c: float, contract_v: float, supply_v: float) -> Branch:
    name, part = branch.name, branch.converter
    wire_ohm = wire_h = lead_ohm = input_f = esr_ohm = 0.0
    converter = None
    if branch.wire is not None:
        wire_ohm = branch.wire.resistance_ohm(copper_c)
    if branch.lead is not None:
        lead_ohm = branch.lead.resistance_ohm(copper_c)
    output_v = supply_v if part is None else part.output_v
    load = _load(filling, name, branch.load.on(output_v), None if part is None else output_v)
    if part is not None:
        wire_h = 0.0 if branch.wire is None else _inductance(filling, name, branch.wire)
        bulk = motion.INPUT_BULK
        input_f = filling.usual(part.bulk_f, name, "input capacitance", bulk) or bulk.value
        esr_ohm = _esr(filling, name, part.esr_ohm, input_f)
        converter = _converter(filling, name, part, contract_v, branch.load.on(output_v).current_at(output_v) or 0.0)
    elif load.kind == "power":
        # What holds its power has a regulator of its own, and capacitors before that: without any it would chatter.
        input_f = filling.usual(None, name, "input capacitance", motion.INPUT_BULK)
        esr_ohm = _esr(filling, name, None, input_f)
    return Branch(name, wire_ohm, wire_h, input_f, esr_ohm, converter, lead_ohm, load)


def _inductance(filling: _Filling, name: str, wire: Wire) -> float:
    if wire.awg is not None:
        copper_m = awg_diameter_m(wire.awg)
    else:
        copper_m = 2e-3 * ((wire.mm2 or 0.0) / 3.141592653589793) ** 0.5
    per_m = motion.pair_inductance_h_per_m(copper_m + 2.0 * motion.INSULATION.value, copper_m)
    what = "inductance of its wire, side by side"
    return filling.take(wire.inductance_h, name, what, wire.length_m * per_m, "H", motion.PAIR_FORMULA)


def cut_off_v(start_v: float) -> float:
    """The cut-off voltage [V] that goes with a start voltage [V] where none is stated.

    >>> cut_off_v(8.6), cut_off_v(1.0)
    (8.1, 0.6)
    """
    return max(start_v - (motion.START_TO_STOP.typ or 0.0), motion.LEAST_STOP_SHARE.value * start_v)


def start_of(converter: ConverterPart) -> float:
    """The voltage [V] at which a converter starts: as stated, else the least of its input range, else as usual.

    >>> start_of(ConverterPart("buck:6-36V", output=5)), start_of(ConverterPart("buck", output=12, dropout=1, stop=11))
    (6.0, 13.0)
    """
    found = converter.starts_at_v
    if found is None:
        found = max(converter.minimum_input_v(), START.value)
    if converter.stop_v is not None and converter.start_v is None:
        found = max(found, converter.stop_v + (motion.START_TO_STOP.require_min()))
    return found


def stop_of(converter: ConverterPart) -> float:
    """The voltage [V] at which a converter cuts off: as stated, else some tenths below its start voltage.

    >>> stop_of(ConverterPart("buck:6-36V", output=5)), stop_of(ConverterPart("buck", output=5, start=8.6, stop=8))
    (5.5, 8.0)
    """
    return cut_off_v(start_of(converter)) if converter.stop_v is None else converter.stop_v


def _converter(filling: _Filling, name: str, part: ConverterPart, input_v: float, output_a: float) -> Converter:
    start_v = filling.take(part.starts_at_v, name, "converter starts at", start_of(part), "V", START.origin)
    start_v = max(start_v, start_of(part))
    stop_v = filling.take(part.stop_v, name, "converter cuts off at", stop_of(part), "V", motion.START_TO_STOP.origin)
    soft_s = filling.usual(part.soft_start_s, name, "soft start", motion.SOFT_START)
    for text in part.assumed:
        filling.say(name, text, COMMON_PRACTICE)
    if part.output_bulk_f is None:
        filling.say(name, "no capacitance at the converter's output", motion.ASSUMED)
    efficiency = float(part.efficiency_at(input_v, output_a))
    return Converter(part.output_v, efficiency, part.idle_w, start_v, stop_v, soft_s, part.output_bulk_f or 0.0)


def _load(filling: _Filling, name: str, load: LoadPart, behind_v: float | None) -> Load:
    """A load on the bus (``behind_v`` None), or behind a converter of that output [V]."""
    kind, value, string_v = _figures(load)
    start_v = stop_v = 0.0
    # Of a current below its least voltage nobody says that it draws what it is stated for.
    if kind == "power" or (kind == "current" and load.voltage_v is not None):
        start_v, stop_v = _thresholds(filling, name, load, behind_v)
    factor, lasts = load.start_factor or 1.0, load.start_time_s
    if factor != 1.0:
        lasts = filling.usual(lasts, name, "start_time", motion.LAMP_START_TIME)
    return Load(kind, value, string_v, start_v, stop_v, factor, lasts or 0.0)


def _figures(load: LoadPart) -> tuple[LoadKind, float, float]:
    match load.port(0.0):
        case PowerPort(power_w=power_w):
            return "power", float(power_w), 0.0
        case CurrentPort(current_a=current_a):
            return "current", float(current_a), 0.0
        case LinearPort(resistance_ohm=ohm, threshold_v=threshold_v):
            return "leds" if threshold_v else "resistance", float(ohm), float(threshold_v)
    # A kind of load that is new draws its power at the middle of its voltages, or at 5 V.
    at_v = sum(load.voltage_v) / 2.0 if load.voltage_v is not None else SAFE_5V.typ or 0.0
    return "power", at_v * (load.current_at(at_v) or 0.0), 0.0


def _thresholds(filling: _Filling, name: str, load: LoadPart, behind_v: float | None) -> tuple[float, float]:
    known_v = load.needs_v or (load.voltage_v[0] if load.voltage_v is not None else 0.0)
    if behind_v is not None:
        start_v = min(known_v or LOAD_START.value * behind_v, 0.98 * behind_v)
        return start_v, min(LOAD_STOP.value * behind_v, cut_off_v(start_v))
    if not known_v:
        known_v = filling.usual(None, name, "its start voltage", START)
    return known_v, cut_off_v(known_v)
