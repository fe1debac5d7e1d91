"""What the trade does and no standard says: current in hand, power banks, how true a meter reads, charger classes."""

from __future__ import annotations

from pdcheck.facts.origin import COMMON_PRACTICE, Limit, Origin, Range

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


# What a power bank holds, what of it comes out, when it switches itself off, where nobody states it.
CELL_VOLTAGE = Range("cell voltage that a power bank's printed mAh are counted at", 3.6, 3.7, 3.85, "V",
                     COMMON_PRACTICE)  # fmt: skip
CELL_VOLTAGE_MOST = Limit("below it a printed voltage is that of a lithium cell, and not of an output", 4.5, "V",
                          COMMON_PRACTICE)  # fmt: skip
RATED_VOLTAGE = Limit("voltage of a printed rated capacity that names none", 5.0, "V", COMMON_PRACTICE)
BANK_EFFICIENCY = Range("part of a power bank's energy that comes out of it", 0.80, 0.86, 0.92, "1", COMMON_PRACTICE,
                        "the less the further the voltage is from 5 V and the lower the load")  # fmt: skip
SLEEPS_BELOW = Range("current below which a power bank switches itself off", 0.03, 0.06, 0.1, "A", COMMON_PRACTICE,
                     "unless it has a mode for light load")  # fmt: skip
SLEEPS_AFTER = Range("time of light load after which a power bank switches itself off", 10.0, 20.0, 40.0, "s",
                     COMMON_PRACTICE)  # fmt: skip
OWN_DRAW = Limit("most that a power bank's own electronics take beside a light load", 0.15, "W",
                 Origin("small power banks at no load, as remembered", "memory"))  # fmt: skip
LIGHT_LOAD = Limit("load from which an efficiency speaks for a power bank's own electronics too", 1.0, "W",
                   Origin("an assumption of this program", "common practice"))  # fmt: skip
GOOD_EFFICIENCY = Limit("efficiency of a very good converter module", 0.95, "1", COMMON_PRACTICE)


# First power-up with a meter: what looks like a short, how true an output is set, what difference counts.
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


CHARGER_CLASSES = {
    "phone charger": (20.0, 30.0),
    "laptop charger": (65.0, 70.0),
    "large laptop charger": (100.0, 140.0),
}
"""Classes of chargers met on a bench: the least and the greatest power that each is printed with [W]."""


def charger_class(pdp_w: float) -> str | None:
    """The class of mains charger that ``pdp_w`` [W] falls into, or None between the classes.

    Source: common practice. Power banks cover 18 to 100 W and cannot be told from chargers by power.

    >>> charger_class(20.0), charger_class(45.0), charger_class(65.0)
    ('phone charger', None, 'laptop charger')
    """
    return next((name for name, (least, greatest) in CHARGER_CLASSES.items() if least <= pdp_w <= greatest), None)
