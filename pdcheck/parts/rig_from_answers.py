"""A commented rig file from answers: what was said, what was guessed, and what is not known yet."""

from __future__ import annotations

from collections.abc import Container
from typing import Any

from pdcheck.parts import rig_answers as told
from pdcheck.parts.choices import FALLBACKS
from pdcheck.parts.rig_questions import question
from pdcheck.parts.toml_places import toml_value
from pdcheck.parts.wire import GUESSED_WIRE, UNKNOWN_WIRE

GUESS = "guess"
# Figures of the converter beside its kind and output, by their keys in the file: a question has hyphens in its own.
_CONVERTER_KEYS = ("input", "input_limit", "output_limit", "efficiency", "idle", "dropout", "bulk")
_START = (
    "# start_factor and start_time of the load: not known. How many times as much does it take until it turns, and for "
    "how long? Find it: stall current on the motor's sheet."
)

_GUESSABLE = ("output", "load", "converter", "trigger", "fallback", "title", "voltage", "leds", "cells", "driver")
_USUAL = (*_GUESSABLE[:5], *_GUESSABLE[6:], "wire", "lead")


def guessed(key: str, answers: told.Answers, usual: Container[str] = ()) -> bool:
    """Whether an answer is a guess of the program: not known, or the ``usual`` one that nobody confirmed.

    >>> guessed("output", {"output": "?"}), guessed("wire", {"wire": "20AWG 1m"}, {"wire"}), guessed("idle", {})
    (True, True, False)
    """
    if told.is_unknown(answers.get(key, "")):
        return key in _GUESSABLE
    return key in usual and key in _USUAL


def rig_text(answers: told.Answers, usual: Container[str] = ()) -> str:
    """The text of the rig file; ``usual`` are the questions of which the default was taken.

    >>> text = rig_text({"output": "9V@1A", "name": "fan", "load": "power", "converter": "none", "trigger": "9V"})
    >>> from pdcheck.parts.rig import Rig
    >>> Rig.from_toml(text).branches[0].load.to_dict()
    {'voltage': '8.1V-9.9V', 'power': '9W'}
    """
    lines = [
        f'# Written by pdcheck new. A figure marked "{GUESS}" is not from you: replace it when you know better.',
        '# Lines that begin with a key and say "not known" can be filled in and uncommented.',
        f"title = {toml_value(_taken('title', answers))}",
        "",
        "[trigger]",
    ]
    request = _taken("trigger", answers)
    lines += _line("request", request, "what it asks the source for", guessed("trigger", answers, usual))
    why = f"what it does on a source without that: {FALLBACKS}"
    lines += _line("fallback", _taken("fallback", answers), why, guessed("fallback", answers, usual))
    for key in ("rating", "resistance"):
        lines += _figure(key, f"trigger-{key}", answers)
    lines += ["", "[[branch]]", f"name = {toml_value(_taken('name', answers))}"]
    lines += _wire("wire", answers, usual)
    if _taken("live", answers).lower() == "yes":
        lines += ["live = true  # it may be plugged in while the bus is up"]
    kind = told.kind_of(answers)
    if kind != "none":
        lines += _wire("lead", answers, usual)
    lines += _load(answers, usual)
    if kind != "none":
        lines += ["", "[branch.converter]", *_converter(kind, answers, usual)]
    for text in told.also_texts(answers.get("also", "")):
        made = told.also_table(text)
        lines += ["", "[[branch]]", *(f"{key} = {toml_value(value)}" for key, value in made.items())]
    return "\n".join(lines) + "\n"


def _taken(key: str, answers: told.Answers) -> str:
    """An answer, or what its question takes for an empty one."""
    return told.said(key, answers) or question(key).default(answers)


def _line(key: str, value: Any, why: str, guess: bool = False) -> list[str]:
    return [f"{key} = {toml_value(value)}  # {why}{f' ({GUESS})' if guess else ''}"]


def _figure(key: str, asked: str, answers: told.Answers) -> list[str]:
    """A figure that may be missing: then a comment says what it is and where to find it."""
    if figure := told.said(asked, answers):
        return [f"{key} = {toml_value(figure)}"]
    what = question(asked)
    return [f"# {key}: not known. {what.text} Find it: {what.where}."]


def _wire(key: str, answers: told.Answers, usual: Container[str]) -> list[str]:
    if wire := told.said(key, answers):
        mark = f"  # as most are ({GUESS})" if guessed(key, answers, usual) else ""
        return [f"{key} = {toml_value(told.wire_table(wire))}{mark}"]
    return [f'{key} = "{UNKNOWN_WIRE}"  # not known, so {GUESSED_WIRE} is assumed. As in {key} = "20AWG 0.3m"']


def _load(answers: told.Answers, usual: Container[str]) -> list[str]:
    volts, amps = told.output_of(answers)
    kind = told.load_of(answers)
    why = f"{volts:g} V at {amps:.6g} A"
    guess = guessed("output", answers, usual) or guessed("load", answers, usual)
    if kind == "led":
        leds = told.leds_of(answers, f"{amps:.6g}A")
        table: dict[str, object] = {"led": {**leds, "driver": _taken("driver", answers).lower()}}
    elif kind == "pack":
        pack, span = told.cells_of(answers, f"{amps:.6g}A"), told.said("voltage", answers)
        straight, guess = told.kind_of(answers) == "none", guess or guessed("cells", answers, usual)
        table = {"pack": pack} | ({"voltage": span} if straight and span else {})
        if straight and not span:
            # Most chargers step down; the most that it bears is left to what is not judged.
            pack["headroom"], guess, why = told.GUESSED_HEADROOM, True, f"{why}; headroom: a charger that steps down"
    else:
        straight = told.kind_of(answers) == "none"
        table = told.load_table(kind, volts, amps, straight=straight, span=told.said("voltage", answers))
        guess = guess or (straight and guessed("voltage", answers, usual))
    starts = told.said("load", answers).lower() in told.TURNING
    return [*_line("load", table, why, guess), *([_START] if starts else [])]


def _converter(kind: str, answers: told.Answers, usual: Container[str]) -> list[str]:
    volts, _ = told.output_of(answers)
    lines = _line("kind", kind, "steps down, up, or either way", guessed("converter", answers, usual))
    lines += [f"output = {toml_value(f'{volts:g}V')}"]
    described = told.said("converter", answers).split(":")
    inside = dict(zip(("input", "input_limit", "efficiency"), (part.strip() for part in described[1:]), strict=False))
    for key in _CONVERTER_KEYS:
        if inside.get(key):
            lines.append(f"{key} = {toml_value(inside[key])}")
        elif key != "dropout" or kind == "buck":
            lines += _figure(key, key.replace("_", "-"), answers)
    return lines
