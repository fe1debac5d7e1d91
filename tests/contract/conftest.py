"""Conversations that between them lead through every state; each with what it must come to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

import pytest

from pdcheck.contract.talk.conversation import Conversation, converse
from pdcheck.contract.talk.events import parse_event
from pdcheck.contract.talk.sink_port import PROPER, Manner
from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

PLAIN = "5V 3A, 9V 3A, 15V 3A, 20V 2.25A"
PPS = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A"
BIG = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W"
PLAIN_CABLE = "C-C"
EPR_CABLE = "EPR"


class Scene(NamedTuple):
    """What is plugged together, what happens, and what it comes to: result, volts, amps at the end."""

    name: str
    request: str
    offers: str
    cable: str
    result: str
    volts: float | None
    amps: float | None
    behaviour: Mapping[str, Any] = MappingProxyType({})
    events: tuple[str, ...] = ()
    manner: Manner = PROPER
    until_s: float = 20.0
    fallback: str = "next-lower"

    def parts(self) -> tuple[Trigger, Source, Cable]:
        source = Source(id="s", offers=self.offers, behaviour=dict(self.behaviour), typec_current="1.5A")
        return Trigger(request=self.request, fallback=self.fallback), source, Cable(self.cable)

    def play(self, seed: int | None = None) -> Conversation:
        trigger, source, cable = self.parts()
        events = [parse_event(text, source) for text in self.events]
        return converse(trigger, source, cable, events=events, until_s=self.until_s, manner=self.manner, seed=seed)


SCENES = (
    Scene("fixed", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0),
    Scene("12 V missing, next lower", "12V", PLAIN, PLAIN_CABLE, "contract", 9.0, 3.0),
    Scene("12 V missing, stays at 5 V", "12V", PLAIN, PLAIN_CABLE, "contract", 5.0, 3.0, fallback="5V"),
    Scene("12 V missing, output off", "12V", PLAIN, PLAIN_CABLE, "off", 0.0, 0.0, fallback="none"),
    Scene("more than offered", "20V 3A", PLAIN, PLAIN_CABLE, "contract", 20.0, 2.25),
    Scene("5 A hidden by a 3 A cable", "20V", BIG, "C-C 3A", "contract", 20.0, 3.0),
    Scene("5 A over a 5 A cable", "20V", BIG, "C-C 5A", "contract", 20.0, 5.0),
    Scene("A-to-C", "15V", PLAIN, "A-C", "type-c", 5.0, 1.5),
    Scene("trigger without PD", "none", PLAIN, PLAIN_CABLE, "type-c", 5.0, 1.5),
    Scene("source without PD", "9V", PLAIN, PLAIN_CABLE, "type-c", 5.0, 1.5, {"silent": "capabilities"}),
    Scene("PPS renewed", "pps 9V 2A", PPS, PLAIN_CABLE, "contract", 9.0, 2.0),
    Scene("PPS not renewed", "pps 9V 2A", PPS, PLAIN_CABLE, "contract", 9.0, 2.0, manner=Manner(renews=False)),
    Scene("PPS, trigger hangs", "pps 9V 2A", PPS, PLAIN_CABLE, "failed", None, None, events=("sink silent at 2s",)),
    Scene("PPS steps", "pps 9V 2A", PPS, PLAIN_CABLE, "contract", 12.0, 2.0, events=("request pps 12V 2A at 3s",)),
    Scene("EPR", "28V", BIG, EPR_CABLE, "contract", 28.0, 5.0),
    Scene("EPR AVS", "avs 24V 4A", BIG, EPR_CABLE, "contract", 24.0, 4.0),
    Scene("EPR, cable is not", "28V", BIG, "C-C 5A", "contract", 20.0, 5.0),
    Scene("EPR, request does not say so", "28V", BIG, EPR_CABLE, "contract", 20.0, 5.0, manner=Manner(says_epr=False)),
    Scene("EPR, no VCONN", "28V", BIG, EPR_CABLE, "contract", 20.0, 5.0, {"epr_entry": "no-vconn"}),
    Scene("EPR, not now", "28V", BIG, EPR_CABLE, "contract", 20.0, 5.0, {"epr_entry": "not-now"}),
    Scene("EPR, refused", "28V", BIG, EPR_CABLE, "contract", 20.0, 5.0, {"epr_entry": "refused"}),
    Scene("EPR, source not marked", "28V", BIG, EPR_CABLE, "contract", 20.0, 5.0, {"epr_entry": "not-marked"},
          manner=Manner(heeds_epr=False)),
    Scene("EPR entry unanswered", "28V", BIG, EPR_CABLE, "contract", 20.0, 5.0, {"silent": "epr-entry"}),
    Scene("EPR keep-alive unanswered", "28V", BIG, EPR_CABLE, "failed", None, None, {"silent": "keep-alive"}),
    Scene("EPR not kept alive", "28V", BIG, EPR_CABLE, "failed", None, None, manner=Manner(keeps_alive=False)),
    Scene("EPR left for less", "28V", BIG, EPR_CABLE, "contract", 20.0, 5.0, events=("request 20V at 3s",)),
    Scene("EPR withdrawn", "28V", BIG, EPR_CABLE, "contract", 20.0, 2.0, {"second_port": "5V 3A, 20V 2A"},
          ("second port at 3s",)),
    Scene("second port", "20V", PLAIN, PLAIN_CABLE, "contract", 20.0, 1.5, {"second_port": "30W"},
          ("second port at 3s",)),
    Scene("second port, by reset", "20V", PLAIN, PLAIN_CABLE, "contract", 20.0, 1.5,
          {"second_port": "30W", "tells": "hard-reset"}, ("second port at 3s",)),
    Scene("second port and back", "20V", PLAIN, PLAIN_CABLE, "contract", 20.0, 2.25, {"second_port": "30W"},
          ("second port at 3s", "second port off at 6s")),
    Scene("power bank runs down", "20V", PLAIN, PLAIN_CABLE, "contract", 5.0, 2.0,
          {"steps_down": [{"at": "2s", "to": "30W"}, {"at": "4s", "to": "10W"}]}),
    Scene("rejected once", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0, {"reject": 1}),
    Scene("rejected always", "15V", PLAIN, PLAIN_CABLE, "failed", None, None, {"reject": "always"}),
    Scene("told to wait", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0, {"wait": 2}),
    Scene("told to wait with a contract", "15V", PLAIN, PLAIN_CABLE, "contract", 9.0, 3.0,
          events=("wait at 2s", "request 9V at 3s")),
    Scene("rejected with a contract", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0,
          events=("reject at 2s", "request 9V at 3s")),
    Scene("no answer to a request", "15V", PLAIN, PLAIN_CABLE, "failed", None, None, {"silent": "request"}),
    Scene("no PS_RDY", "15V", PLAIN, PLAIN_CABLE, "failed", None, None, {"silent": "ps-rdy"}),
    Scene("PS_RDY late", "15V", PLAIN, PLAIN_CABLE, "failed", None, None, {"ps_rdy": "700ms"}),
    Scene("Accept left out once", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0, {"skip_accept": 1}),
    Scene("hard reset", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0, {"hard_reset": "2s"}),
    Scene("GotoMin given back", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 0.5,
          {"goto_min": "2s", "revision": "2.0"}, manner=Manner(least_a=0.5)),
    Scene("GotoMin not supported", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0, {"goto_min": "2s"}),
    Scene("GotoMin refused in Revision 2.0", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0,
          {"goto_min": "2s", "revision": "2.0"}),
    Scene("Revision 2.0", "15V", PLAIN, "C-C 5A", "contract", 15.0, 3.0, {"revision": "2.0"}),
    Scene("list out of order", "15V", PLAIN, PLAIN_CABLE, "contract", 15.0, 3.0, {"order": [1, 4, 3, 2]}),
    Scene("source falls silent", "28V", BIG, EPR_CABLE, "failed", None, None, events=("source silent at 3s",)),
    Scene("captive cable", "20V", BIG, "captive 5A", "contract", 20.0, 5.0),
    Scene("nothing to ask for", "9V", "9V 2A, 15V 2A", PLAIN_CABLE, "contract", 9.0, 2.0),
    Scene("no 5 V on the list", "7V", "9V 2A, 15V 2A", PLAIN_CABLE, "type-c", 5.0, 1.5),
)  # fmt: skip


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A test that takes ``scene`` runs once for each of them."""
    if "scene" in metafunc.fixturenames:
        metafunc.parametrize("scene", SCENES, ids=[scene.name for scene in SCENES])


@pytest.fixture
def scenes() -> dict[str, Scene]:
    """The scenes by name."""
    return {scene.name: scene for scene in SCENES}


@pytest.fixture
def play() -> Callable[..., Conversation]:
    """Play a scene made up on the spot."""
    return lambda *args, **more: Scene("", *args, result="", volts=None, amps=None, **more).play()
