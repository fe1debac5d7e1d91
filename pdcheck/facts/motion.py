"""The first second: what is taken where nobody states it: inductance, ESR, soft start, brown-out, hiccup."""

from __future__ import annotations

import math

from pdcheck.facts.origin import COMMON_PRACTICE, Limit, Origin, Range

PHYSICS = Origin("", "physics")
ASSUMED = Origin("an assumption of this program", "common practice")
PAIR_FORMULA = Origin("computed from the inductance of a pair of parallel wires", "physics")

PERMEABILITY = Limit("permeability of free space, mu0", 4e-7 * math.pi, "H/m", PHYSICS)
INSIDE_INDUCTANCE = Limit("inside of the two wires of a pair, at low frequency", 0.1e-6, "H/m", PHYSICS)

INSULATION = Limit("insulation of a hook-up wire, one wall", 0.5e-3, "m", COMMON_PRACTICE)
"""Two wires side by side lie their copper and two walls apart: AWG 20 of 0.81 mm at 1.8 mm."""
WIRE_INDUCTANCE = Range("inductance of wires, one way", 0.5e-6, 0.7e-6, 1.7e-6, "H/m", PAIR_FORMULA, "loose leads: 1.7")
CABLE_INDUCTANCE = Range("inductance of a USB-C cable", 0.3e-6, 0.5e-6, 0.7e-6, "H/m", ASSUMED, "by its length")
CONNECTOR_INDUCTANCE = Limit("inductance of a pair of connectors and the boards behind them", 50e-9, "H", ASSUMED)

ESR_CERAMIC = Range("ESR of a ceramic capacitor", 2e-3, 5e-3, 20e-3, "ohm", COMMON_PRACTICE)
ESR_ELECTROLYTIC = Range("ESR of a wet electrolytic of 47 to 470 uF", 50e-3, 150e-3, 500e-3, "ohm", COMMON_PRACTICE)
CERAMIC_MOST = Limit("capacitance up to which an unnamed capacitor is taken as ceramic", 22e-6, "F", ASSUMED)
INPUT_BULK = Limit("input capacitance of a converter of which none is stated", 10e-6, "F", ASSUMED)
TRIGGER_BULK = Limit("bulk on a trigger's output of which none is stated", 10e-6, "F", ASSUMED)

DAMPER_SIZE = Limit("capacitance beside a ceramic that damps its ring, of the ceramic's", 4.0, "1", COMMON_PRACTICE)

SOFT_START = Range("soft start", 1e-3, 3e-3, 10e-3, "s", COMMON_PRACTICE)
START_TO_STOP = Range("cut-off below the start voltage", 0.2, 0.5, 1.0, "V", COMMON_PRACTICE)
LEAST_STOP_SHARE = Limit("least cut-off, of the start voltage, where none is stated", 0.6, "1", ASSUMED)

BROWN_OUT = Range("bus voltage below which a trigger forgets its contract", 3.3, 3.6, 4.0, "V", COMMON_PRACTICE)
TRIGGER_RESTART = Limit("from the bus coming back to a new contract", 0.3, "s", COMMON_PRACTICE)

HOLD_SHARE = Limit(
    "current at which a source of 3 A at 5 V holds, of what its Rp says", 3.5 / 3.0, "1", COMMON_PRACTICE
)
HICCUP_RETRY = Limit("from switching off in an overload to the next try", 0.5, "s", COMMON_PRACTICE)
HICCUP_PATIENCE = Limit("how long a source bears an overload before it switches off", 1e-3, "s", ASSUMED)
SOURCE_RISE = Limit("rise of VBUS to 5 V at attach", 1e-3, "s", ASSUMED)

LAMP_START_TIME = Limit("time that a lamp takes to get hot", 50e-3, "s", COMMON_PRACTICE)


def pair_inductance_h_per_m(distance_m: float, diameter_m: float) -> float:
    """Inductance [H/m] of two parallel round wires, per metre one way, ``distance_m`` [m] between their centres.

    Source: L = (mu0 / pi) acosh(D / d) outside, 0.1 uH/m inside the copper at low frequency [physics]. ``diameter_m``
    [m] is the copper's; below it ``distance_m`` counts as touching.

    >>> f"{pair_inductance_h_per_m(1.8e-3, 0.812e-3) * 1e6:.2f} uH/m"
    '0.67 uH/m'
    >>> [f"{pair_inductance_h_per_m(distance, 0.812e-3) * 1e6 - 0.1:.1f}" for distance in (10e-3, 30e-3)]
    ['1.3', '1.7']
    """
    outside = PERMEABILITY.value / math.pi * math.acosh(max(distance_m / diameter_m, 1.0))
    return outside + INSIDE_INDUCTANCE.value


def esr_of(capacitance_f: float) -> Range:
    """The ESR [ohm] that a capacitance [F] of no stated kind is taken with: ceramic up to 22 uF, else electrolytic.

    >>> esr_of(10e-6).typ, esr_of(220e-6).typ
    (0.005, 0.15)
    """
    return ESR_CERAMIC if capacitance_f <= CERAMIC_MOST.value else ESR_ELECTROLYTIC
