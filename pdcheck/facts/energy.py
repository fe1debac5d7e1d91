"""What a power bank holds, what of it comes out, when it switches itself off: what counts where nobody states it."""

from __future__ import annotations

from pdcheck.facts.origin import COMMON_PRACTICE, Limit, Origin
from pdcheck.facts.ranges import Range

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
