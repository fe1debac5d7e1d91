"""Copper wire: gauge and cross-section, resistance over temperature, and the current that a single wire carries."""

from __future__ import annotations

import math

from pdcheck.facts.origin import Limit, Origin

GAUGE = Origin("ASTM B258", "handbook")
ANNEALED = Origin("IEC 60028", "handbook")
FLEXIBLE = Origin("IEC 60228, class 5, plain; two suppliers' copies of the table", "checked")
STILL_AIR = Origin("heat balance of one bare round wire in still air", "common practice")

SMALLEST_AWG, LARGEST_AWG = 0, 40  # the gauges that this program takes; the law itself has no end

THINNEST_STRIPPED_AWG = Limit(
    "thinnest gauge that the usual hand tools strip", 30.0, "AWG", Origin("", "common practice")
)

GAUGE_36_DIAMETER = Limit("diameter of AWG 36", 0.127e-3, "m", GAUGE)
GAUGE_RATIO = Limit("ratio of diameters over 39 gauges, AWG 0000 to AWG 36", 92.0, "1", GAUGE)
GAUGE_STEPS = Limit("gauges between AWG 0000 and AWG 36", 39.0, "1", GAUGE)

RESISTIVITY = Limit("resistivity of annealed copper at 20 degrees C", 1e-6 / 58, "ohm m", ANNEALED)
TEMPERATURE_COEFFICIENT = Limit("temperature coefficient of annealed copper at 20 degrees C", 0.00393, "1/K", ANNEALED)
REFERENCE_TEMPERATURE = Limit("temperature that wire tables hold for", 20.0, "C", ANNEALED)

ABSOLUTE_ZERO = -273.15
"""[degrees C]: no copper is colder."""

STRANDED_FACTOR = Limit("stranded over solid wire of one gauge", 1.03, "1", Origin("", "common practice"))
"""Stranded wire runs "a few per cent" higher; 3 % is taken."""

FLEXIBLE_OHM_PER_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}
"""Greatest resistance at 20 degrees C of flexible conductors [ohm/km] by nominal cross-section [mm2]; see FLEXIBLE."""

HEAT_TRANSFER = Limit("heat from a thin wire to still air", 10.0, "W/(m2 K)", STILL_AIR)
WIRE_RISE = Limit("temperature rise of a wire that still counts as cool", 30.0, "K", STILL_AIR)


def awg_diameter_m(awg: float) -> float:
    """Diameter [m] of a solid wire of that gauge, not rounded.

    Source: ASTM B258, 0.127 mm x 92^((36 - AWG) / 39).

    >>> f"{awg_diameter_m(18) * 1e3:.4f} mm"
    '1.0237 mm'
    """
    return GAUGE_36_DIAMETER.value * math.pow(GAUGE_RATIO.value, (36 - awg) / GAUGE_STEPS.value)


def awg_ohm_per_m(awg: float, temperature_c: float = REFERENCE_TEMPERATURE.value) -> float:
    """Resistance [ohm/m] of a solid annealed copper wire of that gauge at ``temperature_c`` [degrees C].

    Source: ASTM B258 and IEC 60028; 6.385 ohm per 1000 ft for AWG 18.

    >>> f"{awg_ohm_per_m(18) * 304.8:.3f}"
    '6.385'
    """
    return RESISTIVITY.value / (math.pi / 4 * awg_diameter_m(awg) ** 2) * at_temperature(temperature_c)


def metric_ohm_per_m(area_mm2: float, temperature_c: float = REFERENCE_TEMPERATURE.value) -> float:
    """Greatest resistance [ohm/m] of a flexible conductor of ``area_mm2`` [mm2] at ``temperature_c`` [degrees C].

    Source: IEC 60228 class 5. A size that the table does not have is scaled by area from the next smaller one that it
    has (from 0.5 mm2 below that).

    >>> metric_ohm_per_m(0.75), round(metric_ohm_per_m(0.25), 6)
    (0.026, 0.078)
    """
    listed = max((size for size in FLEXIBLE_OHM_PER_KM if size <= area_mm2), default=min(FLEXIBLE_OHM_PER_KM))
    return FLEXIBLE_OHM_PER_KM[listed] * (listed / area_mm2) / 1000 * at_temperature(temperature_c)


def at_temperature(temperature_c: float) -> float:
    """What a copper resistance at 20 degrees C is to be multiplied with at ``temperature_c`` [degrees C].

    Source: IEC 60028, 0.00393 per K; good from about -50 to 200 degrees C.

    >>> round(at_temperature(70.0), 4)
    1.1965
    """
    return 1 + TEMPERATURE_COEFFICIENT.value * (temperature_c - REFERENCE_TEMPERATURE.value)


def ampacity_a(ohm_per_m: float, diameter_m: float, rise_k: float = WIRE_RISE.value) -> float:
    """Current [A] that warms a single wire in still air by ``rise_k`` [K].

    ``ohm_per_m`` [ohm/m] at 20 degrees C, ``diameter_m`` [m] of the copper. The wire sheds 10 W per m2 of its surface
    and kelvin: I = sqrt(h pi d rise / R'), with R' of the warm wire. Common practice, no source: it leaves out the
    surface that insulation adds, so it is on the cautious side for one wire, and says nothing of a tight bundle.

    >>> [round(ampacity_a(awg_ohm_per_m(g), awg_diameter_m(g)), 1) for g in (18, 20, 22, 24, 26, 28)]
    [6.4, 4.5, 3.2, 2.3, 1.6, 1.1]
    """
    warm = ohm_per_m * at_temperature(REFERENCE_TEMPERATURE.value + rise_k)
    return math.sqrt(HEAT_TRANSFER.value * math.pi * diameter_m * rise_k / warm)
