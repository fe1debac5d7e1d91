"""What an audit says of MessageIDs, GoodCRCs and retries: every remark whole, on both sides of each limit."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.contract.test_audit_rules import IDENTITY, Talk, started, told


def settled() -> Talk:
    return started().wait(1)


def wrapped(times: int) -> Talk:
    talk = settled()
    for _ in range(times):
        talk.wait(0.1).say("sink", "Get_Status").then("source", "Not_Supported")
    return talk


# What is said, and what of it.
TOLD: dict[str, tuple[Callable[[], Talk], list[tuple[str, str]]]] = {
    "id after reset": (
        lambda: settled().reset().wait(1).say("source", "Get_Sink_Cap", id=2),
        [
            ("8 fail hard-reset: line", "Hard Reset 1.001 s after PS_RDY of the source; 15 V 3 A was lost"),
            ("9 fail message-id: source 2 against 0 1", "Get_Sink_Cap has MessageID 2, where 0 was due after a reset"),
        ],
    ),
    "id soft": (
        lambda: settled().say("sink", "Soft_Reset", id=3),
        [
            ("8 fail message-id: sink 3 against 0 1", "Soft_Reset has MessageID 3, where 0 was due after a reset"),
            ("8 note soft-reset: sink", "Soft_Reset after PS_RDY of the source"),
        ],
    ),
    "id cable": (
        lambda: Talk().cable().say("port", "Vendor_Defined", [IDENTITY], sop="SOP'", id=4),
        [
            (
                "4 fail message-id: port 4 against 1 1",
                "Vendor_Defined has MessageID 4, where 1 was due after MessageID 0",
            )
        ],
    ),
    "id wraps": (lambda: wrapped(9), []),
    "id after seven": (
        lambda: wrapped(7).wait(0.1).say("sink", "Get_PPS_Status", id=2),
        [
            (
                "36 fail message-id: sink 2 against 0 1",
                "Get_PPS_Status has MessageID 2, where 0 was due after MessageID 7",
            )
        ],
    ),
    "id no crc": (
        lambda: Talk(good_crc=False).offer().agree().wait(1).say("sink", "Get_Status", id=0),
        [("4 fail message-id: sink 0 against 1 1", "Get_Status has MessageID 0, where 1 was due after MessageID 0")],
    ),
    "id same unacked": (
        lambda: settled().say("sink", "Get_Status", acked=False).wait(0.02).say("sink", "Get_PPS_Status", id=1),
        [
            ("8 fail goodcrc-missing: source", "no GoodCRC for Get_Status, and it was not sent again"),
            (
                "8 fail answer-missing: source 0.0191973 against 0.033 s",
                "no Status in answer to Get_Status within 19.2 ms; then came Get_PPS_Status",
            ),
        ],
    ),
    "retry r2": (
        lambda: (
            Talk(revision="2.0")
            .offer()
            .agree()
            .wait(1)
            .then("source", "Get_Sink_Cap", tries=5)
            .then("sink", "Not_Supported")
        ),
        [
            ("9 note retry: source", "Get_Sink_Cap was sent again with the same MessageID"),
            (
                "12 fail retries: source 4 against 3 1",
                "Get_Sink_Cap was sent again 4 times and more, where 3 are allowed",
            ),
            (
                "14 fail word: sink",
                "Not_Supported: the standard has no such message in Revision 2.0; there Reject says so",
            ),
        ],
    ),
    "retry r2 four": (
        lambda: (
            Talk(revision="2.0")
            .offer()
            .agree()
            .wait(1)
            .then("source", "Get_Sink_Cap", tries=4)
            .then("sink", "Not_Supported")
        ),
        [
            ("9 note retry: source", "Get_Sink_Cap was sent again with the same MessageID"),
            (
                "13 fail word: sink",
                "Not_Supported: the standard has no such message in Revision 2.0; there Reject says so",
            ),
        ],
    ),
    "retry three": (
        lambda: settled().then("source", "Get_Sink_Cap", tries=3).then("sink", "Not_Supported"),
        [("9 note retry: source", "Get_Sink_Cap was sent again with the same MessageID")],
    ),
    "retry four": (
        lambda: settled().then("source", "Get_Sink_Cap", tries=4).then("sink", "Not_Supported"),
        [
            ("9 note retry: source", "Get_Sink_Cap was sent again with the same MessageID"),
            (
                "11 fail retries: source 3 against 2 1",
                "Get_Sink_Cap was sent again 3 times and more, where 2 are allowed",
            ),
        ],
    ),
    "retry six": (
        lambda: settled().then("source", "Get_Sink_Cap", tries=6).then("sink", "Not_Supported"),
        [
            ("9 note retry: source", "Get_Sink_Cap was sent again with the same MessageID"),
            (
                "11 fail retries: source 3 against 2 1",
                "Get_Sink_Cap was sent again 3 times and more, where 2 are allowed",
            ),
        ],
    ),
    "retry plug": (
        lambda: (
            Talk()
            .say("port", "Vendor_Defined", [IDENTITY], sop="SOP'")
            .wait(0.002)
            .say("plug", "Vendor_Defined", [0xFF00A081], sop="SOP'", tries=2)
            .wait(0.05)
            .offer()
        ),
        [
            ("3 note retry: cable", "Vendor_Defined was sent again with the same MessageID"),
            (
                "3 fail retries: cable 1 against 0 1",
                "Vendor_Defined was sent again 1 times and more, where 0 are allowed",
            ),
        ],
    ),
    "crc plug missing": (
        lambda: (
            Talk()
            .say("port", "Vendor_Defined", [IDENTITY], sop="SOP'")
            .wait(0.002)
            .say("plug", "Vendor_Defined", [0xFF00A081], sop="SOP'", acked=False)
            .wait(0.05)
            .offer()
            .agree()
        ),
        [("2 fail goodcrc-missing: port", "no GoodCRC for Vendor_Defined, and it was not sent again")],
    ),
    "crc port missing": (
        lambda: Talk().say("port", "Vendor_Defined", [IDENTITY], sop="SOP'", acked=False).wait(0.05).offer().agree(),
        [],
    ),
    "crc sop": (
        lambda: settled().say("source", "Get_Sink_Cap", acked=False).wait(0.0001).ack("sink", 3, "SOP'"),
        [("9 fail goodcrc-wrong: port", "a GoodCRC on SOP' where no message waits for one")],
    ),
    "late on": (lambda: settled().then("source", "Get_Sink_Cap", ack_after=0.000250).then("sink", "Not_Supported"), []),
    "late over": (
        lambda: settled().then("source", "Get_Sink_Cap", ack_after=0.000252).then("sink", "Not_Supported"),
        [
            (
                "9 warn goodcrc-late: sink 0.0001961 against 0.000195 s",
                "the GoodCRC began 196.1 µs or more after the message",
            )
        ],
    ),
}


@pytest.mark.parametrize("name", TOLD)
def test_remarks_are_whole(name: str) -> None:
    make, expected = TOLD[name]
    assert told(make()) == expected
