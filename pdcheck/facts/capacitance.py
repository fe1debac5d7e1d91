"""Capacitance on VBUS and what charging it draws: cSnkBulk, cSnkBulkPd, slew limits, standby current, load steps."""

from __future__ import annotations

from pdcheck.facts.origin import Limit, Origin, Range, checked

_SINK = checked("Table 7.24")
_ATTACH = Origin("Type-C, Table 4-3, and a Type-C controller's datasheet; the PD text points to USB 3.2", "checked")

BULK_AT_ATTACH = Range("cSnkBulk", 1e-6, None, 10e-6, "F", _ATTACH, "on VBUS of a sink at attach")
BULK_IN_CONTRACT = Range("cSnkBulkPd", None, None, 100e-6, "F", _SINK, "once there is a contract; more needs a limiter")
SLEW_RISING = Limit("vSrcSlewPos", 30e3, "V/s", _SINK)
"""30 mV/us. The limit does not hold at attach, after a Hard Reset or in role swaps."""
SLEW_FALLING = Limit("vSrcSlewNeg", 30e3, "V/s", _SINK)
STANDBY_CURRENT = Limit("iSnkStdby", 0.5, "A", _SINK)
"""What a sink may draw while VBUS rises; not asked for within one PPS object."""


def charging_current_a(capacitance_f: float, slew_v_per_s: float = SLEW_RISING.value) -> float:
    """Current [A] into ``capacitance_f`` [F] while VBUS rises at ``slew_v_per_s`` [V/s], C dV/dt.

    Source: PD R3.2 V1.1, Table 7.24 and the reason its text gives for 100 uF.

    >>> round(charging_current_a(100e-6), 9)
    3.0
    """
    return capacitance_f * slew_v_per_s
