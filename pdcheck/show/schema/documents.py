"""The schema of every JSON document that a command prints: its keys with their types, none of them open."""

from __future__ import annotations

from pdcheck.show.schema.shared import (
    CABLE,
    FINDING_KEYS,
    JUDGEMENT,
    LEVEL,
    MESSAGE,
    OFFER,
    PROBLEM,
    PROBLEMS,
    READING,
    TRIPLE,
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
