"""The schema of every JSON document that a command prints: its keys with their types, none of them open."""

from __future__ import annotations

from pdcheck.show.schema.shared import (
    CONTRACT,
    EXPECTED,
    FINDING,
    JUDGEMENT,
    JUDGEMENT_KEYS,
    LEVEL,
    OFFER,
    TRIPLE,
    VERDICT,
)
from pdcheck.show.schema.sums import SUM_DOCUMENTS
from pdcheck.show.schema.talk import TALK_DOCUMENTS
from pdcheck.show.schema.words import (
    HEX_WORD,
    NUMBER,
    TEXT,
    TRUTH,
    WHOLE,
    Schema,
    closed,
    document,
    listed,
    maybe,
    one_of,
)

_RANKED = closed(
    {
        "position": maybe(WHOLE),
        "kind": TEXT,
        "voltage_mv": WHOLE,
        "current_ma": WHOLE,
        "ok": TRUTH,
        "reasons": listed(TEXT),
        "headroom": maybe(NUMBER),
        "bus_v": maybe(TRIPLE),
        "converter_in_a": maybe(TRIPLE),
        "loss_w": maybe(TRIPLE),
    }
)
_CHOICE = maybe(
    closed(
        {
            "position": maybe(WHOLE),
            "kind": TEXT,
            "voltage_mv": WHOLE,
            "current_ma": WHOLE,
            "request_word": maybe(HEX_WORD),
            "request_words": listed(HEX_WORD),
        }
    )
)
_READING_TO_TAKE = closed(
    {
        "reading": TEXT,
        "where": TEXT,
        "node": TEXT,
        "unit": one_of("V", "A", "ohm", ""),
        "expected": EXPECTED,
        "outside": TEXT,
        "optional": TRUTH,
    }
)
_STEP = closed(
    {
        "step": TEXT,
        "title": TEXT,
        "branches": listed(TEXT),
        "load_share": NUMBER,
        "actions": listed(TEXT),
        "readings": listed(_READING_TO_TAKE),
        "stop": listed(TEXT),
    }
)
# Where there is one result, its own keys stand beside ``results``, all of them.
_ALONE = {"dependentRequired": {key: sorted(JUDGEMENT_KEYS) for key in JUDGEMENT_KEYS}}

DOCUMENTS: dict[str, Schema] = {
    "pick": document(
        "pick",
        "The offers of a source ranked for an output",
        {
            "source": TEXT,
            "cable": TEXT,
            "output": closed({"voltage_v": NUMBER, "current_a": NUMBER}),
            "choice": _CHOICE,
            "ranking": listed(_RANKED),
            "assumed": listed(TEXT),
        },
    ),
    "check": document("check", "A rig judged", {"rig": TEXT, "results": listed(JUDGEMENT)}, JUDGEMENT_KEYS) | _ALONE,
    "matrix": document(
        "matrix",
        "Every rig on every source and cable",
        {
            "counts": closed(dict.fromkeys(("runs", "limited", "fails", "unsafe"), WHOLE)),
            "cells": listed(
                closed(
                    {
                        "rig": TEXT,
                        "source": TEXT,
                        "cable": TEXT,
                        "verdict": VERDICT,
                        "rule": maybe(TEXT),
                        "max_w": maybe(NUMBER),
                    }
                )
            ),
        },
    ),
    "settings": document(
        "settings",
        "What each setting of a trigger gives on a source",
        {
            "source": TEXT,
            "cable": TEXT,
            "fallback": TEXT,
            "pd": TRUTH,
            "settings": listed(closed({"setting": TEXT, "contract": CONTRACT})),
        },
    ),
    "bringup": document(
        "bringup",
        "A first power-up step by step",
        {
            "rig": TEXT,
            "source": TEXT,
            "cable": TEXT,
            "verdict": VERDICT,
            "contract": CONTRACT,
            "findings": listed(FINDING),
            "steps": listed(_STEP),
            "halted": TEXT,
            "cautions": listed(TEXT),
        },
    ),
    "measured": document(
        "measured",
        "Readings of a first power-up compared",
        {
            "rig": TEXT,
            "source": TEXT,
            "cable": TEXT,
            "fine": TRUTH,
            "fell_to_v": maybe(NUMBER),
            "readings": listed(
                closed(
                    {
                        "reading": TEXT,
                        "unit": one_of("V", "A", "ohm", ""),
                        "value": maybe(NUMBER),
                        "half_digit": maybe(NUMBER),
                        "expected": EXPECTED,
                        "inside": maybe(TRUTH),
                    }
                )
            ),
            "implied": listed(
                closed(
                    {
                        "kind": one_of("supply", "wire", "lead", "efficiency", "idle", "load", "bus-draw"),
                        "subject": TEXT,
                        "value": TRIPLE,
                        "unit": TEXT,
                        "stated": TRIPLE,
                        "steps": listed(TEXT),
                        "assumed": TEXT,
                        "agree": TRUTH,
                    }
                )
            ),
            "causes": listed(closed({"cause": TEXT, "level": LEVEL, "subject": TEXT, "text": TEXT, "advice": TEXT})),
            "changes": listed(closed({"file": TEXT, "key": TEXT, "old": TEXT, "new": TEXT, "why": TEXT})),
        },
    ),
    "new": document(
        "new",
        "A rig file made from answers",
        {
            "rig": TEXT,
            "answers": listed(closed({"question": TEXT, "answer": maybe(TEXT), "guessed": TRUTH})),
            "results": listed(JUDGEMENT),
        },
    ),
    "demo": document(
        "demo",
        "The whole job on invented data",
        {
            "sources": listed(closed({"id": TEXT, "title": TEXT, "offers": listed(OFFER)})),
            "rigs": listed(closed({"id": TEXT, "title": TEXT, "results": listed(JUDGEMENT)})),
            "cautions": listed(TEXT),
        },
    ),
    **SUM_DOCUMENTS,
    **TALK_DOCUMENTS,
}
"""Every document by the name in its ``schema`` key."""
