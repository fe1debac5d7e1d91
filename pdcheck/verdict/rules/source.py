"""Rules on the source itself: its list against the power rules, what is odd about it, how it was captured."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pdcheck.bits.offers import Offer, list_problems, offer_problems
from pdcheck.facts.cable import PD_CABLES, UNMARKED_CURRENT
from pdcheck.facts.capabilities import LIST_ORDER
from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.facts.power_reading import PowerReading, pdp_candidates
from pdcheck.facts.power_rules import FIXED_RULES, OfferedSupply
from pdcheck.facts.timing import PD_TIMERS, timer
from pdcheck.facts.trade import SLEEPS_AFTER, SLEEPS_BELOW
from pdcheck.parts.behaviour import ALWAYS, Behaviour
from pdcheck.parts.kept import kept
from pdcheck.parts.limits import Level
from pdcheck.parts.source import Source
from pdcheck.quantities import format_quantity
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rig_rule
from pdcheck.verdict.power_bank import sleep_of

STATED_BEHAVIOUR = Origin("the source's behaviour, from the kit file", "rig")


def supplies(offers: Sequence[Offer]) -> list[OfferedSupply]:
    """Offers in volts, amperes and watts, as the power rules look at them.

    >>> from pdcheck.bits.offers import fixed
    >>> supplies([fixed(9000, 2220)])[0].current_a
    2.22
    """
    return [
        OfferedSupply(
            offer.kind,
            offer.min_mv / 1000,
            offer.max_mv / 1000,
            _thousandth(offer.current_15v_ma if offer.kind == "spr-avs" else offer.current_ma),
            _thousandth(offer.power_mw) if offer.pdp_w is None else float(offer.pdp_w),
            _thousandth(offer.current_20v_ma),
        )
        for offer in offers
        if not offer.is_gap and offer.kind != "augmented-reserved"
    ]


def _thousandth(value: int | None) -> float | None:
    return None if value is None else value / 1000


@kept
def power_reading(source: Source) -> PowerReading:
    """What PDP a source looks like, with the remarks of the power rules."""
    return pdp_candidates(supplies(source.offers), captured_over=source.captured_over, printed_w=source.pdp_w)


@rig_rule(
    "note", FIXED_RULES, "It says what to expect of this charger; the rig is judged on what it offers.", scope="source"
)
def source_power_rules(case: Case, find: Find) -> Iterator[Finding]:
    """A charger's list that breaks the power rules."""
    if not case.source.offers:
        return
    for remark in power_reading(case.source).remarks:
        yield find("source", remark.text, origin=remark.origin)


@rig_rule(
    "note",
    LIST_ORDER,
    "A charger that gets its list wrong may get more wrong: try it with a meter before you trust it.",
    scope="source",
)
def source_list_odd(case: Case, find: Find) -> Iterator[Finding]:
    """A charger's list that is out of order."""
    offers = case.source.offers
    epr = any(offer.is_epr for offer in offers)
    problems = list_problems(offers, epr_message=epr)
    for offer in offers:
        problems += offer_problems(offer, epr_message=epr)
    for problem in problems:
        yield find("source", str(problem))


@rig_rule(
    "warn",
    PD_CABLES,
    f"Read that cable's e-marker. If it says {UNMARKED_CURRENT.value:g} A, do not draw more from this charger.",
    scope="source",
)
def source_capture_cable(case: Case, find: Find) -> Iterator[Finding]:
    """A charger's list that does not fit the cable it was captured with."""
    if case.source.captured_over != "3A":
        return
    plain = round(UNMARKED_CURRENT.value * 1000)
    above = [offer for offer in case.source.offers if offer.current_ma_at(offer.max_mv) > plain]
    if above:
        listed = ", ".join(
            f"{offer.current_ma_at(offer.max_mv) / 1000:g} A at {offer.max_mv / 1000:g} V" for offer in above
        )
        yield find(
            "source",
            f"offers {listed}, yet was captured with a 3 A cable: the charger breaks the rule, or it was another cable",
            max(offer.current_ma_at(offer.max_mv) for offer in above) / 1000,
            UNMARKED_CURRENT.value,
            "A",
        )
    elif any(
        offer.current_ma == plain and offer.kind == "fixed" and offer.max_mv >= 20000 for offer in case.source.offers
    ):
        yield find(
            "source",
            "captured with a 3 A cable: it may offer more with a 5 A one",
            level="note",
            advice="Capture it again with a 5 A cable to see all that it has.",
        )


