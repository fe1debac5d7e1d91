"""Whole conversations kept as text: who sent what and when, the states of both sides, VBUS with its limits, remarks.

Limits of time and voltage are held by other tests, against the standard's figures; here whatever moves is seen.
``python -m tests.contract.told.test_told`` writes the present text; read the difference before you keep it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pdcheck.bits.sequence import Listener
from pdcheck.contract.settle import Contract
from pdcheck.contract.talk.conversation import Conversation
from pdcheck.contract.talk.sink_port import Manner
from pdcheck.contract.talk.words import says
from tests.contract.conftest import BIG, EPR_CABLE, PLAIN, PLAIN_CABLE, PPS, SCENES, Scene

HERE = Path(__file__).parent


def scene(name: str, request: str, offers: str, cable: str, *events: str, **more: object) -> Scene:
    return Scene(name, request, offers, cable, "", None, None, events=events, **more)  # type: ignore[arg-type]


# How long a scene of the others is listened to, where what comes later only says the same again.
UNTIL_S = {
    "trigger without PD": 1.0,
    "PPS renewed": 11.0,
    "EPR": 1.4,
    "EPR AVS": 1.4,
    "EPR keep-alive unanswered": 1.6,
    "EPR not kept alive": 3.0,
    "EPR left for less": 4.0,
    "EPR withdrawn": 4.0,
    "rejected always": 3.0,
    "no answer to a request": 3.0,
    "no PS_RDY": 3.0,
    "PS_RDY late": 3.0,
    "source falls silent": 5.0,
}
MORE_AVS = "5V 3A, 9V 3A, 15V 3A, 20V 5A; PPS 3.3-21V 5A; AVS 9-20V 5A/5A; 28V 5A; AVS 15-28V 140W"
PAGES = {
    "plain": [
        "fixed", "12 V missing, next lower", "12 V missing, stays at 5 V", "12 V missing, output off",
        "more than offered", "5 A hidden by a 3 A cable", "5 A over a 5 A cable", "A-to-C", "trigger without PD",
        "source without PD", "Revision 2.0", "list out of order", "captive cable", "nothing to ask for",
        "no 5 V on the list",
        scene("an e-marker in Revision 2.0", "20V", "5V 3A, 20V 5A", "C-C 5A", behaviour={"revision": "2.0"}),
        scene("an active cable", "20V", "5V 3A, 20V 5A", "active 5A"),
        scene("before VBUS is up", "15V", PLAIN, PLAIN_CABLE, until_s=0.1),
        scene("a trigger without PD, before VBUS is up", "none", PLAIN, PLAIN_CABLE, until_s=0.1),
        scene("while VBUS goes up", "none", PLAIN, PLAIN_CABLE, until_s=0.16),
    ],
    "pps": [
        "PPS renewed", "PPS not renewed", "PPS, trigger hangs", "PPS steps",
        scene("from PPS to fixed", "pps 9V 2A", PPS, PLAIN_CABLE, "request 15V at 2s", until_s=4.0),
        scene("SPR AVS steps", "avs 12V 2A", "5V 3A, 9V 3A, 20V 3A; AVS 9-20V 3A/3A", PLAIN_CABLE,
              "request avs 12.5V 2A at 2s", "request avs 16V 2A at 3s", until_s=4.0),
    ],
    "epr": [
        "EPR", "EPR AVS", "EPR keep-alive unanswered", "EPR not kept alive", "EPR left for less", "EPR withdrawn",
        scene("EPR, of several wishes", "prefer 36V 28V 20V", BIG, EPR_CABLE, until_s=1.2),
        scene("EPR in vain, output off", "36V", BIG, EPR_CABLE, fallback="none", until_s=1.6),
        scene("EPR left for PPS", "28V", MORE_AVS, EPR_CABLE, "request pps 9V 9A at 2s", until_s=2.6),
        scene("EPR left for AVS", "28V 2A", MORE_AVS, EPR_CABLE, "request avs 12V at 2s", until_s=2.6),
        scene("EPR of a captive cable", "28V", BIG, "captive 240W", until_s=1.1),
        scene("EPR withdrawn by a reset", "28V", BIG, EPR_CABLE, "second port at 1.5s", until_s=4.0,
              behaviour={"second_port": "60W", "tells": "hard-reset"}),
        scene("EPR shared, nobody says how", "28V", BIG, EPR_CABLE, "second port at 2s", until_s=3.0),
    ],
    "epr-refused": [
        "EPR, cable is not", "EPR, request does not say so", "EPR, no VCONN", "EPR, not now", "EPR, refused",
        "EPR, source not marked", "EPR entry unanswered",
    ],
    "events": [
        "second port", "second port, by reset", "second port and back", "power bank runs down", "hard reset",
        "GotoMin given back", "GotoMin not supported", "GotoMin refused in Revision 2.0", "source falls silent",
        scene("a setting that a trigger without PD has not", "none", PLAIN, PLAIN_CABLE, "request 9V at 0.5s",
              until_s=0.6),
        scene("a source without PD", "15V", PLAIN, "A-C", "second port at 1s", "sink silent at 2s", until_s=2.1),
        scene("set while it waits", "15V", PLAIN, PLAIN_CABLE, "request 20V at 0.8s", "request 9V at 2.5s",
              behaviour={"wait": 3}, until_s=3.0),
        scene("silence before a contract", "15V", PLAIN, PLAIN_CABLE, "source silent at 0.3s", until_s=2.5),
        scene("both fall silent", "15V", PLAIN, PLAIN_CABLE, "sink silent at 1s", "hard reset at 2s", until_s=4.0),
        scene("reset before a contract", "15V", PLAIN, PLAIN_CABLE, "hard reset at 0.3s", until_s=3.0),
        scene("lowered before a contract", "15V", PLAIN, PLAIN_CABLE, "second port 30W at 0.3s", "goto min at 0.31s",
              until_s=2.0),
        scene("GotoMin given back, then more", "15V", PLAIN, PLAIN_CABLE, "goto min at 2s", "request 9V at 3s",
              behaviour={"revision": "2.0"}, manner=Manner(least_a=0.5), until_s=4.0),
    ],
    "refusals": [
        "rejected once", "rejected always", "told to wait", "told to wait with a contract", "rejected with a contract",
        "no answer to a request", "no PS_RDY", "PS_RDY late", "Accept left out once",
        scene("PS_RDY at once", "15V", PLAIN, PLAIN_CABLE, behaviour={"ps_rdy": "0s"}, until_s=1.0),
        scene("Accept left out twice", "15V", PLAIN, PLAIN_CABLE, "request 9V at 2s", behaviour={"skip_accept": 2},
              until_s=3.0),
        scene("told to wait twice, then rejected", "15V", PLAIN, PLAIN_CABLE, "wait at 1s", "wait at 1s",
              "reject at 1s", "reject at 1s", "request 9V at 1.1s", "request 5V at 2s", "request 9V at 3s",
              until_s=4.0),
    ],
}  # fmt: skip
SEEDS = {"fixed": 3, "EPR AVS": 4, "hard reset": 5, "PPS renewed": 6}


def _contract(found: Contract | None) -> str:
    if found is None:
        return "none"
    words = " ".join(f"{word:08x}" for word in found.request_words) or "no request"
    text = (
        f"{found.outcome}, {found.kind} {found.voltage_v:g} V {found.current_a:g} A, object {found.position}, {words}"
    )
    return f"{text}{', mismatch' if found.mismatch else ''}: {found.reason}"


def _us(seconds: float) -> str:
    return f"{seconds * 1e6:.1f} us"


def _packets(talk: Conversation) -> Iterator[tuple[float, str]]:
    listener = Listener()
    for packet, after in zip(talk.packets, [*talk.packets, None][1:], strict=True):
        took = _us(packet.end_s - packet.time_s)
        if packet.is_reset:
            listener = Listener()
            yield packet.time_s, f"{packet.sender} ~ {packet.sop} ({took})"
            continue
        message = packet.message()
        if message.type == "GoodCRC":
            continue
        data = " ".join([packet.raw[:2].hex(), packet.raw[2:-4].hex(" ", 4)]).strip()
        told = f"{packet.sender} ~ {packet.sop} {message.type} {says(listener.hear(message))}".strip()
        again = f", try {packet.attempt}" if packet.attempt > 1 else ""
        if packet.answered_s is not None:
            assert after is not None
            answer = f"; {after.sender} answers {after.raw[:2].hex()} {_us(after.time_s - packet.end_s)} on"
            again += f"{answer} ({_us(after.end_s - after.time_s)})"
        yield packet.time_s, f"{told} [{data}] ({took}{again})"


def _lines(talk: Conversation) -> Iterator[tuple[float, str]]:
    yield from _packets(talk)
    for each in talk.remarks:
        yield each.time_s, f"{each.kind}: {each.text}"
    for change in talk.changes:
        yield change.time_s, f"{change.side} in {change.state} ({change.reason})"
    for stand in talk.stands:
        yield stand.time_s, f"contract: {_contract(stand.contract)}"
    for part in talk.voltage:
        goes = f"{part.to_v:g} V" if part.steady else f"{part.from_v:g} to {part.to_v:g} V"
        current = "" if part.current_a is None else f", {part.current_a:g} A{' held' if part.limits_current else ''}"
        yield (
            part.start_s,
            f"VBUS {goes} in {part.min_v:g}..{part.max_v:g} V{current}, to {part.end_s:.6f}: {part.text}",
        )


def _told(one: Scene, seed: int | None = None) -> str:
    talk = one._replace(until_s=UNTIL_S.get(one.name, min(one.until_s, 12.0))).play(seed)
    extras = [f"{key} {value}" for key, value in one.behaviour.items()] + list(one.events)
    head = f"== {one.name}: {one.request} of {one.offers} over {one.cable}{''.join(f'; {each}' for each in extras)}"
    lines = [f"{time_s:.6f} {text}" for time_s, text in sorted(_lines(talk), key=lambda each: each[0])]
    end = f"{talk.until_s:g} s, {talk.result}: {talk.reason}\n{_contract(talk.contract)}"
    return "\n".join([head, *lines, end, *(f"assumed: {text}" for text in talk.assumed)]) + "\n"


def _page(name: str) -> str:
    known = {each.name: each for each in SCENES}
    if name == "drawn":
        return "\n".join(_told(known[key], seed) for key, seed in SEEDS.items())
    return "\n".join(_told(known[each] if isinstance(each, str) else each) for each in PAGES[name])


TEXTS: dict[str, Callable[[], str]] = {name: lambda name=name: _page(name) for name in [*PAGES, "drawn"]}  # type: ignore[misc]


@pytest.mark.parametrize("name", TEXTS)
def test_what_is_said_is_what_was_said(name: str) -> None:
    assert TEXTS[name]() == (HERE / f"{name}.txt").read_text(encoding="utf-8"), (
        "anew: python -m tests.contract.told.test_told"
    )


if __name__ == "__main__":
    for page, make in TEXTS.items():
        (HERE / f"{page}.txt").write_text(make(), encoding="utf-8")
