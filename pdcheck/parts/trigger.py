"""Trigger: the board that asks the source for a voltage, what it does when it cannot have it, what it carries."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, get_args

from pydantic import Field

from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.facts.plausible import TRIGGER_RATING, TRIGGER_VOLTAGE
from pdcheck.parts import fields
from pdcheck.parts.choices import Fallback
from pdcheck.parts.fuse import AnyFuse
from pdcheck.parts.limits import InSeries, LimitRule, PartLimit
from pdcheck.parts.request import Request, parse_request, request_text
from pdcheck.quantities import Triple, quantity_text

_FALLBACK = fields.one_of(
    "a fall-back", *get_args(Fallback), lower="next-lower", **dict.fromkeys(("5", "5v", "5_v"), "5V")
)


def _read_fallback(value: object) -> str:
    return str(_FALLBACK.read("5V" if value == 5 else value))


def _write_request(request: Request) -> str:
    return request_text(request, quantity_text)


CURRENT = LimitRule(
    "trigger-current",
    "fail",
    "Too much current for the trigger",
    COMMON_PRACTICE,
    "Use a trigger with a higher rating, or a higher voltage at less current.",
    "carries {value} in the worst case and is rated for {limit}",
    if_words="the trigger is rated for {needs} or more",
)
VOLTAGE = LimitRule(
    "trigger-voltage",
    "stop",
    "Too much voltage for the trigger",
    COMMON_PRACTICE,
    "Use a trigger board rated for the voltage that it asks for.",
    "gets {value} and is rated for {limit}",
    if_words="the trigger is rated for {needs} or more",
    supply=True,
)


class Trigger(fields.Part, init=False):
    """A trigger board: ``request`` and ``fallback`` as set on it, ``resistance`` of its path [ohm], its ratings.

    ``fallback`` says what the board takes when the source does not offer its voltage: the next lower offer, 5 V, or
    nothing at all (its output stays off). Below ``brown_out_v`` its controller forgets the contract, and asks again
    ``restart_s`` later. ``bulk_f`` with ``esr_ohm`` is across its output,
    and ``fuse`` behind it, before the branches.

    >>> trigger = Trigger("15V", rating="5A", resistance="25mOhm")
    >>> trigger.request == Trigger(15).request, trigger.fallback, trigger.resistance.max
    (True, 'next-lower', 0.025)
    """

    place: ClassVar[InSeries] = "trigger"

    title: fields.Title = ""
    request: Annotated[Request, fields.Reader(parse_request, fields.NUMBER_OR_TEXT, _write_request)]
    fallback: Annotated[Fallback, fields.Reader(_read_fallback, _FALLBACK.schema)] = "next-lower"
    rating_a: fields.Amps | None = None
    rating_v: fields.Volts | None = Field(default=None, validation_alias="voltage_rating")
    resistance: fields.OhmTriple = Triple(0.0, 0.0, 0.0)
    bulk_f: fields.Farads | None = None
    esr_ohm: fields.OhmsOrZero | None = None
    fuse: AnyFuse | None = None
    brown_out_v: fields.Volts | None = None
    restart_s: fields.Seconds | None = None

    def drawn_as(self) -> str:
        """What stands on it in a picture."""
        return f"set to {request_text(self.request)}"

    def limits(self) -> Iterator[PartLimit]:
        """What it carries, and the contract's voltage that it is made for."""
        limit = PartLimit(CURRENT, "bus", "current", "at_most", self.rating_a, "trigger", "trigger", settle_by="print")
        yield limit._replace(key="trigger.rating", plausible=TRIGGER_RATING.value)
        volts = limit._replace(rule=VOLTAGE, quantity="voltage", figure=self.rating_v, state="nominal")
        yield volts._replace(key="trigger.voltage_rating", plausible=TRIGGER_VOLTAGE.value)

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        return {"request": said}
