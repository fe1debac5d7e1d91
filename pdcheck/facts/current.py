"""Currents: the 5 A that no contract exceeds, the PPS current limit, what Type-C advertises without PD (Rp, Rd)."""

from __future__ import annotations

from pdcheck.facts.origin import PD_TEXT, Limit, Origin, checked
from pdcheck.facts.ranges import Range
from pdcheck.named import NamedTuple

PPS_BEHAVIOUR = checked("6.4.2.8")
PULL_UPS = Origin("Type-C R2.0 and R2.4, quoted by table in public notes; vendors' notes for Rp", "checked")
WINDOWS_R2_0 = Origin("Type-C R2.0, CC voltages, quoted in public notes", "checked")
WINDOWS_R2_4 = Origin("Type-C R2.4, CC voltages, quoted in public notes", "checked")

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


class CurrentAdvertisement(NamedTuple):
    """One of the three currents that a source can advertise on CC without PD.

    ``current_a`` is the figure to count on: for default USB power that of USB 2.0. ``rp_5v`` and ``rp_3v3`` are the
    pull-ups to 5 V and 3.3 V [ohm], ``source_a`` the current source that may take their place [A], ``cc_r2_0`` and
    ``cc_r2_4`` the voltage on CC at the sink in the older and newer text [V].
    """

    name: str
    current_a: float
    rp_5v: Range
    rp_3v3: Range
    source_a: Range
    cc_r2_0: Range
    cc_r2_4: Range
    origin: Origin


def _pull_up(nominal_ohm: float, tolerance: float | None, rail: str) -> Range:
    name = f"Rp to {rail}"
    if tolerance is None:
        return Range(name, None, nominal_ohm, None, "ohm", PULL_UPS)
    return Range(name, nominal_ohm * (1 - tolerance), nominal_ohm, nominal_ohm * (1 + tolerance), "ohm", PULL_UPS)


def _window(least_v: float, greatest_v: float, origin: Origin) -> Range:
    return Range("voltage on CC", least_v, None, greatest_v, "V", origin, "at the sink, with its Rd")


USB_2_CURRENT = Limit("default USB power, USB 2.0", 0.5, "A", PULL_UPS)

DEFAULT_USB = CurrentAdvertisement(
    "default USB power",
    USB_2_CURRENT.value,
    _pull_up(56e3, 0.20, "5 V"),
    _pull_up(36e3, None, "3.3 V"),
    Range("current source", None, 80e-6, None, "A", PULL_UPS),
    _window(0.25, 0.61, WINDOWS_R2_0),
    _window(0.277, 0.612, WINDOWS_R2_4),
    PULL_UPS,
)
MEDIUM = CurrentAdvertisement(
    "1.5 A",
    1.5,
    _pull_up(22e3, 0.05, "5 V"),
    _pull_up(12e3, None, "3.3 V"),
    Range("current source", None, 180e-6, None, "A", PULL_UPS),
    _window(0.70, 1.16, WINDOWS_R2_0),
    _window(0.746, 1.164, WINDOWS_R2_4),
    PULL_UPS,
)
HIGH = CurrentAdvertisement(
    "3 A",
    3.0,
    _pull_up(10e3, 0.05, "5 V"),
    _pull_up(4.7e3, None, "3.3 V"),
    Range("current source", None, 330e-6, None, "A", PULL_UPS),
    _window(1.31, 2.04, WINDOWS_R2_0),
    _window(1.369, 2.042, WINDOWS_R2_4),
    PULL_UPS,
)
ADVERTISEMENTS = (DEFAULT_USB, MEDIUM, HIGH)

RD = Range("Rd", 5.1e3 * 0.9, 5.1e3, 5.1e3 * 1.1, "ohm", PULL_UPS, "where it is to tell the three currents apart")

CC_CONNECTED_ABOVE = Limit("CC: a source is there above", 0.2, "V", PULL_UPS)
CC_MEDIUM_ABOVE = Limit("CC: 1.5 A above", 0.66, "V", PULL_UPS)
CC_HIGH_ABOVE = Limit("CC: 3 A above", 1.23, "V", PULL_UPS)


def advertisement_on_cc(cc_v: float) -> CurrentAdvertisement | None:
    """The Type-C current that a voltage on CC [V], read at the sink with no contract standing, tells of.

    None below 0.2 V (no source) and above the highest window (no Rd: nothing loads the pull-up). Decided at 0.2, 0.66
    and 1.23 V. Once a contract stands the reading says nothing of current (PD R3.2 V1.1, 5.7).

    >>> [advertisement_on_cc(v).current_a for v in (0.41, 0.93, 1.68)]
    [0.5, 1.5, 3.0]
    >>> advertisement_on_cc(0.05) is None and advertisement_on_cc(3.3) is None
    True
    """
    if cc_v <= CC_CONNECTED_ABOVE.value or cc_v > HIGH.cc_r2_4.require_max():
        return None
    if cc_v <= CC_MEDIUM_ABOVE.value:
        return DEFAULT_USB
    if cc_v <= CC_HIGH_ABOVE.value:
        return MEDIUM
    return HIGH
