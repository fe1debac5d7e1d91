"""Faults planted in conversations one at a time: each is named, alone and in words; conversations without are clean."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.bits.crc import CRC_BYTES, with_crc
from pdcheck.bits.message import build_extended, build_message, make_header
from pdcheck.bits.offers import Offer, fixed, pps, spr_avs
from pdcheck.intake.sniff import read_input
from tests.contract.audited import audit
from tests.contract.test_audit_roundtrip import WRONG
from tests.contract.test_audit_rules import EPR, IDENTITY, PLAIN, Talk, before_epr, in_epr, started

ACK, NAK, BUSY = 0xFF00A041, 0xFF00A081, 0xFF00A0C1
ROLE, DATA, PLUG = 0x0100, 0x0020, 0x0100
SHORT = EPR[:2]


def every(talk: Talk) -> list[tuple[str, str]]:
    intake = read_input("\n".join(talk.lines) + "\n")
    judged = audit(intake.told, intake.resolution_s, intake.lost)
    return [(each.finding.rule, each.finding.text) for each in judged.remarks]


def changed(talk: Talk, number: int, flip: int = 0, *, revision: int | None = None) -> Talk:
    """The same with bits of one header flipped, or another revision code; the CRC fits again."""
    time_s, sop, text = talk.lines[number].split()
    raw = bytes.fromhex(text)[:-CRC_BYTES]
    header = int.from_bytes(raw[:2], "little") ^ flip
    if revision is not None:
        header = header & ~0xC0 | revision << 6
    talk.lines[number] = f"{time_s} {sop} {with_crc(header.to_bytes(2, 'little') + raw[2:]).hex()}"
    return talk


def revised(talk: Talk, revision: str) -> Talk:
    talk.revision = revision
    return talk


def gap(talk: Talk, number: int, seconds: float) -> Talk:
    """The same with everything from a line on later."""
    for at in range(number, len(talk.lines)):
        time_s, rest = talk.lines[at].split(" ", 1)
        talk.lines[at] = f"{float(time_s) + seconds:.6f} {rest}"
    return talk


def without(talk: Talk, *numbers: int) -> Talk:
    talk.lines = [line for at, line in enumerate(talk.lines) if at not in numbers]
    return talk


def word(offer: Offer, current_ma: int, most_ma: int, **bits: int) -> int:
    value = offer.position << 28 | current_ma // 10 << 10 | most_ma // 10
    return value | bits.get("mismatch", 0) << 26 | bits.get("give_back", 0) << 27


def asking(*words: int) -> Talk:
    return Talk().offer().wait(0.003).say("sink", "Request", list(words)).grant()


def listing(*objects: int) -> Talk:
    talk = Talk().say("source", "Source_Capabilities", [PLAIN[0].word, *objects])
    return talk.wait(0.003).say("sink", "Request", [word(PLAIN[0], 1000, 1000)]).grant()


def chunks(numbers: list[int], asked: list[int | None], *, wait: float = 0.002, sizes: int = 0) -> Talk:
    """An EPR list in chunks: which come, which is asked for before each of the later ones."""
    talk = before_epr().enter()
    words = [EPR[0].word, EPR[1].word, 0, 0, 0, 0, 0, EPR[2].word, EPR[3].word]
    header = make_header("EPR_Source_Capabilities", 0, source=True, dfp=True, extended=True)
    frames = build_extended(header, b"".join(each.to_bytes(4, "little") for each in words), message_id=0)
    for number, request in zip(numbers, asked, strict=True):
        if request is not None:
            talk.wait(0.002).chunk_request("sink", "EPR_Source_Capabilities", request)
            talk.wait(wait)
        identity = talk.ids["SOP", "source"]
        raw = bytearray(frames[min(number, 1)][:-CRC_BYTES])
        raw[1] = raw[1] & ~0x0E | identity << 1
        raw[3] = raw[3] & ~0x78 | number << 3
        raw[2] = raw[2] + sizes * bool(number)
        talk.line(with_crc(bytes(raw)))
        talk.wait(100e-6)
        talk.ack("sink", identity)
        talk.ids["SOP", "source"] = (identity + 1) % 8
    return talk


def swap(name: str, *, who: str = "sink", off: float = 0.3, on: float = 0.2, start: float = 0.05) -> Talk:
    """A swap of the power role, all of it; the old source is the sink afterwards."""
    talk = started().wait(1)
    other = "source" if who == "sink" else "sink"
    talk.say(who, name).then(other, "Accept").wait(off)
    ready(talk, "source")
    talk.wait(on)
    ready(talk, "sink")
    talk.ids.clear()
    talk.wait(start)
    header = make_header("Source_Capabilities", 1, source=True, dfp=False)
    talk.line(build_message(header, [PLAIN[0].word]))
    talk.wait(1e-4).ack("sink", 0).wait(0.003)
    talk.line(build_message(make_header("Request", 1, source=False, dfp=True), [word(PLAIN[0], 1000, 1000)]))
    return talk.wait(1e-4).ack("source", 0)


def ready(talk: Talk, who: str) -> None:
    number = talk.ids[("SOP", who)]
    talk.line(build_message(make_header("PS_RDY", 0, message_id=number, source=who == "sink", dfp=who == "source")))
    talk.wait(1e-4).ack("sink", number)


def asked_cable(*, after: float = 0.002, words: tuple[int, ...] = (ACK, 0x18000000, 0, 0, 0x000A2640)) -> Talk:
    talk = Talk().say("port", "Vendor_Defined", [IDENTITY], sop="SOP'").wait(after)
    return talk.say("plug", "Vendor_Defined", list(words), sop="SOP'").wait(0.05)


def busy(wait: float) -> Talk:
    talk = asked_cable(words=(BUSY,)).wait(wait - 0.05)
    talk.say("port", "Vendor_Defined", [IDENTITY], sop="SOP'").wait(0.002)
    return (
        talk.say("plug", "Vendor_Defined", [ACK, 0x18000000, 0, 0, 0x000A2640], sop="SOP'").wait(0.05).offer().agree()
    )


def older(talk: Callable[[Talk], Talk], answer: str = "2.0") -> Talk:
    """A source of 3.x, a sink that answers at another revision, and what comes then."""
    first = Talk().offer()
    return talk(revised(first, answer).ask(PLAIN[2], 3000))


def unheard(every_s: float) -> Talk:
    talk = Talk()
    for _ in range(4):
        talk.say("source", "Source_Capabilities", [PLAIN[0].word], id=0, acked=False).wait(every_s)
    return talk


def retried(after: float) -> Talk:
    talk = started().wait(1)
    talk.say("source", "Get_Sink_Cap", acked=False).wait(after)
    talk.ids["SOP", "source"] -= 1
    return talk.say("source", "Get_Sink_Cap").then("sink", "Not_Supported")


def unchunked() -> Talk:
    talk = started().wait(1).say("sink", "Get_Status").wait(0.003)
    raw = make_header("Status", 0, message_id=3, source=True, dfp=True, extended=True).to_bytes(2, "little")
    talk.line(with_crc(raw + (7).to_bytes(2, "little") + bytes(7)))
    return talk.wait(1e-4).ack("sink", 3)


def twice_asked(after: float) -> Talk:
    talk = Talk()
    for number in range(2):
        talk.say("port", "Vendor_Defined", [IDENTITY], sop="SOP'", acked=False, id=number).wait(after)
    return talk.offer().agree()


def reserved() -> Talk:
    talk = started().wait(1)
    talk.line(build_message(make_header("Accept", 0, message_id=3, source=True, dfp=True) & ~0x1F | 27))
    return talk.wait(1e-4).ack("sink", 3).wait(1)


def refused(times: int) -> Talk:
    talk = Talk()
    for _ in range(times):
        talk.offer().ask(PLAIN[1], 3000).then("source", "Reject").wait(0.4).reset().wait(1)
    return talk


def wrong_chunk_request() -> Talk:
    talk = chunks([0], [None]).wait(0.002)
    talk.chunk_request("sink", "EPR_Source_Capabilities", 3)
    return talk


def early_epr() -> Talk:
    talk = Talk().cable().offer(SHORT)
    talk.epr = True
    return talk.ask(EPR[1], 3000).then("source", "Reject")


def keep_alive_outside() -> Talk:
    return started().wait(1).say("sink", "Extended_Control", data=b"\x03\0").then("source", "Not_Supported")


def data_swap() -> Talk:
    talk = started().wait(1).say("sink", "DR_Swap").then("source", "Accept")
    before = len(talk.lines)
    talk.wait(1).ask(PLAIN[1], 3000).grant()
    for number in range(before, len(talk.lines), 2):
        changed(talk, number, DATA)
    return talk


def crossing() -> Talk:
    talk = Talk().offer().agree(PLAIN[3], 2000, 9000).wait(5)
    talk.ask(PLAIN[3], 2000, 9000).wait(0.001)
    return talk.offer(PLAIN[:2]).agree(PLAIN[1])


AVS = [PLAIN[0], spr_avs(3000, 2500, 2)]
EPR_LESS = [EPR[0], fixed(9000, 3000, 2)]

# Name, what the text must say, the conversation.
PLANTED: list[tuple[str, str, Callable[[], Talk]]] = [
    # words that decoding finds odd
    ("28 V in an SPR list", "28 V is an EPR voltage", lambda: listing(fixed(28000, 3000).word)),
    ("50 V", "50 V is more than", lambda: listing(fixed(20000, 3000).word, fixed(50000, 3000).word)),
    ("PPS to 25 V", "25 V is an EPR voltage", lambda: listing(pps(5000, 25000, 3000).word)),
    ("range reversed", "is above maximum", lambda: listing(pps(11000, 5000, 3000).word)),
    ("reserved kind", "reserved kind", lambda: listing(0xF0000000)),
    ("reserved bit", "reserved bits 22",
     lambda: Talk().offer([Offer.from_word(PLAIN[0].word | 1 << 22)]).agree(PLAIN[0])),
    ("object twice", "repeats object 2", lambda: listing(PLAIN[1].word, PLAIN[1].word)),
    ("unknown EPR_Mode action", "reserved code 9", lambda: before_epr().wait(0.1).say("sink", "EPR_Mode", [9 << 24])),
    ("reserved type", "nobody answered", reserved),
    # requests
    ("maximum above", "Capability Mismatch is not set", lambda: asking(word(PLAIN[2], 3000, 4000))),
    ("maximum below", "below Operating Current", lambda: asking(word(PLAIN[2], 3000, 1000))),
    ("SPR AVS outside", "which gives 9..20 V",
     lambda: Talk().offer(AVS).wait(0.003).say("sink", "Request", [2 << 28 | 880 << 9 | 60]).then("source", "Reject")),
    ("EPR form in SPR mode", "in SPR mode", early_epr),
    # the header
    ("role of a list", "comes from the sink", lambda: changed(started(), 0, ROLE)),
    ("role of a request", "comes from the source", lambda: changed(started(), 2, ROLE)),
    ("role of Accept", "comes from the sink", lambda: changed(started(), 4, ROLE)),
    ("role of PS_RDY", "comes from the sink", lambda: changed(started(), 6, ROLE)),
    ("role of a question", "comes from the sink",
     lambda: changed(started().wait(1).say("source", "Get_Sink_Cap").then("sink", "Not_Supported"), 8, ROLE)),
    ("role of GoodCRC", "the GoodCRC for Request", lambda: changed(started(), 3, ROLE)),
    ("plug bit of a question", "comes from the cable plug", lambda: changed(asked_cable().offer().agree(), 0, PLUG)),
    ("plug bit of an answer", "comes from a port", lambda: changed(asked_cable().offer().agree(), 2, PLUG)),
    ("both DFP", "DFP, which the source is already", lambda: changed(started(), 2, DATA)),
    ("source turns UFP", "there was no DR_Swap", lambda: changed(started(), 6, DATA)),
    ("source stays at 3.x", "still of Revision 3.x",
     lambda: older(lambda talk: revised(talk, "3.x").grant())),
    ("sink changes", "is of Revision 2.0, agreed was 3.x",
     lambda: revised(revised(started().wait(1), "2.0").ask(PLAIN[1], 3000), "3.x").grant()),
    # chunks
    ("chunk unasked", "was not asked for", lambda: chunks([0, 1], [None, None])),
    ("wrong chunk asked", "asks for chunk 3", wrong_chunk_request),
    ("first chunk missing", "chunk 0 did not come", lambda: chunks([1], [None])),
    ("chunk late", "tChunkReceiverResponse", lambda: chunks([0, 1], [None, 1], wait=0.022).agree(EPR[2], 5000)),
    ("sizes differ", "Data Size", lambda: chunks([0, 1], [None, 1], sizes=4)),
    ("unchunked", "unchunked", unchunked),
    # the cable
    ("cable late", "tVDMReceiverResponse", lambda: asked_cable(after=0.022).offer().agree()),
    ("busy soon", "after BUSY", lambda: busy(0.010)),
    ("asked again soon", "sent again", lambda: twice_asked(0.020)),
    ("no identity", "no answer to Discover Identity",
     lambda: Talk().say("port", "Vendor_Defined", [IDENTITY], sop="SOP'").wait(0.06).offer().agree()),
    ("another answer", "answers Discover Identity", lambda: asked_cable(words=(ACK + 1, 0)).offer().agree()),
    # time and course
    ("back soon", "after the Hard Reset", lambda: started().wait(3).reset().wait(0.1).offer().agree()),
    ("retry late", "was sent again", lambda: retried(0.006)),
    ("lists soon", "Source_Capabilities again", lambda: unheard(0.020)),
    ("GotoMin", "GiveBack", lambda: started().wait(1).say("source", "GotoMin").then("sink", "Not_Supported")),
    ("SPR list in EPR mode", "in EPR mode", lambda: in_epr().wait(0.1).offer(SHORT).wait(0.003).reset()),
    ("EPR list gives way", "went from 28 V 5 A to 9 V 3 A",
     lambda: in_epr().wait(0.1).epr_list(EPR_LESS).agree(EPR_LESS[1])),
    ("refused for ever", "finds nothing else", lambda: refused(3)),
    ("swap off late", "tPSSourceOff", lambda: swap("PR_Swap", off=1.1)),
    ("swap on late", "tPSSourceOn", lambda: swap("PR_Swap", on=0.6)),
    ("swap start soon", "after the swap", lambda: swap("FR_Swap", start=0.005)),
    ("VCONN late", "tVCONNSourceOn",
     lambda: started().wait(1).say("sink", "VCONN_Swap").then("source", "Accept").wait(0.3).say("sink", "PS_RDY")),
    ("swap unfinished", "PS_RDY of VCONN_Swap did not come",
     lambda: started().wait(1).say("sink", "VCONN_Swap").then("source", "Accept").wait(0.3)
     .ask(PLAIN[1], 3000).grant()),
    ("keep-alive in SPR mode", "outside EPR mode", keep_alive_outside),
    ("status unasked", "came where nothing was asked",
     lambda: started().wait(1).say("sink", "Sink_Capabilities", [PLAIN[0].word])),
]  # fmt: skip


@pytest.mark.parametrize(("says", "make"), [each[1:] for each in PLANTED], ids=[each[0] for each in PLANTED])
def test_a_planted_fault_is_named_alone(says: str, make: Callable[[], Talk]) -> None:
    found = [each for each in every(make()) if each[0] not in ("hard-reset", "retry")]
    assert len(found) == 1, found
    assert says in found[0][1]


# Conversations with nothing wrong.
CLEAN: list[tuple[str, Callable[[], Talk]]] = [
    ("capabilities asked for in EPR mode",
     lambda: in_epr().wait(0.1).say("sink", "Get_Source_Cap").wait(0.003).offer(SHORT).keep_alive(1, 0.3)),
    ("PR_Swap", lambda: swap("PR_Swap")),
    ("PR_Swap of the source", lambda: swap("PR_Swap", who="source")),
    ("FR_Swap", lambda: swap("FR_Swap")),
    ("Enter_USB", lambda: started().wait(1).say("source", "Enter_USB", [2 << 28]).then("sink", "Accept")),
    ("asked again in time", lambda: twice_asked(0.045)),
    ("BUSY, then later", lambda: busy(0.06)),
    ("maximum above with mismatch", lambda: asking(word(PLAIN[2], 3000, 4000, mismatch=1))),
    ("minimum with GiveBack", lambda: asking(word(PLAIN[2], 3000, 500, give_back=1))),
    ("chunks as they should be", lambda: chunks([0, 1], [None, 1]).agree(EPR[2], 5000)),
    ("both at 2.0", lambda: older(lambda talk: talk.grant())),
    ("lists until somebody hears", lambda: unheard(0.15)),
    ("a retry in time", lambda: retried(0.0011)),
    ("data roles change", data_swap),
    ("request meets a new list", crossing),
    ("PPS asked again 9.99 s after PS_RDY",
     lambda: Talk().offer().agree(PLAIN[3], 2000, 9000).wait(9.985).ask(PLAIN[3], 2000, 9000).grant(0.01)),
]  # fmt: skip


@pytest.mark.parametrize("make", [each[1] for each in CLEAN], ids=[each[0] for each in CLEAN])
def test_nobody_is_accused_of_what_is_right(make: Callable[[], Talk]) -> None:
    assert [each for each in every(make()) if each[0] not in ("offer-changed", "retry")] == []


def flipped(text: str, number: int, flip: int) -> str:
    """A played conversation with bits of one header flipped, the CRC right again."""
    talk = Talk()
    talk.lines = text.splitlines()
    return "\n".join(changed(talk, number, flip).lines) + "\n"


def played(scene: Any, seed: int) -> str:
    return str(scene._replace(until_s=min(scene.until_s, 6.0)).play(seed).log())


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), seed=st.integers(0, 1000))
def test_one_wrong_role_is_one_finding(scenes: dict[str, Any], data: st.DataObject, seed: int) -> None:
    names = ("fixed", "5 A over a 5 A cable", "PPS steps", "EPR AVS", "second port", "Revision 2.0")
    text = played(scenes[data.draw(st.sampled_from(names))], seed)
    lines = text.splitlines()
    number = data.draw(st.integers(0, len(lines) - 1))
    found = [each for each in every_of(flipped(text, number, ROLE)) if each[0] not in ("retry", "offer-changed")]
    assert [each[0] for each in found] == ["role"], found


def judged(text: str) -> list[tuple[str, str, str]]:
    intake = read_input(text + "\n")
    remarks = audit(intake.told, intake.resolution_s, intake.lost).remarks
    return [(each.finding.rule, each.finding.level, each.finding.text) for each in remarks]


def every_of(text: str) -> list[tuple[str, str]]:
    talk = Talk()
    talk.lines = text.splitlines()
    return every(talk)


DRESSES = {
    "all": lambda line: line,
    "no GoodCRC": lambda line: "" if is_good_crc(line) else line,
    "no cable": lambda line: "" if " SOP'" in line else line,
    "no times": lambda line: line.split(" ", 1)[1],
    "neither": lambda line: "" if is_good_crc(line) else line.split(" ", 1)[1],
}


def is_good_crc(line: str) -> bool:
    """A message of a header alone, of type 1."""
    cells = line.split()
    return len(cells) == 3 and len(cells[2]) == 2 * (2 + CRC_BYTES) and int(cells[2][:2], 16) & 0x1F == 1


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), seed=st.integers(0, 3), dress=st.sampled_from(sorted(DRESSES)))
def test_replugs_one_after_the_other_accuse_nobody(
    scenes: dict[str, Any], data: st.DataObject, seed: int, dress: str
) -> None:
    names = [name for name in scenes if name not in WRONG and name != "captive cable"]
    lines: list[str] = []
    end = 0.0
    for name in data.draw(st.lists(st.sampled_from(names), min_size=2, max_size=5)):
        for line in played(scenes[name], seed).splitlines():
            time_s, rest = line.split(" ", 1)
            lines.append(f"{float(time_s) + end:.6f} {rest}")
        # Not as long as it takes a source to give up a silent sink: then it may have been that.
        end = float(lines[-1].split()[0]) + data.draw(st.floats(0.3, 10) | st.floats(20, 60))
    shown = [DRESSES[dress](line) for line in lines]
    found = [each for each in judged("\n".join(line for line in shown if line)) if each[1] != "note"]
    assert found == []
