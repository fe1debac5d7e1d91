"""What a cable may carry, marked or not, and what it may drop: current, EPR condition, loop resistance limits."""

from __future__ import annotations

from pdcheck.facts.origin import Limit, Origin, checked

PD_CABLES = checked("4.4")
CABLE_VDO = checked("4.4 and 6.4.4.3.1.9")
IR_DROP = Origin("Type-C 4.4.1, IR Drop, quoted in a public article", "checked")
LEGACY = Origin("Type-C", "standard")

OLDEST_MARKED_CURRENT = Limit("current of code 0 in a Revision 2.0 marker", 1.5, "A", Origin("PD R2.0", "memory"))
UNMARKED_CURRENT = Limit("current of a C-to-C cable without a 5 A marker", 3.0, "A", PD_CABLES)
MARKED_CURRENT = Limit("current of a C-to-C cable with a 5 A marker", 5.0, "A", PD_CABLES)
UNMARKED_VOLTAGE = Limit("nominal voltage of a cable without an EPR marker", 20.0, "V", PD_CABLES)

EPR_MARKER_VOLTAGE = Limit("voltage that an EPR marker says", 50.0, "V", CABLE_VDO)
EPR_MARKER_CURRENT = Limit("current that an EPR marker says", 5.0, "A", CABLE_VDO)

LEGACY_VOLTAGE = Limit("voltage that an A-to-C cable can bring", 5.0, "V", LEGACY)
"""PD runs over the CC wire, which a Type-A plug does not have."""

VBUS_DROP = Limit("drop on VBUS at the rated current", 0.500, "V", IR_DROP)
GROUND_DROP = Limit("drop on GND at the rated current", 0.250, "V", IR_DROP)
LOOP_DROP = Limit("drop around the loop at the rated current", VBUS_DROP.value + GROUND_DROP.value, "V", IR_DROP)


def loop_limit_ohm(rated_a: float) -> float:
    """The most that VBUS and GND of a cable rated ``rated_a`` [A] may have together, contacts included [ohm].

    Source: Type-C 4.4.1, 500 mV and 250 mV at the rated current. ``rated_a`` above zero.

    >>> loop_limit_ohm(3.0), loop_limit_ohm(5.0)
    (0.25, 0.15)
    """
    return LOOP_DROP.value / rated_a


def is_epr_cable(voltage_v: float, current_a: float, epr_capable: bool) -> bool:
    """Whether a source takes a cable as EPR capable: its marker says 50 V [V], 5 A [A] and EPR Capable, all three.

    Source: PD R3.2 V1.1, 4.4 and 6.4.10.

    >>> is_epr_cable(50.0, 5.0, True), is_epr_cable(50.0, 5.0, False), is_epr_cable(50.0, 3.0, True)
    (True, False, False)
    """
    return epr_capable and voltage_v >= EPR_MARKER_VOLTAGE.value and current_a >= EPR_MARKER_CURRENT.value
