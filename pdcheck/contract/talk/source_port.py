"""The source's side of a conversation: what the actions and guards of its table do."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ClassVar

from pdcheck.bits.objects import read_request
from pdcheck.bits.offers import Offer
from pdcheck.bits.power import EPR_MODE_FAILURE
from pdcheck.bits.problems import BEYOND
from pdcheck.bits.sequence import asked_position
from pdcheck.contract.talk.bus_voltage import OFF, BusVoltage, contract_level, margin_of, plain_level
from pdcheck.contract.talk.cable_plug import code_of, discover_identity
from pdcheck.contract.talk.cc_line import Line
from pdcheck.contract.talk.journal import Journal
from pdcheck.contract.talk.port import Port, sets, unseen
from pdcheck.contract.talk.source_policy import SOURCE
from pdcheck.contract.talk.supply import Supply
from pdcheck.facts.cable import EPR_MARKER_CURRENT, EPR_MARKER_VOLTAGE
from pdcheck.facts.timing import COUNTERS
from pdcheck.facts.voltage import AVS_SMALL_STEP, PPS_SMALL_STEP, VALID_MARGIN
from pdcheck.named import NamedTuple
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.source import Source


class Grant(NamedTuple):
    """What a request asks for, read by the offer that it points at."""

    offer: Offer
    voltage_mv: int
    current_ma: int


class SourcePort(Port):
    """A charger that runs the source's table; see its ``actions`` and ``guards``."""

    name = "source"
    policy = SOURCE

    def __init__(
        self,
        line: Line,
        journal: Journal,
        bus: BusVoltage,
        source: Source,
        supply: Supply,
        asks_cable: bool,
        typec_a: float | None,
    ) -> None:
        super().__init__(line, journal, bus)
        self.supply = supply
        self.behaviour = source.behaviour
        self.revision = self.behaviour.revision
        self.asks_cable = asks_cable
        self.plain = plain_level(typec_a)
        self.grant: Grant | None = None
        self.offers: tuple[Offer, ...] = ()
        self._pending: Grant | None = None
        self._refusal = ""
        self._wrong = False
        self._was_heard = False
        self._lists = 0
        self._accepted_s = 0.0
        self._rejects, self._waits = self.behaviour.reject, self.behaviour.wait
        self._skips = self.behaviour.skip_accept
        self._skipped = False
        self._to_tell = self._least = self._asks_least = self._reset = False
        self._epr_asked = False

    def hears(self, sop: str) -> bool:
        """The source is the one that talks to the plug."""
        return sop in ("SOP", "SOP'") and not self.dead

    # from outside

    def change_offer(self, left: Lowered | None) -> None:
        """Offer something else from now on, and say so when it is this side's turn."""
        self.supply.lower(left)
        if self.behaviour.tells == "hard-reset":
            self.reset()
            return
        self._to_tell = True
        self.happen("offer changed")

    def reset(self) -> None:
        """Send a Hard Reset, now or once a contract stands."""
        self._reset = True
        self.happen("reset due")

    def want_least(self) -> None:
        """Send GotoMin, now or once a contract stands."""
        self._least = True
        self.happen("offer changed")

    def refuse_next(self, answer: str) -> None:
        """Answer the next request with Reject or Wait."""
        if answer == "reject":
            self._rejects += 1
        else:
            self._waits += 1

    # guards

    def _mute(self) -> bool:
        entering = self.state == "PE_SRC_Evaluate_EPR_Mode_Entry"
        return self.behaviour.silent == ("epr-entry" if entering else "request")

    def _same_object(self) -> bool:
        if self.grant is None or self._pending is None or self._asks_least:
            return False
        old, new = self.grant.offer, self._pending.offer
        return new.is_adjustable and (old.position, old.kind) == (new.position, new.kind)

    # actions

    def _reset_protocol(self) -> None:
        self.reset_ids()
        self.in_epr = False
        self.grant = None
        self._asks_least = False
        self._lists = 0
        self._refusal = ""

    def _ask_cable(self) -> None:
        self.send("Vendor_Defined", [discover_identity(self.revision)], sop="SOP'", answer=False)

    def _send_capabilities(self) -> None:
        self._lists += 1
        self._to_tell = False
        self._refusal = ""
        if self.in_epr:
            words = self.supply.high_words()
            self.send_block("EPR_Source_Capabilities", b"".join(word.to_bytes(4, "little") for word in words))
        else:
            words = self.supply.low_words()
            self.send("Source_Capabilities", words, answer=False)
        self.offers = tuple(Offer.from_word(word, position) for position, word in enumerate(words, 1) if word)

    def _judge(self) -> None:
        self.hard_resets = 0
        self._was_heard = True
        assert self.told is not None
        message = self.told.message
        word = message.words[0]
        offer = next((offer for offer in self.offers if offer.position == asked_position(word)), None)
        self._wrong = (message.type == "EPR_Request") != self.in_epr
        if self.in_epr and not self._wrong:
            self._wrong = offer is None or len(message.words) != 2 or message.words[1] != offer.word
        reading = read_request(word, self.offers, revision=self.revision, epr_message=self.in_epr)
        self._refusal = ""
        if offer is None or any(problem.code in BEYOND for problem in reading.problems):
            self._refusal = "Reject"
        elif self._rejects:
            self._rejects, self._refusal = self._rejects - 1, "Reject"
        elif self._waits:
            self._waits, self._refusal = self._waits - 1, "Wait"
        if offer is None or self._refusal:
            return
        fields = reading.fields
        volts = fields.get("output_voltage_mv", offer.max_mv)
        current = fields.get("operating_current_ma")
        if current is None:
            current = fields["operating_power_mw"] * 1000 // max(offer.max_mv, 1)
        self._epr_asked = bool(fields["epr_capable"])
        self._pending = Grant(offer, volts, current)
        self._skipped = self._skips > 0
        self._skips -= self._skipped

    def _answer(self) -> None:
        if self._skipped:
            return
        if self._asks_least:
            self.send("GotoMin", answer=False)
        else:
            self.send("Accept")

    def _wait_to_move(self) -> None:
        self._accepted_s = self.clock.now_s

    def _move_supply(self) -> None:
        if self._same_object():
            self._accepted_s = self.clock.now_s
        grant = self.grant if self._asks_least else self._pending
        assert grant is not None
        level = contract_level(*grant)
        margin = max(margin_of(grant.offer), margin_of(self.grant.offer if self.grant else None))
        if self._same_object():
            margin = margin_of(grant.offer)
        self.bus.move(level, self._ready_in(grant), margin, lambda: self.happen("supply ready"))

    def _ready_in(self, grant: Grant) -> float:
        if self.behaviour.ps_rdy_s is not None:
            return max(0.0, self._accepted_s + self.behaviour.ps_rdy_s - self.clock.now_s)
        if not self._same_object() or self.grant is None:
            return self.pace.of("tSrcReady", epr=self.in_epr)
        step = abs(grant.voltage_mv - self.grant.voltage_mv) / 1000
        if grant.offer.kind == "pps":
            return self.pace.of("tPpsSrcTransSmall" if step <= PPS_SMALL_STEP.value else "tPpsSrcTransLarge")
        return self.pace.of("tAvsSrcTransSmall" if step <= AVS_SMALL_STEP.value else "tAvsSrcTransLarge")

    def _send_ps_rdy(self) -> None:
        if self._skipped or self.behaviour.silent != "ps-rdy":
            self.send("PS_RDY", event="PS_RDY sent", answer=self._skipped)

    def _take_contract(self) -> None:
        if self._asks_least:
            self._least = self._asks_least = False
        elif not self._skipped:
            self.grant = self._pending
        self._skipped = False

    def _send_keep_alive_ack(self) -> None:
        if self.behaviour.silent != "keep-alive":
            self.send_control("EPR_KeepAlive_Ack")

    def _send_enter_failed(self) -> None:
        cause = self._outright_cause()
        if cause is None:
            vconn = self.says("refuses_vconn")
            cause = "source failed to become VCONN source" if vconn else "cable not EPR capable"
        self.journal.remark("trouble", f"EPR mode refused: {cause}")
        self.send_epr_mode("Enter Failed", code_of(EPR_MODE_FAILURE, cause))

    def _outright_cause(self) -> str | None:
        if not self.supply.marked_epr:
            return "EPR Capable bit not set in the source's first object"
        if not self._epr_asked:
            return "EPR Capable bit not set in the request"
        if self.behaviour.epr_entry == "not-now":
            return "source unable to enter EPR mode now"
        return "unknown cause" if self.behaviour.epr_entry == "refused" else None

    def _accept_soft_reset(self) -> None:
        self.reset_ids()
        self.send("Accept")

    def _drop_supply(self) -> None:
        self.grant = None
        self.bus.move(OFF, self.pace.of("tSafe0V"), VALID_MARGIN.value, lambda: self.on_vbus("VBUS gone"))

    def on_vbus(self, event: str) -> None:
        """VBUS has come or gone: both sides see it."""
        for station in self.line.stations:
            if isinstance(station, Port):
                station.happen(event)

    def _raise_supply(self) -> None:
        self.bus.move(self.plain, self.pace.of("tSrcTurnOn"), VALID_MARGIN.value, lambda: self.on_vbus("VBUS present"))

    def _give_up(self) -> None:
        self.journal.remark("line", "the source gives up PD: 5 V by Type-C")

    def _send_reset(self) -> None:
        self._reset = False
        self.send_hard_reset()

    actions: ClassVar[Mapping[str, tuple[str, Callable[[SourcePort], Any]]]] = {
        **Port.actions,
        "reset_protocol": ("MessageIDs and counters to zero, no contract, SPR mode", _reset_protocol),
        "ask_cable": ("send Discover Identity to the cable plug on SOP'", _ask_cable),
        "send_capabilities": (
            "send Source_Capabilities, in EPR mode EPR_Source_Capabilities in chunks",
            _send_capabilities,
        ),
        "judge": ("HardResetCounter to zero; see whether the request is within what is offered", _judge),
        "answer": ("send Accept, or GotoMin where the sink is to go to its least current", _answer),
        "wait_to_move": ("the sink lowers its load; VBUS stays", _wait_to_move),
        "move_supply": ("VBUS goes to the new voltage, within tSrcReady, tPpsSrcTrans or tAvsSrcTrans", _move_supply),
        "send_ps_rdy": ("send PS_RDY", _send_ps_rdy),
        "take_contract": ("the contract is made", _take_contract),
        "ask_for_least": ("the sink is to go to its least current", sets(_asks_least=True)),
        "forget_least": ("the sink has no lesser current: let it be", sets(_least=False, _asks_least=False)),
        "send_refusal": ("send Reject or Wait", lambda self: self.send(self._refusal)),
        # The sink asks whether it may start (see ``Talk``).
        "hold_sink_back": ("Rp says that the sink is not to start", unseen),
        "send_keep_alive_ack": ("send Extended_Control EPR_KeepAlive_Ack", _send_keep_alive_ack),
        "send_enter_acknowledged": (
            "send EPR_Mode Enter Acknowledged",
            lambda self: self.send_epr_mode("Enter Acknowledged"),
        ),
        "send_enter_succeeded": ("send EPR_Mode Enter Succeeded", lambda self: self.send_epr_mode("Enter Succeeded")),
        "send_enter_failed": ("send EPR_Mode Enter Failed with its cause", _send_enter_failed),
        "accept_soft_reset": ("MessageIDs to zero; send Accept", _accept_soft_reset),
        "send_hard_reset": (Port.actions["send_hard_reset"][0], _send_reset),
        "drop_supply": ("no contract; VBUS down to vSafe0V within tSafe0V", _drop_supply),
        "rest": ("VBUS stays off", unseen),
        "raise_supply": ("VBUS up to vSafe5V within tSrcTurnOn", _raise_supply),
        "give_up": ("5 V by Type-C stays; no PD any more", _give_up),
    }
    guards: ClassVar[Mapping[str, tuple[str, Callable[[SourcePort], bool]]]] = {
        **Port.guards,
        "asks_cable": (
            "something on offer depends on the cable, which is not fixed to the source",
            lambda self: self.asks_cable,
        ),
        "no_list_sent": ("no capabilities were sent yet", lambda self: self._lists == 0),
        "lists_left": ("CapsCounter is below nCapsCount", lambda self: self._lists < COUNTERS["nCapsCount"].value),
        "heard": ("the sink has answered PD before", lambda self: self._was_heard),
        "in_pps": (
            "the contract is of a PPS offer",
            lambda self: self.grant is not None and self.grant.offer.kind == "pps",
        ),
        "explicit_contract": ("there is a contract", lambda self: self.grant is not None),
        "mute": ("the modelled source does not answer", _mute),
        "grants": ("the request is granted", lambda self: not self._refusal),
        "skips_accept": ("the modelled source leaves Accept out", lambda self: self._skipped),
        "same_object": ("old and new voltage are of one PPS or AVS object", _same_object),
        "asked_wrong": ("not the form of request for this mode, or a copy that differs", lambda self: self._wrong),
        "told_to_wait": ("the sink was told to wait", lambda self: self._refusal == "Wait"),
        "has_to_tell": (
            "what is on offer has changed, or the sink is to go to its least current",
            lambda self: self._to_tell or self._least,
        ),
        "reset_due": ("the source is to reset", lambda self: self._reset),
        "least_wanted": ("the sink is to go to its least current", lambda self: self._least),
        "refuses_epr": ("there is a cause to refuse EPR mode", lambda self: self._outright_cause() is not None),
        "refuses_vconn": ("the source cannot supply VCONN", lambda self: self.behaviour.epr_entry == "no-vconn"),
        "cable_epr": (
            f"the cable is {EPR_MARKER_VOLTAGE.value:g} V, {EPR_MARKER_CURRENT.value:g} A and EPR Capable",
            lambda self: self.supply.cable_epr,
        ),
        "contract_spr": (
            "the contract is of an SPR offer",
            lambda self: self.grant is None or not self.grant.offer.is_epr,
        ),
    }
