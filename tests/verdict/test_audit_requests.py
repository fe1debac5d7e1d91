"""What an audit says of requests and lists: every remark whole, on both sides of each limit."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from pdcheck.bits.offers import Offer, fixed, spr_avs
from tests.contract.test_audit_rules import EPR, IDENTITY, PLAIN, STRONG, Talk, before_epr, in_epr, told

BATTERY = Offer.from_word(1 << 30 | 240 << 20 | 160 << 10 | 80, 2)  # 8..12 V, 20 W
WIDE_BATTERY = Offer.from_word(1 << 30 | 240 << 20 | 100 << 10 | 80, 2)  # 5..12 V, 20 W
VARIABLE = Offer.from_word(2 << 30 | 240 << 20 | 160 << 10 | 300, 2)  # 8..12 V, 3 A
ADJUSTABLE = [fixed(5000, 3000, 1), spr_avs(3000, 2500, 2)]


def req(talk: Talk, *words: int, name: str = "Request") -> Talk:
    return talk.wait(0.003).say("sink", name, list(words))


def unanswered_cable() -> Talk:
    return Talk().say("port", "Vendor_Defined", [IDENTITY], sop="SOP'", acked=False).wait(0.05)


# What is said, and what of it.
TOLD: dict[str, tuple[Callable[[], Talk], list[tuple[str, str]]]] = {
    "no list": (lambda: req(Talk(), 3 << 28 | 300 << 10 | 300), []),
    "position 0": (
        lambda: req(Talk().offer(), 300 << 10 | 300),
        [
            (
                "2 fail request-position: sink 0 against 4 1",
                "asks for object 0, which was not offered: the list goes to 4",
            )
        ],
    ),
    "position 7 gap": (
        lambda: req(in_epr().wait(0.1), 7 << 28 | 300 << 10 | 300, EPR[1].word, name="EPR_Request"),
        [
            (
                "30 fail request-position: sink 7 against 9 1",
                "asks for object 7, which was not offered: the list goes to 9",
            )
        ],
    ),
    "current on": (lambda: req(Talk().offer(), 3 << 28 | 1 << 22 | 300 << 10 | 300), []),
    "current beyond": (
        lambda: req(Talk().offer(), 3 << 28 | 301 << 10 | 301),
        [("2 fail request-current: sink 3.01 against 3.0 A", "asks for 3.01 A of object 3, which offers 3 A")],
    ),
    "pps current": (
        lambda: Talk().offer().ask(PLAIN[3], 3050, 9000).then("source", "Reject"),
        [("2 fail request-current: sink 3.05 against 3.0 A", "asks for 3.05 A of object 4, which offers 3 A")],
    ),
    "battery on": (lambda: req(Talk().offer([PLAIN[0], BATTERY]), 2 << 28 | 80 << 10 | 80), []),
    "battery beyond": (
        lambda: req(Talk().offer([PLAIN[0], BATTERY]), 2 << 28 | 81 << 10 | 81),
        [("2 fail request-current: sink 20.25 against 20.0 W", "asks for 20.25 W of object 2, which offers 20 W")],
    ),
    "battery wide": (
        # 20 W is 4 A at its 5 V and 1.67 A at its 12 V: whether it is more than 3 A nobody can say.
        lambda: req(Talk().offer([PLAIN[0], WIDE_BATTERY]), 2 << 28 | 80 << 10 | 80),
        [],
    ),
    "avs below 15 V": (lambda: Talk().offer(ADJUSTABLE).ask(ADJUSTABLE[1], 3000, 12000).then("source", "Reject"), []),
    "avs above 15 V": (
        lambda: Talk().offer(ADJUSTABLE).ask(ADJUSTABLE[1], 3000, 18000).then("source", "Reject"),
        [("2 fail request-current: sink 3.0 against 2.5 A", "asks for 3 A of object 2, which offers 2.5 A")],
    ),
    "variable beyond": (
        lambda: req(Talk().offer([PLAIN[0], VARIABLE]), 2 << 28 | 310 << 10 | 310),
        [
            (
                "0 warn word: source",
                "Source_Capabilities: object 2: the minimum of a variable supply is below 80 % of its maximum",
            ),
            ("2 fail request-current: sink 3.1 against 3.0 A", "asks for 3.1 A of object 2, which offers 3 A"),
        ],
    ),
    "cable too much asked": (
        lambda: req(Talk().offer([PLAIN[0], fixed(20000, 3250, 2)]), 2 << 28 | 500 << 10 | 500),
        [
            ("2 fail request-current: sink 5.0 against 3.25 A", "asks for 5 A of object 2, which offers 3.25 A"),
            (
                "2 note request-cable: sink 3.25 against 3.0 A",
                "asks for 3.25 A with a cable whose identity is not in this log",
            ),
        ],
    ),
    "cable unknown offer": (
        lambda: req(Talk().offer(), 6 << 28 | 500 << 10 | 500),
        [
            (
                "2 fail request-position: sink 6 against 4 1",
                "asks for object 6, which was not offered: the list goes to 4",
            ),
        ],
    ),
    "cable asked": (
        lambda: req(unanswered_cable().offer(STRONG), 2 << 28 | 500 << 10 | 500),
        [
            (
                "3 fail request-cable: sink 5.0 against 3.0 A",
                "asks for 5 A with a cable that did not answer when it was asked for its identity",
            )
        ],
    ),
    "cable silent offer": (
        lambda: unanswered_cable().offer(STRONG),
        [
            (
                "1 fail offer-cable: source 5.0 against 3.0 A",
                "offers 5 A with a cable that did not answer when it was asked for its identity",
            )
        ],
    ),
    "cable nak": (
        lambda: (
            Talk()
            .say("port", "Vendor_Defined", [IDENTITY], sop="SOP'")
            .wait(0.002)
            .say("plug", "Vendor_Defined", [0xFF00A081], sop="SOP'")
            .wait(0.05)
            .offer(STRONG)
            .agree(STRONG[1], 5000)
        ),
        [("6 fail request-cable: sink 5.0 against 3.0 A", "asks for 5 A with a cable that did not give its identity")],
    ),
    "cable 5a": (lambda: Talk().cable().offer(STRONG).agree(STRONG[1], 5000), []),
    "order again": (
        lambda: (
            Talk()
            .offer([PLAIN[0], PLAIN[2], PLAIN[1]])
            .agree(PLAIN[0])
            .wait(5)
            .offer([PLAIN[0], PLAIN[2], PLAIN[1]])
            .agree(PLAIN[0])
            .wait(5)
            .offer([PLAIN[2], PLAIN[1]])
            .agree(PLAIN[0])
        ),
        [
            ("0 fail offer-order: source", "object 3: comes after object 2 but belongs before it"),
            (
                "16 fail offer-order: source",
                "object 1: the first object is not 5 V fixed; object 2: comes after object 1 but belongs before it",
            ),
            (
                "16 note offer-changed: source",
                "the source changed its offer: no more 5 V 3 A; the sink asked for the same again",
            ),
        ],
    ),
    "order epr": (
        lambda: before_epr().enter().epr_list([EPR[0], EPR[1], fixed(28000, 5000, 3)]),
        [("18 fail offer-order: source", "object 3: an EPR object in positions 1..7")],
    ),
    "range low": (
        lambda: Talk().offer().ask(PLAIN[3], 2000, 3280).then("source", "Reject"),
        [("2 fail request-range: sink 3.28 against 3.3 V", "asks for 3.28 V of object 4, which gives 3.3..16 V")],
    ),
    "range low on": (lambda: Talk().offer().ask(PLAIN[3], 2000, 3300).then("source", "Reject"), []),
    "range high on": (lambda: Talk().offer().ask(PLAIN[3], 2000, 16000).then("source", "Reject"), []),
    "range high": (
        lambda: Talk().offer().ask(PLAIN[3], 2000, 16020).then("source", "Reject"),
        [("2 fail request-range: sink 16.02 against 16.0 V", "asks for 16.02 V of object 4, which gives 3.3..16 V")],
    ),
    "step": (
        lambda: req(in_epr().wait(0.1), 9 << 28 | 801 << 9 | 60 | 1 << 22, EPR[3].word, name="EPR_Request"),
        [
            (
                "30 fail request-step: sink 20.025 against 0.1 V",
                "asks for 20.025 V of object 9, which goes in steps of 100 mV",
            )
        ],
    ),
    "form epr in spr": (
        lambda: req(Talk().cable().offer([EPR[0], EPR[1]]), 2 << 28 | 300 << 10 | 300, EPR[1].word, name="EPR_Request"),
        [("6 fail request-form: sink", "sends EPR_Request in SPR mode")],
    ),
    "form spr in epr": (
        lambda: req(in_epr().wait(0.1), 2 << 28 | 300 << 10 | 300 | 1 << 22),
        [("30 fail request-form: sink", "sends Request in EPR mode")],
    ),
    "form two": (
        lambda: req(Talk().offer(), 2 << 28 | 300 << 10 | 300, 0),
        [("2 fail request-form: sink 2 against 1 1", "Request has 2 objects in place of 1")],
    ),
    "form one": (
        lambda: req(in_epr().wait(0.1), 8 << 28 | 500 << 10 | 500 | 1 << 22, name="EPR_Request"),
        [("30 fail request-form: sink 1 against 2 1", "EPR_Request has 1 object in place of 2")],
    ),
    "form copy": (
        lambda: req(in_epr().wait(0.1), 8 << 28 | 500 << 10 | 500 | 1 << 22, EPR[1].word, name="EPR_Request"),
        [("30 fail request-form: sink", "the copy 000641F4 is not object 8, 0008C1F4, as it was offered")],
    ),
    "form epr no list": (lambda: req(Talk(), 2 << 28 | 300 << 10 | 300, EPR[1].word, name="EPR_Request"), []),
}


@pytest.mark.parametrize("name", TOLD)
def test_remarks_are_whole(name: str) -> None:
    make, expected = TOLD[name]
    assert told(make()) == expected
