"""Every audit rule with a conversation that keeps it and one that breaks it and no other rule."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from pdcheck.bits.crc import with_crc
from pdcheck.bits.message import build_extended, build_message, make_header
from pdcheck.bits.offers import Offer, epr_avs, fixed, pps
from pdcheck.contract.asking import request_words
from pdcheck.intake.sniff import read_input
from pdcheck.verdict.audit.auditing import AUDIT_RULES, AuditResult
from pdcheck.verdict.finding import Finding
from tests.contract.audited import audit

PLAIN = [fixed(5000, 3000, 1), fixed(9000, 3000, 2), fixed(15000, 3000, 3), pps(3300, 16000, 3000, 4)]
STRONG = [fixed(5000, 3000, 1), fixed(20000, 5000, 2)]
EPR = [fixed(5000, 3000, 1), fixed(20000, 5000, 2), fixed(28000, 5000, 8), epr_avs(15000, 28000, 140, 9)]
EPR[0] = Offer.from_word(EPR[0].word | 1 << 23, 1)
IDENTITY = 0xFF00A001


class Talk:
    """Writes a hex log as two well-behaved ports would make it, GoodCRCs and all; faults are asked for."""

    def __init__(self, *, good_crc: bool = True, revision: str = "3.x") -> None:
        self.now = 0.2
        self.lines: list[str] = []
        self.ids: dict[tuple[str, str], int] = {}
        self.good_crc = good_crc
        self.revision = revision
        self.epr = False

    def wait(self, seconds: float) -> Talk:
        self.now += seconds
        return self

    def then(self, who: str, name: str, *words: Any, **options: Any) -> Talk:
        return self.wait(0.003).say(who, name, *words, **options)

    def line(self, raw: bytes, sop: str = "SOP") -> None:
        self.lines.append(f"{self.now:.6f} {sop} {raw.hex()}")
        self.now += (64 + 20 + 10 * len(raw) + 5) / 300e3

    def say(
        self,
        who: str,
        name: str,
        words: list[int] | None = None,
        *,
        sop: str = "SOP",
        id: int | None = None,
        acked: bool = True,
        ack_id: int | None = None,
        ack_after: float = 100e-6,
        tries: int = 1,
        data: bytes | None = None,
    ) -> Talk:
        """One message with its GoodCRC; a message of several chunks with the requests between."""
        key = (sop, who)
        number = self.ids.get(key, 0) if id is None else id
        first = who in ("source", "plug")
        header = make_header(
            name,
            len(words or []),
            message_id=number,
            revision=self.revision,
            source=first,
            dfp=sop == "SOP" and first,
            extended=data is not None,
        )
        raws = [build_message(header, words or [])] if data is None else build_extended(header, data, message_id=number)
        for at, raw in enumerate(raws):
            if at:
                self.wait(0.002)
                self.chunk_request("sink" if who == "source" else "source", name, at)
                self.wait(0.002)
            for turn in range(tries):
                if turn:
                    self.wait(0.0011)
                self.line(raw, sop)
            self.ids[key] = (number + at + 1) % 8
            if acked and self.good_crc:
                other = {"source": "sink", "sink": "source", "plug": "port", "port": "plug"}[who]
                self.wait(ack_after)
                self.ack(other, (number + at) % 8 if ack_id is None else ack_id, sop)
        return self

    def chunk_request(self, who: str, name: str, number: int) -> None:
        header = make_header(name, 0, message_id=self.ids.get(("SOP", who), 0), source=who == "source", extended=True)
        header |= 1 << 12
        inner = 0x8400 | number << 11
        self.line(with_crc(header.to_bytes(2, "little") + inner.to_bytes(2, "little") + bytes(2)))
        self.ids["SOP", who] = (self.ids.get(("SOP", who), 0) + 1) % 8
        if self.good_crc:
            self.wait(100e-6)
            self.ack("source" if who == "sink" else "sink", (self.ids["SOP", who] - 1) % 8, "SOP")

    def ack(self, who: str, number: int, sop: str = "SOP") -> Talk:
        header = make_header("GoodCRC", 0, message_id=number, source=who in ("source", "plug"), dfp=False)
        self.line(build_message(header), sop)
        return self

    def reset(self) -> Talk:
        self.lines.append(f"{self.now:.6f} Hard_Reset")
        self.ids.clear()
        return self

    def soft_reset(self, who: str, **options: object) -> Talk:
        self.ids.clear()
        return self.say(who, "Soft_Reset", **options)  # type: ignore[arg-type]

    def offer(self, offers: list[Offer] = PLAIN, **options: object) -> Talk:
        return self.say("source", "Source_Capabilities", [offer.word for offer in offers], **options)  # type: ignore[arg-type]

    def epr_list(self, offers: list[Offer] = EPR) -> Talk:
        placed = {offer.position: offer.word for offer in offers}
        words = [placed.get(position, 0) for position in range(1, max(placed) + 1)]
        return self.say("source", "EPR_Source_Capabilities", data=b"".join(w.to_bytes(4, "little") for w in words))

    def ask(self, offer: Offer, current_ma: int, voltage_mv: int | None = None, **options: object) -> Talk:
        words = list(request_words(offer, current_ma, voltage_mv, epr_mode=self.epr))
        words[0] |= 1 << 22  # EPR Capable
        self.wait(0.003)
        return self.say("sink", "EPR_Request" if self.epr else "Request", words, **options)  # type: ignore[arg-type]

    def grant(self, after: float = 0.1) -> Talk:
        self.then("source", "Accept")
        return self.wait(after).say("source", "PS_RDY")

    def agree(self, offer: Offer = PLAIN[2], current_ma: int = 3000, voltage_mv: int | None = None) -> Talk:
        return self.ask(offer, current_ma, voltage_mv).grant(0.1 if offer.kind != "pps" or self.fresh() else 0.01)

    def fresh(self) -> bool:
        return sum("Request" in line for line in self.lines) == 0

    def cable(self, vdo: int = 0x000A2640) -> Talk:
        self.say("port", "Vendor_Defined", [IDENTITY], sop="SOP'").wait(0.002)
        return self.say("plug", "Vendor_Defined", [0xFF00A041, 0x18000000, 0, 0, vdo], sop="SOP'").wait(0.05)

    def keep_alive(self, times: int = 3, every: float = 0.4) -> Talk:
        for _ in range(times):
            self.wait(every).say("sink", "Extended_Control", data=b"\x03\0").wait(0.003)
            self.say("source", "Extended_Control", data=b"\x04\0")
        return self

    def enter(self, *, acknowledge: bool = True, takes: float = 0.1) -> Talk:
        self.wait(0.02).say("sink", "EPR_Mode", [0x018C0000]).wait(0.003)
        if acknowledge:
            self.say("source", "EPR_Mode", [0x02000000])
        self.wait(takes).say("source", "EPR_Mode", [0x03000000]).wait(0.005)
        self.epr = True
        return self

    def judge(self) -> AuditResult:
        intake = read_input("\n".join(self.lines) + "\n")
        return audit(intake.told, intake.resolution_s, intake.lost)


def found(talk: Talk) -> list[tuple[str, str]]:
    return [(remark.finding.rule, remark.finding.level) for remark in talk.judge().remarks]


def told(talk: Talk) -> list[tuple[str, str]]:
    """Each remark whole, but for what is the rule's own: message, level, rule, subject and numbers; the text."""
    remarks = talk.judge().remarks
    return [(_head(each.number, each.finding), each.finding.text) for each in remarks]


