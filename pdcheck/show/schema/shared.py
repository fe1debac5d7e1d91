"""Parts that several JSON documents hold: triples, contracts, findings, offers, messages, cables, judgements."""

from __future__ import annotations

from pdcheck.bits.offers import Offer
from pdcheck.show.schema.words import (
    HEX_WORD,
    NUMBER,
    TEXT,
    TRUTH,
    WHOLE,
    Schema,
    closed,
    listed,
    maybe,
    one_of,
    shared,
)
from pdcheck.verdict.finding import LEVELS, VERDICTS

# One word of each kind, whose fields are those that the document of an offer of that kind holds.
_WORDS = {
    "fixed": 0x0001912C,
    "variable": 0x8190A12C,
    "battery": 0x4190A0B4,
    "pps": 0xC0DC213C,
    "spr-avs": 0xE0000000,
    "epr-avs": 0xD0000000,
    "augmented-reserved": 0xF0000000,
}
_RESERVED = {"^reserved_": WHOLE}

TRIPLE = shared("triple", closed({"min": NUMBER, "typ": NUMBER, "max": NUMBER}))
PROBLEM = shared("problem", closed({"code": TEXT, "where": TEXT, "text": TEXT}))
PROBLEMS = listed(PROBLEM)
LEVEL = one_of(*LEVELS)
VERDICT = one_of(*dict.fromkeys(VERDICTS.values()))
CONTRACT = shared(
    "contract",
    closed(
        {
            "outcome": one_of("as-asked", "fallback", "type-c", "off"),
            "position": maybe(WHOLE),
            "kind": TEXT,
            "voltage_v": NUMBER,
            "current_a": NUMBER,
            "power_w": NUMBER,
            "epr": TRUTH,
            "mismatch": TRUTH,
            "request_word": maybe(HEX_WORD),
            "request_words": listed(HEX_WORD),
            "reason": TEXT,
        }
    ),
)
FINDING_KEYS: dict[str, Schema] = {
    "rule": TEXT,
    "level": LEVEL,
    "subject": TEXT,
    "value": maybe(NUMBER),
    "limit": maybe(NUMBER),
    "unit": TEXT,
    "origin": TEXT,
    "text": TEXT,
    "advice": TEXT,
}
FINDING = shared("finding", closed(FINDING_KEYS))
JUDGEMENT_KEYS: dict[str, Schema] = {
    "source": TEXT,
    "cable": TEXT,
    "verdict": VERDICT,
    "contract": CONTRACT,
    "nodes": listed(closed({"node": TEXT, "voltage_v": TRIPLE, "current_a": TRIPLE})),
    "losses": listed(closed({"part": TEXT, "loss_w": TRIPLE})),
    "findings": listed(FINDING),
}
JUDGEMENT = shared("judgement", closed(JUDGEMENT_KEYS))


def _offer(kind: str, word: int) -> Schema:
    """An offer of one kind: its figures are the fields of its layout."""
    figures = {
        key: WHOLE
        for key, value in Offer.from_word(word, 1).fields().items()
        if not isinstance(value, bool) and key not in ("supply", "augmented") and not key.startswith("reserved_")
    }
    if kind == "spr-avs":
        figures |= {"min_voltage_mv": WHOLE, "max_voltage_mv": WHOLE}
    made = closed(
        {
            "position": WHOLE,
            "kind": {"const": kind},
            "word": HEX_WORD,
            **figures,
            "flags": listed(TEXT),
            "problems": PROBLEMS,
        }
    )
    return made | {"patternProperties": _RESERVED}


OFFER = shared("offer", {"oneOf": [_offer(kind, word) for kind, word in _WORDS.items()]})
ENDS = shared("ends", closed({"min": maybe(NUMBER), "max": maybe(NUMBER)}))
EXPECTED = shared("expected", closed({"min": maybe(NUMBER), "typ": maybe(NUMBER), "max": maybe(NUMBER)}))
