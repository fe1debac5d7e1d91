"""Following on its limits: when a message is the same again, when a plug went in again, what could not be read."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.bits.message import build_extended, build_message, make_header, read_message, reset_message
from pdcheck.bits.offers import fixed
from pdcheck.bits.sequence import Listener, Told
from pdcheck.contract.following.follow import airtime_s, step_name
from pdcheck.facts.timing import timer
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.sniff import read_input
from tests.contract.audited import audit
from tests.contract.test_audit_rules import Talk, started

SHORTEST_S = timer("tCCDebounce").require_min()
CAPABILITIES = build_message(make_header("Source_Capabilities", 1, source=True, dfp=True), [fixed(5000, 3000).word])


def told(*raws: tuple[bytes, float | None]) -> list[Told]:
    listener = Listener()
    return [listener.hear(read_message(raw, "SOP", time_s)) for raw, time_s in raws]


@pytest.mark.parametrize(("gap_s", "retry"), [(0.002, True), (0.010, True), (0.0101, False), (None, True)])
def test_the_same_bytes_soon_after_are_one_message(gap_s: float | None, retry: bool) -> None:
    log = audit(told((CAPABILITIES, 0.0), (CAPABILITIES, gap_s))).log
    assert [step.retry for step in log.steps] == [False, retry]
    sent = log.end.ids["SOP", "source"]
    assert (sent.number, sent.tries) == ((0, 2) if retry else (1, 1))


def test_another_message_with_the_same_number_is_no_retry() -> None:
    other = build_message(make_header("Accept", 0, source=True, dfp=True))
    assert [step.retry for step in audit(told((CAPABILITIES, 0.0), (other, 0.002))).log.steps] == [False, False]


def again(id: int = 0, gap_s: float = SHORTEST_S + 0.001, *, before: int = 2, who: str = "source") -> list[bool]:
    """Whether capabilities ``gap_s`` after the last of a few messages begin a conversation of their own."""
    source = who == "source"
    header = make_header("Source_Capabilities", 1, message_id=id, source=source, dfp=source)
    first = build_message(make_header("Source_Capabilities", 1, message_id=before, source=True), [0x0801912C])
    next_ = build_message(header, [0x0801912C])
    return [step.restart for step in audit(told((first, 1.0), (next_, 1.0 + gap_s))).log.steps]


def test_capabilities_after_a_silence_begin_anew() -> None:
    assert again() == [False, True]
    assert again(gap_s=SHORTEST_S - 0.001) == [False, False]
    assert again(1) == [False, False]
    assert again(before=7) == [False, False]
    assert again(before=0) == [False, False]
    assert again(who="sink") == [False, False]


def test_a_silence_as_short_as_the_plug_can_make_it_is_a_new_conversation() -> None:
    first = build_message(make_header("Source_Capabilities", 1, message_id=2, source=True), [0x0801912C])
    log = audit(told((first, 0.0), (CAPABILITIES, SHORTEST_S))).log
    assert log.steps[1].restart
    assert audit(told((first, 0.0), (CAPABILITIES, None))).log.steps[1].restart
    assert audit(told((first, None), (CAPABILITIES, 9.0))).log.steps[1].restart


def test_an_acknowledged_first_list_and_another_is_a_new_conversation() -> None:
    good = build_message(make_header("GoodCRC", 0))
    steps = audit(told((CAPABILITIES, 0.0), (good, 0.001), (CAPABILITIES, 2.0))).log.steps
    assert [step.restart for step in steps] == [False, False, True]


@pytest.mark.parametrize(
    ("lost", "blurs"),
    [((), [-1, -1]), ((0.5,), [0, 0]), ((1.0,), [0, 0]), ((1.5,), [-1, 1]), ((2.0,), [-1, 1]), ((0.1, 1.9), [0, 1]),
     ((1.9, 0.1), [0, 1]), ((0.1, 0.2), [0, 0])],
)  # fmt: skip
def test_what_could_not_be_read_blurs_what_comes_after(lost: tuple[float, ...], blurs: list[int]) -> None:
    other = build_message(make_header("Accept", 0, message_id=1, source=True))
    log = audit(told((CAPABILITIES, 1.0), (other, 2.0)), 0.001, [BadPacket(each, "noise") for each in lost]).log
    assert [step.after.blur for step in log.steps] == blurs
    assert log.end.blur == blurs[-1]
    assert log.resolution_s == 0.001


def test_what_is_lost_at_the_end_blurs_the_end() -> None:
    log = audit(told((CAPABILITIES, 1.0)), None, [BadPacket(1.5, "noise")]).log
    assert ([step.after.blur for step in log.steps], log.end.blur) == ([-1], 1)
    untimed = audit(told((CAPABILITIES, None)), None, [BadPacket(0.5, "noise")]).log
    assert ([step.after.blur for step in untimed.steps], untimed.end.blur) == ([-1], 1)
    assert (log.shows_good_crc, log.resolution_s, log.stated_ma) == (False, None, None)


def test_how_long_a_message_may_take() -> None:
    # At 270 kbit/s: 64 bits of preamble, four symbols of five bits; and of a message its bytes with CRC, and EOP.
    assert airtime_s(reset_message("Hard_Reset")) == pytest.approx(84 / 270e3)
    assert airtime_s(reset_message("Cable_Reset")) == pytest.approx(84 / 270e3)
    [accept] = told((build_message(make_header("Accept", 0)), 0.0))
    assert airtime_s(accept.message) == pytest.approx((84 + (len(accept.message.raw) + 4) * 10 + 5) / 270e3)


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        (build_message(make_header("Accept", 0)), "Accept"),
        (build_message(make_header("EPR_Mode", 1), [0x01000000]), "EPR_Mode Enter"),
        (build_message(make_header("EPR_Mode", 1), [0xEE000000]), "EPR_Mode reserved"),
        (build_extended(make_header("Extended_Control", 0, extended=True), b"\1\0")[0], "EPR_Get_Source_Cap"),
        (build_extended(make_header("Extended_Control", 0, extended=True), b"\x77\0")[0], "reserved"),
        (build_extended(make_header("EPR_Source_Capabilities", 0, extended=True), bytes(40))[0], "chunk"),
        (build_extended(make_header("EPR_Source_Capabilities", 0, extended=True), CAPABILITIES[2:6])[0],
         "EPR_Source_Capabilities"),
    ],
)  # fmt: skip
def test_names_of_messages(raw: bytes, name: str) -> None:
    assert step_name(told((raw, 0.0))[0]) == name


def steps_of(talk: Talk) -> Any:
    intake = read_input("\n".join(talk.lines) + "\n")
    return audit(intake.told, intake.resolution_s, intake.lost).log


def test_a_contract_is_of_its_request() -> None:
    end = steps_of(started()).end
    assert end.contract.voltage_mv == end.contract.asked.voltage_mv == 15000
    assert end.contract.asked.offer.position == 3
    assert end.accepted is end.question is end.asked is end.due is None


def test_what_is_open_may_be_answered_by_what_the_standard_has() -> None:
    end = steps_of(Talk().offer()).end
    assert (end.question.name, end.question.answers) == ("Source_Capabilities", ("Request",))


def test_a_good_crc_of_another_number_or_ordered_set_acknowledges_nothing() -> None:
    for number, sop in ((5, "SOP"), (0, "SOP'")):
        end = steps_of(Talk().offer(acked=False).ack("sink", number, sop)).end
        assert end.due is not None
        assert not end.ids["SOP", "source"].acknowledged
        assert ("sink" in end.heard) is (sop == "SOP")
    assert steps_of(Talk().offer(acked=False).ack("sink", 0)).end.due is None


def test_a_retry_to_the_cable_is_not_the_last_message_between_the_ports() -> None:
    talk = Talk().offer().say("port", "Vendor_Defined", [0xFF00A001], sop="SOP'", acked=False, tries=2)
    log = steps_of(talk)
    assert log.steps[-1].retry
    assert log.end.last == (0, 0.2)
