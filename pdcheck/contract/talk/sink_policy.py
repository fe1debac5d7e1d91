"""The sink's states: the standard's policy engine for a sink, for the parts that a trigger uses."""

from __future__ import annotations

from pdcheck.contract.talk.policy import ANY, AT_ONCE, SENT, TIMEOUT, Arrow, Policy, State, TimerUse

_ANSWER = TimerUse("tSenderResponse", after=SENT)
_NO_ANSWER = TIMEOUT + "tSenderResponse"

SINK = Policy(
    (
        State("PE_SNK_Startup", ("reset_protocol",)),
        State("PE_SNK_Discovery", ("look_at_vbus",)),
        State("PE_SNK_Wait_for_Capabilities", (), (TimerUse("tTypeCSinkWaitCap"),)),
        State("PE_SNK_Evaluate_Capability", ("evaluate",)),
        State("PE_SNK_Select_Capability", ("send_request",), (_ANSWER,)),
        State("PE_SNK_Transition_Sink", ("go_to_standby",), (TimerUse("tPSTransition"),)),
        State(
            "PE_SNK_Ready",
            (),
            (
                TimerUse("tSinkTx", "wants_more and not told_to_wait"),
                TimerUse("tSinkTx", after="wait_for_turn"),
                TimerUse("tSinkRequest", "told_to_wait"),
                TimerUse("tPPSRequest", "in_pps"),
                TimerUse("tSinkEPRKeepAlive", "keeps_alive"),
            ),
        ),
        State("PE_SNK_Send_EPR_Mode_Entry", ("send_epr_enter",), (_ANSWER, TimerUse("tEnterEPR"))),
        State("PE_SNK_EPR_Mode_Wait_For_Response", (), (TimerUse("tEnterEPR"),)),
        State("PE_SNK_EPR_Keep_Alive", ("send_keep_alive",), (_ANSWER,)),
        State("PE_SNK_Send_EPR_Mode_Exit", ("send_epr_exit",)),
        State("PE_SNK_Send_Not_Supported", ("send_not_supported",)),
        State("PE_SNK_Send_Soft_Reset", ("send_soft_reset",), (_ANSWER,)),
        State("PE_SNK_Hard_Reset", ("send_hard_reset",)),
        State("PE_SNK_Transition_to_default", ("to_default",), (TimerUse("tSafe0V"),)),
    ),
    (
        Arrow("PE_SNK_Startup", AT_ONCE, "PE_SNK_Discovery"),
        Arrow("PE_SNK_Discovery", "VBUS present", "PE_SNK_Wait_for_Capabilities"),
        # capabilities and request
        Arrow("PE_SNK_Wait_for_Capabilities", "Source_Capabilities", "PE_SNK_Evaluate_Capability", "not in_epr"),
        Arrow("PE_SNK_Wait_for_Capabilities", "EPR_Source_Capabilities", "PE_SNK_Evaluate_Capability", "in_epr"),
        Arrow("PE_SNK_Wait_for_Capabilities", TIMEOUT + "tTypeCSinkWaitCap", "PE_SNK_Hard_Reset", "hard_resets_left"),
        Arrow("PE_SNK_Wait_for_Capabilities", TIMEOUT + "tTypeCSinkWaitCap", "", "not hard_resets_left", ("give_up",)),
        Arrow("PE_SNK_Evaluate_Capability", AT_ONCE, "PE_SNK_Hard_Reset", "list_broken"),
        Arrow("PE_SNK_Evaluate_Capability", AT_ONCE, "PE_SNK_Select_Capability", "can_ask"),
        Arrow("PE_SNK_Select_Capability", "Accept", "PE_SNK_Transition_Sink"),
        Arrow("PE_SNK_Select_Capability", "Wait", "PE_SNK_Ready", "explicit_contract", ("remember_wait",)),
        Arrow("PE_SNK_Select_Capability", "Wait", "PE_SNK_Wait_for_Capabilities", "not explicit_contract"),
        Arrow("PE_SNK_Select_Capability", "Reject", "PE_SNK_Ready", "explicit_contract", ("remember_reject",)),
        Arrow("PE_SNK_Select_Capability", "Reject", "PE_SNK_Wait_for_Capabilities", "not explicit_contract"),
        Arrow("PE_SNK_Select_Capability", "PS_RDY", "PE_SNK_Send_Soft_Reset"),
        Arrow("PE_SNK_Select_Capability", _NO_ANSWER, "PE_SNK_Hard_Reset"),
        Arrow("PE_SNK_Select_Capability", "unsent", "PE_SNK_Send_Soft_Reset"),
        Arrow("PE_SNK_Transition_Sink", "PS_RDY", "PE_SNK_Ready", "", ("take_contract",)),
        Arrow("PE_SNK_Transition_Sink", TIMEOUT + "tPSTransition", "PE_SNK_Hard_Reset"),
        # with a contract
        Arrow("PE_SNK_Ready", "Source_Capabilities", "PE_SNK_Evaluate_Capability", "not in_epr"),
        Arrow("PE_SNK_Ready", "EPR_Source_Capabilities", "PE_SNK_Evaluate_Capability", "in_epr"),
        Arrow("PE_SNK_Ready", TIMEOUT + "tSinkRequest", "PE_SNK_Select_Capability"),
        Arrow("PE_SNK_Ready", TIMEOUT + "tPPSRequest", "PE_SNK_Select_Capability"),
        Arrow("PE_SNK_Ready", "setting changed", "", "", ("wait_for_turn",)),
        Arrow("PE_SNK_Ready", TIMEOUT + "tSinkTx", "PE_SNK_Send_EPR_Mode_Entry", "wants_epr"),
        Arrow("PE_SNK_Ready", TIMEOUT + "tSinkTx", "PE_SNK_Send_EPR_Mode_Exit", "wants_out"),
        Arrow("PE_SNK_Ready", TIMEOUT + "tSinkTx", "PE_SNK_Select_Capability", "wants_more"),
        Arrow("PE_SNK_Ready", "GotoMin", "PE_SNK_Transition_Sink", "gives_back", ("take_least",)),
        Arrow("PE_SNK_Ready", "GotoMin", "PE_SNK_Send_Not_Supported", "not gives_back"),
        Arrow("PE_SNK_Send_Not_Supported", SENT, "PE_SNK_Ready"),
        # EPR mode
        Arrow("PE_SNK_Send_EPR_Mode_Entry", "EPR_Mode Enter Acknowledged", "PE_SNK_EPR_Mode_Wait_For_Response"),
        Arrow("PE_SNK_Send_EPR_Mode_Entry", "EPR_Mode Enter Failed", "PE_SNK_Ready", "", ("remember_refusal",)),
        Arrow("PE_SNK_Send_EPR_Mode_Entry", _NO_ANSWER, "PE_SNK_Send_Soft_Reset"),
        Arrow("PE_SNK_Send_EPR_Mode_Entry", "unsent", "PE_SNK_Send_Soft_Reset"),
        Arrow("PE_SNK_Send_EPR_Mode_Entry", TIMEOUT + "tEnterEPR", "PE_SNK_Send_Soft_Reset"),
        Arrow(
            "PE_SNK_EPR_Mode_Wait_For_Response",
            "EPR_Mode Enter Succeeded",
            "PE_SNK_Wait_for_Capabilities",
            "",
            ("enter_epr",),
        ),
        Arrow("PE_SNK_EPR_Mode_Wait_For_Response", "EPR_Mode Enter Failed", "PE_SNK_Ready", "", ("remember_refusal",)),
        Arrow("PE_SNK_EPR_Mode_Wait_For_Response", TIMEOUT + "tEnterEPR", "PE_SNK_Send_Soft_Reset"),
        Arrow("PE_SNK_Ready", TIMEOUT + "tSinkEPRKeepAlive", "PE_SNK_EPR_Keep_Alive"),
        Arrow("PE_SNK_EPR_Keep_Alive", "EPR_KeepAlive_Ack", "PE_SNK_Ready"),
        Arrow("PE_SNK_EPR_Keep_Alive", _NO_ANSWER, "PE_SNK_Hard_Reset"),
        Arrow("PE_SNK_EPR_Keep_Alive", "unsent", "PE_SNK_Send_Soft_Reset"),
        Arrow("PE_SNK_Send_EPR_Mode_Exit", SENT, "PE_SNK_Wait_for_Capabilities", "", ("leave_epr",)),
        # resets
        Arrow("PE_SNK_Send_Soft_Reset", "Accept", "PE_SNK_Wait_for_Capabilities"),
        Arrow("PE_SNK_Send_Soft_Reset", _NO_ANSWER, "PE_SNK_Hard_Reset"),
        Arrow("PE_SNK_Send_Soft_Reset", "unsent", "PE_SNK_Hard_Reset"),
        Arrow("PE_SNK_Hard_Reset", "Hard Reset sent", "PE_SNK_Transition_to_default"),
        Arrow(ANY, "Hard_Reset", "PE_SNK_Transition_to_default"),
        Arrow("PE_SNK_Transition_to_default", "VBUS gone", "PE_SNK_Startup"),
        Arrow("PE_SNK_Transition_to_default", TIMEOUT + "tSafe0V", "PE_SNK_Startup"),
    ),
)
