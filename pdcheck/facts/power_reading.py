"""The power rules read backwards: what PDP a list of offers looks like, with the remarks on it."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.capabilities import EPR_POWER_MAX
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.power_remarks import Case, PowerRuleRemark, remarks_on
from pdcheck.facts.power_rules import (
    LEAST_PDP,
    OfferedSupply,
    PowerRow,
    likely_pdp_w,
    normative_near,
    row_for,
    strongest_span,
)
from pdcheck.facts.trade import charger_class
from pdcheck.facts.voltage import SPR_FIXED_MAX
from pdcheck.named import NamedTuple


class PowerReading(NamedTuple):
    """What a list of offers says of its source.

    ``pdp_w`` [W] is the PDP of its strongest offer, None where nothing is offered or the offers exceed every PDP.
    ``most_w`` [W] is the greatest PDP that would show the same list, above ``pdp_w`` where a 3 A cable or SPR mode may
    be hiding the rest. ``judged_w`` [W] is the PDP that the remarks hold the list against, and ``row`` its row of the
    power rules: the printed PDP where it was given and fits, else ``pdp_w``.
    """

    pdp_w: float | None
    most_w: float | None
    judged_w: float | None
    row: PowerRow | None
    charger_class: str | None
    remarks: tuple[PowerRuleRemark, ...]


def _most_w(offers: Sequence[OfferedSupply], pdp_w: float, wide: bool | None) -> float:
    if any(offer.is_epr for offer in offers):
        return pdp_w
    at_20v = max(
        (o.largest_current_a() for o in offers if o.kind == "fixed" and normative_near(o.max_v) == SPR_FIXED_MAX.value),
        default=0.0,
    )
    held_by_cable = at_20v == UNMARKED_CURRENT.value and not wide
    held_by_spr = at_20v == CONTRACT_MAX.value
    return EPR_POWER_MAX.value if held_by_cable or held_by_spr else pdp_w


def pdp_candidates(
    offers: Sequence[OfferedSupply], *, captured_over: str | None = None, printed_w: float | None = None
) -> PowerReading:
    """What PDP ``offers`` look like, and what is missing or odd against the power rules of that PDP.

    ``captured_over`` is ``3A``, ``5A`` or ``EPR``, the cable that the list was read over, or None where unknown: then a
    list without any current above 3 A is held against what a 3 A cable shows. ``printed_w`` [W] is the PDP printed on
    the source. Raises nothing on account of the offers, whatever they hold. Source: PD R3.2 V1.1, chapter 10.

    >>> phone = [OfferedSupply("fixed", 5.0, 5.0, 3.0), OfferedSupply("fixed", 9.0, 9.0, 2.22)]
    >>> reading = pdp_candidates(phone)
    >>> reading.pdp_w, reading.row.text(), reading.charger_class, reading.remarks
    (20.0, 'above 15 to 27 W', 'phone charger', ())
    >>> laptop = [OfferedSupply("fixed", v, v, 3.0) for v in (5.0, 9.0, 20.0)]
    >>> [(r.code, r.text) for r in pdp_candidates(laptop, captured_over="5A").remarks if r.level_hint == "warn"]
    [('missing-voltage', 'no 15 V offer, which a source of 60 W must have (3 A)')]
    """
    above_three = any(o.is_epr or o.largest_current_a() > UNMARKED_CURRENT.value for o in offers)
    wide: bool | None = None
    if captured_over in ("5A", "EPR") or above_three:
        wide = True
    elif captured_over == "3A":
        wide = False
    pdp = likely_pdp_w(offers)
    if pdp is None or not LEAST_PDP.value <= pdp <= EPR_POWER_MAX.value:
        remarks = remarks_on(Case(offers, None, None, None, wide, printed_w))
        return PowerReading(None, None, None, None, None, remarks)
    most = _most_w(offers, pdp, wide)
    span = strongest_span(offers)
    judged = pdp
    if printed_w is not None and span is not None and span[1] < printed_w <= max(most, span[2]):
        judged = min(max(printed_w, LEAST_PDP.value), EPR_POWER_MAX.value)
    remarks = remarks_on(Case(offers, pdp, judged, most, wide, printed_w))
    return PowerReading(pdp, most, judged, row_for(judged), charger_class(judged), remarks)
