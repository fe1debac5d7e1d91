"""Plausible: the worst figure that a part may have whose figure nobody states. Within it, an answer holds anyway."""

from __future__ import annotations

from pdcheck.facts.heat import BARE_MODULE, MODULE
from pdcheck.facts.origin import COMMON_PRACTICE, Limit

TRIGGER_VOLTAGE = Limit("voltage that every trigger board is made for", 20.0, "V", COMMON_PRACTICE)
TRIGGER_RATING = Limit("least current rating of a trigger board that is sold", 3.0, "A", COMMON_PRACTICE)
CONVERTER_INPUT = Limit("least input current that a converter module is sold for", 1.0, "A", COMMON_PRACTICE)
CONVERTER_OUTPUT = Limit("least output current that a converter module is sold for", 0.5, "A", COMMON_PRACTICE)
CONVERTER_INPUT_END = Limit("least end of the input range of a step-down module", 12.0, "V", COMMON_PRACTICE)
BOOST_INPUT_END = Limit("least end of the input range of a step-up module", 5.5, "V", COMMON_PRACTICE)
CONVERTER_INPUT_START = Limit("greatest start of the input range of a module", 8.0, "V", COMMON_PRACTICE)
BUCK_DROPOUT = Limit("most that a step-down module needs above its output", 2.0, "V", COMMON_PRACTICE)
LED_HEADROOM = Limit("most that an LED driver needs above its string", 2.0, "V", COMMON_PRACTICE)
OUTPUT_BULK = Limit("most capacitance at the output of a module that nobody tells of", 100e-6, "F", COMMON_PRACTICE)
WARM_AIR = Limit("air around a build in a warm room or in the shade in summer", 35.0, "C", COMMON_PRACTICE)
TRIGGER_OHM = Limit("greatest resistance of a trigger board, both poles", 0.1, "ohm", COMMON_PRACTICE)
EFFICIENCY = Limit("least efficiency of a converter or LED driver module", 0.75, "1", COMMON_PRACTICE)
RISE = Limit("most that a watt warms a converter module", MODULE.max, "K/W", BARE_MODULE)
IDLE = Limit("most that a converter module draws with nothing at its output", 0.5, "W", COMMON_PRACTICE)
WIRE_GAUGE = Limit("thinnest wire that a branch is wired with", 26.0, "AWG", COMMON_PRACTICE)
WIRE_LENGTH = Limit("length of a wire that is not worth telling", 0.5, "m", COMMON_PRACTICE)
