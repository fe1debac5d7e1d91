"""Schemas of the documents that answer one sum: envelope, need, wire, led, drop."""

from __future__ import annotations

from pdcheck.show.schema.shared import CONTRACT, FINDING, TRIPLE, VERDICT
from pdcheck.show.schema.words import (
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
    shared,
)

_POINT = closed(
    {
        "output_v": NUMBER,
        "current_a": TRIPLE,
        "power_w": TRIPLE,
        "load_w": TRIPLE,
        "limited_by": maybe(TEXT),
        "limited_by_typ": maybe(TEXT),
    }
)
_ENVELOPES = listed(
    closed(
        {
            "when": TEXT,
            "contract": CONTRACT,
            "loads_w": NUMBER,
            "loads_scale": NUMBER,
            "loads_limited_by": maybe(FINDING),
            "branches": listed(
                closed({"branch": TEXT, "greatest_w": NUMBER, "limited_by": maybe(TEXT), "points": listed(_POINT)})
            ),
        }
    )
)
_ENVELOPE_KEYS: dict[str, Schema] = {"source": TEXT, "cable": TEXT, "contracts": _ENVELOPES}
_OFFER_TO_BUY = closed(
    {"position": WHOLE, "kind": TEXT},
    dict.fromkeys(
        (
            *("voltage_mv", "min_voltage_mv", "max_voltage_mv", "current_ma", "power_mw"),
            *("current_15v_ma", "current_20v_ma", "pdp_w"),
        ),
        WHOLE,
    ),
)
_CABLE_CLASS = one_of("3A", "5A", "EPR")
_NEED_KEYS: dict[str, Schema] = {
    "pdp_w": WHOLE,
    "up_to_w": WHOLE,
    "any_cable_w": maybe(WHOLE),
    "pps": TRUTH,
    "epr": TRUTH,
    "verdict": VERDICT,
    "needed": closed({"voltage_v": NUMBER, "current_a": NUMBER}),
    "contract": CONTRACT,
    "source": closed(
        {
            "offers": listed(_OFFER_TO_BUY),
            "label": TEXT,
            "hex": TEXT,
            "typec_current_a": maybe(NUMBER),
            "origin": TEXT,
        }
    ),
    "cable": closed(
        {
            "class": _CABLE_CLASS,
            "current_a": NUMBER,
            "voltage_v": NUMBER,
            "epr": TRUTH,
            "loop_ohm": maybe(NUMBER),
            "lengths": listed(closed({"awg": WHOLE, "length_m": NUMBER})),
        }
    ),
}
_NEED = shared("need", closed(_NEED_KEYS))


def _or_null(schema: Schema) -> Schema:
    """As maybe, and what is that already as it is."""
    kinds = schema.get("type")
    return schema if isinstance(kinds, list) and "null" in kinds else maybe(schema)


SUM_DOCUMENTS: dict[str, Schema] = {
    "envelope": document(
        "envelope",
        "What each output can deliver",
        {"rig": TEXT, "results": listed(closed(_ENVELOPE_KEYS))},
        _ENVELOPE_KEYS,
    )
    | {"dependentRequired": {key: sorted(_ENVELOPE_KEYS) for key in _ENVELOPE_KEYS}},
    "need": document(
        "need",
        "The least source and cable that do",
        {
            "rig": TEXT,
            "setting": TEXT,
            "fallback": TEXT,
            "possible": TRUTH,
            "reasons": listed(TEXT),
            **{key: _or_null(schema) for key, schema in _NEED_KEYS.items()},
            "as_set": maybe(_NEED),
            "in_hand": maybe(_NEED),
            "wires": listed(
                closed(
                    {
                        "branch": TEXT,
                        "part": one_of("wire", "lead"),
                        "awg": maybe(WHOLE),
                        "loop_ohm": maybe(NUMBER),
                    }
                )
            ),
            "settings": listed(
                closed(
                    {
                        "setting": TEXT,
                        "pdp_w": maybe(WHOLE),
                        "cable": maybe(_CABLE_CLASS),
                        "unsafe_from_w": maybe(WHOLE),
                    }
                )
            ),
            "fallbacks": listed(
                closed(
                    {
                        "fallback": TEXT,
                        "safe": TRUTH,
                        "lesser": listed(
                            closed(
                                {
                                    "bus_v": NUMBER,
                                    "from_w": WHOLE,
                                    "to_w": WHOLE,
                                    "state": one_of("works", "off", "overload", "unsafe"),
                                    "rule": maybe(TEXT),
                                }
                            )
                        ),
                    }
                )
            ),
            "best_fallback": maybe(TEXT),
            "changes": listed(
                closed(
                    {
                        "change": TEXT,
                        "pdp_w": WHOLE,
                        "cable_class": _CABLE_CLASS,
                        "before_pdp_w": maybe(WHOLE),
                        "before_class": maybe(_CABLE_CLASS),
                    }
                )
            ),
        },
    ),
}
