"""What an audit says of answers, Accept, PS_RDY and Wait: every remark whole, on both sides of each limit."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.contract.test_audit_rules import EPR, IDENTITY, PLAIN, Talk, in_epr, started, told


def settled() -> Talk:
    return started().wait(1)


def accepted() -> Talk:
    return Talk().offer().ask(PLAIN[1], 3000).then("source", "Accept")


def in_pps() -> Talk:
    return Talk().offer().agree(PLAIN[3], 2000, 9000).wait(5)


def in_avs() -> Talk:
    return in_epr().agree(EPR[3], 5000, 20000).wait(0.1)


# What is said, and what of it.
TOLD: dict[str, tuple[Callable[[], Talk], list[tuple[str, str]]]] = {
    "two of answers": (
        lambda: (
            settled()
            .say("sink", "Get_Source_Cap")
            .then("source", "Get_Sink_Cap")
            .then("sink", "Sink_Capabilities", [PLAIN[0].word])
        ),
        [
            (
                "10 fail answer-order: source",
                "Get_Sink_Cap came where Source_Capabilities or Reject was due in answer to Get_Source_Cap",
            )
        ],
    ),
    "one answer": (
        lambda: settled().say("sink", "Get_Status").then("source", "Get_Sink_Cap"),
        [("10 fail answer-order: source", "Get_Sink_Cap came where Status was due in answer to Get_Status")],
    ),
    "asker goes on": (
        lambda: settled().say("sink", "Get_Status").then("sink", "Get_Sink_Cap"),
        [("10 fail answer-order: sink", "sends Get_Sink_Cap without waiting for the answer to Get_Status")],
    ),
    "asker after 20ms": (
        lambda: settled().say("sink", "Get_Status").wait(0.02).say("sink", "Get_PPS_Status"),
        [
            (
                "8 fail answer-missing: source 0.0197933 against 0.033 s",
                "no Status in answer to Get_Status within 19.79 ms; then came Get_PPS_Status",
            )
        ],
    ),
    "asker after 40ms": (
        lambda: (
            settled().say("sink", "Get_Status").wait(0.04).say("sink", "Get_PPS_Status").then("source", "Not_Supported")
        ),
        [
            (
                "8 fail answer-missing: source 0.0397933 against 0.033 s",
                "no Status in answer to Get_Status within 39.79 ms; then came Get_PPS_Status",
            )
        ],
    ),
    "soft in place": (
        lambda: settled().say("sink", "Get_Status").wait(0.003).soft_reset("source").then("sink", "Accept"),
        [("10 note soft-reset: source", "Soft_Reset after Get_Status of the sink")],
    ),
    "soft late": (
        lambda: settled().say("sink", "Get_Status").wait(0.03).soft_reset("sink").then("source", "Accept"),
        [
            (
                "8 fail answer-missing: source 0.0297933 against 0.033 s",
                "no Status in answer to Get_Status within 29.79 ms; then came Soft_Reset",
            ),
            ("10 note soft-reset: sink", "Soft_Reset after Get_Status of the sink"),
        ],
    ),
    "alert between": (
        lambda: settled().say("sink", "Get_Status").then("source", "Alert", [0]).then("source", "Not_Supported"),
        [],
    ),
    "stray reject": (
        lambda: settled().say("source", "Reject"),
        [("8 fail answer-stray: source", "Reject came where nothing was asked")],
    ),
    "stray wait": (
        lambda: settled().say("sink", "Wait"),
        [("8 fail answer-stray: sink", "Wait came where nothing was asked")],
    ),
    "stray first": (lambda: Talk().say("source", "Accept"), []),
    "gotomin reject": (
        lambda: settled().say("source", "GotoMin").then("sink", "Reject"),
        [("8 fail goto-min: source", "sends GotoMin, though the sink's request did not set GiveBack")],
    ),
    "gotomin ns": (
        lambda: settled().say("source", "GotoMin").then("sink", "Not_Supported"),
        [("8 fail goto-min: source", "sends GotoMin, though the sink's request did not set GiveBack")],
    ),
    "gotomin ready late": (
        lambda: settled().say("source", "GotoMin").wait(0.4).say("source", "PS_RDY"),
        [
            ("8 fail goto-min: source", "sends GotoMin, though the sink's request did not set GiveBack"),
            (
                "10 fail ready-late: source 0.3997933 against 0.325 s",
                "PS_RDY came 399.8 ms or more after GotoMin (tSrcTransReq)",
            ),
        ],
    ),
    "gotomin no ready": (
        lambda: (
            settled().say("source", "GotoMin").wait(0.6).say("source", "Get_Sink_Cap").then("sink", "Not_Supported")
        ),
        [
            (
                "8 fail ready-missing: source 0.5997933 against 0.325 s",
                "no PS_RDY after GotoMin; then came Get_Sink_Cap",
            ),
            ("8 fail goto-min: source", "sends GotoMin, though the sink's request did not set GiveBack"),
        ],
    ),
    "not supported late": (
        lambda: settled().say("sink", "Get_Status").wait(0.02).say("source", "Not_Supported"),
        [
            (
                "10 fail answer-late: source 0.0197933 against 0.015 s",
                "Not_Supported came 19.79 ms or more after Get_Status",
            )
        ],
    ),
    "pps large": (
        lambda: in_pps().ask(PLAIN[3], 2000, 12000).grant(0.3),
        [
            (
                "12 warn ready-late: source 0.2997933 against 0.275 s",
                "PS_RDY came 299.8 ms or more after Accept (tPpsSrcTransLarge)",
            )
        ],
    ),
    "pps large far": (
        lambda: in_pps().ask(PLAIN[3], 2000, 12000).grant(0.4),
        [
            (
                "12 fail ready-late: source 0.3997933 against 0.275 s",
                "PS_RDY came 399.8 ms or more after Accept (tPpsSrcTransLarge)",
            )
        ],
    ),
    "pps 500": (
        lambda: in_pps().ask(PLAIN[3], 2000, 9500).grant(0.03),
        [
            (
                "12 warn ready-late: source 0.0297933 against 0.025 s",
                "PS_RDY came 29.79 ms or more after Accept (tPpsSrcTransSmall)",
            )
        ],
    ),
    "pps 520": (lambda: in_pps().ask(PLAIN[3], 2000, 9520).grant(0.03), []),
    "pps down 500": (
        lambda: in_pps().ask(PLAIN[3], 2000, 8500).grant(0.03),
        [
            (
                "12 warn ready-late: source 0.0297933 against 0.025 s",
                "PS_RDY came 29.79 ms or more after Accept (tPpsSrcTransSmall)",
            )
        ],
    ),
    "avs small": (
        lambda: in_avs().ask(EPR[3], 5000, 21000).grant(0.06),
        [
            (
                "40 warn ready-late: source 0.0597933 against 0.05 s",
                "PS_RDY came 59.79 ms or more after Accept (tAvsSrcTransSmall)",
            )
        ],
    ),
    "avs 1.1": (lambda: in_avs().ask(EPR[3], 5000, 21100).grant(0.06), []),
    "avs large": (
        lambda: in_avs().ask(EPR[3], 5000, 27000).grant(0.75),
        [
            (
                "40 warn ready-late: source 0.7497933 against 0.7 s",
                "PS_RDY came 749.8 ms or more after Accept (tAvsSrcTransLarge)",
            )
        ],
    ),
    "epr ready 0.7": (lambda: in_epr().wait(0.1).ask(EPR[1], 5000).grant(0.7), []),
    "epr ready 0.8": (
        lambda: in_epr().wait(0.1).ask(EPR[1], 5000).grant(0.8),
        [
            (
                "34 fail ready-late: source 0.7997943 against 0.76 s",
                "PS_RDY came 799.8 ms or more after Accept (tSrcTransReq EPR)",
            )
        ],
    ),
    "early same voltage": (lambda: settled().ask(PLAIN[2], 2000).grant(0.005), []),
    "early first at 5 V": (lambda: Talk().offer().ask(PLAIN[0], 2000).grant(0.005), []),
    "early pps": (lambda: in_pps().ask(PLAIN[3], 2000, 9100).grant(0.005), []),
    "early fixed to pps": (
        lambda: settled().ask(PLAIN[3], 2000, 9000).grant(0.005),
        [
            (
                "12 warn ready-early: source 0.006094 against 0.025 s",
                "PS_RDY came 6.094 ms or less after Accept, with the voltage to be moved in between",
            )
        ],
    ),
    "ready sink soft": (
        lambda: accepted().wait(0.7).soft_reset("sink").then("source", "Accept"),
        [
            ("4 fail ready-missing: source 0.6997943 against 0.325 s", "no PS_RDY after Accept; then came Soft_Reset"),
            ("6 note soft-reset: sink", "Soft_Reset after Accept of the source"),
        ],
    ),
    "ready sink soon soft": (
        lambda: accepted().wait(0.1).soft_reset("sink").then("source", "Accept"),
        [("6 note soft-reset: sink", "Soft_Reset after Accept of the source")],
    ),
    "ready source other": (
        lambda: accepted().then("source", "Get_Sink_Cap").then("sink", "Not_Supported"),
        [("4 fail ready-missing: source 0.0027943 against 0.325 s", "no PS_RDY after Accept; then came Get_Sink_Cap")],
    ),
    "ready then accept": (
        lambda: accepted().then("source", "Accept"),
        [("6 fail answer-stray: source", "Accept came where nothing was asked")],
    ),
    "ready epr hard": (
        lambda: in_epr().wait(0.1).ask(EPR[1], 5000).then("source", "Accept").wait(0.6).reset(),
        [("34 fail hard-reset: line", "Hard Reset 601.1 ms after Accept of the source; 28 V 5 A was lost")],
    ),
    "ready epr hard2": (
        lambda: in_epr().wait(0.1).ask(EPR[1], 5000).then("source", "Accept").wait(0.9).reset(),
        [
            ("32 fail ready-missing: source 0.8997943 against 0.76 s", "no PS_RDY after Accept; then came Hard_Reset"),
            (
                "34 note hard-reset: line",
                "Hard Reset 901.1 ms after Accept of the source; 28 V 5 A was lost; follows from ready-missing",
            ),
        ],
    ),
    "ready plug between": (
        lambda: accepted().then("port", "Vendor_Defined", [IDENTITY], sop="SOP'").wait(0.1).say("source", "PS_RDY"),
        [("6 fail vdm-missing: cable", "no answer to Discover Identity; then came PS_RDY")],
    ),
    "ready stray first": (lambda: Talk().say("source", "PS_RDY"), []),
    "ready stray sink": (
        lambda: settled().say("sink", "PS_RDY"),
        [("8 fail ready-stray: sink", "PS_RDY came where nothing was accepted")],
    ),
    "wait 90": (
        lambda: Talk().offer().ask(PLAIN[2], 3000).then("source", "Wait").wait(0.09).agree(),
        [("6 fail wait-short: sink 0.094095 against 0.1 s", "Request came 94.09 ms or less after Wait")],
    ),
    "wait epr": (
        lambda: in_epr().wait(0.1).ask(EPR[1], 5000).then("source", "Wait").wait(0.03).ask(EPR[1], 5000).grant(),
        [("34 fail wait-short: sink 0.034095 against 0.1 s", "EPR_Request came 34.09 ms or less after Wait")],
    ),
    "reject soon": (lambda: Talk().offer().ask(PLAIN[2], 3000).then("source", "Reject").wait(0.01).agree(), []),
}


@pytest.mark.parametrize("name", TOLD)
def test_remarks_are_whole(name: str) -> None:
    make, expected = TOLD[name]
    assert told(make()) == expected
