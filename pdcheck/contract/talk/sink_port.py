"""The sink's side of a conversation: what the actions and guards of its table do, and what a trigger asks for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ClassVar, get_args

from pdcheck.bits.header import Revision
from pdcheck.bits.offers import FIRST_EPR, Offer
from pdcheck.bits.power import FIXED_REQUEST
from pdcheck.contract.asking import request_words
from pdcheck.contract.available import Available
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.contract.talk.bus_voltage import BusVoltage
from pdcheck.contract.talk.cc_line import Line
from pdcheck.contract.talk.clock import longest
from pdcheck.contract.talk.journal import Journal
from pdcheck.contract.talk.port import Port, unseen
from pdcheck.contract.talk.sink_policy import SINK
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE
from pdcheck.facts.power_rules import EPR_AVS_FROM
from pdcheck.facts.voltage import SPR_FIXED_MAX
from pdcheck.named import NamedTuple
from pdcheck.parts.request import AvsRequest, FixedRequest, PreferenceRequest, Request
from pdcheck.parts.trigger import Trigger

_INITIATING = {"tSinkTx", "tSinkRequest", "tPPSRequest", "tSinkEPRKeepAlive"}


class Manner(NamedTuple):
    """How a trigger goes about it; the defaults are those of one that follows the standard.

    ``says_epr``: sets EPR Capable in the request before it asks for EPR mode. ``heeds_epr``: asks for EPR mode only of
    a source that says EPR Capable. ``renews``: repeats a PPS request in time. ``keeps_alive``: sends keep-alives in EPR
    mode. ``least_a`` [A]: offers with GiveBack to go down to this current (Revision 2.0).
    """

    says_epr: bool = True
    heeds_epr: bool = True
    renews: bool = True
    keeps_alive: bool = True
    least_a: float | None = None


PROPER = Manner()


class Ask(NamedTuple):
    """A request as it goes out, and the contract that it will make."""

    name: str
    words: tuple[int, ...]
    contract: Contract


class SinkPort(Port):
    """A trigger that runs the sink's table; see its ``actions`` and ``guards``."""

    name = "sink"
    policy = SINK

    def __init__(
        self,
        line: Line,
        journal: Journal,
        bus: BusVoltage,
        trigger: Trigger,
        seen: Available,
        manner: Manner,
        may_start: Callable[[], bool],
    ) -> None:
        super().__init__(line, journal, bus)
        self.request: Request = trigger.request
        self.fallback = trigger.fallback
        self.manner = manner
        self.standing: Ask | None = None
        self.gave_up = False
        self._plain = seen
        self._may_start = may_start
        self._heard: tuple[Offer, ...] = ()
        self._marked_epr = False
        self._asked: Ask | None = None
        self._refused: set[tuple[int, ...]] = set()
        self._waits = False
        self._epr_tried = False

    def set_to(self, request: Request) -> None:
        """The trigger is set anew."""
        self.request = request
        self._epr_tried = False
        self._refused.clear()
        self.happen("setting changed")

    def leaving(self, old: str, new: str, because: str) -> None:
        """As for any port; and a refusal while no contract stands."""
        super().leaving(old, new, because)
        if because in ("Reject", "Wait") and self.standing is None:
            self.journal.remark("trouble", f"the source answered {because}, and there is no contract")

    def held_back(self, timer: str) -> bool:
        """The sink starts nothing while the source has something to say."""
        return timer in _INITIATING and not self._may_start()

    # what to ask for

    @property
    def seen(self) -> Available:
        """What is on offer, as heard."""
        real = tuple(offer for offer in self._heard if offer.kind != "augmented-reserved")
        return self._plain._replace(
            offers=real, hidden=self._plain.hidden if not self.in_epr else (), bounded=(), pd=True, epr=self.in_epr
        )

    def target(self) -> Contract:
        """What this trigger makes of what is on offer now."""
        return settle_on(self.request, self.fallback, self.seen)

    def next_ask(self) -> Ask | None:
        """The request to send now, None where there is nothing to ask for."""
        target = self.target()
        if self._needs_epr():
            five = self._five()
            if five.offer is not None:
                amps = round(five.current_a * 1000)
                words = self._words(five.offer, amps, None, epr=self.manner.says_epr)[:1]
                return Ask("Request", words, five._replace(request_words=words, reason="5 V while EPR mode is entered"))
        if target.outcome == "off":
            five = self._five()
            if five.offer is None:
                return None
            words = self._words(five.offer, 0, None, mismatch=target.mismatch, epr=self.in_epr)
            return Ask(self._form(), words, target)
        if target.offer is None:
            return None
        words = target.request_words
        if self.in_epr and not target.epr:
            volts = round(target.voltage_v * 1000) if target.offer.is_adjustable else None
            amps = round(target.current_a * 1000)
            words = self._words(target.offer, amps, volts, mismatch=target.mismatch, epr=True)
            target = target._replace(request_words=words)
        if self._gives_back(target):
            words = (self._with_give_back(words[0]),)
            target = target._replace(request_words=words)
        return Ask(self._form(), words, target)

    def _words(
        self, offer: Offer, current_ma: int, voltage_mv: int | None, *, mismatch: bool = False, epr: bool
    ) -> tuple[int, ...]:
        suspends = self.seen.suspends
        return request_words(offer, current_ma, voltage_mv, mismatch=mismatch, epr_mode=epr, no_usb_suspend=suspends)

    def _form(self) -> str:
        return "EPR_Request" if self.in_epr else "Request"

    def _five(self) -> Contract:
        return settle_on(FixedRequest(FIRST_OBJECT_VOLTAGE.value), "5V", self.seen)

    def _needs_epr(self) -> bool:
        marked = self._marked_epr or not self.manner.heeds_epr
        if self.in_epr or self._epr_tried or not marked or self.revision == "2.0":
            return False
        return epr_would_help(self.request, self.target())

    def _gives_back(self, contract: Contract) -> bool:
        least = self.manner.least_a
        return least is not None and contract.kind == "fixed" and not self.in_epr and least < contract.current_a

    def _with_give_back(self, word: int) -> int:
        values = FIXED_REQUEST.decode(word)
        step = FIXED_REQUEST.field("max_operating_current_ma").scale
        least = round((self.manner.least_a or 0) * 1000) // step * step
        return FIXED_REQUEST.encode({**values, "give_back": True, "max_operating_current_ma": least})

    # guards

    def _wants_more(self) -> bool:
        if self.says("wants_epr") or self._wants_out():
            return True
        ask = self.next_ask()
        if ask is None or self.standing is None or ask.words in self._refused:
            return False
        return ask.words != self.standing.words

    def _wants_out(self) -> bool:
        if not self.in_epr or self.standing is None:
            return False
        ask = self.next_ask()
        return ask is not None and not ask.contract.epr and ask.words == self.standing.words

    def _list_broken(self) -> bool:
        return self.in_epr and any(offer.is_epr and offer.position < FIRST_EPR for offer in self._heard)

    # actions

    def _reset_protocol(self) -> None:
        self.reset_ids()
        self.in_epr = False
        self._heard = ()
        self._asked = None
        self._waits = False

    def _look_at_vbus(self) -> None:
        if self.bus.present:
            self.happen("VBUS present")

    def _evaluate(self) -> None:
        assert self.told is not None
        self.hard_resets = 0
        self.gave_up = False
        self.revision = self.told.message.revision if self.told.message.revision in get_args(Revision) else "3.x"
        self._heard = tuple(offer for offer in self.told.offers if not offer.is_gap)
        if not self.in_epr:
            self._marked_epr = bool(self._heard) and "epr_capable" in self._heard[0].flags
        self._refused.clear()
        self._waits = False

    def _send_request(self) -> None:
        ask = self.next_ask()
        self._waits = False
        if ask is not None:
            self._asked = ask
            self.send(ask.name, ask.words)

    def _take_contract(self) -> None:
        self.standing = self._asked
        self.journal.stand(None if self.standing is None else self.standing.contract)

    def _take_least(self) -> None:
        if self.standing is not None:
            least = FIXED_REQUEST.decode(self.standing.words[0])["max_operating_current_ma"] / 1000
            contract = self.standing.contract._replace(current_a=least, reason="the source asked for the least current")
            self._asked = self.standing._replace(contract=contract)

    def _remember_wait(self) -> None:
        self._waits = True
        self.journal.remark("trouble", "the source answered Wait")

    def _remember_reject(self) -> None:
        if self._asked is not None:
            self._refused.add(self._asked.words)
        self.journal.remark("trouble", "the source rejected the request; the contract before it stays")

    def _send_epr_enter(self) -> None:
        self._epr_tried = True
        wanted = getattr(self.request, "voltage_v", None) or max(getattr(self.request, "voltages_v", (0.0,)))
        current = getattr(self.request, "current_a", None) or 5.0
        self.send_epr_mode("Enter", min(255, round(wanted * current)), answer=False)

    def _send_soft_reset(self) -> None:
        self.reset_ids()
        self.send("Soft_Reset", answer=False)

    def _to_default(self) -> None:
        self.standing = None
        self._epr_tried = False
        self.journal.stand(None)

    def time_of(self, timer: str) -> float:
        """As the pace says, but a sink waits for VBUS to go for as long as a source may take."""
        if timer == "tSafe0V":
            return longest("tPSHardReset", "tSafe0V")
        return super().time_of(timer)

    def _give_up(self) -> None:
        self.gave_up = True
        self.journal.remark("line", "no capabilities come: the trigger stays on 5 V by Type-C")

    actions: ClassVar[Mapping[str, tuple[str, Callable[[SinkPort], Any]]]] = {
        **Port.actions,
        "reset_protocol": ("MessageIDs to zero, no capabilities known, SPR mode", _reset_protocol),
        "look_at_vbus": ("see whether VBUS is there", _look_at_vbus),
        "evaluate": ("HardResetCounter to zero; choose what to ask for", _evaluate),
        "send_request": ("send Request, in EPR mode EPR_Request with a copy of the object", _send_request),
        "go_to_standby": ("lower the load, as VBUS is about to move", unseen),
        "take_contract": ("the contract asked for is made; take up the load", _take_contract),
        "take_least": ("the least current of the request counts from now on", _take_least),
        "remember_wait": ("ask again later", _remember_wait),
        "remember_reject": ("do not ask for the same again", _remember_reject),
        "wait_for_turn": ("ask once the source lets the sink start", unseen),
        "send_epr_enter": ("send EPR_Mode Enter with the power that is wanted", _send_epr_enter),
        "remember_refusal": ("keep the cause; stay in SPR mode", unseen),
        "send_keep_alive": (
            "send Extended_Control EPR_KeepAlive",
            lambda self: self.send_control("EPR_KeepAlive", answer=False),
        ),
        "send_epr_exit": ("send EPR_Mode Exit", lambda self: self.send_epr_mode("Exit", answer=False)),
        "send_not_supported": (
            "send Not_Supported, in Revision 2.0 Reject",
            lambda self: self.send("Reject" if self.revision == "2.0" else "Not_Supported"),
        ),
        "send_soft_reset": ("MessageIDs to zero; send Soft_Reset", _send_soft_reset),
        "to_default": (
            "no contract; load as on plain 5 V; wait for VBUS to go, as long as tPSHardReset and tSafe0V allow",
            _to_default,
        ),
        "give_up": ("no PD comes: stay on 5 V by Type-C", _give_up),
    }
    guards: ClassVar[Mapping[str, tuple[str, Callable[[SinkPort], bool]]]] = {
        **Port.guards,
        "explicit_contract": ("there is a contract", lambda self: self.standing is not None),
        "list_broken": ("an EPR object is in positions 1..7", _list_broken),
        "can_ask": ("there is an offer to ask for", lambda self: self.next_ask() is not None),
        "in_pps": (
            "the contract is of a PPS offer, and the sink renews it",
            lambda self: self.standing is not None and self.standing.contract.kind == "pps" and self.manner.renews,
        ),
        "keeps_alive": (
            "EPR mode is on, and the sink keeps it alive",
            lambda self: self.in_epr and self.manner.keeps_alive,
        ),
        "told_to_wait": ("the source answered Wait", lambda self: self._waits),
        "wants_more": ("something else is wanted than the contract gives", _wants_more),
        "wants_epr": (
            "what is wanted needs EPR mode, and it was not refused",
            lambda self: self.standing is not None and self._needs_epr(),
        ),
        "wants_out": ("EPR mode is of no use any more, and the voltage is down already", _wants_out),
        "gives_back": (
            "the request had GiveBack set",
            lambda self: self.standing is not None and self._gives_back(self.target()),
        ),
    }


def epr_would_help(request: Request, target: Contract) -> bool:
    """Whether what a trigger is set to may be had in EPR mode, and is not to be had as things stand.

    >>> from pdcheck.bits.offers import fixed
    >>> seen = Available((fixed(5000, 3000), fixed(20000, 5000, 2)), (), (), True, False, 0.5, False)
    >>> [epr_would_help(r, settle_on(r, "5V", seen)) for r in (FixedRequest(28.0), FixedRequest(12.0))]
    [True, False]
    """
    met = target.outcome == "as-asked"
    if isinstance(request, FixedRequest):
        return not met and request.voltage_v > SPR_FIXED_MAX.value
    if isinstance(request, PreferenceRequest):
        before = request.voltages_v
        if met:
            before = before[: before.index(target.voltage_v)]
        return any(voltage > SPR_FIXED_MAX.value for voltage in before)
    if isinstance(request, AvsRequest):
        return (not met or target.mismatch) and request.voltage_v >= EPR_AVS_FROM.value
    return False
