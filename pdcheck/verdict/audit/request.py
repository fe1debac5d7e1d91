"""Rules on what is asked and offered in a captured conversation: position, current, cable, range, step, mode."""

from __future__ import annotations

from collections.abc import AsyncIterator

from pdcheck.bits.cable import CableReading
from pdcheck.bits.header import REQUESTS
from pdcheck.bits.offers import Offer
from pdcheck.contract.asking import voltage_step_mv
from pdcheck.contract.following.state import SINK, SOURCE, Asked, Log, State, Step
from pdcheck.facts.cable import MARKED_CURRENT, UNMARKED_CURRENT
from pdcheck.facts.origin import Origin
from pdcheck.facts.voltage import AVS_STEP, PPS_STEP
from pdcheck.verdict.audit.answer import crosses_list
from pdcheck.verdict.audit.rule import Tell, audit_rule, in_turn

_REQUEST = Origin("PD R3.2 V1.1, Tables 6.23 to 6.26", "checked")
_OF_REQUESTS = ("position", "range", "current", "maximum", "step")
_CABLE = UNMARKED_CURRENT.origin


async def requests(log: Log) -> AsyncIterator[tuple[Step, Asked]]:
    """Every request of the sink that can be followed, once each."""
    async for step in in_turn(log):
        asked = _request(log, step)
        if asked is not None:
            yield step, asked


def _request(log: Log, step: Step) -> Asked | None:
    """What a step asks for, where it is a request of the sink that can be followed."""
    if step.name in REQUESTS and step.sender == SINK and step.read and not step.retry:
        asked = step.after.asked
        if asked is not None and asked.number == step.number and not crosses_list(log, step):
            return asked
    return None


@audit_rule(
    _REQUEST,
    "The sink counts objects wrong, or asks from an older list; a source answers with Reject or a Hard Reset.",
    covers=("answer-missing",),
)
async def request_position(log: Log, tell: Tell) -> None:
    """A request for an object that was not offered."""
    async for step, asked in requests(log):
        known = step.before.offers and not step.before.doubt and step.before.blur <= (step.before.offers_at or 0)
        if asked.offer is None and known:
            last = max(offer.position for offer in step.before.offers)
            text = f"asks for object {asked.position}, which was not offered: the list goes to {last}"
            tell(step, SINK, text, asked.position, last, "1")


@audit_rule(
    _REQUEST, "Ask for what is offered, with Capability Mismatch set where more is wanted.", covers=("answer-missing",)
)
async def request_current(log: Log, tell: Tell) -> None:
    """A request for more current or power than is offered."""
    async for step, asked in requests(log):
        offer = asked.offer
        if offer is None or any(problem.code == "outside-range" for problem in asked.reading.problems):
            continue  # what current there is for a voltage outside the offer's range is nobody's question
        wanted, offered, unit = asked.power_mw, offer.power_mw, "W"
        if wanted is None or offered is None:
            wanted, offered, unit = asked.current_ma, offer.current_ma_at(asked.voltage_mv or offer.max_mv), "A"
        if wanted is not None and wanted > offered:
            much, least = f"{wanted / 1000:g} {unit}", f"{offered / 1000:g} {unit}"
            text = f"asks for {much} of object {asked.position}, which offers {least}"
            tell(step, SINK, text, wanted / 1000, offered / 1000, unit)


