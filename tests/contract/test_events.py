"""Events as they are typed: each form whole, each refusal with what was expected; and those of a source's own."""

from __future__ import annotations

import pytest

from pdcheck.bits.offers import fixed
from pdcheck.contract.talk.conversation import Talk, converse
from pdcheck.contract.talk.events import EXPECTED, Event, events_of, parse_event
from pdcheck.errors import InputError
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import FixedRequest, PpsRequest
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

DESK = Source(id="desk", offers="5V 3A, 20V 3A", behaviour={"second_port": "45W"})
PLAIN = Source(id="plain", offers="5V 3A, 20V 3A")


@pytest.mark.parametrize(
    ("text", "event"),
    [
        ("second port at 3s", Event(3.0, "lower", "second port", Lowered(power_w=45.0))),
        ("SECOND  PORT at 3 s", Event(3.0, "lower", "SECOND PORT", Lowered(power_w=45.0))),
        ("second port 30W at 500ms", Event(0.5, "lower", "second port 30W", Lowered(power_w=30.0))),
        ("second port to 30W @3s", Event(3.0, "lower", "second port to 30W", Lowered(power_w=30.0))),
        ("second port off at 8s", Event(8.0, "full", "second port off")),
        ("second port free at 8s", Event(8.0, "full", "second port free")),
        ("full power at 0s", Event(0.0, "full", "full power")),
        ("lower to 30W at 5s", Event(5.0, "lower", "lower to 30W", Lowered(power_w=30.0))),
        ("step down 30W at 5s", Event(5.0, "lower", "step down 30W", Lowered(power_w=30.0))),
        ("Steps down to 30W at 5s", Event(5.0, "lower", "Steps down to 30W", Lowered(power_w=30.0))),
        ("lower at 5s", Event(5.0, "lower", "lower")),
        ("lower to 5V 3A at 5s", Event(5.0, "lower", "lower to 5V 3A", Lowered(offers=(fixed(5000, 3000),)))),
        ("hard reset at 4s", Event(4.0, "reset", "hard reset")),
        ("goto min at 4s", Event(4.0, "least", "goto min")),
        ("GotoMin AT 4s", Event(4.0, "least", "GotoMin")),
        ("reject at 4s", Event(4.0, "reject", "reject")),
        ("wait at 4s", Event(4.0, "wait", "wait")),
        ("request 9V at 5s", Event(5.0, "request", "request 9V", request=FixedRequest(9.0))),
        ("Set pps 9V 2A at 5s", Event(5.0, "request", "Set pps 9V 2A", request=PpsRequest(9.0, 2.0))),
        ("sink silent at 3s", Event(3.0, "sink silent", "sink silent")),
        ("trigger silent at 3s", Event(3.0, "sink silent", "trigger silent")),
        ("source silent at 3600s", Event(3600.0, "source silent", "source silent")),
        (" wait at  4s ", Event(4.0, "wait", "wait")),
    ],
)
def test_what_is_typed(text: str, event: Event) -> None:
    assert parse_event(text, DESK) == event


def test_what_a_second_port_leaves_is_the_sources_to_say() -> None:
    assert parse_event("second port at 3s", PLAIN) == Event(3.0, "lower", "second port")


@pytest.mark.parametrize(
    ("text", "what", "expected"),
    [
        ("dance at 3s", "'dance at 3s' is no event", EXPECTED),
        ("request at 3s", "'request at 3s' is no event", EXPECTED),
        ("wait", "'wait' is no event", EXPECTED),
        ("", "'' is no event", EXPECTED),
        ("at 3s", "'at 3s' is no event", EXPECTED),
        ("second port at", "'second port at' is no event", EXPECTED),
        (
            "lower to x at 3s",
            "'x' cannot be read as a number with a unit",
            'a power such as 45W, or offers such as "5V 3A, 9V 2A"',
        ),
        (
            "wait at 3 apples",
            "'wait at 3 apples': '3 apples': 'apples' is not a unit of time",
            "a time such as 3s or 500ms",
        ),
    ],
)
def test_what_is_no_event(text: str, what: str, expected: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_event(text, DESK)
    assert (caught.value.what, caught.value.expected) == (what, expected)


def test_a_text_of_300_signs_is_read_and_one_more_is_not() -> None:
    text = "wait" + " " * 293 + "at 4s"
    assert parse_event(text[:4] + text[6:], DESK).kind == "wait"
    with pytest.raises(InputError):
        parse_event(text, DESK)


def test_events_of_a_sources_own() -> None:
    behaviour = {"steps_down": [{"at": "2s", "to": "30W"}, {"at": "1s", "to": "5V 2A"}], "hard_reset": "0s",
                 "goto_min": "0s"}  # fmt: skip
    source = Source(id="s", offers="5V 3A, 9V 3A", behaviour=behaviour)
    left = source.behaviour.steps_down[1].to
    assert events_of(source) == [
        Event(2.0, "lower", "steps down to 30 W", Lowered(power_w=30.0)),
        Event(1.0, "lower", "steps down to 1 offers of its own", left),
        Event(0.0, "reset", "the source resets"),
        Event(0.0, "least", "the source wants the sink at its least current"),
    ]
    assert events_of(PLAIN) == []


@pytest.mark.parametrize(
    ("until_s", "text"), [(0.0, "0 s"), (-1.0, "-1 s"), (3600.5, "3600.5 s"), (float("nan"), "nan s")]
)
def test_no_time_to_talk_for(until_s: float, text: str) -> None:
    with pytest.raises(InputError) as caught:
        converse(Trigger(request="9V"), PLAIN, Cable("C-C"), until_s=until_s)
    assert caught.value.what == f"{text} is no time to talk for"
    assert caught.value.expected == "more than 0 s, at most 3600 s"


def test_an_hour_and_as_little_as_one_likes() -> None:
    trigger, cable = Trigger(request="9V"), Cable("C-C")
    assert converse(trigger, PLAIN, cable, until_s=3600.0).until_s == 3600.0
    assert (
        converse(trigger, PLAIN, cable, until_s=1e-9).reason
        == "no contract after 1e-09 s (not attached and not attached)"
    )
    assert converse(trigger, PLAIN, cable).until_s == 20.0


def test_events_come_in_the_order_of_time_and_late_ones_at_once() -> None:
    trigger, cable = Trigger(request="20V"), Cable("C-C")
    events = [Event(2.0, "wait", "second"), Event(1.0, "reject", "first")]
    talk = converse(trigger, PLAIN, cable, events=events, until_s=2.0)
    assert [(mark.time_s, mark.text) for mark in talk.remarks if mark.kind == "event"] == [
        (1.0, "first"),
        (2.0, "second"),
    ]
    going = Talk(trigger, PLAIN, cable)
    going.play(1.5)
    going.plan(Event(1.0, "wait", "late"))
    going.play(1.5)
    assert going.journal.remarks[-1] == (1.5, "event", "late")


def test_what_nobody_said_is_told_to_be_assumed() -> None:
    talk = converse(Trigger(request="20V"), PLAIN, Cable("C-C"), until_s=2.0,
                    events=[parse_event("second port at 1s", PLAIN)])  # fmt: skip
    assert talk.assumed == (
        "Type-C current at 5 V not stated: taken as 0.5 A",
        "second port: what is left is not stated, taken as half of the power, 30 W",
    )
