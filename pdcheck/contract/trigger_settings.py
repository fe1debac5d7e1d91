"""What each setting of a trigger would give on a source: a contract for every position of its switch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pdcheck.contract.available import Available, available
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.facts.power_rules import NORMATIVE_VOLTAGES
from pdcheck.facts.trade import OLDER_VOLTAGE
from pdcheck.facts.voltage import SPR_FIXED_MAX
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import FixedRequest, HighestRequest, PowerRequest, Request
from pdcheck.parts.source import Source


class Setting(NamedTuple):
    """A setting and what it would give."""

    request: Request
    contract: Contract


def usual_settings(source: Source) -> tuple[Request, ...]:
    """The positions that a many-position trigger has: every normative voltage, 12 V, the highest, the most power.

    EPR voltages only where the source has any.

    >>> [request.voltage_v for request in usual_settings(Source(id="s", offers="5V 3A"))[:5]]
    [5.0, 9.0, 12.0, 15.0, 20.0]
    """
    epr = any(offer.is_epr for offer in source.offers)
    volts = sorted({*NORMATIVE_VOLTAGES, OLDER_VOLTAGE.value})
    fixed = [FixedRequest(each) for each in volts if epr or each <= SPR_FIXED_MAX.value]
    return (*fixed, HighestRequest(), PowerRequest())


def settings_on(
    source: Source, cable: Cable, requests: Sequence[Request], fallback: str = "next-lower"
) -> tuple[Available, list[Setting]]:
    """What each of the requests would give on ``source`` over ``cable``, and what is on offer there.

    >>> charger = Source(id="s", offers="5V 3A, 9V 3A")
    >>> _, given = settings_on(charger, Cable(id="c", kind="C-C"), [FixedRequest(12.0), FixedRequest(5.0)])
    >>> [(setting.contract.outcome, setting.contract.voltage_v) for setting in given]
    [('fallback', 9.0), ('as-asked', 5.0)]
    """
    seen = available(source, cable)
    return seen, [Setting(request, settle_on(request, fallback, seen)) for request in requests]