@audit_rule(
    _REQUEST,
    "Set it to the Operating Current; where more is wanted than is offered, set Capability Mismatch as well.",
    covers=("answer-missing",),
)
async def request_maximum(log: Log, tell: Tell) -> None:
    """A Maximum Operating Current that does not go with the offer.

    Of a fixed, variable or battery request: above the offer, or below the first figure.
    """
    async for step, asked in requests(log):
        fields, offer = asked.reading.fields, asked.offer
        if offer is None:
            continue  # what cannot be given is told of elsewhere
        for name, first, second, offered, unit in (
            ("Current", asked.current_ma, fields.get("max_operating_current_ma"), offer.current_ma, "A"),
            ("Power", asked.power_mw, fields.get("max_operating_power_mw"), offer.power_mw, "W"),
        ):
            if first is None or second is None or offered is None or first > offered:
                continue
            what = f"object {asked.position}: Maximum Operating {name} {second / 1000:g} {unit}"
            if fields.get("give_back"):
                if second > first:
                    what = what.replace("Maximum", "Minimum")
                    text = f"{what}, with GiveBack, is above Operating {name} {first / 1000:g} {unit}"
                    tell(step, SINK, text, second / 1000, first / 1000, unit)
            elif second > offered and not asked.mismatch:
                text = f"{what} is above the offer of {offered / 1000:g} {unit}, and Capability Mismatch is not set"
                tell(step, SINK, text, second / 1000, offered / 1000, unit)
            elif second > offered and any(each.code == "over-5a" for each in asked.reading.problems):
                text = f"{what} is more than any contract may carry"
                tell(step, SINK, text, second / 1000, offered / 1000, unit, level="warn")
            elif second < first:
                text = f"{what} is below Operating {name} {first / 1000:g} {unit}"
                tell(step, SINK, text, second / 1000, first / 1000, unit)


@audit_rule(
    _CABLE,
    f"Use a cable with a {MARKED_CURRENT.value:g} A marker. Where it has one, begin the capture before plugging in, so "
    "that it shows.",
    title=f"More than {UNMARKED_CURRENT.value:g} A asked for with a cable that is not known to carry it",
)
async def request_cable(log: Log, tell: Tell) -> None:
    """More current than the cable is known for; a note where the log never shows it being asked."""
    async for step, asked in requests(log):
        wanted = _asked_ma(asked)
        carried, why = carried_ma(step.before, log.stated_ma)
        if wanted > carried:
            text = f"asks for {wanted / 1000:g} A with a cable {why}"
            silent = step.before.cable is None and not step.before.cable_asked and log.stated_ma is None
            # It may have been asked before the log began, or unheard by the logger, or it is fixed to the source.
            tell(step, SINK, text, wanted / 1000, carried / 1000, "A", level="note" if silent else None)


def _asked_ma(asked: Asked) -> int:
    """The current [mA] of a request, as far as it was offered: what goes beyond is a fault of its own."""
    if asked.current_ma is not None and asked.offer is not None:
        return min(asked.current_ma, asked.offer.current_ma_at(asked.voltage_mv or asked.offer.max_mv))
    if asked.power_mw is not None and asked.offer is not None and asked.offer.max_mv:
        most = min(asked.power_mw, asked.offer.power_mw or asked.power_mw)
        return most * 1000 // asked.offer.max_mv  # so much at least, wherever its voltage is
    return 0


def carried_ma(state: State, stated_ma: int | None = None) -> tuple[int, str]:
    """The current [mA] that the cable is known to carry so far, and why; what the user states of it comes first."""
    if stated_ma is not None:
        return stated_ma, f"stated as {stated_ma / 1000:g} A"
    reading: CableReading | None = state.cable
    if reading is not None and reading.emarker:
        return reading.current_ma, f"whose marker says {reading.current_ma / 1000:g} A"
    plain = round(UNMARKED_CURRENT.value * 1000)
    if reading is not None:
        return plain, "that did not give its identity"
    if state.cable_asked:
        return plain, "that did not answer when it was asked for its identity"
    return plain, "whose identity is not in this log"


