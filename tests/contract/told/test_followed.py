"""Captured conversations followed, kept as text: after each message, all that is known differently than before.

``python -m tests.contract.told.test_followed`` writes the present text; read the difference before you keep it.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pdcheck.bits.message import build_message, make_header
from pdcheck.bits.offers import Offer, battery, fixed, variable
from pdcheck.contract.following.state import Asked, State, Step
from pdcheck.intake.sniff import read_input
from tests.contract.audited import audit
from tests.contract.test_audit_rules import EPR, PLAIN, Talk, before_epr, in_epr, started

FILE = Path(__file__).parent / "followed.txt"
ROAMING = [fixed(5000, 3000), variable(9000, 12000, 2000, 2), battery(8000, 9000, 20000, 3)]
VDM_BUSY, VDM_ATTENTION = 0xFF00A0C1, 0xFF00A106


def spoil(talk: Talk) -> Talk:
    """A message whose CRC does not fit."""
    raw = bytearray(build_message(make_header("Get_Status", 0, message_id=talk.ids["SOP", "source"], source=True)))
    raw[-1] ^= 1
    talk.line(bytes(raw))
    return talk


def cable_reset(talk: Talk) -> Talk:
    talk.lines.append(f"{talk.now:.6f} Cable_Reset")
    return talk.wait(0.001)


def swap(name: str, answer: str, *, who: str = "sink") -> Talk:
    other = "source" if who == "sink" else "sink"
    return started().wait(1).say(who, name).then(other, answer).wait(0.02).say(who, "PS_RDY")


def later(talk: Talk) -> Talk:
    """The plug is pulled and put in again."""
    talk.wait(2).ids.clear()
    return talk


def retried() -> Talk:
    talk = Talk().offer(acked=False, tries=2).ask(PLAIN[1], 3000, tries=2)
    return talk.wait(0.002).say("source", "Accept", tries=3).wait(0.1).say("source", "PS_RDY", acked=False, tries=2)


def soft_reset() -> Talk:
    talk = started().wait(1)
    talk.ids.clear()
    return talk.say("source", "Soft_Reset").then("sink", "Accept").wait(0.01).offer().agree()


def goto_min() -> Talk:
    talk = Talk().say("source", "GotoMin").then("source", "PS_RDY").wait(0.1).offer().agree().wait(1)
    talk.say("source", "GotoMin").then("source", "PS_RDY").wait(1).say("source", "GotoMin").then("sink", "Reject")
    return talk.wait(1).say("sink", "GotoMin").then("source", "Wait")


def odd_epr() -> Talk:
    talk = before_epr().wait(0.02).say("sink", "EPR_Mode", [0x018C0000]).then("source", "EPR_Mode", [0x04040000])
    return (
        talk.wait(1)
        .epr_list()
        .wait(0.1)
        .say("source", "EPR_Mode", [0x02000000])
        .wait(0.1)
        .say("source", "EPR_Mode", [0])
    )


def leaving_epr() -> Talk:
    talk = in_epr().wait(0.1).epr_list(EPR[:2]).agree(EPR[1], 5000).wait(0.05).say("sink", "EPR_Mode", [0x05000000])
    talk.epr = False
    return talk.wait(0.01).offer([EPR[0], EPR[1]]).agree(EPR[1], 3000)


def cables() -> Talk:
    talk = Talk().say("port", "Vendor_Defined", [0xFF00A001], sop="SOP'").wait(0.002)
    talk.say("plug", "Vendor_Defined", [VDM_BUSY], sop="SOP'").wait(0.1)
    talk.say("port", "Vendor_Defined", [VDM_ATTENTION], sop="SOP'").wait(0.1)
    talk.say("port", "Soft_Reset", sop="SOP''").wait(0.1)
    return cable_reset(cable_reset(talk.cable()).offer().agree()).wait(0.01).cable()


def chatty() -> Talk:
    talk = Talk().offer().wait(0.001).say("source", "Ping").wait(0.001).ask(PLAIN[1], 2000)
    talk.wait(0.001).say("source", "Ping").wait(0.001).say("source", "Accept").wait(0.05).say("source", "Ping")
    talk.wait(0.05).say("source", "PS_RDY").wait(1).say("sink", "Get_Source_Cap").then("source", "Not_Supported")
    talk.wait(1).say("sink", "Sink_Capabilities", [0x0001912C])
    return talk.wait(1).say("sink", "Source_Capabilities", [0x0A01912C])


def between() -> Talk:
    """Other messages where an answer or PS_RDY is due."""
    talk = Talk().offer().ask(PLAIN[1], 3000).then("source", "Accept").then("sink", "Get_Status").wait(0.1)
    talk.say("source", "PS_RDY").wait(1).ask(PLAIN[2], 3000).then("source", "Get_Sink_Cap").wait(0.1)
    talk.say("source", "Accept").wait(1).say("source", "PS_RDY").wait(1).say("sink", "PS_RDY").wait(1)
    talk.ask(PLAIN[2], 1000).then("source", "Not_Supported").wait(1).say("source", "Reject").wait(1)
    return talk.ask(PLAIN[2], 1000).then("source", "Accept").then("sink", "Reject").wait(0.1).say("source", "PS_RDY")


TALKS = {
    "a plain conversation": lambda: Talk().cable().offer().agree().wait(1).agree(PLAIN[3], 2000, 9000),
    "no GoodCRC in the log": lambda: Talk(good_crc=False).offer().agree(),
    "messages sent again": retried,
    "the same number long after": lambda: started().wait(1).say("sink", "Get_Status", id=0).wait(0.5).say(
        "sink", "Get_Status", id=0),
    "a wrong GoodCRC": lambda: Talk().offer(ack_id=5).ask(PLAIN[1], 3000, acked=False).ack("source", 0, "SOP'"),
    "what a variable and a battery offer give": lambda: Talk().offer(ROAMING).agree(ROAMING[1], 1500).wait(1).agree(
        ROAMING[2], 2000),
    "an offer that is not there": lambda: Talk().offer().ask(fixed(20000, 3000, 6), 3000).then("source", "Reject"),
    "wait": lambda: Talk().offer().ask(PLAIN[2], 3000).then("source", "Wait").wait(0.11).agree(),
    "Revision 2.0": lambda: Talk(revision="2.0").offer(PLAIN[:3]).agree(),
    "chatter": chatty,
    "out of turn": between,
    "GotoMin": goto_min,
    "soft reset": soft_reset,
    "hard reset": lambda: started().wait(1).reset().wait(1).offer().agree(),
    "cables and their resets": cables,
    "into EPR mode": lambda: in_epr().keep_alive(1).agree(EPR[3], 5000, 20000),
    "EPR mode not entered": odd_epr,
    "out of EPR mode": leaving_epr,
    "VCONN swapped": lambda: swap("VCONN_Swap", "Accept"),
    "data roles swapped": lambda: swap("DR_Swap", "Accept", who="source"),
    "power roles swapped": lambda: swap("PR_Swap", "Accept"),
    "fast swap": lambda: swap("FR_Swap", "Accept"),
    "no swap": lambda: swap("PR_Swap", "Reject"),
    "a swap broken off": lambda: started().wait(1).say("sink", "PR_Swap").then("source", "Accept").then(
        "source", "Get_Status"),
    "what cannot be read": lambda: spoil(started().wait(1)).then("source", "Get_Sink_Cap"),
    "plugged in again": lambda: later(started()).offer().agree(),
    "plugged in again in EPR mode": lambda: later(in_epr()).offer().agree(),
}  # fmt: skip


def _at(time_s: float | None) -> str:
    return "-" if time_s is None else f"{time_s:.6f}"


def _offers(offers: Iterable[Offer]) -> str:
    return " ".join(f"{offer.position}:{offer.max_mv}" for offer in offers) or "none"


def _asked(asked: Asked) -> str:
    offer = "no offer" if asked.offer is None else asked.offer.kind
    words = [f"no. {asked.number} {_at(asked.time_s)} position {asked.position} ({offer})"]
    words += [f"{asked.voltage_mv} mV", f"{asked.current_ma} mA", f"{asked.power_mw} mW"]
    words += [name for name in ("epr", "mismatch", "epr_capable") if getattr(asked, name) is True]
    assert asked.reading.fields["position"] == asked.position
    return ", ".join(words)


def _value(name: str, value: Any) -> str:
    if value is None or isinstance(value, bool | int | float):
        return repr(value)
    if name in ("offers", "epr_list"):
        return _offers(value)
    if name == "asked":
        return _asked(value)
    if name == "contract":
        return f"no. {value.number} {_at(value.time_s)} {value.voltage_mv} mV of no. {value.asked.number}"
    if name == "cable":
        return f"{value.current_ma} mA, {value.voltage_mv} mV, epr {value.epr}"
    if name in ("fresh", "heard"):
        return ", ".join(sorted(value)) or "nobody"
    if name == "last":
        return f"no. {value[0]} {_at(value[1])}"
    if name in ("question", "accepted", "entry", "due"):
        shown = [f"{key} {each!r}" for key, each in value._asdict().items() if key not in ("message", "time_s")]
        return " ".join([*shown, _at(value.time_s)])
    return str(value)


def _ids(before: State, after: State) -> Iterable[str]:
    for key in sorted({*before.ids, *after.ids}):
        old, new = before.ids.get(key), after.ids.get(key)
        if new is None:
            yield f"{' '.join(key)} forgotten"
        elif new != old:
            ends = f"{_at(new.time_s)}, try {new.tries}{', acknowledged' if new.acknowledged else ''}"
            yield f"{' '.join(key)} id {new.id} no. {new.number} {ends} {new.raw[:2].hex()}"


def _changes(before: State, after: State) -> Iterable[str]:
    yield from _ids(before, after)
    for name in State._fields:
        old, new = getattr(before, name), getattr(after, name)
        if name != "ids" and old != new:
            yield f"{name}: {_value(name, new)}"


def _step(step: Step, before: State) -> Iterable[str]:
    flags = [name for name in ("retry", "restart") if getattr(step, name) is True]
    flags += [] if step.answered is None else [f"answers no. {step.answered.number} {step.answered.name}"]
    flags += [] if step.read else ["not read"]
    assert step.message is step.told.message
    yield f"{step.number} {_at(step.time_s)} {step.sender or 'all'} {step.name} {' '.join(flags)}".rstrip()
    if step.before != before:
        yield "    begins anew"
    changes = list(_changes(before, step.after))
    if step.name == "GoodCRC" and changes:
        changes = ["; ".join(changes)]
    yield from (f"    {line}" for line in changes)


def _followed() -> Iterable[str]:
    for name, make in TALKS.items():
        intake = read_input("\n".join(make().lines) + "\n")
        log = audit(intake.told, intake.resolution_s, intake.lost).log
        yield f"== {name}"
        before = State()
        for step in log.steps:
            yield from _step(step, before)
            before = step.after
        assert log.end == before
        yield f"GoodCRCs {'seen' if log.shows_good_crc else 'not seen'}, step of time {log.resolution_s} s\n"


def test_what_is_known_is_what_was_known() -> None:
    assert "\n".join(_followed()) == FILE.read_text(encoding="utf-8"), (
        "anew: python -m tests.contract.told.test_followed"
    )


if __name__ == "__main__":
    FILE.write_text("\n".join(_followed()), encoding="utf-8")