def _head(number: int | None, one: Finding) -> str:
    head = f"{number} {one.level} {one.rule}: {one.subject}"
    plain = (one.value, one.limit, one.unit) == (None, None, "")
    return head if plain else f"{head} {one.value} against {one.limit} {one.unit}"


def started(**options: bool) -> Talk:
    return Talk(**options).offer().agree()  # type: ignore[arg-type]


def before_epr() -> Talk:
    return Talk().cable().offer([EPR[0], EPR[1]]).agree(EPR[1], 5000)


def in_epr() -> Talk:
    return before_epr().enter().epr_list().agree(EPR[2], 5000)


@pytest.mark.parametrize("good_crc", [True, False])
def test_a_plain_conversation_is_clean(good_crc: bool) -> None:
    judged = Talk(good_crc=good_crc).cable().offer().agree().judge()
    assert judged.remarks == ()
    contract = judged.log.end.contract
    assert contract is not None
    assert (contract.voltage_mv, contract.asked.current_ma, contract.asked.position) == (15000, 3000, 3)
    assert [offer.word for offer in judged.offers] == [offer.word for offer in PLAIN]
    assert judged.works


def test_an_epr_conversation_is_clean() -> None:
    judged = in_epr().keep_alive().agree(EPR[3], 5000, 20000).keep_alive().judge()
    assert judged.remarks == ()
    assert judged.log.end.epr
    assert judged.log.end.contract is not None
    assert judged.log.end.contract.voltage_mv == 20000
    assert [offer.word for offer in judged.offers if not offer.is_gap] == [offer.word for offer in EPR]


