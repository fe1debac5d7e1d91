"""Whole logs in which nobody does anything wrong, each by its seed: several attaches, several dresses."""

from __future__ import annotations

import random
from typing import NamedTuple

from tests.contract.written import doings
from tests.contract.written.line import Row, Wire
from tests.contract.written.parties import Session

KINDS = ("plain", "strong", "pps", "avs", "bank", "dual", "old", "epr", "epr")
CABLES = ("none", "unmarked", "3A", "5A", "epr", "active", "old 3A", "old 5A", "refuses", "captive")


class Log(NamedTuple):
    """A log as text, its rows, and to how many digits its times are written."""

    text: str
    rows: list[Row]
    digits: int | None


def session(wire: Wire, length: int) -> Session:
    """One attach and what comes after it."""
    chance = wire.chance
    kind = chance.choice(KINDS)
    cable = chance.choice(("epr", "epr", "epr", "5A", "captive")) if kind == "epr" else chance.choice(CABLES)
    if kind in ("strong",) and cable == "none":
        cable = "5A"
    sink = "2.0" if kind != "epr" and chance.random() < 0.2 else "3.x"
    talk = Session(wire, kind=kind, cable=cable, sink_revision=sink, quick=chance.random() < 0.5)
    talk.give_back = chance.random() < 0.4
    wire.agreed = talk.source.revision
    wire.plug_revision = "3.x" if talk.source.revision == "3.x" else "2.0"
    talk.attach()
    for _ in range(length):
        step(talk)
    return talk


def step(talk: Session) -> None:
    """Some time, then one thing that the two may do here."""
    chance = talk.chance
    talk.idle(25e-3, 0.3 if chance.random() < 0.7 else 4.0)
    if talk.kind == "epr" and chance.random() < 0.35:
        chance.choice((doings.epr_enter, doings.epr_enter, doings.epr_exit))(talk)
        return
    choices = list(doings.COMMON)
    if talk.wire.agreed == "3.x":
        choices += doings.MODERN
    if talk.kind == "dual" and not talk.epr:
        choices += doings.DUAL
        if talk.wire.agreed == "3.x":
            choices.append(doings.fast_swap)
    if chance.random() < 0.04:
        doings.hard_reset(talk)
        return
    chance.choice(choices)(talk)


def written(seed: int, *, attaches: int | None = None, length: int | None = None) -> list[Row]:
    """The rows of a whole log."""
    chance = random.Random(seed)
    wire = Wire(chance)
    wire.retry_share = chance.choice((0.0, 0.0, 0.05))
    many = chance.choice((1, 1, 2, 3, 5)) if attaches is None else attaches
    for at in range(many):
        if at:
            if chance.random() < 0.3 and len(wire.rows) > 30:  # the plug is pulled amid something
                del wire.rows[-chance.randint(1, 6) :]
            wire.wait(*chance.choice(((0.35, 1.0), (1.0, 10.0), (10.0, 60.0))))
        session(wire, chance.randint(0, 12) if length is None else length)
    return wire.rows


def dressed(rows: list[Row], seed: int) -> Log:
    """As one of several loggers has it: with or without GoodCRCs, times, the cable; from somewhere to somewhere."""
    chance = random.Random(seed)
    rows = list(rows)
    if chance.random() < 0.3:
        rows = [row for row in rows if not row.good_crc]
    if chance.random() < 0.2:
        rows = [row for row in rows if row.sop not in ("SOP'", "SOP''")]
    if chance.random() < 0.4:
        rows = rows[chance.randrange(max(1, len(rows) // 2)) :]
    if chance.random() < 0.3:
        rows = rows[: chance.randrange(len(rows) // 2, len(rows)) + 1]
    digits = chance.choice((6, 6, 6, 5, 4, 3, None))
    return Log("\n".join(row.text(digits) for row in rows) + "\n", rows, digits)
