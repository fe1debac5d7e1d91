"""A rig without a file: from the few words that a builder has for it, the rest not known."""

from __future__ import annotations

from collections.abc import Mapping

from pdcheck.asking.given import AnyCable, AnyKit, AnySource, kit_here, rig_and_pairs
from pdcheck.errors import InputError
from pdcheck.named import NamedTuple
from pdcheck.parts.request import FixedRequest, Request
from pdcheck.parts.rig import Rig
from pdcheck.parts.rig_answers import UNKNOWN
from pdcheck.parts.rig_from_answers import rig_text
from pdcheck.parts.rig_questions import QUESTIONS
from pdcheck.verdict.settings import PAIRS_TO_TRY, best_of, try_on

SAID = ("output", "load", "voltage", "converter", "trigger", "fallback", "wire", "lead", "also")
"""The questions of 'pdcheck new' that stand for a rig without a file, in the order of their options."""


class OnLine(NamedTuple):
    """A rig out of a few words, the kit of this folder where it counts, and the setting where nobody stated one."""

    rig: Rig
    kit: AnyKit | None
    chosen: Request | None


def rig_on_line(
    said: Mapping[str, str],
    kit: AnyKit | None = None,
    source: AnySource | None = None,
    cable: AnyCable | None = None,
) -> OnLine:
    """A rig of one or more branches from answers to the questions of ``pdcheck new``, by their keys.

    Nothing that is not said counts as perfect: it is not known, as in a file. Without ``trigger`` it is set to the
    voltage that works on most of the sources and cables that are meant.

    Raises ``InputError`` for an answer that cannot be read, and as ``rig_and_pairs`` does.

    >>> found = rig_on_line({"output": "12V@2A"}, source="5V 3A, 9V 3A, 15V 3A", cable="C-C 3A 1m")
    >>> found.chosen.voltage_v, found.rig.branches[0].load
    (15.0, PowerLoad(power='24W'))
    """
    if "output" not in said:
        what = ", ".join(f"--{key}" for key in said)
        raise InputError(f"{what} and no output to feed", expected="--output, such as --output 12V@2A, or RIG, a file")
    answers = {"title": said["output"]}
    for question in QUESTIONS:
        if question.key in said:
            answers[question.key] = question.readable(said[question.key], answers)
        elif question.key in SAID:
            answers[question.key] = UNKNOWN
    rig = Rig.from_toml(rig_text(answers))
    owned = kit if kit is not None else kit_here(source, cable)
    if answers["trigger"] != UNKNOWN or (owned is None and source is None):
        return OnLine(rig, owned, None)
    pairs = rig_and_pairs(rig, owned, source, cable, PAIRS_TO_TRY)[1]
    offered = {offer.max_mv / 1000 for each, _ in pairs for offer in each.offers if offer.kind == "fixed"}
    settings: list[Request] = [FixedRequest(volts) for volts in sorted(offered) if volts]
    best = best_of(try_on(rig, pairs, settings or [rig.trigger.request]))
    chosen = best.request if best is not None and best.works else rig.trigger.request
    trigger = rig.trigger.model_copy(update={"request": chosen})
    return OnLine(rig.model_copy(update={"trigger": trigger}), owned, chosen)
