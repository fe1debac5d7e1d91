"""Dresses put together by chance: columns, separators, heads, times, bytes, CRC, titles, colours, encodings."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import NamedTuple

from tests.intake.dresses import SYNC, Sent, delta, iso, spaced, us, words_of

Cell = Callable[[Sequence[Sent], int], str]


class Time(NamedTuple):
    """A form of time: the names its column may have, the cell, whether the cell says its unit."""

    names: tuple[str, ...]
    cell: Cell
    says_unit: bool = True


class Bytes(NamedTuple):
    """A form of bytes, and whether it holds commas."""

    shown: Callable[[bytes], str]
    commas: bool = False


TIMES = (
    Time(("time_s", "Time [s]", "Time", "t", "t(s)", "Timestamp"), lambda q, at: f"{q[at].time_s:.6f}"),
    Time(("time",), lambda q, at: f"{q[at].time_s * 1e3:.3f}ms"),
    Time(("Time",), lambda q, at: f"{us(q[at].time_s)}us"),
    Time(("time_us", "Time(us)", "timestamp_us", "t_us"), lambda q, at: f"{us(q[at].time_s)}", False),
    Time(("time_ms", "Time(ms)", "t_ms"), lambda q, at: f"{q[at].time_s * 1e3:.3f}", False),
    Time(("timestamp",), lambda q, at: iso(q[at].time_s)),
    Time(("timestamp",), lambda q, at: iso(q[at].time_s, "Z")),
    Time(("time",), lambda q, at: iso(q[at].time_s)[11:]),
    Time(("time",), lambda q, at: f"[{q[at].time_s:.6f}]"),
    Time(("time",), lambda q, at: f"t={q[at].time_s:.6f}s"),
    Time(("delta",), lambda q, at: f"+{delta(q, at) * 1e3:.3f}ms"),
    Time(("time",), lambda q, at: f"@{us(q[at].time_s)}us"),
)
SOPS: tuple[Callable[[str], str], ...] = (
    str,
    str,
    lambda sop: {"SOP": "SOP0", "SOP'": "SOP1"}[sop],
    lambda sop: f"[{sop}]",
    lambda sop: f"<{sop}>",
    lambda sop: sop.replace("'", "_PRIME"),
    lambda sop: sop.replace("'", "p"),
    lambda sop: f"{sop}:",
    lambda sop: f"sop={sop}",
    str.lower,
    lambda sop: SYNC[sop],
)
NAMES: tuple[Callable[[str], str], ...] = (
    str,
    str.upper,
    lambda name: name.replace("_", " "),
    lambda name: name.replace("_", ""),
    lambda name: f"({name})",
    lambda name: f"msg={name}",
)
SIDES = (("SRC", "SNK"), ("TX", "RX"), ("Source", "Sink"), ("->", "<-"), ("DFP", "UFP"), ("in", "out"))
INDICES = ("{}", "#{}", "{:03d}", "{}.", "{}:")
LENGTHS = ("len={}", "{}", "({})", "[{}]", "{} bytes", "n={}", "{}B")
FORMS = (
    Bytes(spaced),
    Bytes(lambda data: spaced(data).upper()),
    Bytes(bytes.hex),
    Bytes(lambda data: data.hex().upper()),
    Bytes(lambda data: " ".join(f"0x{each:02X}" for each in data)),
    Bytes(lambda data: data.hex(":")),
    Bytes(lambda data: data.hex("-")),
    Bytes(lambda data: data[:2].hex() + "".join(" " + data[at : at + 4].hex() for at in range(2, len(data), 4))),
    Bytes(lambda data: f"[{spaced(data)}]"),
    Bytes(lambda data: "{" + ", ".join(f"0x{each:02x}" for each in data) + "}", True),
    Bytes(lambda data: "0x" + data.hex()),
)
PROVED_FORMS = (Bytes(lambda data: str(list(data)), True), Bytes(lambda data: " ".join(data.hex())), Bytes(repr, True))
"""Forms in which only the CRC tells that they are bytes."""


class Composed(NamedTuple):
    """A dress: the text of a conversation in it, and what cannot be known of it (``sop``, ``time``, ``unit``)."""

    dress: Callable[[Sequence[Sent]], bytes]
    lost: frozenset[str]


def composed(seed: int) -> Composed:
    """The dress of a seed."""
    chance = random.Random(seed)
    lost: set[str] = set()
    markdown = chance.random() < 0.08
    separator = " | " if markdown else chance.choice([" ", " ", "  ", ", ", ",", ";", "\t", " | ", "|"])
    blank = not separator.strip(" ")
    headed = markdown or chance.random() < 0.6
    columns: list[tuple[str, Cell]] = []

    def sometimes(share: float, names: Sequence[str], cell: Cell) -> None:
        if chance.random() < share:
            columns.append((chance.choice(names), cell))

    time = chance.choice((*TIMES, None))
    if time is None:
        lost.add("time")
    else:
        columns.append((chance.choice(time.names), time.cell))
        if not time.says_unit and (blank or not headed):
            lost.add("unit")
    sop = chance.choice((*SOPS, None))
    if sop is None:
        lost.add("sop")
    else:
        columns.append((chance.choice(["sop", "SOP", "Ordered Set", "OS"]), lambda q, at: sop(q[at].sop)))
    crc = chance.choice(["in", "in", "in", "wire", "number", "fine", "in, fine", "key", "none"])
    index, side, name = chance.choice(INDICES), chance.choice(SIDES), chance.choice(NAMES)
    length, volts = chance.choice(LENGTHS), "{:.2f}V" if blank else "{:.2f}"
    sometimes(0.35, ["No", "index", "#", "n"], lambda q, at: index.format(at))
    sometimes(0.35, ["dir", "Direction", "from", "role"], lambda q, at: side[not q[at].source])
    sometimes(0.4, ["type", "Message", "name"], lambda q, at: name(q[at].name))
    sometimes(0.35, ["len", "length", "size"], lambda q, at: length.format(len(_bytes(q[at], crc))))
    revision = chance.choice(["PD3.0", "Rev3.1"] if blank else ["PD3.0", "3.0", "Rev3.1"])
    sometimes(0.12, ["rev"], lambda q, at: revision)
    sometimes(0.12, ["vbus_V", "VBUS (V)"], lambda q, at: volts.format(5.02 + 0.01 * (at % 2)))
    sometimes(0.1, ["id"], lambda q, at: f"id={q[at].raw[1] >> 1 & 7}")
    chance.shuffle(columns)
    tail = _crc_column(crc, blank=blank, headed=headed)
    data = _data_column(chance, crc, commas=separator.strip() != ",")
    if not blank and chance.random() < 0.3:
        columns.insert(chance.randrange(len(columns) + 1), data)
    else:
        columns.append(data)
    columns += tail
    note = chance.choice(["", "", "", "", "", "", "  # {}", " ; {}" if separator != ";" else ""])
    head = _head([each for each, _ in columns], separator, markdown=markdown) if headed and not blank else ""
    if headed and blank and time is not None and not time.says_unit:
        head = "# " + ", ".join(each for each, _ in columns) + "\n"
    head = chance.choice(["", "", "", "# log of the pier\n", "Capture 3\n\n", "; bench\n"]) + head
    end, encoding = chance.choice(["\n", "\n", "\r\n"]), chance.choice(["utf-8"] * 8 + ["utf-8-sig", "utf-16"])
    coloured = chance.random() < 0.08

    def dress(sent: Sequence[Sent]) -> bytes:
        rows = []
        for at, one in enumerate(sent):
            row = separator.join(cell(sent, at) for _, cell in columns) + note.format(one.name)
            row = "\x1b[32m" + row.replace(" ", "\x1b[0m ", 1) if coloured else row
            rows.append(f"| {row} |" if markdown else row)
        return (head.replace("\n", end) + end.join(rows) + end).encode(encoding)

    return Composed(dress, frozenset(lost))


def _bytes(one: Sent, crc: str) -> bytes:
    return one.whole if crc.startswith("in") else one.raw


def _head(names: list[str], separator: str, *, markdown: bool) -> str:
    if markdown:
        return "| " + separator.join(names) + " |\n|" + "---|" * len(names) + "\n"
    return separator.join(names) + "\n"


def _crc_column(crc: str, *, blank: bool, headed: bool) -> list[tuple[str, Cell]]:
    """The column of the CRC behind the bytes, where there is one."""
    named = "CRC " if blank else ""

    def number(one: Sent) -> int:
        return int.from_bytes(one.crc, "little")

    kinds: dict[str, Cell] = {
        "wire": lambda q, at: named + q[at].crc.hex(),
        "number": lambda q, at: f"{named}0x{number(q[at]):08X}",
        "key": lambda q, at: f"CRC={number(q[at]):08x}",
        "fine": lambda q, at: "CRC OK" if blank or not headed else "ok",
        "in, fine": lambda q, at: "CRC OK" if blank or not headed else "ok",
    }
    return [("crc", kinds[crc])] if crc in kinds else []


def _data_column(chance: random.Random, crc: str, *, commas: bool) -> tuple[str, Cell]:
    """The column of the bytes, or of header and objects as numbers."""
    if not crc.startswith("in") and chance.random() < 0.2:
        mark = chance.choice(["0x", ""])
        return "words", lambda q, at: " ".join(
            [f"{mark}{int.from_bytes(q[at].raw[:2], 'little'):04X}", *(f"{mark}{word:08X}" for word in words_of(q[at]))]
        )
    forms = [each for each in (*FORMS, *PROVED_FORMS * crc.startswith("in")) if commas or not each.commas]
    form, key = chance.choice(forms), chance.choice(["", "", "", "data=", "raw: "])
    named = chance.choice(["data", "Data", "raw", "payload", "Bytes", "hex"])
    return named, lambda q, at: key + form.shown(_bytes(q[at], crc))
