"""The sink's states: the standard's policy engine for a sink, for the parts that a trigger uses."""

from __future__ import annotations

from pdcheck.contract.talk.policy import ANY, AT_ONCE, SENT, TIMEOUT, Arrow, Policy, State, TimerUse

_WAIT = "PE_SNK_Wait_for_Capabilities"
_EVALUATE = "PE_SNK_Evaluate_Capability"
_SELECT = "PE_SNK_Select_Capability"
_TRANSITION = "PE_SNK_Transition_Sink"
_READY = "PE_SNK_Ready"
_ENTER = "PE_SNK_Send_EPR_Mode_Entry"
_ENTERING = "PE_SNK_EPR_Mode_Wait_For_Response"
_ALIVE = "PE_SNK_EPR_Keep_Alive"
_EXIT = "PE_SNK_Send_EPR_Mode_Exit"
_NOT_SUPPORTED = "PE_SNK_Send_Not_Supported"
_SOFT = "PE_SNK_Send_Soft_Reset"
_HARD = "PE_SNK_Hard_Reset"
_DEFAULT = "PE_SNK_Transition_to_default"

_ANSWER = TimerUse("tSenderResponse", after=SENT)
_NO_ANSWER = TIMEOUT + "tSenderResponse"

SINK = Policy(
    (
        State("PE_SNK_Startup", ("reset_protocol",)),
        State("PE_SNK_Discovery", ("look_at_vbus",)),
        State(_WAIT, (), (TimerUse("tTypeCSinkWaitCap"),)),
        State(_EVALUATE, ("evaluate",)),
        State(_SELECT, ("send_request",), (_ANSWER,)),
        State(_TRANSITION, ("go_to_standby",), (TimerUse("tPSTransition"),)),
        State(
            _READY,
            (),
            (
                TimerUse("tSinkTx", "wants_more and not told_to_wait"),
                TimerUse("tSinkTx", after="wait_for_turn"),
                TimerUse("tSinkRequest", "told_to_wait"),
                TimerUse("tPPSRequest", "in_pps"),
                TimerUse("tSinkEPRKeepAlive", "keeps_alive"),
            ),
        ),
        State(_ENTER, ("send_epr_enter",), (_ANSWER, TimerUse("tEnterEPR"))),
        State(_ENTERING, (), (TimerUse("tEnterEPR"),)),
        State(_ALIVE, ("send_keep_alive",), (_ANSWER,)),
        State(_EXIT, ("send_epr_exit",)),
        State(_NOT_SUPPORTED, ("send_not_supported",)),
        State(_SOFT, ("send_soft_reset",), (_ANSWER,)),
        State(_HARD, ("send_hard_reset",)),
        State(_DEFAULT, ("to_default",), (TimerUse("tSafe0V"),)),
    ),
    (
        Arrow("PE_SNK_Startup", AT_ONCE, "PE_SNK_Discovery"),
        Arrow("PE_SNK_Discovery", "VBUS present", _WAIT),
        # capabilities and request
        Arrow(_WAIT, "Source_Capabilities", _EVALUATE, "not in_epr"),
        Arrow(_WAIT, "EPR_Source_Capabilities", _EVALUATE, "in_epr"),
        Arrow(_WAIT, TIMEOUT + "tTypeCSinkWaitCap", _HARD, "hard_resets_left"),
        Arrow(_WAIT, TIMEOUT + "tTypeCSinkWaitCap", "", "not hard_resets_left", ("give_up",)),
        Arrow(_EVALUATE, AT_ONCE, _HARD, "list_broken"),
        Arrow(_EVALUATE, AT_ONCE, _SELECT, "can_ask"),
        Arrow(_SELECT, "Accept", _TRANSITION),
        Arrow(_SELECT, "Wait", _READY, "explicit_contract", ("remember_wait",)),
        Arrow(_SELECT, "Wait", _WAIT, "not explicit_contract"),
        Arrow(_SELECT, "Reject", _READY, "explicit_contract", ("remember_reject",)),
        Arrow(_SELECT, "Reject", _WAIT, "not explicit_contract"),
        Arrow(_SELECT, "PS_RDY", _SOFT),
        Arrow(_SELECT, _NO_ANSWER, _HARD),
        Arrow(_SELECT, "unsent", _SOFT),
        Arrow(_TRANSITION, "PS_RDY", _READY, "", ("take_contract",)),
        Arrow(_TRANSITION, TIMEOUT + "tPSTransition", _HARD),
        # with a contract
        Arrow(_READY, "Source_Capabilities", _EVALUATE, "not in_epr"),
        Arrow(_READY, "EPR_Source_Capabilities", _EVALUATE, "in_epr"),
        Arrow(_READY, TIMEOUT + "tSinkRequest", _SELECT),
        Arrow(_READY, TIMEOUT + "tPPSRequest", _SELECT),
        Arrow(_READY, "setting changed", "", "", ("wait_for_turn",)),
        Arrow(_READY, TIMEOUT + "tSinkTx", _ENTER, "wants_epr"),
        Arrow(_READY, TIMEOUT + "tSinkTx", _EXIT, "wants_out"),
        Arrow(_READY, TIMEOUT + "tSinkTx", _SELECT, "wants_more"),
        Arrow(_READY, "GotoMin", _TRANSITION, "gives_back", ("take_least",)),
        Arrow(_READY, "GotoMin", _NOT_SUPPORTED, "not gives_back"),
        Arrow(_NOT_SUPPORTED, SENT, _READY),
        # EPR mode
        Arrow(_ENTER, "EPR_Mode Enter Acknowledged", _ENTERING),
        Arrow(_ENTER, "EPR_Mode Enter Failed", _READY, "", ("remember_refusal",)),
        Arrow(_ENTER, _NO_ANSWER, _SOFT),
        Arrow(_ENTER, "unsent", _SOFT),
        Arrow(_ENTER, TIMEOUT + "tEnterEPR", _SOFT),
        Arrow(_ENTERING, "EPR_Mode Enter Succeeded", _WAIT, "", ("enter_epr",)),
        Arrow(_ENTERING, "EPR_Mode Enter Failed", _READY, "", ("remember_refusal",)),
        Arrow(_ENTERING, TIMEOUT + "tEnterEPR", _SOFT),
        Arrow(_READY, TIMEOUT + "tSinkEPRKeepAlive", _ALIVE),
        Arrow(_ALIVE, "EPR_KeepAlive_Ack", _READY),
        Arrow(_ALIVE, _NO_ANSWER, _HARD),
        Arrow(_ALIVE, "unsent", _SOFT),
        Arrow(_EXIT, SENT, _WAIT, "", ("leave_epr",)),
        # resets
        Arrow(_SOFT, "Accept", _WAIT),
        Arrow(_SOFT, _NO_ANSWER, _HARD),
        Arrow(_SOFT, "unsent", _HARD),
        Arrow(_HARD, "Hard Reset sent", _DEFAULT),
        Arrow(ANY, "Hard_Reset", _DEFAULT),
        Arrow(_DEFAULT, "VBUS gone", "PE_SNK_Startup"),
        Arrow(_DEFAULT, TIMEOUT + "tSafe0V", "PE_SNK_Startup"),
    ),
)
