"""What a trigger ends up with on a source and cable: the contract, or the fall-back, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from pdcheck.bits.offers import Offer
from pdcheck.contract.asking import current_on_step, request_words, voltage_step_mv
from pdcheck.contract.available import Available, available
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE, UNREGULATED
from pdcheck.facts.current import pps_limit_band
from pdcheck.facts.origin import PD_TEXT
from pdcheck.marks import UNTOLD, HexWord, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.limits import ENOUGH, LimitRule, PartLimit, near_rule
from pdcheck.parts.request import (
    AvsRequest,
    FixedRequest,
    HighestRequest,
    NoRequest,
    PowerRequest,
    PpsRequest,
    PreferenceRequest,
    Request,
    request_text,
)
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

FIVE_MV = round(FIRST_OBJECT_VOLTAGE.value * 1000)

Outcome = Literal["as-asked", "fallback", "type-c", "off"]


CURRENT = LimitRule(
    "source-current",
    "fail",
    "Too much current for the charger",
    PD_TEXT,
    "Set a higher voltage, take less power, or use a charger that gives more: beyond its limit it switches off, or its "
    "voltage falls.",
    "must give {value} in the worst case and offers {limit} at {volts}",
    about="contract",
    near=near_rule(
        "source-in-hand",
        "Little current to spare on the charger",
        "It works, with little to spare: expect a warm charger, and one that switches off when anything ages.",
        "the charger's",
        "contract",
    ),
)


class Contract(NamedTuple):
    """What stands between source and trigger.

    ``outcome``: ``as-asked``, ``fallback`` (another voltage than asked), ``type-c`` (5 V without PD), ``off`` (the
    trigger gives nothing, and asks for 5 V and 0 A). ``kind`` is that of the offer, or ``type-c``. ``current_a`` is
    what may be drawn.
    ``mismatch``: more was wanted than is offered, and the request says so. ``limits_current``: the source holds the
    current at the limit and lets the voltage fall (PPS).
    """

    outcome: Outcome
    kind: str
    voltage_v: float
    current_a: float
    offer: Annotated[Offer | None, UNTOLD]
    request_words: tuple[HexWord, ...]
    mismatch: bool
    reason: str

    @told
    def position(self) -> int | None:
        """The object position asked for; ``None`` without PD."""
        return None if self.offer is None else self.offer.position

    @told
    def epr(self) -> bool:
        """Whether the contract stands in EPR mode."""
        return self.offer is not None and self.offer.is_epr

    @property
    def limits_current(self) -> bool:
        """Whether the source limits the current rather than trip."""
        return self.kind == "pps"

    @property
    def holds_a(self) -> float | None:
        """The least current at which the source may hold it and let the voltage fall [A]; None where it trips.

        Source: iPpsCLNew, PD R3.2 V1.1, 6.4.2.8: it may limit below what was asked for.
        """
        return pps_limit_band(self.current_a)[0] if self.limits_current else None

    def limits(self) -> Iterator[PartLimit]:
        """The current that it grants."""
        most = self.current_a
        yield PartLimit(CURRENT, "source", "current", "at_most", most, "source", "source", near_share=ENOUGH)

    @told
    def request_word(self) -> HexWord | None:
        """The request, without the word that follows it in EPR mode."""
        return self.request_words[0] if self.request_words else None

    @told
    def power_w(self) -> float:
        """Nominal voltage times the current that may be drawn."""
        return self.voltage_v * self.current_a

    @property
    def ends(self) -> tuple[float, float]:
        """Least and greatest nominal voltage [V]: equal but for variable and battery offers."""
        if self.offer is not None and self.kind in UNREGULATED:
            return self.offer.min_mv / 1000, self.offer.max_mv / 1000
        return self.voltage_v, self.voltage_v


def settle(trigger: Trigger, source: Source, cable: Cable) -> Contract:
    """What ``trigger`` ends up with on ``source`` over ``cable``, fall-back included.

    A trigger asks for fixed offers, unless it is set to PPS or AVS; ``highest`` and ``power`` look at offers that need
    no EPR mode. Without a current of its own it asks for all that the offer has.

    >>> charger = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A")
    >>> contract = settle(Trigger(request="12V"), charger, Cable(id="c", kind="C-C"))
    >>> contract.outcome, contract.voltage_v, contract.position
    ('fallback', 9.0, 2)
    """
    return settle_on(trigger.request, trigger.fallback, available(source, cable))


def settle_on(request: Request, fallback: str, seen: Available) -> Contract:
    """As ``settle``, on what is available."""
    if isinstance(request, NoRequest):
        return _type_c(seen, "the trigger asks for nothing: 5 V by Type-C")
    if not seen.pd:
        return _type_c(seen, "PD does not reach the trigger: 5 V by Type-C, whatever it asks for")
    found = _find(request, seen.offers)
    if found is not None:
        offer, voltage_mv = found
        return _grant(seen, "as-asked", offer, voltage_mv, _current_of(request), f"the charger offers {_named(offer)}")
    return _fall_back(request, fallback, seen)


def _find(request: Request, offers: Sequence[Offer]) -> tuple[Offer, int | None] | None:
    """The offer that a request is for, and the voltage to program where it is adjustable."""
    fixed = [offer for offer in offers if offer.kind == "fixed"]
    spr = [offer for offer in fixed if not offer.is_epr]
    match request:
        case FixedRequest():
            return _plain(_at(fixed, round(request.voltage_v * 1000)))
        case PreferenceRequest():
            wishes = (_at(fixed, round(voltage * 1000)) for voltage in request.voltages_v)
            return _plain(next((offer for offer in wishes if offer is not None), None))
        case HighestRequest():
            return _plain(max(spr, key=lambda offer: offer.max_mv, default=None))
        case PowerRequest():
            return _plain(
                max(spr, key=lambda offer: (offer.max_mv * (offer.current_ma or 0), offer.max_mv), default=None)
            )
        case PpsRequest() | AvsRequest():
            return _adjustable(request, offers)
    return None


def _plain(offer: Offer | None) -> tuple[Offer, int | None] | None:
    return None if offer is None else (offer, None)


def _at(fixed: Sequence[Offer], voltage_mv: int) -> Offer | None:
    """The fixed offer of that voltage; of several the one with the most current."""
    same = [offer for offer in fixed if offer.max_mv == voltage_mv]
    return max(same, key=lambda offer: offer.current_ma or 0, default=None)


def _adjustable(request: PpsRequest | AvsRequest, offers: Sequence[Offer]) -> tuple[Offer, int | None] | None:
    kinds = ("pps",) if isinstance(request, PpsRequest) else ("spr-avs", "epr-avs")
    wanted_mv = round(request.voltage_v * 1000)
    wanted_ma = round((request.current_a or 0) * 1000)
    fitting: list[tuple[Offer, int]] = []
    for offer in offers:
        if offer.kind in kinds:
            step = voltage_step_mv(offer)
            on_step = wanted_mv // step * step
            if offer.min_mv <= on_step <= offer.max_mv:
                fitting.append((offer, on_step))
    if not fitting:
        return None
    # One that has the current before one that has not, then SPR before EPR, then the most current.
    return max(
        fitting,
        key=lambda each: (
            each[0].current_ma_at(each[1]) >= wanted_ma,
            not each[0].is_epr,
            each[0].current_ma_at(each[1]),
            -each[0].max_mv,
        ),
    )


def _current_of(request: Request) -> float | None:
    return getattr(request, "current_a", None)


def _asked_voltage(request: Request) -> float | None:
    if isinstance(request, PreferenceRequest):
        return max(request.voltages_v)
    return getattr(request, "voltage_v", None)


def _grant(
    seen: Available, outcome: Outcome, offer: Offer, voltage_mv: int | None, wanted_a: float | None, reason: str
) -> Contract:
    at = offer.max_mv if voltage_mv is None else voltage_mv
    offered = offer.current_ma_at(at)
    wanted = offered if wanted_a is None else round(wanted_a * 1000)
    mismatch = wanted > offered
    asked = min(wanted, offered)
    words = request_words(
        offer, asked, voltage_mv, mismatch=mismatch, epr_mode=offer.is_epr, no_usb_suspend=seen.suspends
    )
    drawn = asked if offer.kind == "battery" else current_on_step(offer, asked)
    if mismatch:
        reason += f", {offered / 1000:g} A of the {wanted / 1000:g} A wanted"
    return Contract(outcome, offer.kind, at / 1000, drawn / 1000, offer, words, mismatch, reason)


def _fall_back(request: Request, fallback: str, seen: Available) -> Contract:
    asked = _asked_voltage(request)
    why = f"{request_text(request)} is not on offer"
    if asked is not None and any(offer.holds(round(asked * 1000)) for offer in seen.hidden):
        why = f"{asked:g} V needs EPR, which this cable does not carry"
    # PPS is of SPR alone: a trigger that is set to it has no reason to enter EPR mode.
    reached = [offer for offer in seen.offers if not (offer.is_epr and isinstance(request, PpsRequest))]
    fixed = [offer for offer in reached if offer.kind == "fixed"]
    if fallback == "none":
        # A source that hears no request resets the line: it asks for 5 V, and for no current.
        idle = _at(fixed, FIVE_MV)
        words = request_words(idle, 0, mismatch=True, no_usb_suspend=seen.suspends) if idle is not None else ()
        return Contract("off", "none", 0.0, 0.0, None, words, bool(words), f"{why}, and the trigger gives nothing then")
    if fallback == "next-lower" and asked is not None:
        below = [offer for offer in fixed if offer.max_mv <= round(asked * 1000)]
        lower = max(below, key=lambda offer: offer.max_mv, default=None)
        if lower is not None:
            return _grant(seen, "fallback", lower, None, _current_of(request), f"{why}: falls back to {_named(lower)}")
    five = _at(fixed, FIVE_MV)
    if five is not None:
        return _grant(seen, "fallback", five, None, _current_of(request), f"{why}: falls back to {_named(five)}")
    return _type_c(seen, f"{why}, and the charger has no 5 V offer: 5 V by Type-C")


def _type_c(seen: Available, reason: str) -> Contract:
    return Contract("type-c", "type-c", FIVE_MV / 1000, seen.typec_a, None, (), False, reason)


def _named(offer: Offer) -> str:
    return (
        f"{offer.max_mv / 1000:g} V"
        if offer.min_mv == offer.max_mv
        else (f"{offer.kind.upper()} {offer.min_mv / 1000:g}..{offer.max_mv / 1000:g} V")
    )