def test_a_pps_conversation_is_clean() -> None:
    talk = Talk().offer().agree(PLAIN[3], 2000, 9000)
    for millivolts in (9000, 9020, 9020, 13000):
        talk.wait(8).ask(PLAIN[3], 2000, millivolts).grant(0.02 if millivolts != 13000 else 0.15)
    assert found(talk) == []


def test_other_ways_of_a_clean_conversation() -> None:
    unheard = Talk()
    for _ in range(3):
        unheard.say("source", "Source_Capabilities", [PLAIN[0].word], id=0, acked=False, tries=3).wait(0.15)
    assert found(unheard) == []
    unmarked = Talk()
    for number in range(2):
        unmarked.say("port", "Vendor_Defined", [IDENTITY], sop="SOP'", acked=False, id=number).wait(0.045)
    assert found(unmarked.offer().agree()) == []
    waited = Talk().offer().ask(PLAIN[2], 3000).then("source", "Wait").wait(0.11).agree()
    assert found(waited) == []
    refused = started().wait(1).ask(PLAIN[1], 3000).then("source", "Reject")
    assert found(refused) == []
    assert refused.judge().log.end.contract.voltage_mv == 15000  # type: ignore[union-attr]
    asked = started().wait(1).say("sink", "Get_Source_Cap").wait(0.003).offer().agree()
    assert found(asked) == []
    swapped = started().wait(1).say("sink", "VCONN_Swap").then("source", "Accept").wait(0.02)
    assert found(swapped.say("sink", "PS_RDY")) == []
    plugged_again = started().wait(9)
    plugged_again.ids.clear()
    assert found(plugged_again.offer().agree()) == []


def soft_reset_talk() -> Talk:
    return started().wait(1).soft_reset("sink").then("source", "Accept").wait(0.01).offer().agree()


def greedy_talk() -> Talk:
    talk = Talk().offer()
    return talk.wait(0.003).say("sink", "Request", [3 << 28 | 340 << 10 | 340]).then("source", "Reject")


