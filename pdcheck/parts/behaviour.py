"""Behaviour: what a source does beside offering: shared power, a list out of order, refusals, silence, resets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pdcheck.bits.header import Revision
from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import EPR_POWER_MAX
from pdcheck.facts.voltage import SPR_MAX
from pdcheck.named import NamedTuple
from pdcheck.parts.cable_face import revision_of
from pdcheck.parts.fields import NUMBER_OR_TEXT, Part, Reader, one_of, quantity, read_bounded
from pdcheck.parts.offer_text import offers_text, read_offers
from pdcheck.quantities import format_quantity, quantity_text, quoted

ALWAYS = 1_000_000
"""As a count of requests: every one of them."""
LONGEST_S = 3600.0
"""The latest moment of a conversation that a file may speak of [s]."""

Silence = Literal["capabilities", "request", "ps-rdy", "epr-entry", "keep-alive"]
EprEntry = Literal["granted", "refused", "no-vconn", "not-now", "not-marked"]
Telling = Literal["capabilities", "hard-reset"]


class Lowered(NamedTuple):
    """What is left to a port: a power [W] that its offers keep within, or a list of offers of its own."""

    power_w: float | None = None
    offers: tuple[Offer, ...] = ()

    def __str__(self) -> str:
        if self.power_w is not None:
            return format_quantity(self.power_w, "W")
        return f"{len(self.offers)} offers of its own"


def read_lowered(value: Any) -> Lowered:
    """A power, or the text of a label.

    >>> read_lowered("45W").power_w, read_lowered("5V 3A, 9V 2A").offers[1].current_ma
    (45.0, 2000)
    """
    if isinstance(value, Lowered):
        return value
    offers = read_offers(value) if isinstance(value, str) else None
    if offers is not None:
        return Lowered(offers=offers)
    try:
        return Lowered(power_w=read_bounded(value, "W", EPR_POWER_MAX.value, zero=False, least=0.5))
    except InputError as error:
        raise InputError(error.what, expected='a power such as 45W, or offers such as "5V 3A, 9V 2A"') from None


def _write_lowered(value: Lowered) -> str:
    return offers_text(value.offers) if value.power_w is None else quantity_text(value.power_w, "W")


def _read_times(value: Any) -> int:
    if isinstance(value, str) and value.strip().lower() == "always":
        return ALWAYS
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= ALWAYS:
        raise InputError(f"{quoted(value)} is no count", expected='a whole number, or "always"')
    return value


def _read_order(value: Any) -> tuple[int, ...]:
    listed = list(value) if isinstance(value, list | tuple) else [value]
    if sorted(listed, key=str) != sorted(range(1, len(listed) + 1), key=str):
        raise InputError(f"{quoted(value)} is no order", expected="each position once, such as [1, 3, 2]")
    return tuple(listed)


Times = Annotated[
    int,
    Reader(
        _read_times,
        {"anyOf": [{"type": "integer", "minimum": 0}, {"enum": ["always"]}]},
        lambda times: "always" if times == ALWAYS else times,
    ),
]
Moment = Annotated[float, quantity("s", LONGEST_S, zero=True)]
LoweredPower = Annotated[Lowered, Reader(read_lowered, NUMBER_OR_TEXT, _write_lowered)]


class Step(Part, init=False):
    """One step of a power bank that runs down: from ``at_s`` [s] after the plug went in it offers ``to``."""

    at_s: Moment
    to: LoweredPower


class Behaviour(Part, init=False):
    """How a source behaves in a conversation; a table ``behaviour = { .. }`` of a ``[[source]]``.

    ``revision``: the PD revision that it speaks. ``second_port``: what is left to this port while a second one is in
    use; ``steps_down``: what a power bank lowers its offer to, and when; ``tells``: whether it says so by new
    capabilities or by a Hard Reset. ``reject`` and ``wait``: how many requests it answers so before it grants one.
    ``skip_accept``: how many requests it answers with PS_RDY at once. ``silent``: what it never answers or sends.
    ``ps_rdy_s`` [s]: how long after Accept it sends PS_RDY. ``hard_reset_s``, ``goto_min_s`` [s]: when it sends one.
    ``order``: the positions of its list in the order that it sends them. ``epr_entry``: what it says to a sink that
    asks for EPR mode.

    >>> Behaviour(second_port="30W", wait=1, hard_reset="4s").second_port
    Lowered(power_w=30.0, offers=())
    """

    revision: Annotated[Revision, revision_of("PD")] = "3.x"
    second_port: LoweredPower | None = None
    steps_down: tuple[Step, ...] = ()
    tells: Annotated[Telling, one_of("a way to tell", "capabilities", "hard-reset")] = "capabilities"
    reject: Times = 0
    wait: Times = 0
    skip_accept: Times = 0
    silent: Annotated[Silence, one_of("a silence", *Silence.__args__)] | None = None
    ps_rdy_s: Moment | None = None
    hard_reset_s: Moment | None = None
    goto_min_s: Moment | None = None
    order: Annotated[tuple[int, ...], Reader(_read_order, {"type": "array", "items": {"type": "integer"}})] = ()
    epr_entry: Annotated[EprEntry, one_of("an answer to EPR mode entry", *EprEntry.__args__)] = "granted"

    @property
    def refuses_epr(self) -> bool:
        """Whether no sink gets into EPR mode."""
        return self.epr_entry != "granted" or self.silent == "epr-entry"


def fit_to_offers(behaviour: Behaviour, offers: Sequence[Offer]) -> None:
    """Raise a mistake where a behaviour contradicts the list that it belongs to.

    >>> from pdcheck.bits.offers import fixed
    >>> fit_to_offers(Behaviour(order=[1, 2]), [fixed(5000, 3000)])
    Traceback (most recent call last):
    pdcheck.errors.InputError: behaviour.order: an order of 2 positions for 1 offers; expected every position ...
    """
    low = [offer for offer in offers if not offer.is_epr]
    if behaviour.order and len(behaviour.order) != len(low):
        what = f"an order of {len(behaviour.order)} positions for {len(low)} offers"
        raise InputError(
            what, expected=f"every position of {SPR_MAX.value:g} V or less once", key=("behaviour", "order")
        )
    newer = [offer for offer in offers if offer.is_adjustable or offer.is_epr]
    if behaviour.revision == "2.0" and newer:
        what = f"Revision 2.0 has no {newer[0].kind} offer of {newer[0].max_mv / 1000:g} V"
        raise InputError(
            what,
            expected=f"fixed, variable and battery offers up to {SPR_MAX.value:g} V",
            key=("behaviour", "revision"),
        )
