"""Missing: a figure of a rig that nobody states and that counts in the sums, with the worst that it may well be."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import NamedTuple

from pdcheck.facts.heat import AIR
from pdcheck.facts.motion import WIRE_INDUCTANCE
from pdcheck.facts.origin import Limit
from pdcheck.facts.plausible import (
    BUCK_DROPOUT,
    EFFICIENCY,
    IDLE,
    LED_HEADROOM,
    OUTPUT_BULK,
    RISE,
    TRIGGER_OHM,
    WARM_AIR,
    WIRE_GAUGE,
    WIRE_LENGTH,
)
from pdcheck.facts.trade import UNKNOWN_EFFICIENCY
from pdcheck.parts.box import Box
from pdcheck.parts.fields import file_key
from pdcheck.parts.limits import Sense, SettleBy
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.loads.pack import PackLoad
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple, format_quantity


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
        yield Missing(
            "trigger",
            "trigger.resistance",
            "at_most",
            "ohm",
            0.0,
            TRIGGER_OHM.value,
            "meter",
            "the trigger has {needs} or less",
            lambda ohms: _with(rig, trigger=rig.trigger.model_copy(update={"resistance": Triple.exact(ohms)})),
        )
    if rig.states_heat and (rig.box is None or rig.box.air_c is None):
        box = rig.box or Box()
        yield Missing(
            "box",
            "box.air",
            "at_most",
            "C",
            AIR.value,
            WARM_AIR.value,
            "meter",
            "the air around it is {needs} or cooler",
            lambda celsius: _with(rig, box=box.model_copy(update={"air_c": Triple.exact(celsius)})),
        )
    for branch in rig.branches:
        yield from _of_branch(rig, branch)


def _of_branch(rig: Rig, branch: Branch) -> Iterator[Missing]:
    name, converter, load = branch.name, branch.converter, branch.load

    def set_to(part: str, field: str) -> Callable[[float], Rig]:
        return lambda value: _changed(rig, branch, {part: getattr(branch, part).model_copy(update={field: value})})

    def of_converter(field: str, sense: Sense, unit: str, counted: float, worst: Limit, words: str) -> Missing:
        key, by = f"{name}.converter.{file_key(field)}", "meter" if unit == "W" else "sheet"
        settle_by: SettleBy = "meter" if by == "meter" else "sheet"
        return Missing(name, key, sense, unit, counted, worst.value, settle_by, words, set_to("converter", field))

    if converter is not None and converter.efficiency is None:
        words = f"{name}'s converter is {{needs}} efficient or better"
        yield of_converter("efficiency", "at_least", "%", UNKNOWN_EFFICIENCY.value, EFFICIENCY, words)
    if converter is not None and "idle_w" not in converter.model_fields_set:
        words = f"{name}'s converter draws {{needs}} or less with nothing at its output"
        yield of_converter("idle_w", "at_most", "W", 0.0, IDLE, words)
    if converter is not None and converter.kind == "buck" and "dropout_v" not in converter.model_fields_set:
        words = f"{name}'s converter needs its input {{needs}} or less above its output"
        if converter.input_v is not None and converter.minimum_input_v() < converter.output_v + BUCK_DROPOUT.value:
            yield of_converter("dropout_v", "at_most", "V", 0.0, BUCK_DROPOUT, words)
    if converter is not None and converter.output_bulk_f is None:
        words = f"{name}'s converter has {{needs}} or less at its output"
        at_output = of_converter("output_bulk_f", "at_most", "F", 0.0, OUTPUT_BULK, words)
        yield at_output._replace(for_a_moment=True)
    if converter is not None and rig.box is not None and not converter.states_heat:
        words = f"{name}'s converter rises by {{needs}} or less"
        yield of_converter("rise_k_w", "at_most", "K/W", 0.0, RISE, words)
    if isinstance(load, LedLoad) and load.led.driver == "driver" and load.led.efficiency is None:
        led = load.led
        yield _of_load(rig, branch, "led", "LED driver", lambda ratio: led.model_copy(update={"efficiency": ratio}))
    if isinstance(load, LedLoad) and load.led.driver == "driver" and "headroom_v" not in load.led.model_fields_set:
        string = load.led
        yield Missing(
            name,
            f"{name}.load.led.headroom",
            "at_most",
            "V",
            0.0,
            LED_HEADROOM.value,
            "sheet",
            f"{name}'s LED driver needs {{needs}} or less above its string",
            lambda volts: _changed(
                rig, branch, {"load": load.model_copy(update={"led": string.model_copy(update={"headroom_v": volts})})}
            ),
        )
    if isinstance(load, PackLoad) and load.pack.efficiency is None:
        pack = load.pack
        yield _of_load(rig, branch, "pack", "charger", lambda ratio: pack.model_copy(update={"efficiency": ratio}))
    if branch.live and converter is not None and branch.wire is not None and branch.wire.inductance_h is None:
        near, worst_h = branch.wire, WIRE_INDUCTANCE.require_max() * branch.wire.length_m
        yield Missing(
            name,
            f"{name}.wire.inductance",
            "at_most",
            "H",
            0.0,
            worst_h,
            "look",
            f"the wires to {name} lie side by side, with {{needs}} or less",
            lambda henrys: _changed(rig, branch, {"wire": near.model_copy(update={"inductance_h": henrys})}),
        )
    for place, wire, there in (("wire", branch.wire, True), ("lead", branch.lead, converter is not None)):
        if there and (wire is None or wire.guess):
            yield Missing(
                name,
                f"{name}.{place}.awg",
                "at_most",
                "AWG",
                0.0 if wire is None or wire.awg is None else float(wire.awg),
                WIRE_GAUGE.value,
                "look",
                f"the {place} {'to' if place == 'wire' else 'behind the converter of'} {name} is {{needs}} or thicker, "
                f"and {format_quantity(_length_m(wire), 'm')} long at most",
                partial(_wired, rig, branch, place, _length_m(wire)),
                True,
                shorter=partial(_wired, rig, branch, place, 0.0) if load.grows_with_voltage else None,
            )


def _of_load(rig: Rig, branch: Branch, kind: str, what: str, made: Callable[[float], object]) -> Missing:
    """The efficiency of what is inside of a load."""
    return Missing(
        branch.name,
        f"{branch.name}.load.{kind}.efficiency",
        "at_least",
        "%",
        UNKNOWN_EFFICIENCY.value,
        EFFICIENCY.value,
        "sheet",
        f"{branch.name}'s {what} is {{needs}} efficient or better",
        lambda ratio: _changed(rig, branch, {"load": branch.load.model_copy(update={kind: made(ratio)})}),
    )


def _length_m(wire: Wire | None) -> float:
    return WIRE_LENGTH.value if wire is None else max(wire.length_m, WIRE_LENGTH.value)


def _wired(rig: Rig, branch: Branch, place: str, length_m: float, awg: float) -> Rig:
    return _changed(rig, branch, {place: Wire.model_construct(awg=round(awg), length_m=length_m)})


def _with(rig: Rig, **update: object) -> Rig:
    return rig.model_copy(update=update)


def _changed(rig: Rig, branch: Branch, update: dict[str, object]) -> Rig:
    new = branch.model_copy(update=update)
    return _with(rig, branches=tuple(new if each is branch else each for each in rig.branches))