# Each fault: the rule that is to find it, its level, the conversation.
FAULTS: list[tuple[str, str, Callable[[], Talk]]] = [
    ("message-id", "fail", lambda: started().wait(1).say("sink", "Get_Status", id=5).then("source", "Not_Supported")),
    ("message-id", "fail", lambda: started().wait(1).say("sink", "Get_Status", id=0).then("source", "Not_Supported")),
    ("goodcrc-missing", "fail",
     lambda: started().wait(1).then("source", "Get_Sink_Cap", acked=False).then("sink", "Not_Supported")),
    ("goodcrc-wrong", "fail",
     lambda: started().wait(1).then("source", "Get_Sink_Cap", ack_id=6).then("sink", "Not_Supported")),
    ("goodcrc-wrong", "fail", lambda: started().wait(1).ack("sink", 3)),
    ("goodcrc-late", "warn",
     lambda: (started().wait(1).then("source", "Get_Sink_Cap", ack_after=0.0006).then("sink", "Not_Supported"))),
    ("retry", "note", lambda: started().wait(1).then("source", "Get_Sink_Cap", tries=3).then("sink", "Not_Supported")),
    ("request-position", "fail", lambda: Talk().offer().ask(fixed(20000, 3000, 6), 3000).then("source", "Reject")),
    ("request-current", "fail", greedy_talk),
    ("offer-order", "fail", lambda: Talk().offer([PLAIN[0], PLAIN[2], PLAIN[1]]).agree(fixed(9000, 3000, 3), 3000)),
    ("offer-order", "fail", lambda: Talk().offer([PLAIN[1]]).agree(fixed(9000, 3000, 1), 3000)),
    ("request-range", "fail", lambda: Talk().offer().ask(PLAIN[3], 2000, 17000).then("source", "Reject")),
    ("request-cable", "note", lambda: Talk().offer(STRONG).agree(STRONG[1], 5000)),
    ("answer-order", "fail", lambda: Talk().offer().ask(PLAIN[1], 3000).wait(0.1).say("source", "PS_RDY")),
    ("answer-order", "fail", lambda: Talk().offer().ask(PLAIN[1], 3000).then("source", "Get_Sink_Cap")),
    ("answer-stray", "fail", lambda: started().wait(1).say("source", "Accept")),
    ("answer-late", "fail",
     lambda: Talk().offer().ask(PLAIN[1], 3000).wait(0.02).say("source", "Accept").wait(0.1).say("source", "PS_RDY")),
    ("answer-late", "fail", lambda: Talk().offer().wait(0.02).agree()),
    ("ready-late", "fail", lambda: Talk().offer().ask(PLAIN[1], 3000).grant(0.4)),
    ("ready-late", "warn",
     lambda: Talk().offer().agree(PLAIN[3], 2000, 9000).wait(5).ask(PLAIN[3], 2000, 9200).grant(0.1)),
    ("ready-early", "warn", lambda: Talk().offer().ask(PLAIN[1], 3000).grant(0.01)),
    ("ready-missing", "fail",
     lambda: (Talk().offer().ask(PLAIN[1], 3000).then("source", "Accept").wait(0.6).ask(PLAIN[1], 3000).grant())),
    ("ready-missing", "fail",
     lambda: (Talk().offer().ask(PLAIN[1], 3000).then("source", "Accept").wait(0.05).ask(PLAIN[1], 2000).grant())),
    ("ready-stray", "fail", lambda: started().wait(1).say("source", "PS_RDY")),
    ("wait-short", "fail", lambda: Talk().offer().ask(PLAIN[2], 3000).then("source", "Wait").wait(0.03).agree()),
    ("pps-silent", "fail",
     lambda: Talk().offer().agree(PLAIN[3], 2000, 9000).wait(12).ask(PLAIN[3], 2000, 9000).grant(0.01)),
    ("epr-silent", "fail", lambda: in_epr().keep_alive(1, 0.7)),
    ("hard-reset", "fail", lambda: started().wait(3).reset().wait(1).offer().agree()),
    ("soft-reset", "note", soft_reset_talk),
    ("offer-changed", "note", lambda: started().wait(5).offer(PLAIN[:2]).agree(PLAIN[1])),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "level", "make"), FAULTS, ids=[f"{n}-{rule}" for n, (rule, _, _) in enumerate(FAULTS)]
)
def test_a_planted_fault_is_named_and_no_other(rule: str, level: str, make: Callable[[], Talk]) -> None:
    talk = make()
    assert found(talk) == [(rule, level)]
    assert (not talk.judge().works) == (level in ("stop", "fail"))


MORE: list[tuple[str, list[tuple[str, str]], Callable[[], Talk]]] = [
    ("five-tries", [("retry", "note"), ("retries", "fail")],
     lambda: started().wait(1).then("source", "Get_Sink_Cap", tries=5).then("sink", "Not_Supported")),
    ("no-answer", [("answer-missing", "fail"), ("hard-reset", "note")],
     lambda: Talk().offer().ask(PLAIN[1], 3000).wait(0.03).reset()),
    ("no-request", [("answer-missing", "fail"), ("hard-reset", "note")], lambda: Talk().offer().wait(0.03).reset()),
    ("no-ready", [("ready-missing", "fail"), ("hard-reset", "note")],
     lambda: Talk().offer().ask(PLAIN[1], 3000).then("source", "Accept").wait(0.5).reset()),
    ("pps-time-out", [("pps-silent", "fail"), ("hard-reset", "note")],
     lambda: Talk().offer().agree(PLAIN[3], 2000, 9000).wait(13.5).reset()),
    ("epr-time-out", [("epr-silent", "fail"), ("hard-reset", "note")], lambda: in_epr().wait(0.9).reset()),
    ("impatient", [("hard-reset", "fail")],
     lambda: Talk().offer().ask(PLAIN[1], 3000).then("source", "Accept").wait(0.1).reset()),
    ("resets-alone", [("hard-reset", "note")] * 3, lambda: Talk().reset().wait(1).reset().wait(1).reset()),
    ("strong-offer", [("offer-cable", "fail")], lambda: Talk().cable(0x00082020).offer(STRONG).agree(STRONG[1], 3000)),
    ("strong-request", [("request-cable", "fail")],
     lambda: Talk().cable(0x00082020).offer(STRONG).agree(STRONG[1], 5000)),
    ("epr-unasked", [("epr-order", "fail")], lambda: (before_epr().wait(0.1).say("source", "EPR_Mode", [0x03000000]))),
    ("epr-no-ack", [("epr-order", "fail")],
     lambda: (before_epr().enter(acknowledge=False, takes=0.01).epr_list())),
    ("epr-slow", [("epr-late", "fail")], lambda: (before_epr().enter(takes=0.6).epr_list().agree(EPR[2], 5000))),
    ("epr-cable", [("epr-unfit", "fail")],
     lambda: Talk().cable(0x00082040).offer([EPR[0], EPR[1]]).agree(EPR[1], 5000).enter().epr_list()
     .agree(EPR[1], 5000)),
    ("epr-first-object", [("epr-unfit", "fail")],
     lambda: Talk().cable().offer(STRONG).agree(STRONG[1], 5000).enter().epr_list().agree(EPR[1], 5000)),
    ("epr-refused", [("epr-refused", "note")],
     lambda: (before_epr().say("sink", "EPR_Mode", [0x018C0000]).then("source", "EPR_Mode", [0x04010000]))),
    ("epr-no-list", [("epr-order", "fail")],
     lambda: (before_epr().enter().say("source", "Get_Sink_Cap").then("sink", "Not_Supported"))),
    ("epr-exit-high", [("epr-order", "fail")], lambda: in_epr().wait(0.1).say("sink", "EPR_Mode", [0x05000000])),
]  # fmt: skip


