"""Schemas of the documents that answer one sum: envelope, need, wire, led, drop."""

from __future__ import annotations

from pdcheck.show.schema.shared import TRIPLE
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
)

_WIRE_KEYS: dict[str, Schema] = {
    "awg": maybe(WHOLE),
    "mm2": maybe(NUMBER),
    "resistance_ohm": NUMBER,
    "drop_v": NUMBER,
    "loss_w": NUMBER,
    "stays_cool_a": NUMBER,
    "origin": TEXT,
    "stays_cool_origin": TEXT,
}
_LEAST_WIRE = maybe(closed({**_WIRE_KEYS, "decided_by": TEXT}))


SUM_DOCUMENTS: dict[str, Schema] = {
    "wire": document(
        "wire",
        "What a wire costs, or the thinnest that does",
        {"length_m": NUMBER, "current_a": NUMBER, "limit_v": maybe(NUMBER)},
        {
            "wire": closed(_WIRE_KEYS),
            "least_awg": _LEAST_WIRE,
            "least_mm2": _LEAST_WIRE,
            "least_copper_mm2": maybe(NUMBER),
        },
    )
    | {
        "oneOf": [{"required": ["wire"]}, {"required": ["least_awg", "least_mm2", "least_copper_mm2"]}],
    },
    "led": document(
        "led",
        "A string of LEDs on each voltage",
        {
            "count": WHOLE,
            "vf_v": NUMBER,
            "string_v": NUMBER,
            "way": one_of("resistor", "driver"),
            "formula": TEXT,
            "on": listed(
                closed(
                    {
                        "supply_v": NUMBER,
                        "over_v": NUMBER,
                        "lights": TRUTH,
                        "current_a": maybe(NUMBER),
                        "resistor_ohm": maybe(NUMBER),
                        "led_w": maybe(NUMBER),
                        "waste_w": maybe(NUMBER),
                        "supply_w": maybe(NUMBER),
                        "waste": maybe(NUMBER),
                    }
                )
            ),
        },
    ),
    "drop": document(
        "drop",
        "A loop resistance from two readings",
        {
            "source_v": NUMBER,
            "sink_v": NUMBER,
            "current_a": NUMBER,
            "drop_v": NUMBER,
            "loop_ohm": TRIPLE,
            "formula": TEXT,
            "limits": listed(closed({"rated_a": NUMBER, "limit_ohm": NUMBER, "within": TRUTH, "origin": TEXT})),
            "costs": listed(closed({"current_a": NUMBER, "drop_v": NUMBER, "loss_w": NUMBER})),
        },
    ),
}
