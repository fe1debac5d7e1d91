"""First power-up with a meter: what looks like a short, how true an output is set, what difference counts."""

from __future__ import annotations

from pdcheck.facts.origin import COMMON_PRACTICE, Limit

OUTPUT_SETTING = Limit("how far a converter's output may be from what it is set to", 0.02, "1", COMMON_PRACTICE)
SHORT_BELOW = Limit(
    "resistance across a converter's input below which it looks like a short, once its capacitors are charged",
    50.0,
    "ohm",
    COMMON_PRACTICE,
)
OHMMETER_SHARE = Limit("how true a meter reads a resistance of some ohms, with its leads", 0.10, "1", COMMON_PRACTICE)
OHMMETER_LEADS = Limit("resistance of a meter's own leads", 0.5, "ohm", COMMON_PRACTICE)

NAMED_RESISTANCE = Limit("resistance above what is stated that is worth a name", 0.020, "ohm", COMMON_PRACTICE)
NAMED_EFFICIENCY = Limit("efficiency below what is stated that is worth a name", 0.02, "1", COMMON_PRACTICE)
NAMED_IDLE = Limit("idle power above what is stated that is worth a name", 0.1, "W", COMMON_PRACTICE)
NAMED_CURRENT = Limit("current that nothing on the bus explains and that is worth a name", 0.020, "A", COMMON_PRACTICE)
NAMED_LOAD_SHARE = Limit("load above what is stated that is worth a name, of it", 0.05, "1", COMMON_PRACTICE)
UNNAMED_SHARE = Limit("how far off a figure usually is, of what is worth a name", 1 / 6, "1", COMMON_PRACTICE)

METER_COARSE = Limit("how true a meter of three digits reads", 0.01, "1", COMMON_PRACTICE)
METER_FINE = Limit("how true a meter of four digits reads", 0.005, "1", COMMON_PRACTICE)
METER_RANGES_A = (0.2, 0.4, 0.6, 1.0, 2.0, 4.0, 6.0)
"""Where the current ranges of usual meters end [A]; common practice, no source."""