@audit_rule(
    _CABLE,
    "The source ignores the cable: do not draw more than the cable carries.",
    title=f"More than {UNMARKED_CURRENT.value:g} A offered with a cable that does not carry it",
)
async def offer_cable(log: Log, tell: Tell) -> None:
    """More offered than a cable that was asked carries."""
    next_at, taken = 0, 0
    async for step in in_turn(log):
        if not step.told.offers or step.sender != SOURCE or not step.read or step.retry:
            continue
        if step.before.cable is None and not step.before.cable_asked and log.stated_ma is None:
            continue
        carried, why = carried_ma(step.before, log.stated_ma)
        most = max((_offered_ma(offer) for offer in step.told.offers if not offer.is_epr), default=0)
        # Where the sink takes it, the request is what is told of.
        if most > carried and next_at <= step.number:
            next_at, taken = _next_taken(log, step.number + 1)
        if most > carried >= taken:
            text = f"offers {most / 1000:g} A with a cable {why}"
            tell(step, SOURCE, text, most / 1000, carried / 1000, "A")


def _next_taken(log: Log, since: int) -> tuple[int, int]:
    """The next request from a message on: where it stands, and how much [mA] it takes; beyond the end for none."""
    for step in log.since(since):
        asked = _request(log, step)
        if asked is not None:
            return step.number, _asked_ma(asked)
    return len(log.steps), 0


def _offered_ma(offer: Offer) -> int:
    return max(offer.current_ma or 0, offer.current_15v_ma or 0, offer.current_20v_ma or 0)


@audit_rule(_REQUEST, "Stay between the minimum and the maximum voltage of the object.", covers=("answer-missing",))
async def request_range(log: Log, tell: Tell) -> None:
    """A voltage outside the range of an adjustable offer."""
    async for step, asked in requests(log):
        offer, voltage = asked.offer, asked.voltage_mv
        if offer is None or voltage is None or not offer.is_adjustable or offer.min_mv <= voltage <= offer.max_mv:
            continue
        bound = offer.min_mv if voltage < offer.min_mv else offer.max_mv
        span = f"{offer.min_mv / 1000:g}..{offer.max_mv / 1000:g} V"
        text = f"asks for {voltage / 1000:g} V of object {asked.position}, which gives {span}"
        tell(step, SINK, text, voltage / 1000, bound / 1000, "V")


@audit_rule(
    Origin("PD R3.2 V1.1, Tables 7.23 to 7.25", "checked"),
    f"PPS goes in steps of {PPS_STEP.value * 1000:g} mV, AVS in steps of {AVS_STEP.value * 1000:g} mV.",
    covers=("answer-missing",),
)
async def request_step(log: Log, tell: Tell) -> None:
    """A voltage between the steps of an adjustable offer."""
    async for step, asked in requests(log):
        offer, voltage = asked.offer, asked.voltage_mv
        if offer is not None and voltage is not None and offer.is_adjustable and voltage % voltage_step_mv(offer):
            size = voltage_step_mv(offer)
            text = f"asks for {voltage / 1000:g} V of object {asked.position}, which goes in steps of {size} mV"
            tell(step, SINK, text, voltage / 1000, size / 1000, "V")


@audit_rule(
    Origin("PD R3.2 V1.1, 6.4.9", "checked"),
    "The source answers the wrong form, or a copy that differs, with a Hard Reset.",
    covers=(
        "answer-order",
        "answer-missing",
        *(f"request-{of}" for of in _OF_REQUESTS),
    ),
)
async def request_form(log: Log, tell: Tell) -> None:
    """A request in the wrong form, or with a wrong copy of the offer."""
    async for step, asked in requests(log):
        words = step.message.words
        due = 2 if asked.epr else 1
        known = step.before.sure and not step.before.doubt
        if asked.epr != step.before.epr and known and (step.before.offers or step.before.epr):
            tell(step, SINK, f"sends {step.name} in {'EPR' if step.before.epr else 'SPR'} mode")
        elif len(words) != due:
            text = f"{step.name} has {len(words)} object{'s' * (len(words) != 1)} in place of {due}"
            tell(step, SINK, text, len(words), due, "1")
        elif asked.epr and asked.offer is not None and words[1] != asked.offer.word:
            text = f"the copy {words[1]:08X} is not object {asked.position}, {asked.offer.word:08X}, as it was offered"
            tell(step, SINK, text)
