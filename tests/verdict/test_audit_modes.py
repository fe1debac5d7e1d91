"""What an audit says of EPR mode, PPS, resets and changed offers: every remark whole, on both sides of each limit."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.contract.test_audit_rules import EPR, IDENTITY, PLAIN, Talk, before_epr, in_epr, started, told

ENTER, ACKNOWLEDGED, SUCCEEDED, EXIT = 0x018C0000, 0x02000000, 0x03000000, 0x05000000


def failed(cause: int) -> int:
    return 0x04000000 | cause << 16


def mode(talk: Talk, who: str, word: int) -> Talk:
    return talk.wait(0.01).say(who, "EPR_Mode", [word])


def entering() -> Talk:
    return mode(before_epr(), "sink", ENTER)


def acknowledged() -> Talk:
    return mode(entering(), "source", ACKNOWLEDGED)


# What is said, and what of it.
TOLD: dict[str, tuple[Callable[[], Talk], list[tuple[str, str]]]] = {
    "enter from source": (
        lambda: mode(before_epr(), "source", ENTER),
        [("12 fail epr-order: source", "EPR_Mode Enter comes from the source")],
    ),
    "enter in epr": (
        lambda: mode(in_epr(), "sink", ENTER),
        [("30 fail epr-order: sink", "EPR_Mode Enter in EPR mode")],
    ),
    "refused good": (
        lambda: mode(mode(entering(), "source", failed(1)), "sink", ENTER),
        [
            ("14 note epr-refused: source", "EPR mode was refused: cable not EPR capable"),
            ("16 fail epr-order: sink", "EPR_Mode Enter again, though it was refused for good: cable not EPR capable"),
        ],
    ),
    "refused 4": (
        lambda: mode(mode(entering(), "source", failed(4)), "sink", ENTER),
        [("14 note epr-refused: source", "EPR mode was refused: source unable to enter EPR mode now")],
    ),
    "refused 9": (
        lambda: mode(mode(entering(), "source", failed(9)), "sink", ENTER),
        [
            ("14 warn word: source", "EPR_Mode Enter Failed: Data has the reserved cause 9"),
            ("14 note epr-refused: source", "EPR mode was refused: a reserved cause"),
        ],
    ),
    "refused 0": (
        lambda: mode(entering(), "source", failed(0)),
        [("14 note epr-refused: source", "EPR mode was refused: unknown cause")],
    ),
    "ack sink": (
        lambda: mode(entering(), "sink", ACKNOWLEDGED),
        [("14 fail epr-order: sink", "EPR_Mode Enter Acknowledged comes from the sink")],
    ),
    "done sink": (
        lambda: mode(acknowledged(), "sink", SUCCEEDED),
        [("16 fail epr-order: sink", "EPR_Mode Enter Succeeded comes from the sink")],
    ),
    "failed unasked": (
        lambda: mode(before_epr(), "source", failed(2)),
        [
            ("12 fail epr-order: source", "EPR_Mode Enter Failed without EPR_Mode Enter"),
            ("12 note epr-refused: source", "EPR mode was refused: source failed to become VCONN source"),
        ],
    ),
    "ack unasked": (
        lambda: mode(before_epr(), "source", ACKNOWLEDGED),
        [("12 fail epr-order: source", "EPR_Mode Enter Acknowledged without EPR_Mode Enter")],
    ),
    "ack twice": (
        lambda: mode(acknowledged(), "source", ACKNOWLEDGED),
        [("16 fail epr-order: source", "EPR_Mode Enter Acknowledged for the second time")],
    ),
    "begun": (lambda: mode(Talk(), "source", SUCCEEDED), []),
    "amid": (
        lambda: acknowledged().then("source", "Get_Sink_Cap"),
        [("16 fail epr-order: source", "Get_Sink_Cap amid the entry into EPR mode")],
    ),
    "amid vconn": (
        lambda: (
            acknowledged()
            .then("source", "VCONN_Swap")
            .then("sink", "Accept")
            .then("source", "PS_RDY")
            .then("source", "EPR_Mode", [SUCCEEDED])
        ),
        [],
    ),
    "exit spr": (lambda: mode(before_epr().enter().epr_list().agree(EPR[1], 5000), "sink", EXIT), []),
    "exit none": (
        lambda: mode(Talk().offer(), "sink", EXIT),
        [("2 fail epr-order: sink", "EPR_Mode Exit outside EPR mode")],
    ),
    "no entry end soft": (
        lambda: acknowledged().wait(0.7).soft_reset("sink"),
        [
            (
                "16 fail epr-late: source 0.7110051 against 0.55 s",
                "the entry into EPR mode was acknowledged and never came to an end; then came Soft_Reset",
            ),
            ("16 note soft-reset: sink", "Soft_Reset after EPR_Mode Enter Acknowledged of the source"),
        ],
    ),
    "no entry end hard": (
        lambda: acknowledged().wait(0.7).reset(),
        [
            (
                "16 fail epr-late: source 0.7110051 against 0.55 s",
                "the entry into EPR mode was acknowledged and never came to an end; then came Hard_Reset",
            ),
            (
                "16 note hard-reset: line",
                "Hard Reset 701.2 ms after EPR_Mode Enter Acknowledged of the source; "
                "20 V 5 A was lost; follows from epr-late",
            ),
        ],
    ),
    "early hard": (
        lambda: acknowledged().wait(0.3).reset(),
        [
            (
                "16 fail hard-reset: line",
                "Hard Reset 301.2 ms after EPR_Mode Enter Acknowledged of the source; 20 V 5 A was lost",
            )
        ],
    ),
    "failed late": (
        lambda: mode(acknowledged().wait(0.7), "source", failed(3)),
        [
            (
                "16 fail epr-late: source 0.7210051 against 0.55 s",
                "EPR_Mode Enter Failed came 721 ms or more after EPR_Mode Enter",
            ),
            ("16 note epr-refused: source", "EPR mode was refused: EPR Capable bit not set in the request"),
        ],
    ),
    "unmarked": (
        lambda: (
            Talk()
            .say("port", "Vendor_Defined", [IDENTITY], sop="SOP'", acked=False)
            .wait(0.05)
            .offer([EPR[0], EPR[1]])
            .agree(EPR[1], 3000)
            .enter()
            .epr_list()
            .agree(EPR[1], 3000)
        ),
        [
            (
                "1 fail offer-cable: source 5.0 against 3.0 A",
                "offers 5 A with a cable that did not answer when it was asked for its identity",
            ),
            (
                "13 fail epr-unfit: source",
                "EPR mode is entered though the cable did not answer when it was asked for its identity",
            ),
        ],
    ),
    "incapable": (
        lambda: (
            Talk()
            .cable()
            .offer([EPR[0], EPR[1]])
            .wait(0.003)
            .say("sink", "Request", [2 << 28 | 300 << 10 | 300])
            .grant()
            .enter()
            .epr_list()
            .agree(EPR[2], 5000)
        ),
        [("16 fail epr-unfit: source", "EPR mode is entered though EPR Capable was not set in the request")],
    ),
    "changed same": (
        lambda: started().wait(5).offer(PLAIN[:3]).agree(),
        [
            (
                "8 note offer-changed: source",
                "the source changed its offer: no more pps 3.3..16 V 3 A; the sink asked for the same again",
            )
        ],
    ),
    "changed more": (
        lambda: Talk().offer(PLAIN[:1]).agree(PLAIN[0]).wait(5).offer(PLAIN[:2]).agree(PLAIN[1]),
        [
            (
                "8 note offer-changed: source",
                "the source changed its offer: now 9 V 3 A; the sink went from 5 V 3 A to 9 V 3 A",
            )
        ],
    ),
    "changed none": (
        lambda: started().wait(5).offer(PLAIN[:2]),
        [
            (
                "8 note offer-changed: source",
                "the source changed its offer: no more 15 V 3 A, pps 3.3..16 V 3 A; "
                "the sink came to no new contract in this log",
            )
        ],
    ),
    "changed hard": (
        lambda: started().wait(5).offer(PLAIN[:2]).wait(0.002).reset(),
        [
            (
                "8 note offer-changed: source",
                "the source changed its offer: no more 15 V 3 A, pps 3.3..16 V 3 A; then came a Hard Reset",
            ),
            (
                "10 fail hard-reset: line",
                "Hard Reset 3.361 ms after Source_Capabilities of the source; 15 V 3 A was lost",
            ),
        ],
    ),
    "changed twice": (
        lambda: started().wait(5).offer(PLAIN[:3]).wait(0.005).offer(PLAIN[:2]).agree(PLAIN[1]),
        [
            (
                "8 note offer-changed: source",
                "the source changed its offer: no more pps 3.3..16 V 3 A; the sink came to no new contract in this log",
            ),
            (
                "10 fail answer-order: source",
                "sends Source_Capabilities without waiting for the answer to Source_Capabilities",
            ),
            (
                "10 note offer-changed: source",
                "the source changed its offer: no more 15 V 3 A; the sink went from 15 V 3 A to 9 V 3 A",
            ),
        ],
    ),
    "changed back": (lambda: started().wait(5).offer(PLAIN).agree(), []),
    "soft first": (lambda: Talk().say("sink", "Soft_Reset"), [("0 note soft-reset: sink", "Soft_Reset")]),
    "pps hard": (
        lambda: (
            Talk()
            .offer()
            .agree(PLAIN[3], 2000, 9000)
            .wait(12)
            .say("sink", "Get_Status")
            .then("source", "Not_Supported")
            .wait(1)
            .reset()
        ),
        [
            ("12 fail pps-silent: sink 13.0048321 against 10.0 s", "no Request for 13 s in a PPS contract"),
            (
                "12 note hard-reset: line",
                "Hard Reset 1.001 s after Not_Supported of the source; pps 9 V 2 A was lost; follows from pps-silent",
            ),
        ],
    ),
    "pps end": (
        lambda: Talk().offer().agree(PLAIN[3], 2000, 9000).wait(12).say("sink", "Get_Status"),
        [("9 fail pps-silent: sink 12.0002421 against 10.0 s", "no Request for 12 s in a PPS contract")],
    ),
    "pps thrice": (
        lambda: (
            Talk()
            .offer()
            .agree(PLAIN[3], 2000, 9000)
            .wait(12)
            .ask(PLAIN[3], 2000, 9000)
            .grant(0.01)
            .wait(11)
            .ask(PLAIN[3], 2000, 9000)
            .grant(0.01)
        ),
        [
            ("8 fail pps-silent: sink 12.0026451 against 10.0 s", "no Request for 12 s in a PPS contract"),
            ("14 fail pps-silent: sink 11.0026451 against 10.0 s", "no Request for 11 s in a PPS contract"),
        ],
    ),
    "epr wait": (lambda: in_epr().ask(EPR[2], 4000).then("source", "Accept").wait(0.6).say("source", "PS_RDY"), []),
    "reset no time": (
        lambda: started().wait(1).reset(),
        [("8 fail hard-reset: line", "Hard Reset 1.001 s after PS_RDY of the source; 15 V 3 A was lost")],
    ),
}


@pytest.mark.parametrize("name", TOLD)
def test_remarks_are_whole(name: str) -> None:
    make, expected = TOLD[name]
    assert told(make()) == expected
