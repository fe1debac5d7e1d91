"""The outer bounds of a capability list: how many objects, how much power, which one comes first."""

from __future__ import annotations

from pdcheck.facts.origin import Limit, Origin

_PD_TEXT = Origin("PD R3.2 V1.1", "checked")

LIST_ORDER = Origin("PD R3.2 V1.1, 6.4.1.4", "checked")
"""Where the order of a list stands; the order itself is ``bits.offers.order_key``."""

SPR_OBJECTS_MAX = Limit("objects of a Source_Capabilities", 7, "1", _PD_TEXT)
EPR_OBJECTS_MAX = Limit("objects of an EPR_Source_Capabilities", 11, "1", _PD_TEXT)
FIRST_OBJECT_VOLTAGE = Limit("voltage of the first object, always fixed", 5.0, "V", _PD_TEXT)
EPR_POWER_MAX = Limit("highest power of any contract", 240.0, "W", _PD_TEXT)
SPR_POWER_MAX = Limit("highest power in SPR", 100.0, "W", Origin("PD R3.2 V1.1, Table 10.2", "checked"))
VARIABLE_MIN_SHARE = Limit("least voltage of a variable supply, of its greatest", 0.80, "1", _PD_TEXT)
