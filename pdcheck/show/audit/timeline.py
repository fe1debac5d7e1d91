"""What each message of a conversation says, in a few words, and the time line that they make."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pdcheck.contract.following.state import PLUG, PORT, Step
from pdcheck.verdict.audit.words import agreed_text, offer_text


class Entry(NamedTuple):
    """One line: the message's number, its time [s], who said it, its name, what it says."""

    number: int
    time_s: float | None
    sender: str
    name: str
    text: str


class Run(NamedTuple):
    """Some lines, and how often the same came ``again``, the last of it at ``until_s`` [s]."""

    entries: tuple[Entry, ...]
    again: int = 0
    until_s: float | None = None


_LONGEST_CYCLE = 4
_FEWEST_REPEATS = 2


def entries(steps: Sequence[Step]) -> list[Entry]:
    """A line for every message but GoodCRC."""
    return [
        Entry(step.number, step.time_s, step.sender or "line", step.name, gist(step))
        for step in steps
        if step.name != "GoodCRC"
    ]


def gist(step: Step) -> str:
    """What a message says, in a few words; empty where its name says it all."""
    told, after = step.told, step.after
    if not step.read:
        return "CRC wrong, not followed"
    again = "sent again" if step.retry else ""
    if told.offers:
        listed = ", ".join(offer_text(offer) for offer in told.offers if not offer.is_gap)
        return " ".join(part for part in ("plugged in again?" if step.restart else again, listed) if part)
    if again:
        return again
    if step.name in ("Request", "EPR_Request") and after.asked is not None and after.asked.number == step.number:
        asked = after.asked
        mismatch = ", more was wanted" if asked.mismatch else ""
        return f"object {asked.position}: {agreed_text(asked)}{mismatch}"
    if step.name == "PS_RDY" and after.contract is not None and after.contract.number == step.number:
        return f"contract: {agreed_text(after.contract.asked)}"
    if step.name == "Vendor_Defined" and told.objects:
        return _vendor(step)
    if step.name == "EPR_Mode Enter" and told.objects:
        return f"for {told.objects[0].fields['data']} W"
    return ""


def _vendor(step: Step) -> str:
    meanings = step.told.objects[0].meanings()
    if "command" not in meanings:
        return "unstructured"
    said = f"{meanings['command']}, {meanings.get('command_type', '')}"
    cable = step.after.cable
    if step.sender == PLUG and cable is not None and cable is not step.before.cable and cable.emarker:
        return f"{said}: {cable.construction}, {cable.current_ma / 1000:g} A, {cable.voltage_mv / 1000:g} V"
    return said


def runs(lines: Sequence[Entry], marked: frozenset[int]) -> list[Run]:
    """The lines with exchanges that come over and over put together; ``marked`` numbers stay by themselves."""
    keys = [None if line.number in marked else (line.sender, line.name, line.text) for line in lines]
    out: list[Run] = []
    at = 0
    while at < len(lines):
        best = (0, 1)
        for size in range(1, _LONGEST_CYCLE + 1):
            cycle = keys[at : at + size]
            if None in cycle or len(cycle) < size:
                break
            count = 0
            while keys[at + (count + 1) * size : at + (count + 2) * size] == cycle:
                count += 1
            if count >= _FEWEST_REPEATS and count * size > best[0] * best[1]:
                best = (count, size)
        count, size = best
        until = lines[at + (count + 1) * size - 1].time_s if count else None
        out.append(Run(tuple(lines[at : at + size]), count, until))
        at += (count + 1) * size
    return out


def who(sender: str) -> str:
    """The sender as shown.

    >>> who("port")
    'to cable'
    """
    return {PORT: "to cable", PLUG: "cable"}.get(sender, sender)
