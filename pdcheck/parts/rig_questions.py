"""What has to be known of a rig before it is a file, in the order that a builder thinks, each with where to find it."""

from __future__ import annotations

from collections.abc import Callable
from typing import get_args

from pdcheck.errors import InputError
from pdcheck.facts.characters import is_hidden
from pdcheck.facts.trade import CELL_END, DEVICE_TOLERANCE, UNKNOWN_EFFICIENCY
from pdcheck.facts.voltage import SAFE_5V
from pdcheck.named import NamedTuple
from pdcheck.parts import rig_answers as told
from pdcheck.parts.choices import FALLBACKS, either
from pdcheck.parts.converter import Converter, Kind
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.request import parse_request
from pdcheck.parts.rig import Branch
from pdcheck.parts.trigger import Trigger
from pdcheck.parts.wire import Wire
from pdcheck.quantities import format_quantity, parse_quantity, parse_range, quoted

_USUAL_V = f"Of voltages {', '.join(f'{each:g}' for each in told.USUAL_V[:-1])} and {told.USUAL_V[-1]:g} V"
KINDS = (*get_args(Kind), "none")


class Question(NamedTuple):
    """One question: its ``option``, KEY METAVAR, what it asks and means, where the figure is found.

    ``default`` is taken for an empty answer; ``check`` raises InputError for an answer that cannot be read, ``asked``
    says whether the answers before it leave anything to ask.
    """

    option: str
    text: str
    meaning: str
    where: str
    check: Callable[[str, told.Answers], None]
    default: Callable[[told.Answers], str] = lambda _: told.UNKNOWN
    asked: Callable[[told.Answers], bool] = lambda _: True

    @property
    def key(self) -> str:
        """The name of its option, and of its answer."""
        return self.option.partition(" ")[0]

    def readable(self, answer: str, answers: told.Answers) -> str:
        """An answer as it is kept. Raises ``InputError`` for one that cannot be read."""
        if told.is_unknown(answer):
            return told.UNKNOWN
        try:
            self.check(answer.strip(), answers)
        except InputError as error:
            # Which key of which part it would be is not what was asked.
            raise InputError(error.what, where=error.where, expected=error.expected).inside(f"--{self.key}") from None
        return answer.strip()


def _plain(text: str) -> Callable[[told.Answers], str]:
    return lambda _: text


def _quantity(unit: str) -> Callable[[str, told.Answers], None]:
    def check(text: str, _: told.Answers) -> None:
        if parse_quantity(text, unit) <= 0 and unit not in ("W", "ohm", "F"):
            raise InputError(f"{quoted(text)} is zero", expected=f"more than {format_quantity(0, unit)}")

    return check


def _readable(read: Callable[[str], object]) -> Callable[[str, told.Answers], None]:
    def check(text: str, _: told.Answers) -> None:
        read(text)

    return check


def _word(*words: str) -> Callable[[str, told.Answers], None]:
    def check(text: str, _: told.Answers) -> None:
        if text.strip().lower() not in words:
            raise InputError(f"{quoted(text)} is none of them", expected=nearest(text, words))

    return check


def _check_load(text: str, _: told.Answers) -> None:
    if text.strip().lower() not in told.LOAD_WORDS:
        near = nearest(text, (*told.LOADS, "motor", "stepper", "heater", "fan", "pump"))
        raise InputError(f"{quoted(text)} is no kind of load", expected=near)


def _check_converter(text: str, answers: told.Answers) -> None:
    kind = text.partition(":")[0].strip().lower()
    if kind not in KINDS or (kind == "none" and ":" in text):
        raise InputError(f"{quoted(text)} is no kind of converter", expected=nearest(kind, KINDS))
    if kind != "none":
        Converter(text, output=told.output_of(answers)[0])


def _check_also(text: str, answers: told.Answers) -> None:
    names = {answers.get("name", "output")}
    for part in told.also_texts(text):
        name = str(told.also_table(part)["name"])
        if name in names:
            raise InputError(f"{quoted(name)} is there already", expected="a name that is not in use")
        names.add(name)


def _usual_span(answers: told.Answers) -> str:
    return told.UNKNOWN if told.load_of(answers) == "pack" else told.device_span(told.output_of(answers)[0])


