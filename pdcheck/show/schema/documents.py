"""The schema of every JSON document that a command prints: its keys with their types, none of them open."""

from __future__ import annotations

from pdcheck.show.schema.shared import (
    CABLE,
    CONTRACT,
    EXPECTED,
    FINDING,
    FINDING_KEYS,
    JUDGEMENT,
    JUDGEMENT_KEYS,
    LEVEL,
    MESSAGE,
    OFFER,
    PROBLEM,
    PROBLEMS,
    READING,
    TRIPLE,
    VERDICT,
)
from pdcheck.show.schema.sums import SUM_DOCUMENTS
from pdcheck.show.schema.talk import TALK_DOCUMENTS
from pdcheck.show.schema.words import (
    HEX,
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

_MARKER = maybe(
    closed(
        {
            "construction": TEXT,
            "emarker": TRUTH,
            "current_ma": WHOLE,
            "voltage_mv": WHOLE,
            "epr": TRUTH,
            "revision": TEXT,
            "decided_by": TEXT,
            "vendor_id": maybe(WHOLE),
            "vendor": maybe(TEXT),
            "problems": PROBLEMS,
        }
    )
)
_TABLE = maybe(closed({"table": TEXT, "revision": maybe(TEXT), "offers": listed(OFFER), "needs": listed(READING)}))
_PORT = closed(
    {
        "port": TEXT,
        "power_role": maybe(TEXT),
        "data_role": maybe(TEXT),
        "power_operation_mode": maybe(TEXT),
        "orientation": maybe(TEXT),
        "partner": maybe(
            closed(
                {
                    "pd": maybe(TRUTH),
                    "type": maybe(TEXT),
                    "revision": maybe(TEXT),
                    "vendor_id": maybe(WHOLE),
                    "vendor": maybe(TEXT),
                    "identity": listed(READING),
                    "table": _TABLE,
                }
            )
        ),
        "cable": maybe(
            closed({"type": maybe(TEXT), "plug_type": maybe(TEXT), "revision": maybe(TEXT), "emarker": _MARKER})
        ),
        "own": _TABLE,
    }
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
_SOURCE = closed(
    {
        "id": TEXT,
        "title": TEXT,
        "offers": listed(OFFER),
        "capture": maybe(TEXT),
        "captured_over": maybe(TEXT),
        "pdp_w": maybe(NUMBER),
        "typec_current_a": maybe(NUMBER),
        "tolerance": NUMBER,
        "cable": maybe(CABLE),
        "problems": listed(TEXT),
    }
)
_FINDING_IN_LOG = closed({**FINDING_KEYS, "index": maybe(WHOLE), "time_s": maybe(NUMBER)})
_AGREED = maybe(
    closed(
        {
            "position": WHOLE,
            "kind": maybe(TEXT),
            "voltage_mv": maybe(WHOLE),
            "request_word": HEX_WORD,
            "capability_mismatch": TRUTH,
            "index": WHOLE,
            "time_s": maybe(NUMBER),
        },
        {"current_ma": maybe(WHOLE), "power_mw": WHOLE},
    )
)
# Where there is one result, its own keys stand beside ``results``, all of them.
_ALONE = {"dependentRequired": {key: sorted(JUDGEMENT_KEYS) for key in JUDGEMENT_KEYS}}

DOCUMENTS: dict[str, Schema] = {
    "decode": document(
        "decode",
        "What a capture, hex or a label says",
        {
            "form": TEXT,
            "messages": listed(MESSAGE),
            "offers": listed(OFFER),
            "objects": listed(READING),
            "doubtful": TRUTH,
            "problems": PROBLEMS,
        },
        {
            "channel": TEXT,
            "undecoded": listed(closed({"time_s": NUMBER, "reason": TEXT})),
            "cable": _MARKER,
        },
    ),
    "attached": document(
        "attached",
        "What is attached to the ports of this machine",
        {"ports": listed(_PORT), "unclaimed": listed(_TABLE), "problems": PROBLEMS},
    ),
    "encode": document("encode", "Offers as messages", {"messages": listed(closed({"type": TEXT, "hex": HEX}))}),
    "cable": document(
        "cable",
        "What a cable may carry and what it costs",
        {
            "construction": one_of("passive", "active", "unmarked", "legacy", "captive"),
            "emarker": TRUTH,
            "pd": TRUTH,
            "current_ma": WHOLE,
            "voltage_mv": WHOLE,
            "epr": TRUTH,
            "loop_mohm": maybe(TRIPLE),
            "vendor_id": maybe(WHOLE),
            "problems": listed(PROBLEM),
            "assumed": listed(TEXT),
        },
        {
            "revision": TEXT,
            "revision_from": TEXT,
            "product_id": maybe(WHOLE),
            "certification": maybe(WHOLE),
            "plug_type": maybe(TEXT),
            "speed": maybe(TEXT),
            "latency": maybe(TEXT),
            "objects": listed(READING),
            "at_a": NUMBER,
            "drop_v": TRIPLE,
            "loss_w": TRIPLE,
        },
    ),
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
    "audit": document(
        "audit",
        "A captured conversation followed",
        {
            "messages": WHOLE,
            "good_crc_shown": TRUTH,
            "time_step_s": maybe(NUMBER),
            "epr": TRUTH,
            "contract": _AGREED,
            "findings": listed(_FINDING_IN_LOG),
            "timeline": listed(
                closed({"index": WHOLE, "time_s": maybe(NUMBER), "who": TEXT, "message": TEXT, "text": TEXT})
            ),
            "offers": listed(OFFER),
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
    "kit": document("kit", "What a kit holds", {"title": TEXT, "sources": listed(_SOURCE), "cables": listed(CABLE)}),
    "kit-change": document(
        "kit-change",
        "A change of a kit file",
        {
            "kit": TEXT,
            "change": one_of("added", "replaced", "removed"),
            "kind": one_of("source", "cable"),
            "id": TEXT,
            "capture": maybe(TEXT),
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
    "rules": document(
        "rules",
        "Every rule",
        {
            "rules": listed(
                closed(
                    {
                        "rule": TEXT,
                        "judges": one_of("rig", "conversation"),
                        "level": LEVEL,
                        "title": TEXT,
                        "origin": TEXT,
                        "advice": TEXT,
                    }
                )
            )
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
    "schema": document("schema", "The list of schemas", {"schemas": listed(closed({"name": TEXT, "title": TEXT}))}),
    **SUM_DOCUMENTS,
    **TALK_DOCUMENTS,
}
"""Every document by the name in its ``schema`` key."""
