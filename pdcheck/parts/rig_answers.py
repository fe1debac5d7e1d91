"""Answers about a rig as a builder gives them: an output, a converter, a wire, what else hangs on the bus."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import get_args

from pdcheck.errors import InputError
from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.power_rules import NORMATIVE_VOLTAGES
from pdcheck.facts.trade import CURRENT_IN_HAND, DEVICE_TOLERANCE, OLDER_VOLTAGE, UNKNOWN_EFFICIENCY
from pdcheck.facts.voltage import NEW_TOLERANCE
from pdcheck.parts.converter import Converter, Kind
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.led import Driver, Led
from pdcheck.parts.loads.pack import Pack
from pdcheck.parts.rig import Branch
from pdcheck.parts.wire import Wire, wire_words
from pdcheck.quantities import LONGEST_TEXT, SLACK, key_by_unit, parse_quantity, parse_range, quoted, tokens

Answers = Mapping[str, str]
UNKNOWN = "don't know"
_UNKNOWN_WORDS = ("don't know", "dont know", "don't", "unknown", "not known", "?")
NOTHING = "nothing"
GUESSED_OUTPUT = "12V@1A"
GUESSED_LEDS = "3x3.4V"
GUESSED_CELLS = "3x4.2V"
GUESSED_HEADROOM = "1V"
USUAL_V = NORMATIVE_VOLTAGES[:4]  # what a source may have without EPR


def is_unknown(answer: str) -> bool:
    """Whether an answer says that the figure is not known.

    >>> is_unknown("?"), is_unknown("Don't know"), is_unknown("5A")
    (True, True, False)
    """
    return answer.strip().lower() in _UNKNOWN_WORDS


def said(key: str, answers: Answers) -> str:
    """An answer that says something; empty where it is not known."""
    text = answers.get(key, UNKNOWN).strip()
    return "" if is_unknown(text) else text


def output_of(answers: Answers) -> tuple[float, float]:
    """The wanted output [V, A]; a first guess where it is not known."""
    return read_output(said("output", answers) or GUESSED_OUTPUT)


_BETWEEN = re.compile(r"\s*[@/=\u2393\u23d3;]\s*|\s+at\s+|\s+")
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) +(?=[A-Za-z])(?!at\b)")


def read_output(text: str) -> tuple[float, float]:
    """Volts and amperes from ``12V@2A``, ``12V 2A``, ``2 A at 12 V``, ``12V=2A`` as printed, or with watts ``12V 24W``.

    >>> read_output("12V 24W"), read_output("5V@500mA"), read_output("2 A at 12 V")
    ((12.0, 2.0), (5.0, 0.5), (12.0, 2.0))
    """
    expected = "volts with amperes or watts, such as 12V@2A or 12V@24W"
    plain = _NUMBER_AND_UNIT.sub("", text.strip()) if len(text) <= 2 * LONGEST_TEXT else ""
    words = re.split(r"(?<!\d),|,(?!\d)", plain)
    words = [part for word in words for part in _BETWEEN.split(word.strip()) if part]
    if len(words) != 2:
        raise InputError(f"{quoted(text)} is not a voltage at a current", expected=expected)
    if words[0][-1:] in "aAwW" and words[1][-1:] in "vV":
        words.reverse()
    volts = parse_quantity(words[0], "V")
    watts = words[1].lower().endswith(("w", "watt", "watts"))
    found = parse_quantity(words[1], "W" if watts else "A")
    if volts <= 0 or found <= 0:
        raise InputError(f"{quoted(text)} is no output: it holds a zero", expected=expected)
    return volts, found / volts if watts else found


def kind_of(answers: Answers) -> str:
    """The kind of converter: as answered, else the one that works on any bus, and none for a voltage that PD has."""
    usual = "none" if output_of(answers)[0] in USUAL_V else "buck-boost"
    return (said("converter", answers) or usual).partition(":")[0].strip().lower()


_MEANT = {
    "power": ("stepper", "steppers", "servo", "electronics", "device", "radio", "camera", "computer", "router"),
    "current": ("motor", "pump", "fan", "amplifier", "amp", "strip"),
    "resistance": ("heater", "lamp", "bulb", "resistor"),
    "led": ("leds",),
    "pack": ("battery", "cells", "lithium"),
}
"""What people call a load, by the kind that it is closest to [common practice]: a stepper's driver takes power."""
LOADS = tuple(_MEANT)
LOAD_WORDS = {word: kind for kind, words in _MEANT.items() for word in (kind, *words)}
TURNING = ("motor", "pump", "fan")
"""What takes several times its current until it turns."""


