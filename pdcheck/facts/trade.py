"""What the trade does and no standard says: current in hand, LED current, charger classes, how true a meter reads."""

from __future__ import annotations

from pdcheck.facts.origin import COMMON_PRACTICE, Limit, Origin
from pdcheck.named import NamedTuple

CURRENT_IN_HAND = Limit("current to spare on anything that runs continuously", 0.20, "1", COMMON_PRACTICE)

WIRE_DROP_SHARE = Limit("drop in a branch's wire, of the bus voltage", 0.05, "1", COMMON_PRACTICE)
LEAD_DROP_SHARE = Limit("drop in a lead, of the voltage it starts with", 0.05, "1", COMMON_PRACTICE)
UNKNOWN_EFFICIENCY = Limit("efficiency of a converter of which none is stated", 0.85, "1", COMMON_PRACTICE)
DEVICE_TOLERANCE = Limit(
    "how far a supply may be from the voltage that a device is made for", 0.1, "1", COMMON_PRACTICE
)
WEAK_SHARE = Limit("part of its power below which a load does not do its job", 0.5, "1", COMMON_PRACTICE)
DIM_SHARE = Limit("part of its power below which a load does its job poorly", 0.8, "1", COMMON_PRACTICE)
STRONG_SHARE = Limit("part of its power above which a resistance gets too hot", 1.2, "1", COMMON_PRACTICE)
BURNING_SHARE = Limit("part of its power above which a resistance burns", 1.5, "1", COMMON_PRACTICE)
RESISTOR_WASTE_SHARE = Limit("part of an LED string's power that may burn in its resistor", 0.30, "1", COMMON_PRACTICE)
LED_OVERDRIVE_SHARE = Limit("LED current above what is stated, at the worst corner", 0.20, "1", COMMON_PRACTICE)

FAR_BEYOND_TABLE = Limit(
    "distance from the end of an efficiency table that is no longer a guess", 0.2, "1", COMMON_PRACTICE
)

CELL_END = Limit("end voltage of a common lithium-ion cell", 4.2, "V", COMMON_PRACTICE)
CELL_END_MOST = Limit("highest end voltage that any lithium-ion cell is sold with", 4.45, "V", COMMON_PRACTICE)


UNMEASURED_CABLE_SHARE = Limit(
    "loop resistance of an unmeasured cable, of the standard's limit, as typical",
    0.5,
    "1",
    Origin("an assumption of this program", "common practice"),
)

OLDER_VOLTAGE = Limit("voltage that is not normative, and that triggers have all the same", 12.0, "V", COMMON_PRACTICE)


class ChargerClass(NamedTuple):
    """A class of charger met on a bench: what it is called, and the power it is printed with [W]."""

    name: str
    least_w: float
    greatest_w: float


CHARGER_CLASSES = (
    ChargerClass("phone charger", 20.0, 30.0),
    ChargerClass("laptop charger", 65.0, 70.0),
    ChargerClass("large laptop charger", 100.0, 140.0),
)


def charger_class(pdp_w: float) -> str | None:
    """The class of mains charger that ``pdp_w`` [W] falls into, or None between the classes.

    Source: common practice. Power banks cover 18 to 100 W and cannot be told from chargers by power.

    >>> charger_class(20.0), charger_class(45.0), charger_class(65.0)
    ('phone charger', None, 'laptop charger')
    """
    for row in CHARGER_CLASSES:
        if row.least_w <= pdp_w <= row.greatest_w:
            return row.name
    return None