@rig_rule("warn", COMMON_PRACTICE, "Capture it again before you rely on it.", scope="source")
def source_doubtful(case: Case, find: Find) -> Iterator[Finding]:
    """A damaged capture."""
    for text in case.source.problems:
        yield find("source", text)


@rig_rule(
    "note",
    Origin("no offers are stated, so those that the power rules ask of its power count", "common practice"),
    "Type what is printed on it, or capture what it says.",
    scope="source",
)
def source_offers_assumed(case: Case, find: Find) -> Iterator[Finding]:
    """Offers that nobody read."""
    if case.source.by_rules:
        watts = format_quantity(case.source.pdp_w or 0.0, "W")
        yield find("source", f"only its power is stated: the offers are those that the standard asks of {watts}")


@rig_rule("fail", STATED_BEHAVIOUR, "'pdcheck talk' shows step by step what happens.", scope="supply")
def source_behaviour(case: Case, find: Find) -> Iterator[Finding]:
    """The charger does not give what it offers."""
    behaviour = case.source.behaviour
    if behaviour.silent == "capabilities" and case.cable.pd and case.source.offers:
        yield find("source", "sends no capabilities: no PD, 5 V alone", level="note")
    elif behaviour.refuses_epr and case.cable.is_epr and any(offer.is_epr for offer in case.source.offers):
        yield find("source", "does not enter EPR mode: its EPR offers are not counted on", level="note")
    if case.contract.offer is None:
        return
    for text in _never_granted(behaviour, epr=case.contract.epr):
        yield find("source", f"{text}: there will be no contract")
    # The way into EPR mode leads over an SPR contract too, so the shorter wait counts.
    waits, takes = timer("tPSTransition"), behaviour.ps_rdy_s
    if takes is not None and takes > waits.require_min():
        text = f"sends PS_RDY {takes:g} s after Accept; a sink resets after {waits.require_min():g} s or a little more"
        level: Level = "fail" if takes > waits.require_max() else "warn"
        yield find("source", text, takes, waits.require_min(), "s", level=level, origin=PD_TIMERS)


OWN_FIGURE = Origin("the power bank's own figure, from the kit file", "rig")


@rig_rule(
    "fail",
    SLEEPS_BELOW.origin,
    "Use a power bank with a mode for light loads or a wall charger, or add a load that keeps it awake.",
)
def source_sleeps(case: Case, find: Find) -> Iterator[Finding]:
    """A power bank that switches itself off."""
    found = sleep_of(case)
    if found is None or found.level is None:
        return
    least, limit = found.lightest_a.min, found.below_a.max
    shown, below = format_quantity(least, "A", 3, beside=limit), format_quantity(limit, "A", 3, beside=least)
    after = f"after {SLEEPS_AFTER.require_min():g} to {SLEEPS_AFTER.require_max():g} s"
    pauses = "" if found.always else " at times"
    if found.stated:
        text = f"gives only {shown}{pauses}; below {below} this power bank switches off, usually {after}"
    else:
        lowest = format_quantity(found.below_a.min, "A", 3)
        text = (
            f"gives only {shown}{pauses}; many power banks switch off below {lowest} to {below}, {after}, and nothing "
            "says when this one does"
        )
    origin = OWN_FIGURE if found.stated else None
    yield find("source", text, least, limit, "A", level=found.level, origin=origin)


def _never_granted(behaviour: Behaviour, *, epr: bool) -> Iterator[str]:
    """What keeps a contract from ever standing, in words."""
    if behaviour.silent == "request":
        yield "never answers a request"
    elif behaviour.silent == "ps-rdy":
        yield "never sends PS_RDY"
    elif behaviour.silent == "keep-alive" and epr:
        yield "never answers EPR_KeepAlive"
    for times, text in (
        (behaviour.reject, "rejects every request"),
        (behaviour.wait, "answers every request with Wait"),
        (behaviour.skip_accept, "leaves out every Accept"),
    ):
        if times >= ALWAYS:
            yield text
