"""The words that a key of a document can have, where its type is a text and a table says which there are."""

from __future__ import annotations

from pdcheck.bits.line import ORDERED_SETS
from pdcheck.bits.power import SOURCE_WORDS
from pdcheck.intake.forms import FORMS
from pdcheck.intake.stream import TORN
from pdcheck.key_words import key_text
from pdcheck.result import Schema
from pdcheck.verdict.audit.auditing import AUDIT_RULES, UNDECODED
from pdcheck.verdict.change.effects import EFFECTS
from pdcheck.verdict.pick import TYPE_C
from pdcheck.verdict.rules.every import RIG_RULES

RULES = tuple(sorted({*(each.id for each in RIG_RULES), *(each.id for each in AUDIT_RULES), *EFFECTS, UNDECODED, TORN}))
"""The id of every rule that a finding can be of."""
_KINDS = (*SOURCE_WORDS, TYPE_C, "none")
_ROLES = ("source", "sink", "cable plug", "UFP", "DFP", "host", "device")

WORDS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("Finding.rule", "Cell.rule", "LesserSource.rule", "ListedRule.rule", "Rated.rule", "More.rule"), RULES),
    **dict.fromkeys(("Contract.kind", "Choice.kind", "Ranked.kind", "OfferToBuy.kind", "Agreed.kind"), _KINDS),
    **dict.fromkeys(("MessageRecord.sop", "MessageLine.sop", "PacketRecord.sop"), tuple(ORDERED_SETS)),
    "DecodeResult.form": (*FORMS, "raw"),
    "Implied.kind": (
        "supply", "source", "wire", "lead", "efficiency", "idle", "load", "bus-draw", "output", "sag", "burden",
        "meter", "test-load",
    ),
}  # fmt: skip
"""By class and key."""


def close(schema: Schema, name: str) -> Schema:
    """A document's schema with its texts closed, in place; ``name`` is that of the document's class.

    What a class of its own schema does not say of its keys is said here as well.
    """
    for of, each in ((name, schema), *schema.get("$defs", {}).items()):
        _describe(each, of)
        for key, known in each.get("properties", {}).items():
            words = WORDS.get(f"{of}.{key}")
            if words is not None:
                may_be_none = "null" in known["type"]
                each["properties"][key] = {**known, "enum": [*words, *([None] if may_be_none else [])]}
    return schema


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
