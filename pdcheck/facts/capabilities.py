"""The outer bounds of a capability list: how many objects, how much power, which come first; the ends of AVS."""

from __future__ import annotations

from pdcheck.facts.origin import PD_TEXT, Limit, checked

LIST_ORDER = checked("6.4.1.4")
"""Where the order of a list stands; the order itself is ``bits.offers.order_key``."""

SPR_OBJECTS_MAX = Limit("objects of a Source_Capabilities", 7, "1", PD_TEXT)
EPR_OBJECTS_MAX = Limit("objects of an EPR_Source_Capabilities", 11, "1", PD_TEXT)
FIRST_OBJECT_VOLTAGE = Limit("voltage of the first object, always fixed", 5.0, "V", PD_TEXT)
EPR_POWER_MAX = Limit("highest power of any contract", 240.0, "W", PD_TEXT)
SPR_POWER_MAX = Limit("highest power in SPR", 100.0, "W", checked("Table 10.2"))
VARIABLE_MIN_SHARE = Limit("least voltage of a variable supply, of its greatest", 0.80, "1", PD_TEXT)

UNREGULATED = ("variable", "battery")
"""Supplies whose voltage may be anywhere between their two ends, as the source has it."""

_AVS = checked("Tables 10.2, 10.9, 10.12 and 10.15")
_AVS_OBJECT = checked("SPR AVS object")

SPR_AVS_LEAST = Limit("least voltage of SPR AVS", 9.0, "V", _AVS)
SPR_AVS_SPLIT = Limit("SPR AVS: the first current holds up to, the second above", 15.0, "V", _AVS_OBJECT)
SPR_AVS_MOST = Limit("greatest voltage of SPR AVS", 20.0, "V", _AVS)
AVS_CURRENT_STEP = Limit("step of the current that follows from the PDP of EPR AVS", 0.050, "A", _AVS)

EPR_FIRST_POSITION = Limit("position of the first EPR object", 8, "1", checked("6.5.15"))
"""Positions 1..7 hold the SPR objects, padded with all-zero words; EPR objects stand from here on."""