@pytest.mark.parametrize(("expected", "make"), [each[1:] for each in MORE], ids=[each[0] for each in MORE])
def test_faults_with_what_follows_from_them(expected: list[tuple[str, str]], make: Callable[[], Talk]) -> None:
    assert sorted(found(make())) == sorted(expected)


def test_requests_of_the_wrong_form() -> None:
    plain = in_epr().wait(0.1)
    plain.epr = False
    assert found(plain.ask(EPR[1], 3000).then("source", "Reject")) == [("request-form", "fail")]
    early = Talk().cable().offer([EPR[0], EPR[1]])
    early.epr = True
    assert ("request-form", "fail") in found(early.ask(EPR[1], 5000))
    copied = in_epr().wait(0.1).say("sink", "EPR_Request", [8 << 28 | 500 << 10 | 500 | 1 << 22, EPR[1].word])
    assert found(copied) == [("request-form", "fail")]
    off_step = in_epr().wait(0.1).say("sink", "EPR_Request", [9 << 28 | 801 << 9 | 60 | 1 << 22, EPR[3].word])
    assert found(off_step) == [("request-step", "fail")]


def test_more_power_than_a_battery_offer() -> None:
    battery = Offer.from_word(1 << 30 | 240 << 20 | 160 << 10 | 80, 2)  # 8..12 V, 20 W
    asked = Talk().offer([PLAIN[0], battery]).wait(0.003)
    asked.say("sink", "Request", [2 << 28 | 90 << 10 | 90]).then("source", "Reject")
    assert found(asked) == [("request-current", "fail")]


def test_a_bad_crc_is_named_alone() -> None:
    for number in range(12):
        talk = started()
        time_s, sop, raw = talk.lines[number % len(talk.lines)].split()
        talk.lines[number % len(talk.lines)] = f"{time_s} {sop} {raw[:-1]}{int(raw[-1], 16) ^ 1:x}"
        assert found(talk) == [("crc", "fail")], number


def test_every_rule_is_broken_somewhere() -> None:
    from tests.contract.test_audit_planted import PLANTED, every

    broken = {rule for rule, _, _ in FAULTS} | {rule for _, rules, _ in MORE for rule, _ in rules}
    broken |= {"crc", "request-form", "request-step"}
    # Its readings stand in logs: tests/intake/test_dresses.py.
    broken |= {"bus-voltage"}
    broken |= {rule for _, _, make in PLANTED for rule, _ in every(make())}
    assert broken == {rule.id for rule in AUDIT_RULES}


def test_rules_are_told_apart_and_say_where_they_are_from() -> None:
    assert len({rule.id for rule in AUDIT_RULES}) == len(AUDIT_RULES)
    for rule in AUDIT_RULES:
        assert rule.level in ("stop", "fail", "warn", "note")
        assert rule.title
        assert rule.advice.endswith(".")
        assert rule.origin.mark in ("checked", "memory", "common practice", "standard")


def test_times_too_coarse_are_not_judged() -> None:
    late = Talk().offer().ask(PLAIN[1], 3000).grant(0.4)
    assert found(late) == [("ready-late", "fail")]
    late.lines = [f"{round(float(line.split()[0]))}s {line.split(maxsplit=1)[1]}" for line in late.lines]
    assert found(late) == []
    late.lines = [line.split(maxsplit=1)[1] for line in late.lines]
    assert found(late) == []
