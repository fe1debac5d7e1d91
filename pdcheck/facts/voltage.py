"""VBUS at the connector: voltages, tolerances, transients, PPS and AVS steps; capacitance and what it draws."""

from __future__ import annotations

from pdcheck.facts.origin import PD_TEXT, Limit, Origin, Range, checked

CONNECTOR = checked("Tables 7.23 to 7.25")

SAFE_5V = Range("vSafe5V", 4.75, 5.0, 5.5, "V", CONNECTOR, "VBUS after attach and before any contract")
SAFE_0V = Range("vSafe0V", 0.0, None, 0.8, "V", CONNECTOR, "VBUS after a Hard Reset and while nothing is attached")

NEW_TOLERANCE = Limit("vSrcNew", 0.05, "1", CONNECTOR)
"""A fixed supply holds its nominal voltage within this part of it, measured at the source's receptacle."""

VALID_MARGIN = Limit("vSrcValid", 0.5, "V", CONNECTOR)
"""What transitions and load transients may add on either side of vSrcNew and of vSafe5V (see tSrcTransient)."""


PROGRAMMED_TOLERANCE = Limit("vPpsNew, vAvsNew", 0.05, "1", CONNECTOR)
PPS_STEP = Limit("vPpsStep", 0.020, "V", CONNECTOR)
AVS_STEP = Limit("vAvsStep", 0.100, "V", CONNECTOR)
PPS_VALID_MARGIN = Limit("vPpsValid", 0.1, "V", CONNECTOR)
AVS_VALID_MARGIN = Limit("vAvsValid", 0.5, "V", CONNECTOR)
PPS_SMALL_STEP = Limit("vPpsSmallStep", 0.5, "V", CONNECTOR)
"""A PPS step up to this size has tPpsSrcTransSmall to settle, a larger one tPpsSrcTransLarge."""
AVS_SMALL_STEP = Limit("vAvsSmallStep", 1.0, "V", CONNECTOR)
"""An AVS step up to this size has tAvsSrcTransSmall to settle, a larger one tAvsSrcTransLarge."""

SPR_SURVIVE = Limit("vSprMax", 24.0, "V", CONNECTOR)
EPR_SURVIVE = Limit("vEprMax", 55.0, "V", CONNECTOR)
SPR_FIXED_MAX = Limit("highest fixed voltage in SPR", 20.0, "V", PD_TEXT)
SPR_MAX = Limit("highest voltage in SPR", 21.0, "V", PD_TEXT)
EPR_MAX = Limit("highest voltage in EPR", 48.0, "V", PD_TEXT)

_SINK = checked("Table 7.24")
_ATTACH = Origin("Type-C, Table 4-3, and a Type-C controller's datasheet; the PD text points to USB 3.2", "checked")

BULK_AT_ATTACH = Range("cSnkBulk", 1e-6, None, 10e-6, "F", _ATTACH, "on VBUS of a sink at attach")
BULK_IN_CONTRACT = Range("cSnkBulkPd", None, None, 100e-6, "F", _SINK, "once there is a contract; more needs a limiter")
SLEW_RISING = Limit("vSrcSlewPos", 30e3, "V/s", _SINK)
"""30 mV/us. The limit does not hold at attach, after a Hard Reset or in role swaps."""
SLEW_FALLING = Limit("vSrcSlewNeg", 30e3, "V/s", _SINK)
STANDBY_CURRENT = Limit("iSnkStdby", 0.5, "A", _SINK)
"""What a sink may draw while VBUS rises; not asked for within one PPS object."""


def fixed_band(nominal_v: float) -> tuple[float, float]:
    """Steady VBUS at the receptacle of a fixed supply of ``nominal_v`` [V]: (least, greatest) [V].

    Source: vSrcNew, PD R3.2 V1.1, Tables 7.23 to 7.25; at 5 V vSafe5V takes its place.

    >>> fixed_band(20.0)
    (19.0, 21.0)
    >>> fixed_band(5.0)
    (4.75, 5.5)
    """
    if nominal_v == SAFE_5V.typ:
        return SAFE_5V.require_min(), SAFE_5V.require_max()
    return nominal_v * (1 - NEW_TOLERANCE.value), nominal_v * (1 + NEW_TOLERANCE.value)


def charging_current_a(capacitance_f: float) -> float:
    """Current [A] into ``capacitance_f`` [F] while VBUS rises as fast as it may, C dV/dt.

    Source: PD R3.2 V1.1, Table 7.24 and the reason its text gives for 100 uF.

    >>> round(charging_current_a(100e-6), 9)
    3.0
    """
    return capacitance_f * SLEW_RISING.value