def load_of(answers: Answers) -> str:
    """The kind of load: as answered, or what comes closest to the word; power where it is not known.

    >>> load_of({"load": "motor"}), load_of({"load": "stepper"}), load_of({})
    ('current', 'power', 'power')
    """
    return LOAD_WORDS.get(answers.get("load", "").strip().lower(), "power")


def wire_table(text: str) -> dict[str, object]:
    """A wire from ``20AWG 0.4m 10mOhm`` as a table for a rig file, in the words that were typed.

    >>> wire_table("AWG20 40cm 10mOhm")
    {'awg': 20, 'length': '40cm', 'contacts': '10mOhm'}
    """
    wire = Wire(text)
    return {key: wire.awg if key == "awg" else value for key, value in wire_words(text).items()}


def device_span(volts: float) -> str:
    """What a device that is made for a voltage [V] takes, where nothing else is known.

    >>> device_span(12.0)
    '10.8V-13.2V'
    """
    give = DEVICE_TOLERANCE.value
    return f"{volts * (1 - give):.4g}V-{volts * (1 + give):.4g}V"


def load_table(kind: str, volts: float, amps: float, *, straight: bool, span: str | None = None) -> dict[str, object]:
    """A load of a kind that takes ``amps`` [A] at ``volts`` [V]; ``straight`` on the bus it says what it needs.

    >>> load_table("current", 12.0, 1.0, straight=True)
    {'current': '1A', 'voltage': '10.8V-13.2V'}
    >>> load_table("resistance", 9.0, 1.0, straight=True)
    {'resistance': '9ohm', 'power': '9W'}
    """
    watts = f"{volts * amps:.6g}W"
    if kind == "resistance":
        return {"resistance": f"{volts / amps:.6g}ohm", "power": watts}
    table: dict[str, object] = {kind: watts if kind == "power" else f"{amps:.6g}A"}
    return table | ({"voltage": span or device_span(volts)} if straight else {})


_LEDS = re.compile(r"(?i)([0-9]{1,3}) ?x ?([0-9.,]+ ?V)(?: ?@ ?([0-9.,]+ ?m?A))?")


def read_leds(text: str, current: str = "") -> dict[str, object]:
    """A string of LEDs from ``3x3.4V@250mA``: how many, what each needs, and their current.

    >>> read_leds("3x3.4V", "250mA")
    {'count': 3, 'vf': '3.4V', 'current': '250mA'}
    """
    found = _LEDS.fullmatch(text.strip())
    amps = (found[3] if found else None) or current
    if found is None or not amps:
        raise InputError(f"{quoted(text)} is no string of LEDs", expected="such as 3x3.4V@250mA")
    return {"count": int(found[1]), "vf": found[2], "current": amps}


def read_cells(text: str, current: str) -> dict[str, object]:
    """A pack from ``3x4.2V``: how many cells in series, where each ends, and the current that they are charged with.

    >>> read_cells("3x4.2V", "1A")
    {'cells': 3, 'end': '4.2V', 'current': '1A'}
    """
    found = _LEDS.fullmatch(text.strip())
    if found is None or found[3]:
        raise InputError(f"{quoted(text)} is no pack of cells", expected="such as 3x4.2V")
    pack: dict[str, object] = {"cells": int(found[1]), "end": found[2], "current": current}
    Pack(pack)
    return pack


def cells_of(answers: Answers, current: str = "1A") -> dict[str, object]:
    """The pack of a builder's answer; a first guess where it is not known."""
    return read_cells(said("cells", answers) or GUESSED_CELLS, current)


def leds_of(answers: Answers, current: str = "1A") -> dict[str, object]:
    """The string of LEDs of a builder's answer; a first guess where it is not known."""
    return read_leds(said("leds", answers) or GUESSED_LEDS, current)


