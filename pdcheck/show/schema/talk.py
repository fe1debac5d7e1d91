"""The schema of what change says of a source that changes."""

from __future__ import annotations

from pdcheck.show.schema.shared import CONTRACT, ENDS, FINDING, VERDICT
from pdcheck.show.schema.words import (
    NUMBER,
    TEXT,
    TRUTH,
    Schema,
    closed,
    document,
    listed,
    maybe,
)

_PATH = closed(
    {
        "way": TEXT,
        "works": TRUTH,
        "lowest_v": NUMBER,
        "off_s": maybe(ENDS),
        "five_volts_s": maybe(ENDS),
        "steps": listed(
            closed({"what": TEXT, "voltage_v": ENDS, "time_s": ENDS, "timers": listed(TEXT), "origin": TEXT})
        ),
        "branches": listed(
            closed(
                {
                    "branch": TEXT,
                    "ran": TRUTH,
                    "fate": TEXT,
                    "starts_on_5v": TRUTH,
                    "why": TEXT,
                    "hold_up_s": maybe(NUMBER),
                }
            )
        ),
        "findings": listed(FINDING),
    }
)

TALK_DOCUMENTS: dict[str, Schema] = {
    "change": document(
        "change",
        "What happens when a source offers less",
        {
            "rig": TEXT,
            "source": TEXT,
            "cable": TEXT,
            "contract": CONTRACT,
            "verdict": VERDICT,
            "works": TRUTH,
            "changes": listed(
                closed(
                    {
                        "to": TEXT,
                        "works": TRUTH,
                        "contract": CONTRACT,
                        "verdict": VERDICT,
                        "findings": listed(FINDING),
                        "paths": listed(_PATH),
                    }
                )
            ),
        },
    ),
}
