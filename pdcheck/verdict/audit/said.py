"""Rules on what is odd about the words and bytes of a message, as decoding it tells."""

from __future__ import annotations

from pdcheck.bits.header import REQUESTS
from pdcheck.bits.offers import list_problems
from pdcheck.bits.problems import Problem
from pdcheck.contract.following.state import PLUG, Log, Step
from pdcheck.facts.capabilities import LIST_ORDER
from pdcheck.facts.origin import Origin
from pdcheck.parts.limits import Level
from pdcheck.verdict.audit.rule import Tell, audit_rule, in_turn
from pdcheck.verdict.finding import LEVELS

# Told of by rules of their own: the CRC, the place of an object in a list, what is asked for, chunks.
_ELSEWHERE = {"crc", "header-bit", "chunk-missing"}
_OF_REQUESTS = {
    "position", "over-offer", "outside-range", "off-step", "object-count", "copy-differs", "over-5a", "epr-in-spr",
}  # fmt: skip
_MOST_KNOWN = 10_000
"""So many different lists or texts are told from those that come again."""
_OUT_OF_PLACE = ("first-not-5v", "order", "epr-low", "spr-high")

_NOTES = {
    "no-power", "no-table", "voltage-deprecated", "50v-not-epr", "epr-contradicted", "line", "vpd",
    "no-charge-through", "no-marker", "ambiguous",
}  # fmt: skip
_WARNINGS = {
    "reserved-bits", "padding", "range-wide", "repeated", "flags-not-first", "contradiction", "text-end", "text",
    "letters", "count", "after-end", "block-long", "current-reserved", "no-vbus",
}  # fmt: skip


def _level(problem: Problem) -> Level:
    """How bad a problem is to those who talk: what cannot be read or kept fails, what is to be ignored warns."""
    if problem.code in _NOTES:
        return "note"
    return "warn" if problem.code in _WARNINGS else "fail"


@audit_rule(
    LIST_ORDER,
    "Sinks that count on the order may ask for the wrong object: go by the list, and by a meter.",
    covers=("word", "answer-missing"),
)
async def offer_order(log: Log, tell: Tell) -> None:
    """A source's list that is out of order.

    The same list again is not told again.
    """
    known: set[tuple[int, ...]] = set()
    async for step in in_turn(log):
        offers = step.told.offers
        if not offers or not step.read or step.retry:
            continue
        words = tuple(offer.word for offer in offers)
        listed = list_problems(offers, epr_message=step.name == "EPR_Source_Capabilities")
        wrong = [problem for problem in listed if problem.code in _OUT_OF_PLACE]
        # An object that may not be there at all is told of with its place.
        others = _problems(step)
        if wrong and words not in known and not any(_level(each) == "fail" for each in others):
            tell(step, step.sender, "; ".join(str(problem) for problem in (*wrong, *others)))
        if len(known) < _MOST_KNOWN:
            known.add(words)


@audit_rule(
    Origin("PD R3.2 V1.1, tables of the message and its objects", "checked"),
    "Receivers ignore such a message or object, or reset: do not count on what it says.",
    covers=("answer-order", "answer-missing", "epr-order", "offer-cable"),
)
async def word(log: Log, tell: Tell) -> None:
    """A message whose bytes are not as the standard has them.

    Every problem of a message, in one finding at the level of the worst; the same again is not told again.
    """
    known: set[tuple[str, str, str]] = set()
    async for step in in_turn(log):
        if not step.read or step.retry:
            continue
        found = _problems(step)
        if step.told.offers and any(_level(each) == "fail" for each in found):
            found += [each for each in step.told.problems if each.code in _OUT_OF_PLACE]
        if not found:
            continue
        text = "; ".join(dict.fromkeys(_in_words(step, problem) for problem in found))
        key = (step.name, step.sender, text)
        if all(each.where == "header" for each in found):
            key = ("", step.sender, text)  # the same in whatever message
        if key in known:
            continue
        if len(known) < _MOST_KNOWN:
            known.add(key)
        level = min((_level(each) for each in found), key=LEVELS.index)
        if level == "fail" and step.sender == PLUG and step.name == "Vendor_Defined":
            level = "warn"
        reserved = [each for each in found if each.code == "reserved-type"]
        if reserved:
            answered = _not_supported(log, step)
            level = "note" if answered else "fail"
            text = f"the standard has no such message in Revision {step.message.revision}"
            if step.name == "Not_Supported":
                text += "; there Reject says so"
            else:
                text += "; answered by Not_Supported" if answered else "; nobody answered Not_Supported"
        name = step.message.type if "reserved" in step.name and not reserved else step.name
        tell(step, step.sender or "line", f"{name}: {text}", level=level)


def _in_words(step: Step, problem: Problem) -> str:
    """A problem without its place, where that is the message itself."""
    return problem.text if problem.where.lower() == step.message.type.lower() else str(problem)


def _problems(step: Step) -> list[Problem]:
    """What decoding finds odd about a message and no other rule tells of."""
    found = list(step.told.problems)
    asked = step.after.asked
    if step.name in REQUESTS and asked is not None and asked.number == step.number:
        # Read again by the offers that stand here.
        found = [*step.message.problems, *asked.reading.problems]
        found = [each for each in found if each.code not in _OF_REQUESTS]
        if any(each.code == "position" for each in asked.reading.problems) or not step.before.offers:
            found = [each for each in found if each.code != "ambiguous"]
    elsewhere = _ELSEWHERE if not step.told.offers else {*_ELSEWHERE, *_OUT_OF_PLACE}
    return [each for each in found if each.code not in elsewhere]


def _not_supported(log: Log, step: Step) -> bool:
    """Whether the other side says that it does not know such a message."""
    refusals = ("Not_Supported", "Reject", "Soft_Reset")
    for later in log.steps[step.number + 1 : step.number + 8]:
        if later.message.sop == step.message.sop and later.name != "GoodCRC" and not later.retry:
            return later.name in refusals and later.sender != step.sender
    return False
