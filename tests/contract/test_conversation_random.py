"""Random kits, cables and triggers: what they come to, and what no conversation may ever do."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from pdcheck.bits.offers import Offer, arranged, epr_avs, fixed, pps, spr_avs
from pdcheck.contract.settle import Contract, settle
from pdcheck.contract.talk.conversation import Talk, converse
from pdcheck.contract.talk.events import Event
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import parse_request
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

CABLES = ("C-C", "C-C 3A", "C-C 5A", "EPR", "A-C", "captive 3A", "captive 5A", "active 5A", "unmarked", "C-C 2A")
VOLTAGES = (5, 9, 12, 15, 20, 28, 36, 48)


@st.composite
def offer_lists(draw: st.DrawFn) -> tuple[Offer, ...]:
    """A list as a source has it: 5 V, some more, perhaps PPS, AVS and EPR."""
    tens = st.integers(50, 500).map(lambda steps: steps * 10)
    low = draw(st.lists(st.sampled_from(VOLTAGES[1:5]), unique=True, max_size=4))
    offers = [fixed(5000, draw(tens)), *(fixed(volts * 1000, draw(tens)) for volts in low)]
    if draw(st.booleans()):
        offers.append(pps(draw(st.sampled_from((3300, 5000))), draw(st.sampled_from((5900, 11000, 16000, 21000))),
                          draw(st.integers(20, 100)) * 50))  # fmt: skip
    if draw(st.booleans()):
        offers.append(spr_avs(draw(tens), draw(st.one_of(st.just(0), tens))))
    if draw(st.booleans()):
        high = draw(st.lists(st.sampled_from(VOLTAGES[5:]), unique=True, max_size=3))
        offers += [fixed(volts * 1000, draw(tens)) for volts in high]
        if draw(st.booleans()):
            offers.append(epr_avs(15000, draw(st.sampled_from((28000, 36000, 48000))), draw(st.integers(100, 240))))
    return arranged(offers)


@st.composite
def request_texts(draw: st.DrawFn) -> str:
    """What a trigger may be set to."""
    amps = draw(st.sampled_from(("", " 1A", " 3A", " 5A")))
    volts = draw(st.integers(33, 480)) / 10
    kind = draw(st.sampled_from(("fixed", "fixed", "pps", "avs", "prefer", "highest", "power", "none")))
    if kind == "fixed":
        return f"{draw(st.sampled_from(VOLTAGES))}V{amps}"
    if kind == "prefer":
        chosen = draw(st.lists(st.sampled_from(VOLTAGES), unique=True, min_size=1, max_size=4))
        return "prefer " + " ".join(f"{each}V" for each in chosen)
    return f"{kind} {volts}V{amps}" if kind in ("pps", "avs") else kind


cables = st.sampled_from(CABLES).map(Cable)
triggers = st.builds(
    lambda request, fallback: Trigger(request=request, fallback=fallback),
    request_texts(),
    st.sampled_from(("next-lower", "5V", "none")),
)


def told_of(contract: Contract) -> tuple[Any, ...]:
    return (
        contract.outcome,
        contract.kind,
        contract.voltage_v,
        contract.current_a,
        contract.position,
        contract.request_words,
        contract.mismatch,
        contract.epr,
    )


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(offer_lists(), cables, triggers, st.one_of(st.none(), st.integers(0, 10**6)))
@example(Source(id="s", offers="5V 3A, 28V 5A").offers, Cable("EPR"), Trigger(request="pps 28V"), None)
def test_what_stands_in_the_end_is_what_settle_says(
    offers: tuple[Offer, ...], cable: Cable, trigger: Trigger, seed: int | None
) -> None:
    source = Source(id="s", offers=offers)
    talk = converse(trigger, source, cable, seed=seed, until_s=9.0)
    expected = settle(trigger, source, cable)
    assert talk.contract is not None, talk.reason
    assert told_of(talk.contract) == told_of(expected)
    assert talk.result == {"as-asked": "contract", "fallback": "contract"}.get(expected.outcome, expected.outcome)
    if talk.result == "contract" and talk.contract.offer is not None:
        held = talk.voltage[-1]
        assert held.steady
        assert held.to_v == talk.contract.voltage_v
    sent = [packet.message().words for packet in talk.packets if packet.raw and "Request" in packet.message().type]
    assert not expected.request_words or sent[-1] == expected.request_words


class Conversations(RuleBasedStateMachine):
    """A conversation that anything may happen to, watched at every step."""

    talk: Talk
    carried_ma: int

    @initialize(
        offers=offer_lists(),
        cable=cables,
        trigger=triggers,
        seed=st.integers(0, 1000),
        behaviour=st.fixed_dictionaries(
            {},
            optional={
                "reject": st.integers(0, 2),
                "wait": st.integers(0, 2),
                "skip_accept": st.integers(0, 1),
                "tells": st.sampled_from(("capabilities", "hard-reset")),
                "epr_entry": st.sampled_from(("granted", "refused", "no-vconn", "not-now", "not-marked")),
                "silent": st.sampled_from(("request", "ps-rdy", "epr-entry", "keep-alive", "capabilities")),
                "ps_rdy": st.sampled_from(("50ms", "300ms", "600ms")),
            },
        ),
    )
    def plug_in(
        self, offers: tuple[Offer, ...], cable: Cable, trigger: Trigger, seed: int, behaviour: dict[str, Any]
    ) -> None:
        self.talk = Talk(trigger, Source(id="s", offers=offers, behaviour=behaviour), cable, seed=seed)
        self.carried_ma = round(cable.current_a * 1000)
        self.cable = cable

    @rule(seconds=st.one_of(st.floats(0.0005, 0.05), st.floats(0.05, 4.0)))
    def wait(self, seconds: float) -> None:
        self.talk.play(self.talk.clock.now_s + seconds)

    @rule(power=st.integers(5, 240))
    def lower(self, power: int) -> None:
        self.happen("lower", left=Lowered(power_w=float(power)))

    @rule(offers=offer_lists())
    def lower_to(self, offers: tuple[Offer, ...]) -> None:
        self.happen("lower", left=Lowered(offers=offers))

    @rule(kind=st.sampled_from(("full", "reset", "least", "reject", "wait")))
    def other(self, kind: str) -> None:
        self.happen(kind)

    @rule(text=request_texts())
    def set_anew(self, text: str) -> None:
        if text != "none":
            self.happen("request", request=parse_request(text))

    @rule(who=st.sampled_from(("sink silent", "source silent")), often=st.integers(0, 5))
    def fall_silent(self, who: str, often: int) -> None:
        if often == 0:
            self.happen(who)

    def happen(self, kind: str, **more: Any) -> None:
        self.talk.plan(Event(self.talk.clock.now_s, kind, kind, **more))

    @invariant()
    def nothing_beyond_offer_and_cable(self) -> None:
        if not hasattr(self, "talk"):
            return
        source = self.talk.source
        if source is None or source.grant is None:
            return
        offer, voltage_mv, current_ma = source.grant
        assert current_ma <= min(offer.current_ma_at(voltage_mv), self.carried_ma)
        assert offer.min_mv <= voltage_mv <= offer.max_mv
        assert self.cable.pd
        if offer.is_epr:
            assert self.cable.is_epr
            assert source.in_epr
        sink = self.talk.sink
        if sink is not None and sink.standing is not None and not source.says("has_to_tell"):
            assert sink.standing.contract.current_a * 1000 <= self.carried_ma + 1e-6

    @invariant()
    def every_end_is_told(self) -> None:
        if not hasattr(self, "talk"):
            return
        talk = self.talk.so_far()
        assert talk.result in ("contract", "off", "type-c", "failed")
        assert talk.reason
        assert (talk.contract is None) == (talk.result == "failed")
        if talk.result == "type-c" and talk.contract is not None:
            assert talk.contract.voltage_v == 5.0

    @invariant()
    def packets_follow_each_other(self) -> None:
        if not hasattr(self, "talk"):
            return
        packets = self.talk.line.packets
        assert all(after.time_s > before.end_s for before, after in pairwise(packets[-20:]))

    @invariant()
    def no_sprvoltage_is_passed_without_epr(self) -> None:
        if hasattr(self, "talk") and not self.cable.is_epr:
            assert all(segment.to_v <= 21.0 for segment in self.talk.bus.so_far()[-5:])


Conversations.TestCase.settings = settings(
    max_examples=60, stateful_step_count=25, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
TestConversations = Conversations.TestCase