def _has_converter(answers: told.Answers) -> bool:
    return told.kind_of(answers) != "none"


def _not_described(part: int) -> Callable[[told.Answers], bool]:
    """Whether a converter was not given in one word that has this figure in it."""

    def asked(answers: told.Answers) -> bool:
        parts = answers.get("converter", "").split(":")
        return _has_converter(answers) and not (len(parts) > part and parts[part].strip())

    return asked


def _title_check(text: str, _: told.Answers) -> None:
    if len(text) > 200 or any(map(is_hidden, text)):
        raise InputError(f"{quoted(text)} is no title", expected="one line of text")


QUESTIONS: tuple[Question, ...] = (
    Question(
        "title TEXT",
        "What are you building?",
        "A name for people: it heads every result.",
        "yours to choose",
        _title_check,
        default=_plain("My build"),
    ),
    Question(
        "output V@A",
        "What do you want out?",
        "Volts and amperes (12V@2A) or watts (12V 24W) at the load, when it takes the most.",
        "the label beside the device's socket, its manual, or its old supply",
        _readable(told.read_output),
        default=_plain(told.GUESSED_OUTPUT),
    ),
    Question(
        "name NAME",
        "What is it that you power?",
        "One word that its nodes are called by, such as mount.",
        "yours to choose",
        _readable(lambda text: Branch(text, load="1W")),
        default=_plain("output"),
    ),
    Question(
        "load KIND",
        f"What is it: {either(told.LOADS)}? Or motor, stepper, heater ...",
        "power: it has a regulator inside and draws more as the voltage sags, as most electronics and a stepper on its "
        "driver. current: a motor, an amplifier. resistance: a heater. led: LEDs in series. pack: lithium cells on "
        "their charger.",
        "what kind of thing it is",
        _check_load,
        default=_plain("power"),
    ),
    Question(
        "converter C",
        f"Which converter makes it from the bus: {either(KINDS)}?",
        "buck steps down, boost up, buck-boost either way; none: the load hangs on the bus. All in one word also, "
        "buck-boost:6-36V:5A:92%.",
        "the first line of the module's page",
        _check_converter,
        default=told.kind_of,
    ),
    Question(
        "voltage V-V",
        "What voltages does it take?",
        "With no converter before it the device gets what the bus has: too little and it stays off, too much and it "
        f"dies. Not known: {format_quantity(DEVICE_TOLERANCE.value, '%')} either way of the output is assumed.",
        "the print beside its socket, its manual",
        _readable(lambda text: parse_range(text, "V")),
        default=lambda answers: (
            told.UNKNOWN if told.load_of(answers) == "pack" else told.device_span(told.output_of(answers)[0])
        ),
        asked=lambda answers: not _has_converter(answers) and told.load_of(answers) not in ("resistance", "led"),
    ),
    Question(
        "cells NxV",
        "How many cells are in series, and at which voltage does charging end for each?",
        "Number and end voltage, as in 3x4.2V; the charge current is that of the output.",
        f"the cell's sheet, under end-of-charge voltage; most lithium-ion cells {CELL_END.value:g} V",
        _readable(lambda text: told.read_cells(text, "1A")),
        default=_plain(told.GUESSED_CELLS),
        asked=lambda answers: told.load_of(answers) == "pack",
    ),
    Question(
        "leds NxV",
        "How many LEDs are in series, and what does each of them need?",
        "Number and forward voltage, as in 3x3.4V; their current is that of the output.",
        "the LED's sheet, under forward voltage; a white one needs about 3.4 V",
        _readable(lambda text: told.read_leds(text, "1A")),
        default=_plain(told.GUESSED_LEDS),
        asked=lambda answers: told.load_of(answers) == "led",
    ),
    Question(
        "driver KIND",
        "What holds their current: a driver or a resistor?",
        "A driver steps down and keeps it; a resistor lets it rise and fall with the voltage.",
        "a small board with a coil is a driver",
        _word("driver", "resistor"),
        default=_plain("driver"),
        asked=lambda answers: told.load_of(answers) == "led",
    ),
    Question(
        "input V-V",
        "From what to what input voltage does it work?",
        "Below the first it stops, above the second it dies.",
        "the module's page, or the print beside its input",
        _readable(lambda text: parse_range(text, "V")),
        asked=_not_described(1),
    ),
    Question(
        "input-limit A",
        "What input current is it rated for?",
        "It draws the most when the bus is lowest.",
        "the module's page; take less where it asks for a heat sink",
        _quantity("A"),
        asked=_not_described(2),
    ),
    Question(
        "output-limit A",
        "What output current does it give for hours?",
        "What is printed large is often the peak.",
        "the module's page, under continuous",
        _quantity("A"),
        asked=_has_converter,
    ),
    Question(
        "efficiency RATIO",
        "How efficient is it?",
        "Output power over input power at your load. Not known: "
        f"{format_quantity(UNKNOWN_EFFICIENCY.value, '%')} is assumed.",
        "a curve on the module's page, or a bring-up sheet later",
        _readable(lambda text: Converter("buck:::" + text, output="5V")),
        asked=_not_described(3),
    ),
    Question(
        "idle W",
        "What does it draw with nothing at its output?",
        "Power, such as 0.3W. Not known: none is assumed.",
        "a meter at its input, or a bring-up sheet later",
        _quantity("W"),
        asked=_has_converter,
    ),
    Question(
        "dropout V",
        "How far must its input be above its output?",
        "A step-down converter loses regulation below that.",
        "the chip's sheet, under dropout or maximum duty",
        _quantity("V"),
        asked=lambda answers: told.kind_of(answers) == "buck",
    ),
    Question(
        "bulk F",
        "How large are the capacitors at its input?",
        "They charge at once when the plug goes in.",
        "the print on the cans, added up",
        _quantity("F"),
        asked=_has_converter,
    ),
    Question(
        "trigger REQUEST",
        "What is the trigger set to?",
        f"A voltage (15V), highest, pps 13.2V 3A, or none for plain {SAFE_5V.typ:g} V. {_USUAL_V} are usual.",
        "the board's solder bridges, switch or display; its page says which is which",
        _readable(parse_request),
        default=told.first_setting,
    ),
    Question(
        "fallback RULE",
        f"What does it do on a charger without that: {FALLBACKS}?",
        "Most boards take the next lower voltage, some stay at 5 V, few switch off.",
        "the board's page, or try it on an old charger with a meter",
        _readable(lambda text: Trigger("5V", fallback=text)),
        default=_plain("next-lower"),
    ),
    Question(
        "trigger-rating A",
        "What current does the trigger carry?",
        "Its plug, its switch and its traces, whichever is least.",
        "the board's page",
        _quantity("A"),
    ),
    Question(
        "trigger-resistance OHM",
        "What is the trigger's own resistance?",
        "Both poles together. Not known: none is assumed.",
        "two voltmeter readings across it at a known current",
        _quantity("ohm"),
    ),
    Question(
        "wire WIRE",
        "What wire runs from the trigger to the converter, or to the load where there is none?",
        "Size, length one way, contacts of the pair: 20AWG 0.3m 10mOhm.",
        "the print on its jacket; a ruler; a crimped or screwed pair has some 10 mOhm",
        _readable(Wire),
        default=_plain("20AWG 0.3m 10mOhm"),
    ),
    Question(
        "lead WIRE",
        "What lead runs from the converter to the load?",
        "As before: size, length one way, contacts.",
        "the print on its jacket; a ruler",
        _readable(Wire),
        default=_plain("20AWG 1m"),
        asked=_has_converter,
    ),
    Question(
        "live YES|NO",
        "Will it be plugged in while the bus is up?",
        "yes or no. Plugged into a live bus, the capacitors at its input ring above the bus voltage.",
        "whether there is a plug between trigger and converter",
        _word("yes", "no"),
        default=_plain("no"),
    ),
    Question(
        "also LOAD",
        "What else hangs on the bus?",
        "Name and load, what it is made for, its wire if known: dew-heater 36ohm 12V 0.75mm2 1.2m, strip 12V@1A, "
        "marker 3x3.4V@250mA. Several with ; between them.",
        "whatever you would plug in beside it later",
        _check_also,
        default=_plain(told.NOTHING),
    ),
)
"""Every question, in order."""


def question(key: str) -> Question:
    """The question of that key."""
    return next(each for each in QUESTIONS if each.key == key)
