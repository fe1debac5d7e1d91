"""Schema of the document about time: the conversation of talk."""

from __future__ import annotations

from pdcheck.show.schema.shared import CONTRACT, TRIPLE
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

_PACKET = closed(
    {
        "index": WHOLE,
        "time_s": NUMBER,
        "end_s": NUMBER,
        "sop": TEXT,
        "sender": TEXT,
        "type": TEXT,
        "raw": HEX,
    },
    {
        "id": WHOLE,
        "revision": TEXT,
        "extended": TRUTH,
        "words": listed(HEX_WORD),
        "data": HEX,
        "text": TEXT,
        "attempt": WHOLE,
        "good_crc_s": maybe(NUMBER),
    },
)
_SEGMENT = closed(
    {
        "start_s": NUMBER,
        "end_s": NUMBER,
        "from_v": NUMBER,
        "to_v": NUMBER,
        "min_v": NUMBER,
        "max_v": NUMBER,
        "steady": TRUTH,
        "current_a": maybe(NUMBER),
        "limits_current": TRUTH,
        "text": TEXT,
    }
)
_SPAN = closed(
    {
        "start_s": NUMBER,
        "end_s": NUMBER,
        "voltage_v": NUMBER,
        "current_a": NUMBER,
        "bus_v": maybe(TRIPLE),
        "branches": listed(
            closed(
                {
                    "branch": TEXT,
                    "input_v": maybe(TRIPLE),
                    "load_v": maybe(TRIPLE),
                    "load_a": maybe(TRIPLE),
                    "text": TEXT,
                }
            )
        ),
    }
)
TALK_DOCUMENTS: dict[str, Schema] = {
    "talk": document(
        "talk",
        "What trigger and source tell each other",
        {
            "rig": TEXT,
            "source": TEXT,
            "cable": TEXT,
            "request": TEXT,
            "until_s": NUMBER,
            "result": one_of("contract", "off", "type-c", "failed"),
            "reason": TEXT,
            "contract": maybe(CONTRACT),
            "contracts": listed(closed({"time_s": NUMBER, "contract": maybe(CONTRACT)})),
            "messages": listed(_PACKET),
            "states": listed(closed({"time_s": NUMBER, "side": TEXT, "state": TEXT, "because": TEXT})),
            "remarks": listed(closed({"time_s": NUMBER, "kind": TEXT, "text": TEXT})),
            "voltage": listed(_SEGMENT),
            "branches": listed(_SPAN),
            "assumed": listed(TEXT),
        },
    ),
}
