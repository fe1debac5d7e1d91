"""What a source of a given PDP must offer and may offer: the power rules as one table and the sums over it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

from pdcheck.errors import InputError
from pdcheck.facts.capabilities import EPR_POWER_MAX, SPR_AVS_LEAST, SPR_AVS_MOST, SPR_AVS_SPLIT
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.origin import Limit, Origin, checked
from pdcheck.facts.voltage import NEW_TOLERANCE, SPR_FIXED_MAX, SPR_MAX
from pdcheck.named import NamedTuple

FIXED_RULES = checked("Tables 10.2 and 10.12")
SHARED_RULES = checked("Tables 10.3, 10.4 and 10.13")
OPTIONAL_RULES = checked("10.2.3.1")
PPS_RANGES = checked("Table 10.11")
PPS_OLDER = Origin("PD R3.0, by a chip vendor's design notes and a captured charger", "checked")
PPS_RULES = checked("Table 10.10")
AVS_RULES = checked("Tables 10.2, 10.9, 10.12 and 10.15")

LEAST_PDP = Limit("least PDP of the power rules", 0.5, "W", FIXED_RULES)
CURRENT_STEP = Limit("step to which PDP / V is rounded, up or down", 0.010, "A", FIXED_RULES)
PPS_CURRENT_STEP = Limit("step to which PDP / V is rounded down in PPS", 0.050, "A", PPS_RULES)
OPTIONAL_VOLTAGE_MAX = Limit("highest voltage of an optional offer", 9.0, "V", OPTIONAL_RULES)
MAY_DROP_UP_TO = Limit("present PDP up to which a port may drop voltages", 15.0, "W", SHARED_RULES)
SPR_AVS_ABOVE = Limit("PDP above which SPR AVS is required", 27.0, "W", AVS_RULES)
EPR_AVS_FROM = Limit("least voltage of EPR AVS", 15.0, "V", AVS_RULES)

NORMATIVE_VOLTAGES = (5.0, 9.0, 15.0, 20.0, 28.0, 36.0, 48.0)
"""The fixed voltages of the two tables [V]; the last three are EPR."""

_BATTERY_POWER_STEP_W = 0.25  # how a battery supply states its power, so that much may be rounding


class PowerRow(NamedTuple):
    """One row of the power rules: PDP above ``above_w`` up to and with ``up_to_w`` [W].

    ``full`` lists (voltage [V], current [A]) of the fixed supplies that must be there in full; the fixed supply at
    ``last_v`` [V] gives what the PDP allows, PDP / ``last_v``.
    """

    above_w: float
    up_to_w: float
    full: tuple[tuple[float, float], ...]
    last_v: float

    def text(self) -> str:
        """The row's PDP in words.

        >>> row_for(45.0).text()
        'above 27 to 45 W'
        """
        return f"up to {self.up_to_w:g} W" if not self.above_w else f"above {self.above_w:g} to {self.up_to_w:g} W"


_FULL_A = (3.0, 3.0, 3.0, 5.0, 5.0, 5.0)  # of the normative voltages but the last, in their order
_ENDS_W = (0.0, 15.0, 27.0, 45.0, 100.0, 140.0, 180.0, 240.0)
ROWS = tuple(
    PowerRow(above_w, up_to_w, tuple(zip(NORMATIVE_VOLTAGES, _FULL_A[:at], strict=False)), NORMATIVE_VOLTAGES[at])
    for at, (above_w, up_to_w) in enumerate(pairwise(_ENDS_W))
)
"""The printed tables' rows 45 to 60 and 60 to 100 W differ in the cable alone, which the current above 3 A tells."""


class ProgrammableRange(NamedTuple):
    """One PPS range: its name, nominal voltage and ends [V], and the PDP above and below which it is due [W]."""

    name: str
    nominal_v: float
    min_v: float
    max_v: float
    due_above_w: float
    due_below_w: float
    most_a: float


PPS_PROG = (
    ProgrammableRange("9 V Prog", 9.0, 5.0, 11.0, 15.0, 45.0, 3.0),
    ProgrammableRange("15 V Prog", 15.0, 5.0, 16.0, 27.0, 60.0, 3.0),
    ProgrammableRange("20 V Prog", 20.0, 5.0, 21.0, 45.0, math.inf, 5.0),
)
PPS_PROG_5V_OLDER = ProgrammableRange("5 V Prog", 5.0, 3.3, 5.9, math.inf, math.inf, 3.0)
PPS_LOWER_END_OLDER = Limit("lower end of PPS in R3.0", 3.3, "V", PPS_OLDER)


