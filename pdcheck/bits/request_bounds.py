"""The figures within which nothing about a request is odd, offer by offer: a quick look before the full one."""

from __future__ import annotations

from pdcheck.bits.offers import MOST_MA, Offer
from pdcheck.bits.power import REQUEST_FORM

_ANY = 1 << 32


def request_bounds(asked: Offer) -> dict[str, tuple[int, int]] | None:
    """Least and greatest of each figure of a request of this offer, in SPR; any mix within them is in order.

    ``None`` where one figure bounds another (AVS), and where no request of the offer is in order. What this says is
    said by ``pdcheck.bits.objects.read_request`` too, at length.

    >>> from pdcheck.bits.offers import fixed, pps
    >>> request_bounds(fixed(9000, 2000))
    {'operating_current_ma': (0, 2000), 'max_operating_current_ma': (0, 5000)}
    >>> request_bounds(pps(3300, 11000, 3000))
    {'output_voltage_mv': (3300, 11000), 'operating_current_ma': (0, 3000)}
    """
    form = REQUEST_FORM.get(asked.kind)
    if asked.is_gap or asked.is_epr or form in (None, "avs"):
        return None
    if form == "battery":
        return {"operating_power_mw": (0, asked.power_mw or 0), "max_operating_power_mw": (0, _ANY)}
    current = (0, min(asked.current_ma_at(asked.max_mv), MOST_MA))
    if form == "pps":
        return {"output_voltage_mv": (asked.min_mv, asked.max_mv), "operating_current_ma": current}
    return {"operating_current_ma": current, "max_operating_current_ma": (0, MOST_MA)}