def also_table(text: str) -> dict[str, object]:
    """Something else on the bus, ``dew-heater 36ohm 12V 0.75mm2 1.2m``: name, load, what it needs, its wire if known.

    A load is a quantity (``2W``, ``36ohm``), an output (``12V@1A``) or LEDs (``3x3.4V@250mA``, with ``resistor``); a
    voltage or a range is what it is made for; a converter in one word makes that voltage from the bus.

    >>> also_table("marker 2W"), also_table("strip 12V@1A")["load"]
    ({'name': 'marker', 'load': {'power': '2W'}}, {'power': '12W', 'voltage': '10.8V-13.2V'})
    """
    words = tokens(text)
    expected = "a name and a load, such as dew-heater 36ohm or strip 12V@1A, and its wire if known"
    if len(words) < 2:
        raise InputError(f"{quoted(text)} is not a name and a load", expected=expected)
    load: dict[str, object] = {}
    volts, span, through, wire = 0.0, None, "", list[str]()
    for word in words[1:]:
        if _LEDS.fullmatch(word):
            load["led"] = read_leds(word)
        elif word.lower() in get_args(Driver) and isinstance(load.get("led"), dict):
            load["led"] = {**read_leds(words[1]), "driver": word.lower()}
        elif "@" in word:
            volts, amps = read_output(word)
            load = {"power": f"{volts * amps:.6g}W"}
        elif word.partition(":")[0].lower() in get_args(Kind):
            through = word
        elif word.lower().endswith("v") and (".." in word or "-" in word[1:]):
            span = word
        elif key_by_unit(word, {"V": "made for"}):
            volts = parse_quantity(word, "V")
        elif not load:
            load = dict(Load(word).to_dict())
        else:
            wire.append(word)
    if not load:
        raise InputError(f"{quoted(text)} is not a name and a load", expected=expected)
    made: dict[str, object] = {"name": words[0], "load": load}
    if through:
        if not volts:
            raise InputError(f"{quoted(through)} makes no voltage", expected="that of its output, such as 5V@1A")
        made["converter"] = Converter(through, output=f"{volts:g}V").to_dict()
    elif "resistance" in load and volts:
        load["power"] = f"{volts * volts / parse_quantity(str(load['resistance']), 'ohm'):.6g}W"
    elif "led" not in load and (span or volts):
        load["voltage"] = span or device_span(volts)
    if wire:
        made["wire"] = wire_table(" ".join(wire))
    Branch(made)
    return made


def also_texts(answer: str) -> list[str]:
    """What else hangs on the bus, one text for each, out of one answer.

    >>> also_texts("a 2W; b 3W"), also_texts("nothing")
    (['a 2W', 'b 3W'], [])
    """
    if is_unknown(answer) or answer.strip().lower() in (NOTHING, "none", "no", ""):
        return []
    return [part.strip() for part in answer.split(";") if part.strip()]


def first_setting(answers: Answers) -> str:
    """A voltage for the trigger: the lowest that PD has on which the converter works with enough of 3 A to spare.

    Straight on the bus: the nearest to the device's own voltage, and never one above what it takes.

    >>> first_setting({"output": "12V@2A", "converter": "buck-boost"}), first_setting({"output": "9V@1A"})
    ('15V', '9V')
    >>> [first_setting({"output": f"{volts}V@1A", "converter": "none"}) for volts in (5, 12, 19, 24)]
    ['5V', '12V', '15V', '20V']
    """
    volts, amps = output_of(answers)
    kind = kind_of(answers)
    if kind == "none":
        return f"{_straight_setting(volts, *_needed_span(answers)):g}V"
    span = said("input", answers)
    low, high = parse_range(span, "V") if span else (0.0, float("inf"))
    if kind == "buck":
        low = max(low, volts + 1.0)
    if kind == "boost":
        high = min(high, volts)
    usual = [each for each in USUAL_V if low <= 0.95 * each and 1.05 * each <= high]
    if not usual:
        return f"{USUAL_V[0]:g}V"
    in_hand = UNMARKED_CURRENT.value * (1 - CURRENT_IN_HAND.value)
    enough = [each for each in usual if volts * amps / UNKNOWN_EFFICIENCY.value / each <= in_hand]
    return f"{min(enough) if enough else max(usual):g}V"


def _needed_span(answers: Answers) -> tuple[float, float]:
    """The bus voltages [V] that what hangs straight on the bus works on."""
    load = load_of(answers)
    if load == "pack" and not said("voltage", answers):
        # Most chargers step down.
        return Pack(cells_of(answers)).pack_v * (1 + DEVICE_TOLERANCE.value), float("inf")
    if load != "led":
        return parse_range(said("voltage", answers) or device_span(output_of(answers)[0]), "V")
    return Led({**leds_of(answers), "driver": "resistor"}).string_v * (1 + DEVICE_TOLERANCE.value), float("inf")


def _straight_setting(volts: float, low: float, high: float) -> float:
    """The usual voltage [V] nearest to the one wanted that a source may really give within a range [V]."""
    offered = (*USUAL_V, OLDER_VOLTAGE.value)
    bearable = [each for each in offered if each * (1 + NEW_TOLERANCE.value) <= high * (1 + SLACK)]
    fitting = [each for each in bearable if each >= low]
    return min(fitting or bearable or USUAL_V[:1], key=lambda each: abs(each - max(volts, low)))
