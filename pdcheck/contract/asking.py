"""The request words: what a sink sends to ask for an offer."""

from __future__ import annotations

from functools import lru_cache

from pdcheck.bits.offers import Offer
from pdcheck.bits.power import REQUEST_FORM, REQUEST_WORDS
from pdcheck.errors import InputError
from pdcheck.facts.voltage import AVS_STEP, PPS_STEP


def voltage_step_mv(offer: Offer) -> int:
    """The step of the voltage that can be asked of an adjustable offer, in mV: 20 for PPS, 100 for AVS."""
    return round((PPS_STEP if offer.kind == "pps" else AVS_STEP).value * 1000)


def current_on_step(offer: Offer, current_ma: int) -> int:
    """The current [mA] that a request for this offer can carry: rounded down to its step; not for battery offers.

    >>> from pdcheck.bits.offers import pps
    >>> current_on_step(pps(3300, 11000, 3000), 2999)
    2950
    """
    step = REQUEST_WORDS[REQUEST_FORM[offer.kind]].field("operating_current_ma").scale
    return current_ma // step * step


@lru_cache(maxsize=4096)
def request_words(
    offer: Offer,
    current_ma: int,
    voltage_mv: int | None = None,
    *,
    mismatch: bool = False,
    epr_mode: bool = False,
    no_usb_suspend: bool = False,
) -> tuple[int, ...]:
    """The request for ``offer``: one word, or the pair of an EPR_Request in EPR mode.

    ``current_ma`` is rounded down to the step of the form (10 mA, 50 mA for adjustable offers), never up: a source
    rejects what is above its offer. Maximum Operating Current equals Operating Current, as R3.2 V1.1 has it
    [checked: PD R3.2 V1.1, Table 6.23].

    ``no_usb_suspend`` tells a source that supports USB Suspend to leave the power as it is when the bus is suspended.
    USB Communications Capable, Unchunked and GiveBack stay zero: a trigger has none of them.

    Raises ``InputError`` for an adjustable offer without a voltage, or a voltage off its step.

    >>> from pdcheck.bits.offers import fixed
    >>> [hex(word) for word in request_words(fixed(20000, 2250, 4), 2250)]
    ['0x400384e1']
    """
    form = REQUEST_FORM[offer.kind]
    layout = REQUEST_WORDS[form]
    values: dict[str, int] = {
        "position": offer.position,
        "capability_mismatch": mismatch,
        "no_usb_suspend": no_usb_suspend,
        "epr_capable": epr_mode,
    }
    if form == "fixed":
        asked = current_on_step(offer, current_ma)
        values |= {"operating_current_ma": asked, "max_operating_current_ma": asked}
    elif form == "battery":
        step = layout.field("operating_power_mw").scale
        offered = offer.power_mw or 0
        # All of the current is all of the power: whole milliamperes would lose a part of it.
        whole = current_ma >= offer.current_ma_at(offer.max_mv)
        asked = (offered if whole else min(offered, current_ma * offer.max_mv // 1000)) // step * step
        values |= {"operating_power_mw": asked, "max_operating_power_mw": asked}
    else:
        if voltage_mv is None:
            raise InputError("an adjustable offer is asked for with a voltage", expected="a voltage within its range")
        if voltage_mv % voltage_step_mv(offer):
            raise InputError(f"{voltage_mv} mV is off the step", expected=f"a multiple of {voltage_step_mv(offer)} mV")
        values |= {"output_voltage_mv": voltage_mv, "operating_current_ma": current_on_step(offer, current_ma)}
    word = layout.encode(values)
    return (word, offer.word) if epr_mode else (word,)
