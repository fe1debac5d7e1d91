"""The source's states: the standard's policy engine for a source, for the parts that a charger uses."""

from __future__ import annotations

from pdcheck.contract.talk.policy import ANY, AT_ONCE, SENT, TIMEOUT, Arrow, Policy, State, TimerUse

_STARTUP = "PE_SRC_Startup"
_IDENTITY = "PE_SRC_VDM_Identity_Request"
_ACKED = "PE_SRC_VDM_Identity_ACKed"
_NAKED = "PE_SRC_VDM_Identity_NAKed"
_DISCOVERY = "PE_SRC_Discovery"
_SEND = "PE_SRC_Send_Capabilities"
_NEGOTIATE = "PE_SRC_Negotiate_Capability"
_TRANSITION = "PE_SRC_Transition_Supply"
_READY = "PE_SRC_Ready"
_RESPONSE = "PE_SRC_Capability_Response"
_NEW = "PE_SRC_Wait_New_Capabilities"
_ALIVE = "PE_SRC_EPR_Keep_Alive"
_ENTRY = "PE_SRC_Evaluate_EPR_Mode_Entry"
_ENTRY_ACK = "PE_SRC_EPR_Mode_Entry_Ack"
_ENTRY_CABLE = "PE_SRC_EPR_Mode_Discover_Cable"
_ENTRY_JUDGE = "PE_SRC_EPR_Mode_Evaluate_Cable_EPR"
_ENTERED = "PE_SRC_EPR_Mode_Entry_Succeeded"
_REFUSED = "PE_SRC_EPR_Mode_Entry_Failed"
_EXITED = "PE_SRC_EPR_Mode_Exit_Received"
_SOFT = "PE_SRC_Soft_Reset"
_HARD = "PE_SRC_Hard_Reset"
_HARD_HEARD = "PE_SRC_Hard_Reset_Received"
_DEFAULT = "PE_SRC_Transition_to_default"
_DISABLED = "PE_SRC_Disabled"

_FIRST = TimerUse("tFirstSourceCap", "no_list_sent")
_VDM = TimerUse("tVDMSenderResponse", after=SENT)

