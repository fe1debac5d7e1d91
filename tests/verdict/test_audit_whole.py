"""The audit as a whole: its rules, what is left of a list, the cable it was seen over, lost packets in their place."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.bits.offers import Offer, battery, epr_avs, fixed, pps, spr_avs, variable
from pdcheck.contract.following.state import Asked, State
from pdcheck.facts.timing import timer
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.sniff import read_input
from pdcheck.verdict.audit.auditing import AuditResult, Listed, captured_over
from pdcheck.verdict.audit.request import carried_ma
from pdcheck.verdict.audit.rule import at_least_s, at_most_s, duration_text, later_than, sooner_than
from pdcheck.verdict.audit.words import agreed_text, offer_text
from tests.contract.audited import audit
from tests.contract.test_audit_rules import (
    EPR,
    FAULTS,
    IDENTITY,
    MORE,
    PLAIN,
    STRONG,
    Talk,
    before_epr,
    in_epr,
    started,
)


def judged(talk: Talk, **more: Any) -> AuditResult:
    intake = read_input("\n".join(talk.lines) + "\n")
    return audit(intake.told, intake.resolution_s, **more)


def words(offers: tuple[Offer, ...]) -> list[int]:
    return [offer.word for offer in offers if not offer.is_gap]


def asked(offer: Offer | None, **more: Any) -> Asked:
    kept = {"voltage_mv": None, "current_ma": None, "power_mw": None, "position": 4} | more
    return Asked(number=0, time_s=0.0, reading=None, offer=offer, epr=False, mismatch=False, epr_capable=False, **kept)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("offer", "text"),
    [
        (fixed(9000, 2250), "9 V 2.25 A"),
        (variable(8000, 12000, 3000), "variable 8..12 V 3 A"),
        (battery(8000, 12000, 20000), "battery 8..12 V 20 W"),
        (pps(3300, 11000, 3000), "pps 3.3..11 V 3 A"),
        (spr_avs(3000, 2500), "spr-avs 9..20 V 3 A"),
        (epr_avs(15000, 28000, 140), "epr-avs 15..28 V 140 W"),
        (Offer(1, "odd", 0, 5000, 5000), "5 V"),
    ],
)
def test_an_offer_in_a_few_words(offer: Offer, text: str) -> None:
    assert offer_text(offer) == text


@pytest.mark.parametrize(
    ("request_made", "text"),
    [
        (asked(None), "object 4"),
        (asked(fixed(9000, 3000), voltage_mv=9000, current_ma=2500), "9 V 2.5 A"),
        (asked(pps(3300, 11000, 3000), voltage_mv=8400, current_ma=2000), "pps 8.4 V 2 A"),
        (asked(variable(8000, 12000, 3000), voltage_mv=12000, current_ma=2000), "variable 8..12 V 2 A"),
        (asked(battery(8000, 12000, 20000), voltage_mv=12000, power_mw=15500), "battery 8..12 V 15.5 W"),
        (asked(fixed(9000, 3000)), "0 V 0 W"),
    ],
)
def test_a_request_in_a_few_words(request_made: Asked, text: str) -> None:
    assert agreed_text(request_made) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.0009999, "999.9 µs"),
        (0.001, "1 ms"),
        (0.99994, "999.9 ms"),
        (1.0, "1 s"),
        (12.3456, "12.35 s"),
        (0.0, "0 µs"),
    ],
)
def test_a_time_for_people(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_the_least_and_the_most_time_between_two_messages() -> None:
    log = judged(started()).log._replace(resolution_s=1e-3)
    message = log.steps[0].message
    # 64 + 20 + (2 + 16 + 4) x 10 + 5 bits and a GoodCRC of 64 + 20 + 60 + 5 at 270 kbit/s, and tTransmit of 195 µs.
    slack = (309 + 149) / 270e3 + 195e-6 + 1e-3
    assert at_least_s(log, 1.0, message, 1.1) == round(0.1 - slack, 7)
    assert at_least_s(log, 1.0, message, 1.001) == 0.0
    assert at_most_s(log, 1.0, 1.1) == pytest.approx(0.101, abs=1e-7)
    assert at_most_s(log, 1.0, 1.0) == 1e-3
    for since, until in ((None, 1.0), (1.0, None), (1.1, 1.0)):
        assert at_least_s(log, since, message, until) is None
        assert at_most_s(log, since, until) is None
    blind = log._replace(resolution_s=None)
    assert at_least_s(blind, 1.0, message, 1.1) is None
    assert at_most_s(blind, 1.0, 1.1) is None


def test_on_the_limit_is_neither_late_nor_soon() -> None:
    limit = timer("tSrcTransition")
    least, most = limit.require_min(), limit.require_max()
    assert [later_than(limit, time) for time in (None, most, most + 1e-9)] == [False, False, True]
    assert [sooner_than(limit, time) for time in (None, least, least - 1e-9)] == [False, False, True]


@pytest.mark.parametrize(
    ("make", "over"),
    [
        (started, None),
        (lambda: Talk().offer(STRONG), "5A"),
        (lambda: unanswered().offer(), "3A"),
        (lambda: Talk().cable(0x00082020).offer(), "3A"),
        (lambda: Talk().cable(0x00082040).offer(), "5A"),
        (lambda: Talk().cable().offer(), "EPR"),
        (lambda: Talk().offer([PLAIN[0], fixed(9000, 3000, 2), fixed(28000, 5000, 8)]), None),
        (lambda: Talk().offer([PLAIN[0], fixed(9000, 3010, 2)]), "5A"),
        (lambda: Talk().say("source", "Get_Sink_Cap"), None),
    ],
)
def test_the_cable_that_offers_were_seen_over(make: Any, over: str | None) -> None:
    assert captured_over(judged(make())) == over


def unanswered() -> Talk:
    return Talk().say("port", "Vendor_Defined", [IDENTITY], sop="SOP'", acked=False).wait(0.05)


def test_the_current_that_is_stated_comes_first() -> None:
    talk = Talk().cable(0x00082020).offer(STRONG).agree(STRONG[1], 5000)
    assert judged(talk, cable_ma=5000).remarks == ()
    assert carried_ma(judged(talk).log.end, 5000) == (5000, "stated as 5 A")
    assert carried_ma(judged(talk).log.end) == (3000, "whose marker says 3 A")
    assert carried_ma(judged(Talk().cable()).log.end) == (5000, "whose marker says 5 A")
    assert carried_ma(State()) == (3000, "whose identity is not in this log")
    assert carried_ma(State(cable_asked=True)) == (3000, "that did not answer when it was asked for its identity")
    unseen = judged(Talk().offer(STRONG).agree(STRONG[1], 5000), cable_ma=3000)
    assert [(each.finding.rule, each.finding.level, each.finding.text) for each in unseen.remarks] == [
        ("request-cable", "fail", "asks for 5 A with a cable stated as 3 A")
    ]
    offered = judged(Talk().offer(STRONG).agree(STRONG[1], 3000), cable_ma=3000)
    assert [(each.finding.rule, each.finding.text) for each in offered.remarks] == [
        ("offer-cable", "offers 5 A with a cable stated as 3 A")
    ]


def test_the_last_list_with_its_epr_objects() -> None:
    whole = [offer.word for offer in EPR]
    assert words(judged(in_epr()).offers) == whole
    # The same SPR objects again, with other flags in the first: the EPR objects stand.
    again = before_epr().epr_list().wait(0.1).offer([fixed(5000, 3000, 1), EPR[1]])
    assert words(judged(again).offers) == whole
    other = before_epr().epr_list().wait(0.1).offer([EPR[0], fixed(20000, 3000, 2)])
    assert words(judged(other).offers) == [EPR[0].word, fixed(20000, 3000).word]
    assert words(judged(before_epr()).offers) == whole[:2]
    assert words(judged(Talk().epr_list()).offers) == whole
    # A list for EPR without any EPR object says no more than the SPR one.
    assert words(judged(Talk().epr_list(EPR[:2])).offers) == whole[:2]
    assert Listed().offers == ()


def test_lost_packets_stand_behind_the_message_before_them() -> None:
    talk = started().wait(1).say("source", "PS_RDY")
    late, middle, first = BadPacket(9.0, "no end"), BadPacket(0.25, "no preamble"), BadPacket(0.1, "noise")
    found = judged(talk, lost=[late, middle, first])
    assert [(each.number, each.time_s, each.finding.rule) for each in found.remarks] == [
        (None, 0.1, "undecoded"),
        (None, 0.25, "undecoded"),
        (8, found.log.steps[8].time_s, "ready-stray"),
        (None, 9.0, "undecoded"),
    ]
    finding = found.remarks[0].finding
    assert finding[:6] == ("undecoded", "fail", "line", None, None, "")
    assert str(finding.origin) == "PD R3.2 V1.1, Tables 5.1 to 5.17 [checked]"
    assert finding[7:] == ("a packet could not be decoded: noise", "Look at the line and the probe.")
    assert not found.works


def test_a_reset_is_explained_by_a_fault_since_the_last_one() -> None:
    def levels(talk: Talk) -> list[tuple[str, str]]:
        return [(each.finding.rule, each.finding.level) for each in judged(talk).remarks]

    silent = Talk().offer().ask(PLAIN[1], 3000).wait(0.03).reset().wait(1)
    assert levels(silent.offer().agree().wait(1).reset()) == [
        ("answer-missing", "fail"), ("hard-reset", "note"), ("hard-reset", "fail"),
    ]  # fmt: skip
    # A warning explains nothing, and neither does what comes after it.
    assert levels(Talk().offer().ask(PLAIN[1], 3000).grant(0.01).wait(1).reset()) == [
        ("ready-early", "warn"), ("hard-reset", "fail"),
    ]  # fmt: skip
    assert levels(started().wait(1).reset().wait(1).offer().agree().wait(1).say("source", "PS_RDY")) == [
        ("hard-reset", "fail"), ("ready-stray", "fail"),
    ]  # fmt: skip


def excusing(rule: str, talk: Talk) -> list[int]:
    """The messages before which a lost packet makes the audit take a fault back."""
    intake = read_input("\n".join(talk.lines) + "\n")
    times = [told.message.time_s or 0.0 for told in intake.told]
    found = []
    for number, time_s in enumerate(times):
        remarks = audit(intake.told, intake.resolution_s, [BadPacket(time_s, "noise")]).remarks
        if rule not in {each.finding.rule for each in remarks}:
            found.append(number)
    return found


# Conversation by number in FAULTS or name in MORE, rule, messages.
EXCUSED: list[tuple[int | str, str, list[int]]] = [
    (0, "message-id", [3, 4, 5, 6, 7, 8]),
    (1, "message-id", [3, 4, 5, 6, 7, 8]),
    (2, "goodcrc-missing", [9]),
    (3, "goodcrc-wrong", [8, 9]),
    (4, "goodcrc-wrong", [7, 8]),
    (5, "goodcrc-late", [9]),
    (7, "request-position", [1, 2]),
    (13, "answer-order", [3, 4]),
    (14, "answer-order", [3, 4]),
    (15, "answer-stray", [7, 8]),
    (21, "ready-missing", [5, 6]),
    (22, "ready-missing", [5, 6]),
    (23, "ready-stray", [7, 8]),
    (25, "pps-silent", [3, 4, 5, 6, 7, 8]),
    (26, "epr-silent", [29, 30]),
    ("no-answer", "answer-missing", [3, 4]),
    ("no-request", "answer-missing", [1, 2]),
    ("no-ready", "ready-missing", [5, 6]),
    ("pps-time-out", "pps-silent", [3, 4, 5, 6, 7, 8]),
    ("epr-time-out", "epr-silent", [29, 30]),
    ("epr-unasked", "epr-order", [7, 8, 9, 10, 11, 12]),
    ("epr-no-ack", "epr-order", [12, 13, 14]),
    ("epr-slow", "epr-late", [13, 14, 15, 16]),
]


@pytest.mark.parametrize(("name", "rule", "messages"), EXCUSED, ids=[f"{name}-{rule}" for name, rule, _ in EXCUSED])
def test_what_may_have_been_in_a_lost_packet_is_nobodys_fault(name: int | str, rule: str, messages: list[int]) -> None:
    make = FAULTS[name][2] if isinstance(name, int) else {each[0]: each[2] for each in MORE}[name]
    assert excusing(rule, make()) == messages


@pytest.mark.parametrize(
    "number", [number for number in range(len(FAULTS)) if number not in {row[0] for row in EXCUSED}]
)
def test_what_was_seen_whole_is_not_excused_by_one(number: int) -> None:
    assert excusing(FAULTS[number][0], FAULTS[number][2]()) == []