class OfferedSupply(NamedTuple):
    """One offer of a source as the power rules see it.

    ``kind`` is ``fixed``, ``variable``, ``battery``, ``pps``, ``spr-avs`` or ``epr-avs``; ``min_v`` and ``max_v`` [V]
    are equal for a fixed supply. ``current_a`` [A] is the greatest current (of ``spr-avs``: up to 15 V), ``power_w``
    [W] the power of ``battery`` or the PDP of ``epr-avs``, ``current_20v_a`` [A] that of ``spr-avs`` above 15 V (zero
    where it stops at 15 V).
    """

    kind: str
    min_v: float
    max_v: float
    current_a: float | None = None
    power_w: float | None = None
    current_20v_a: float | None = None

    @property
    def is_epr(self) -> bool:
        """Whether the offer can be had in EPR mode only."""
        return self.kind == "epr-avs" or (self.kind == "fixed" and self.max_v > SPR_MAX.value)

    def largest_current_a(self) -> float:
        """The greatest of the currents that the offer states [A]; 0 where it states none."""
        return max(self.current_a or 0.0, self.current_20v_a or 0.0)


def round_down_a(current_a: float, step_a: float = CURRENT_STEP.value) -> float:
    """``current_a`` [A] down to a whole number of ``step_a`` [A], blind to the last bits of a float.

    >>> round_down_a(20 / 9), round_down_a(0.3), round_down_a(33 / 20, 0.05)
    (2.22, 0.3, 1.65)
    """
    per_ampere = round(1 / step_a)
    return math.floor(current_a * per_ampere + 1e-6) / per_ampere


def row_for(pdp_w: float) -> PowerRow:
    """The row of the power rules for a source of ``pdp_w`` [W]; 15, 27, 45, 100, 140 and 180 W end the lower row.

    Raises InputError below 0.5 W and above 240 W. Source: PD R3.2 V1.1, Tables 10.2 and 10.12.

    >>> row_for(27.0).last_v, row_for(27.01).last_v
    (9.0, 15.0)
    """
    if LEAST_PDP.value <= pdp_w <= EPR_POWER_MAX.value:
        for row in ROWS:
            if pdp_w <= row.up_to_w:
                return row
    raise InputError(
        f"a PDP of {pdp_w:g} W has no power rules", expected=f"{LEAST_PDP.value:g} to {EPR_POWER_MAX.value:g} W"
    )


def fixed_offers_for(pdp_w: float) -> list[tuple[float, float]]:
    """The least set of fixed offers of a source of ``pdp_w`` [W]: (voltage [V], current [A]), rising, EPR ones too.

    PDP / V is rounded down to 10 mA here, the least that is right. Above 3 A the current is offered over a 5 A cable
    only, and above 20 V in EPR mode only. Raises InputError outside 0.5 to 240 W.
    Source: PD R3.2 V1.1, Tables 10.2 and 10.12.

    >>> fixed_offers_for(65.0)
    [(5.0, 3.0), (9.0, 3.0), (15.0, 3.0), (20.0, 3.25)]
    >>> fixed_offers_for(20.0)
    [(5.0, 3.0), (9.0, 2.22)]
    """
    row = row_for(pdp_w)
    return [*row.full, (row.last_v, min(CONTRACT_MAX.value, round_down_a(pdp_w / row.last_v)))]


def pps_set_for(pdp_w: float) -> list[tuple[ProgrammableRange, OfferedSupply]]:
    """The least set of PPS offers of a source of ``pdp_w`` [W] that offers PPS at all, by range; none up to 15 W.

    Currents are rounded down to 50 mA. Raises InputError outside 0.5 to 240 W. Source: PD R3.2 V1.1, Table 10.10.

    >>> [(due.name, offer.max_v, offer.current_a) for due, offer in pps_set_for(33.0)]
    [('9 V Prog', 11.0, 3.0), ('15 V Prog', 16.0, 2.2)]
    """
    row_for(pdp_w)
    found = []
    for prog in PPS_PROG:
        if prog.due_above_w < pdp_w < prog.due_below_w:
            current = min(prog.most_a, round_down_a(pdp_w / prog.nominal_v, PPS_CURRENT_STEP.value))
            found.append((prog, OfferedSupply("pps", prog.min_v, prog.max_v, current)))
    return found


