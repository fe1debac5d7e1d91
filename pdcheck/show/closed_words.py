"""The words that a key of a document can have, where its type is a text and a table says which there are."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from typing import get_args

from pdcheck.bits.line import ORDERED_SETS
from pdcheck.bits.power import SOURCE_WORDS
from pdcheck.circuit.point import Met
from pdcheck.contract.following.state import PLUG, SENDERS, SINK, SOURCE
from pdcheck.contract.talk.sink_policy import SINK as SINK_POLICY
from pdcheck.contract.talk.source_policy import SOURCE as SOURCE_POLICY
from pdcheck.facts.timing import TIMERS
from pdcheck.facts.voltage import SLEW_FALLING, SLEW_RISING
from pdcheck.intake.forms import FORMS
from pdcheck.intake.stream import TORN
from pdcheck.key_words import key_text
from pdcheck.marks import Schema
from pdcheck.parts.cable import Construction
from pdcheck.parts.file_schema import rig_schema
from pdcheck.parts.limits import LimitingPart
from pdcheck.quantities import UNITS, Triple
from pdcheck.show import word_schemas as of_words
from pdcheck.verdict.audit.auditing import AUDIT_RULES, UNDECODED
from pdcheck.verdict.audit.words import LINE
from pdcheck.verdict.bringup.cause import SEEN
from pdcheck.verdict.bringup.unknowns import KINDS, cause_name
from pdcheck.verdict.change.effects import EFFECTS
from pdcheck.verdict.envelopes import STARTING
from pdcheck.verdict.not_judged import SLEEPS_BELOW
from pdcheck.verdict.pick import TYPE_C
from pdcheck.verdict.rules.every import RIG_RULES

OF_RIGS = tuple(sorted({*(each.id for each in RIG_RULES), *EFFECTS}))
"""The id of every rule that a rig can break."""
OF_LOGS = tuple(sorted({*(each.id for each in AUDIT_RULES), UNDECODED, TORN}))
"""The id of every rule that a captured conversation can break."""
RULES = tuple(sorted({*OF_RIGS, *OF_LOGS}))
_KINDS = (*SOURCE_WORDS, TYPE_C, "none")
_NAMES = ("title", "kind", "guess", "stranded")
_UNITS = ("", "1", "AWG", *(each for each in UNITS if each != "%"))


WORDS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("Finding.rule", "Cell.rule", "LesserSource.rule", "Rated.rule"), OF_RIGS),
    **dict.fromkeys(("Remark.rule", "More.rule"), OF_LOGS),
    "ListedRule.rule": RULES,
    **dict.fromkeys(("Contract.kind", "Choice.kind", "Ranked.kind", "OfferToBuy.kind", "Agreed.kind"), _KINDS),
    **dict.fromkeys(("MessageRecord.sop", "MessageLine.sop", "PacketRecord.sop"), tuple(ORDERED_SETS)),
    **dict.fromkeys(("Header.type", "EncodedMessage.type", "PacketRecord.type"), of_words.TYPES),
    **dict.fromkeys(("Header.revision", "PacketRecord.revision"), of_words.REVISIONS),
    **dict.fromkeys(("CableResult.revision", "Marker.revision"), of_words.REVISIONS[1:-1]),
    "CableResult.plug_type": of_words.names_of("plug_type"),
    "CableResult.speed": of_words.names_of("speed"),
    "CableResult.latency": of_words.names_of("latency"),
    "Marker.construction": get_args(Construction),
    "Header.power_role": of_words.ROLES,
    "Header.data_role": of_words.DATA_ROLES,
    "Implied.kind": tuple(KINDS),
    "Cause.cause": (*map(cause_name, KINDS), *SEEN),
    "Entry.type": of_words.STEPS,
    "Entry.sender": (*SENDERS, LINE),
    "PacketRecord.sender": (SOURCE, SINK, PLUG),
    "Reading.kind": of_words.KINDS,
    "Reading.flags": of_words.FLAGS,
    **dict.fromkeys(("Offer.flags", "Gap.flags"), of_words.OFFER_FLAGS),
    "BlockReading.kind": of_words.TYPES,
    "Change.state": tuple(dict.fromkeys((*SOURCE_POLICY.states, *SINK_POLICY.states))),
    "Step.timers": (*TIMERS, SLEW_RISING.name, SLEW_FALLING.name),
    "DecodeResult.form": tuple(FORMS),
    **dict.fromkeys((f"{each}.unit" for each in ("Finding", "Remark", "NotJudged", "Implied", "Cause")), _UNITS),
}  # fmt: skip
"""By class and key."""


@cache
def patterns() -> dict[str, str]:
    """What a text looks like that names a part of a branch, or a key of a rig or kit, by class and key."""
    met = [word for each in get_args(Met) for word in get_args(each)]
    part = f"^(.+ )?({_either(get_args(LimitingPart))})$|^({_either((STARTING, *met))})$"
    return {
        "NotJudged.what": _missing_key(),
        **dict.fromkeys(("OutputPoint.limited_by", "OutputPoint.limited_by_typ", "BranchEnvelope.limited_by"), part),
    }


def _missing_key() -> str:
    """A key as ``what`` names it: of trigger or box, of a part of a branch behind the branch, of a source behind it."""
    keys = [path for path in paths(rig_schema()) if path[-1] not in (*Triple._fields, *_NAMES)]
    shared = [".".join(path) for path in keys if path[0] in ("trigger", "box") and len(path) == 2]
    own = [".".join(path[1:]) for path in keys if path[0] == "branch" and len(path) > 2]
    return f"^({_either(shared)})$|^.+\\.({_either((*own, SLEEPS_BELOW))})$"


def _either(words: Iterable[str]) -> str:
    return "|".join(re.escape(word).replace("\\ ", " ").replace("\\-", "-") for word in words)


def paths(whole: Schema) -> tuple[tuple[str, ...], ...]:
    """Every key of a file by its path, without the places in lists.

    >>> {("trigger", "resistance"), ("branch", "load", "led", "headroom")} < set(paths(rig_schema()))
    True
    """
    return tuple(dict.fromkeys(_paths(whole, whole, ())))


def _paths(schema: Schema, whole: Schema, seen: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    name = schema.get("$ref", "").rpartition("/")[2]
    if name and name not in seen:
        yield from _paths(whole["$defs"][name], whole, (*seen, name))
    for key, inner in schema.get("properties", {}).items():
        yield (key,)
        yield from ((key, *path) for path in _paths(inner, whole, seen))
    below = [inner for of in ("anyOf", "oneOf", "allOf") for inner in schema.get(of, ())]
    for each in (*below, *([schema["items"]] if "items" in schema else [])):
        yield from _paths(each, whole, seen)


def close(schema: Schema, name: str) -> Schema:
    """A document's schema with its texts closed, in place; ``name`` is that of the document's class.

    What a class of its own schema does not say of its keys is said here as well.
    """
    for of, each in ((name, schema), *schema.get("$defs", {}).items()):
        if of in ("Reading", "BlockReading") and "word" in each.get("properties", {}).keys() | {"data"}:
            of_words.fill_in(each, of)
        _describe(each, of)
        for one in (each, *each.get("oneOf", ())):
            for key, known in one.get("properties", {}).items():
                one["properties"][key] = _closed(known, f"{of}.{key}")
                if key == "extended_header":
                    of_words.fill_in(one["properties"][key], key)
    return schema


def _closed(known: Schema, place: str) -> Schema:
    words, pattern = WORDS.get(place), patterns().get(place)
    if known.get("type") == "array" and words is not None:
        return {**known, "items": {**known["items"], "enum": list(words)}}
    if words is not None:
        return {**known, "enum": [*words, *([None] if "null" in known["type"] else [])]}
    return known if pattern is None else {**known, "pattern": pattern}


def _describe(schema: object, of: str) -> None:
    if isinstance(schema, list):
        for each in schema:
            _describe(each, of)
    if not isinstance(schema, dict):
        return
    properties = schema.get("properties") or {}
    for key, known in properties.items():
        text = key_text(of, key)
        if text is not None:
            # Keys of one kind may share a schema, and yet mean different things.
            properties[key] = {"description": text, **known}
    for name, each in schema.items():
        if name != "$defs":
            _describe(each, of)
