"""Adjustable supplies: the ends and steps of SPR AVS and EPR AVS, and where EPR objects stand in the list."""

from __future__ import annotations

from pdcheck.facts.origin import Limit, checked

_AVS = checked("Tables 10.2, 10.9, 10.12 and 10.15")
_OBJECT = checked("SPR AVS object")

SPR_AVS_LEAST = Limit("least voltage of SPR AVS", 9.0, "V", _AVS)
SPR_AVS_SPLIT = Limit("SPR AVS: the first current holds up to, the second above", 15.0, "V", _OBJECT)
SPR_AVS_MOST = Limit("greatest voltage of SPR AVS", 20.0, "V", _AVS)
AVS_CURRENT_STEP = Limit("step of the current that follows from the PDP of EPR AVS", 0.050, "A", _AVS)

EPR_FIRST_POSITION = Limit("position of the first EPR object", 8, "1", checked("6.5.15"))
"""Positions 1..7 hold the SPR objects, padded with all-zero words; EPR objects stand from here on."""
