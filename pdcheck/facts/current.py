"""Currents: the 5 A that no contract exceeds, the PPS current limit, what Type-C advertises without PD (Rp, Rd)."""

from __future__ import annotations

from pdcheck.facts.origin import PD_TEXT, Limit, Origin, Range, checked
from pdcheck.named import NamedTuple

PPS_BEHAVIOUR = checked("6.4.2.8")
PULL_UPS = Origin("Type-C R2.0 and R2.4, quoted by table in public notes; vendors' notes for Rp", "checked")
WINDOWS = Origin("Type-C R2.0, CC voltages, quoted in public notes", "checked")

CONTRACT_MAX = Limit("highest current of any contract", 5.0, "A", PD_TEXT)

PPS_LIMIT_TOLERANCE_LOW = Limit("iPpsCLNew, 1 to 3 A", 0.150, "A", PPS_BEHAVIOUR)
PPS_LIMIT_TOLERANCE_HIGH = Limit("iPpsCLNew, above 3 A", 0.05, "1", PPS_BEHAVIOUR)
PPS_LIMIT_TOLERANCE_CHANGE = Limit("iPpsCLNew changes its form above", 3.0, "A", PPS_BEHAVIOUR)


def pps_limit_band(operating_current_a: float) -> tuple[float, float]:
    """Where a PPS source limits, asked for ``operating_current_a`` [A]: (least, greatest) [A].

    Source: PD R3.2 V1.1, 6.4.2.8: +/- 150 mA from 1 to 3 A, +/- 5 % above.

    >>> pps_limit_band(2.0)
    (1.85, 2.15)
    >>> pps_limit_band(5.0)
    (4.75, 5.25)
    """
    if operating_current_a <= PPS_LIMIT_TOLERANCE_CHANGE.value:
        give = PPS_LIMIT_TOLERANCE_LOW.value
    else:
        give = operating_current_a * PPS_LIMIT_TOLERANCE_HIGH.value
    return operating_current_a - give, operating_current_a + give


class Advertisement(NamedTuple):
    """A current [A] that a source can advertise without PD, and the voltage on CC [V] at a sink, with its Rd, then.

    For default USB power the current to count on is that of USB 2.0.
    """

    current_a: float
    cc_v: Range


USB_2_CURRENT = Limit("default USB power, USB 2.0", 0.5, "A", PULL_UPS)
ADVERTISEMENTS = tuple(
    Advertisement(current_a, Range(f"voltage on CC, {current_a:g} A", least_v, None, greatest_v, "V", WINDOWS))
    for current_a, least_v, greatest_v in (
        (USB_2_CURRENT.value, 0.25, 0.61),
        (1.5, 0.70, 1.16),
        (3.0, 1.31, 2.04),
    )
)