SOURCE = Policy(
    (
        State(_STARTUP, ("reset_protocol",), (_FIRST,)),
        State(_IDENTITY, ("ask_cable",), (_FIRST, _VDM)),
        State(_ACKED, (), (_FIRST,)),
        State(_NAKED, (), (_FIRST,)),
        State(_DISCOVERY, (), (_FIRST, TimerUse("tTypeCSendSourceCap", "not no_list_sent"))),
        State(_SEND, ("send_capabilities",), (TimerUse("tSenderResponse", after=SENT),)),
        State(_NEGOTIATE, ("judge",)),
        State(_TRANSITION, ("answer",), (TimerUse("tSrcTransition", after="wait_to_move"),)),
        State(
            _READY,
            (),
            (
                TimerUse("tSinkTx", "has_to_tell"),
                TimerUse("tSinkTx", after="hold_sink_back"),
                TimerUse("tPPSTimeout", "in_pps"),
                TimerUse("tSourceEPRKeepAlive", "in_epr"),
            ),
        ),
        State(_RESPONSE, ("send_refusal",)),
        State(_NEW, (), (TimerUse("tTypeCSendSourceCap", "told_to_wait"),)),
        State(_ALIVE, ("send_keep_alive_ack",)),
        State(_ENTRY),
        State(_ENTRY_ACK, ("send_enter_acknowledged",)),
        State(_ENTRY_CABLE, ("ask_cable",), (_VDM,)),
        State(_ENTRY_JUDGE),
        State(_ENTERED, ("send_enter_succeeded",)),
        State(_REFUSED, ("send_enter_failed",)),
        State(_EXITED),
        State(_SOFT, ("accept_soft_reset",)),
        State(_HARD, ("send_hard_reset",), (TimerUse("tPSHardReset"),)),
        State(_HARD_HEARD, (), (TimerUse("tPSHardReset"),)),
        State(_DEFAULT, ("drop_supply",), (TimerUse("tSrcRecover", after="rest"),)),
        State(_DISABLED, ("give_up",)),
    ),
    (
        # cable and capabilities
        Arrow(_STARTUP, AT_ONCE, _IDENTITY, "asks_cable"),
        Arrow(_STARTUP, TIMEOUT + "tFirstSourceCap", _SEND),
        Arrow(_IDENTITY, "Discover Identity ACK", _ACKED),
        Arrow(_IDENTITY, "Discover Identity refused", _NAKED),
        Arrow(_IDENTITY, TIMEOUT + "tVDMSenderResponse", _NAKED),
        Arrow(_IDENTITY, "unsent", _NAKED),
        Arrow(_ACKED, AT_ONCE, _DISCOVERY),
        Arrow(_NAKED, AT_ONCE, _DISCOVERY),
        Arrow(_DISCOVERY, TIMEOUT + "tFirstSourceCap", _SEND),
        Arrow(_DISCOVERY, TIMEOUT + "tTypeCSendSourceCap", _SEND, "lists_left"),
        Arrow(_DISCOVERY, TIMEOUT + "tTypeCSendSourceCap", _DISABLED, "not lists_left"),
        Arrow(_SEND, "Request", _NEGOTIATE),
        Arrow(_SEND, "EPR_Request", _NEGOTIATE),
        Arrow(_SEND, "unsent", _DISCOVERY, "not heard"),
        Arrow(_SEND, "unsent", _HARD, "heard and hard_resets_left"),
        Arrow(_SEND, "unsent", _DISABLED, "heard and not hard_resets_left"),
        Arrow(_SEND, TIMEOUT + "tSenderResponse", _HARD, "hard_resets_left"),
        Arrow(_SEND, TIMEOUT + "tSenderResponse", _DISABLED, "not hard_resets_left"),
        Arrow(_SEND, "Soft_Reset", _SOFT),
        # a request
        Arrow(_NEGOTIATE, AT_ONCE, _HARD, "asked_wrong"),
        Arrow(_NEGOTIATE, AT_ONCE, "", "mute"),
        Arrow(_NEGOTIATE, AT_ONCE, _TRANSITION, "grants"),
        Arrow(_NEGOTIATE, AT_ONCE, _RESPONSE, "not grants"),
        Arrow(_TRANSITION, AT_ONCE, "", "skips_accept", ("send_ps_rdy",)),
        Arrow(_TRANSITION, SENT, "", "not same_object", ("wait_to_move",)),
        Arrow(_TRANSITION, SENT, "", "same_object", ("move_supply",)),
        Arrow(_TRANSITION, TIMEOUT + "tSrcTransition", "", "", ("move_supply",)),
        Arrow(_TRANSITION, "supply ready", "", "", ("send_ps_rdy",)),
        Arrow(_TRANSITION, "PS_RDY sent", _READY, "", ("take_contract",)),
        Arrow(_TRANSITION, "Not_Supported", _READY, "", ("forget_least",)),
        Arrow(_TRANSITION, "Reject", _READY, "", ("forget_least",)),
        Arrow(_RESPONSE, SENT, _READY, "explicit_contract"),
        Arrow(_RESPONSE, SENT, _NEW, "not explicit_contract"),
        Arrow(_NEW, TIMEOUT + "tTypeCSendSourceCap", _SEND),
        Arrow(_NEW, "offer changed", _SEND),
        # with a contract
        Arrow(_READY, "Request", _NEGOTIATE),
        Arrow(_READY, "EPR_Request", _NEGOTIATE),
        Arrow(_READY, "offer changed", "", "", ("hold_sink_back",)),
        Arrow(_READY, TIMEOUT + "tSinkTx", _TRANSITION, "least_wanted", ("ask_for_least",)),
        Arrow(_READY, TIMEOUT + "tSinkTx", _SEND),
        Arrow(_READY, AT_ONCE, _HARD, "reset_due"),
        Arrow(_READY, "reset due", _HARD),
        Arrow(_READY, "Soft_Reset", _SOFT),
        Arrow(_READY, TIMEOUT + "tPPSTimeout", _HARD),
        # EPR mode
        Arrow(_READY, "EPR_Mode Enter", _ENTRY, "not in_epr"),
        Arrow(_ENTRY, AT_ONCE, "", "mute"),
        Arrow(_ENTRY, AT_ONCE, _REFUSED, "refuses_epr"),
        Arrow(_ENTRY, AT_ONCE, _ENTRY_ACK, "not refuses_epr"),
        Arrow(_ENTRY, "Soft_Reset", _SOFT),
        Arrow(_ENTRY_ACK, SENT, _REFUSED, "refuses_vconn"),
        Arrow(_ENTRY_ACK, SENT, _ENTRY_CABLE, "asks_cable"),
        Arrow(_ENTRY_ACK, SENT, _ENTRY_JUDGE, "not asks_cable"),
        Arrow(_ENTRY_CABLE, "Discover Identity ACK", _ENTRY_JUDGE),
        Arrow(_ENTRY_CABLE, "Discover Identity refused", _ENTRY_JUDGE),
        Arrow(_ENTRY_CABLE, TIMEOUT + "tVDMSenderResponse", _ENTRY_JUDGE),
        Arrow(_ENTRY_CABLE, "unsent", _ENTRY_JUDGE),
        Arrow(_ENTRY_JUDGE, AT_ONCE, _ENTERED, "cable_epr"),
        Arrow(_ENTRY_JUDGE, AT_ONCE, _REFUSED, "not cable_epr"),
        Arrow(_ENTERED, SENT, _SEND, "", ("enter_epr",)),
        Arrow(_REFUSED, SENT, _READY),
        Arrow(_READY, "EPR_KeepAlive", _ALIVE),
        Arrow(_ALIVE, SENT, _READY),
        Arrow(_READY, TIMEOUT + "tSourceEPRKeepAlive", _HARD),
        Arrow(_READY, "EPR_Mode Exit", _EXITED),
        Arrow(_EXITED, AT_ONCE, _SEND, "contract_spr", ("leave_epr",)),
        Arrow(_EXITED, AT_ONCE, _HARD, "not contract_spr"),
        # resets
        Arrow(_SOFT, SENT, _SEND),
        Arrow(_HARD, TIMEOUT + "tPSHardReset", _DEFAULT),
        Arrow(ANY, "Hard_Reset", _HARD_HEARD),
        Arrow(_HARD_HEARD, TIMEOUT + "tPSHardReset", _DEFAULT),
        Arrow(_DEFAULT, "VBUS gone", "", "", ("rest",)),
        Arrow(_DEFAULT, TIMEOUT + "tSrcRecover", "", "", ("raise_supply",)),
        Arrow(_DEFAULT, "VBUS present", _STARTUP),
    ),
)
