"""What each setting of a trigger would give on a source: a contract for every position of its switch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.contract.available import Available, available
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.facts.power_rules import NORMATIVE_VOLTAGES
from pdcheck.facts.trade import OLDER_VOLTAGE
from pdcheck.facts.voltage import SPR_FIXED_MAX
from pdcheck.marks import BY_ID, UNTOLD, Named, passed
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.choices import Fallback
from pdcheck.parts.request import AS_SETTING, FixedRequest, HighestRequest, PowerRequest, Request, request_text
from pdcheck.parts.source import Source
from pdcheck.result import Result


class Setting(NamedTuple):
    """A setting and what it would give."""

    request: Annotated[Request, AS_SETTING, Named("setting")]
    contract: Contract


@dataclass(frozen=True, repr=False)
class Settings(Result):
    """What each of some settings of a trigger would give on a source over a cable; ``seen`` is what is on offer."""

    SCHEMA: ClassVar[str] = "settings/1"
    TITLE: ClassVar[str] = "What each setting of a trigger gives on a source"
    ROWS: ClassVar[tuple[str, ...]] = ("settings",)

    source: Annotated[Source, BY_ID]
    cable: Annotated[Cable, BY_ID]
    fallback: Fallback
    seen: Annotated[Available, UNTOLD]
    settings: tuple[Setting, ...]

    pd = passed[bool]("seen.pd", "Whether PD reaches the trigger.")

    def answer(self) -> str:
        """The voltage that each setting gives."""
        given = {each.request: each.contract.voltage_v for each in self.settings}
        return ", ".join(
            f"{request_text(each)}: {f'{volts:g} V' if volts else 'nothing'}" for each, volts in given.items()
        )


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
    source: Source, cable: Cable, requests: Sequence[Request], fallback: Fallback = "next-lower"
) -> Settings:
    """What each of the requests would give on ``source`` over ``cable``.

    >>> charger = Source(id="s", offers="5V 3A, 9V 3A")
    >>> settings_on(charger, Cable(id="c", kind="C-C"), [FixedRequest(12.0), FixedRequest(5.0)])
    <Settings: 12 V: 9 V, 5 V: 5 V>
    """
    seen = available(source, cable)
    given = tuple(Setting(request, settle_on(request, fallback, seen)) for request in requests)
    return Settings(source, cable, fallback, seen, given)