def spr_avs_for(pdp_w: float) -> OfferedSupply | None:
    """The SPR AVS offer that a source of ``pdp_w`` [W] must have as of R3.2, or None at 27 W or less.

    Its currents are those of the 15 V and 20 V fixed offers. Raises InputError outside 0.5 to 240 W. Source: PD R3.2
    V1.1, Tables 10.2 and 10.9.

    >>> found = spr_avs_for(65.0)
    >>> found.min_v, found.max_v, found.current_a, found.current_20v_a
    (9.0, 20.0, 3.0, 3.25)
    """
    fixed = dict(fixed_offers_for(pdp_w))
    if pdp_w <= SPR_AVS_ABOVE.value:
        return None
    at_20v = fixed.get(SPR_AVS_MOST.value, 0.0)
    most_v = SPR_AVS_MOST.value if at_20v else SPR_AVS_SPLIT.value
    return OfferedSupply("spr-avs", SPR_AVS_LEAST.value, most_v, fixed[SPR_AVS_SPLIT.value], None, at_20v)


def epr_avs_for(pdp_w: float) -> OfferedSupply | None:
    """The EPR AVS offer of a source of ``pdp_w`` [W], or None at 100 W or less.

    Raises InputError outside 0.5 to 240 W. Source: PD R3.2 V1.1, Tables 10.12 and 10.15.

    >>> found = epr_avs_for(140.0)
    >>> found.min_v, found.max_v, found.power_w
    (15.0, 28.0, 140.0)
    """
    last_v = row_for(pdp_w).last_v
    if last_v <= SPR_FIXED_MAX.value:
        return None
    return OfferedSupply("epr-avs", EPR_AVS_FROM.value, last_v, power_w=pdp_w)


def normative_near(voltage_v: float) -> float | None:
    """The normative voltage [V] whose vSrcNew band holds ``voltage_v`` [V], or None.

    Some sources state 20.3 V or 14.5 V for what serves as 20 V or 15 V. Source: PD R3.2 V1.1, Tables 7.23 to 7.25 and
    10.2.

    >>> normative_near(20.3), normative_near(14.5), normative_near(12.0)
    (20.0, 15.0, None)
    """
    for nominal in NORMATIVE_VOLTAGES:
        if abs(voltage_v - nominal) <= nominal * NEW_TOLERANCE.value + 1e-9:
            return nominal
    return None


def power_span(offer: OfferedSupply) -> tuple[float, float, float] | None:
    """(power, least PDP, greatest PDP) [W] that one offer tells of, PDP / V being rounded either way to 10 mA.

    None for an offer without power of its own: nothing offered, or SPR PPS and AVS, whose power is limited to that of
    the fixed offers. Source: PD R3.2 V1.1, notes to Tables 10.2 and 10.12.
    """
    if offer.kind in ("fixed", "variable") and offer.current_a:
        power = offer.max_v * offer.current_a
        slack = offer.max_v * CURRENT_STEP.value
    elif offer.kind == "battery" and offer.power_w:
        power, slack = offer.power_w, _BATTERY_POWER_STEP_W
    elif offer.kind == "epr-avs" and offer.power_w:
        power, slack = offer.power_w, 0.0
    else:
        return None
    return power, power - slack, power + slack


def strongest_span(offers: Iterable[OfferedSupply]) -> tuple[float, float, float] | None:
    """The ``power_span`` of the offer with the most power, or None where nothing is offered."""
    return max((span for offer in offers if (span := power_span(offer)) is not None), default=None)


def likely_pdp_w(offers: Iterable[OfferedSupply]) -> float | None:
    """The PDP [W] behind the strongest of ``offers``, a whole number of watts where rounding to 10 mA allows one.

    None where nothing is offered. Source: PD R3.2 V1.1, notes to Tables 10.2 and 10.12.

    >>> likely_pdp_w([OfferedSupply("fixed", 9.0, 9.0, 2.22)])
    20.0
    >>> likely_pdp_w([OfferedSupply("fixed", 20.5, 20.5, 4.7)])
    96.35
    """
    span = strongest_span(offers)
    if span is None:
        return None
    power, least, greatest = span
    whole = float(round(power))
    return whole if whole and least < whole < greatest else round(power, 3)
