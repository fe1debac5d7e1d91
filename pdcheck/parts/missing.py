"""Missing: a figure of a rig that nobody states and that counts in the sums, with the worst that it may well be."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TypeVar

from pdcheck.facts import plausible as worst
from pdcheck.facts.heat import AIR
from pdcheck.facts.motion import WIRE_INDUCTANCE
from pdcheck.facts.trade import UNKNOWN_EFFICIENCY
from pdcheck.named import NamedTuple
from pdcheck.parts.box import Box
from pdcheck.parts.fields import Part, file_key
from pdcheck.parts.limits import Sense, SettleBy
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.loads.pack import PackLoad
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple, format_quantity

AnyPart = TypeVar("AnyPart", bound=Part)


class Missing(NamedTuple):
    """One figure: the key that is missing, what it must be (``sense``), the figure counted with and the worst one.

    ``whole``: it is a whole number, as a gauge. ``given`` makes a rig that states it. ``words`` take ``needs``.
    ``shorter`` makes a rig with a wire of next to no length: more may flow through that than over a long one.
    ``for_a_moment``: it counts while something starts, and is not taken at its worst together with all the others.
    """

    subject: str
    key: str
    sense: Sense
    unit: str
    counted: float
    plausible: float
    settle_by: SettleBy
    words: str
    given: Callable[[float], Rig]
    whole: bool = False
    for_a_moment: bool = False
    shorter: Callable[[float], Rig] | None = None


def missing_figures(rig: Rig) -> Iterator[Missing]:
    """Every figure of a rig that is counted with a default.

    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}])
    >>> [each.key for each in missing_figures(rig)]
    ['trigger.resistance', 'fan.wire.awg']
    """
    if "resistance" not in rig.trigger.model_fields_set:
        words = "the trigger has {needs} or less"
        given = lambda ohms: _stating(rig, "trigger.resistance", Triple.exact(ohms))  # noqa: E731
        worst_ohm = worst.TRIGGER_OHM.value
        yield Missing("trigger", "trigger.resistance", "at_most", "ohm", 0.0, worst_ohm, "meter", words, given)
    if rig.states_heat and (rig.box is None or rig.box.air_c is None):
        boxed, words = rig.model_copy(update={"box": rig.box or Box()}), "the air around it is {needs} or cooler"
        given = lambda celsius: _stating(boxed, "box.air_c", Triple.exact(celsius))  # noqa: E731
        yield Missing("box", "box.air", "at_most", "C", AIR.value, worst.WARM_AIR.value, "meter", words, given)
    for branch in rig.branches:
        yield from _of_branch(rig, branch)


def _of_branch(rig: Rig, branch: Branch) -> Iterator[Missing]:
    name, converter, load, wire = branch.name, branch.converter, branch.load, branch.wire

    def figure(
        field: str, sense: Sense, unit: str, counted: float, worst: float, words: str, settle_by: SettleBy = "sheet"
    ) -> Missing:
        """A figure of a part of the branch, told by the path to its field; the path is its key too."""
        key = ".".join([name, *map(file_key, field.split("."))])
        given = lambda value: _changed(rig, branch, _stating(branch, field, value))  # noqa: E731
        return Missing(name, key, sense, unit, counted, worst, settle_by, words, given)

    def efficiency(field: str, what: str) -> Missing:
        words = f"{name}'s {what} is {{needs}} efficient or better"
        return figure(f"{field}.efficiency", "at_least", "%", UNKNOWN_EFFICIENCY.value, worst.EFFICIENCY.value, words)

    if converter is not None and converter.efficiency is None:
        yield efficiency("converter", "converter")
    if converter is not None and "idle_w" not in converter.model_fields_set:
        words = f"{name}'s converter draws {{needs}} or less with nothing at its output"
        yield figure("converter.idle_w", "at_most", "W", 0.0, worst.IDLE.value, words, "meter")
    if converter is not None and converter.kind == "buck" and "dropout_v" not in converter.model_fields_set:
        words = f"{name}'s converter needs its input {{needs}} or less above its output"
        most_v = worst.BUCK_DROPOUT.value
        if converter.input_v is not None and converter.minimum_input_v() < converter.output_v + most_v:
            yield figure("converter.dropout_v", "at_most", "V", 0.0, most_v, words)
    if converter is not None and converter.output_bulk_f is None:
        words = f"{name}'s converter has {{needs}} or less at its output"
        at_output = figure("converter.output_bulk_f", "at_most", "F", 0.0, worst.OUTPUT_BULK.value, words)
        yield at_output._replace(for_a_moment=True)
    if converter is not None and rig.box is not None and not converter.states_heat:
        words = f"{name}'s converter rises by {{needs}} or less"
        yield figure("converter.rise_k_w", "at_most", "K/W", 0.0, worst.RISE.value, words)
    if isinstance(load, LedLoad) and load.led.driver == "driver" and load.led.efficiency is None:
        yield efficiency("load.led", "LED driver")
    if isinstance(load, LedLoad) and load.led.driver == "driver" and "headroom_v" not in load.led.model_fields_set:
        words = f"{name}'s LED driver needs {{needs}} or less above its string"
        yield figure("load.led.headroom_v", "at_most", "V", 0.0, worst.LED_HEADROOM.value, words)
    if isinstance(load, PackLoad) and load.pack.efficiency is None:
        yield efficiency("load.pack", "charger")
    if branch.live and converter is not None and wire is not None and wire.inductance_h is None:
        worst_h = WIRE_INDUCTANCE.require_max() * wire.length_m
        words = f"the wires to {name} lie side by side, with {{needs}} or less"
        yield figure("wire.inductance_h", "at_most", "H", 0.0, worst_h, words, "look")
    for place, run, there in (("wire", wire, True), ("lead", branch.lead, converter is not None)):
        if there and (run is None or run.guess):
            counted = 0.0 if run is None or run.awg is None else float(run.awg)
            words = (
                f"the {place} {'to' if place == 'wire' else 'behind the converter of'} {name} is {{needs}} or thicker, "
                f"and {format_quantity(_length_m(run), 'm')} long at most"
            )
            yield figure(f"{place}.awg", "at_most", "AWG", counted, worst.WIRE_GAUGE.value, words, "look")._replace(
                given=partial(_wired, rig, branch, place, _length_m(run)),
                whole=True,
                shorter=partial(_wired, rig, branch, place, 0.0) if load.grows_with_voltage else None,
            )


def _length_m(wire: Wire | None) -> float:
    return worst.WIRE_LENGTH.value if wire is None else max(wire.length_m, worst.WIRE_LENGTH.value)


def _wired(rig: Rig, branch: Branch, place: str, length_m: float, awg: float) -> Rig:
    wire = Wire.model_construct(awg=round(awg), length_m=length_m)
    return _changed(rig, branch, _stating(branch, place, wire))


def _stating(part: AnyPart, path: str, value: object) -> AnyPart:
    """A part with a field of it, or of a part in it, set; it is not held against what a file may say."""
    head, _, rest = path.partition(".")
    return part.model_copy(update={head: _stating(getattr(part, head), rest, value) if rest else value})


def _changed(rig: Rig, branch: Branch, new: Branch) -> Rig:
    return rig.model_copy(update={"branches": tuple(new if each is branch else each for each in rig.branches)})
