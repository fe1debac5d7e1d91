"""Answers about a rig as a builder gives them: an output, a converter, a wire, what else hangs on the bus."""

from __future__ import annotations

from collections.abc import Mapping

from pdcheck.errors import InputError
from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.power_rules import NORMATIVE_VOLTAGES
from pdcheck.facts.trade import CURRENT_IN_HAND, UNKNOWN_EFFICIENCY
from pdcheck.parts.fields import tokens
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Branch
from pdcheck.parts.wire import Wire, wire_words
from pdcheck.quantities import parse_at, parse_quantity, parse_range, quoted

Answers = Mapping[str, str]
UNKNOWN = "don't know"
_UNKNOWN_WORDS = ("don't know", "dont know", "don't", "unknown", "not known", "?")
NOTHING = "nothing"
GUESSED_OUTPUT = "12V@1A"
_USUAL_V = NORMATIVE_VOLTAGES[:4]  # what a source may have without EPR


def is_unknown(answer: str) -> bool:
    """Whether an answer says that the figure is not known.

    >>> is_unknown("?"), is_unknown("Don't know"), is_unknown("5A")
    (True, True, False)
    """
    return answer.strip().lower() in _UNKNOWN_WORDS


def output_of(answers: Answers) -> tuple[float, float]:
    """The wanted output [V, A]; a first guess where it is not known."""
    text = answers.get("output", UNKNOWN)
    return read_output(GUESSED_OUTPUT if is_unknown(text) else text)


def read_output(text: str) -> tuple[float, float]:
    """Volts and amperes from ``12V@2A``, ``12V 2A`` or ``12V 24W``.

    >>> read_output("12V 24W"), read_output("5V@500mA")
    ((12.0, 2.0), (5.0, 0.5))
    """
    words = tokens(text.replace("@", " "))
    if len(words) == 2 and words[1].lower().endswith("w"):
        volts, watts = parse_quantity(words[0], "V"), parse_quantity(words[1], "W")
        found = (volts, watts / volts if volts else 0.0)
    else:
        found = parse_at("@".join(words) if len(words) == 2 else text)
    if min(found) <= 0:
        raise InputError(f"{quoted(text)} holds a zero", expected="an output such as 12V@2A")
    return found


def kind_of(answers: Answers) -> str:
    """The kind of converter: as answered, else the one that works on any bus, and none for a voltage that PD has."""
    text = answers.get("converter", UNKNOWN)
    if is_unknown(text):
        return "none" if output_of(answers)[0] in _USUAL_V else "buck-boost"
    return text.partition(":")[0].strip().lower()


def wire_table(text: str) -> dict[str, object]:
    """A wire from ``20AWG 0.4m 10mOhm`` as a table for a rig file, in the words that were typed.

    >>> wire_table("AWG20 40cm 10mOhm")
    {'awg': 20, 'length': '40cm', 'contacts': '10mOhm'}
    """
    wire = Wire(text)
    return {key: wire.awg if key == "awg" else value for key, value in wire_words(text).items()}


def also_table(text: str) -> dict[str, object]:
    """Something else on the bus, ``dew-heater 36ohm 0.75mm2 1.2m``: name, load, and its wire if known.

    >>> also_table("marker 2W")
    {'name': 'marker', 'load': '2W'}
    """
    words = tokens(text)
    expected = "a name and a load, such as dew-heater 36ohm, and its wire if known"
    if len(words) < 2:
        raise InputError(f"{quoted(text)} is not a name and a load", expected=expected)
    made: dict[str, object] = {"name": words[0], "load": words[1]}
    Load(words[1])
    if len(words) > 2:
        made["wire"] = wire_table(" ".join(words[2:]))
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
    """A voltage for the trigger: the lowest that PD has on which the converter works with 20 % of 3 A in hand.

    >>> first_setting({"output": "12V@2A", "converter": "buck-boost"}), first_setting({"output": "9V@1A"})
    ('15V', '9V')
    """
    volts, amps = output_of(answers)
    kind = kind_of(answers)
    if kind == "none":
        return f"{volts:g}V"
    span = answers.get("input", UNKNOWN)
    low, high = (0.0, float("inf")) if is_unknown(span) else parse_range(span, "V")
    if kind == "buck":
        low = max(low, volts + 1.0)
    if kind == "boost":
        high = min(high, volts)
    usual = [each for each in _USUAL_V if low <= 0.95 * each and 1.05 * each <= high]
    if not usual:
        return f"{_USUAL_V[0]:g}V"
    in_hand = UNMARKED_CURRENT.value * (1 - CURRENT_IN_HAND.value)
    enough = [each for each in usual if volts * amps / UNKNOWN_EFFICIENCY.value / each <= in_hand]
    return f"{min(enough) if enough else max(usual):g}V"
