"""Packets in pcapng, the open container for captures: read and written. Source: draft-ietf-opsawg-pcapng [memory]."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from pdcheck.bits.crc import crc_matches
from pdcheck.bits.message import read_message, reset_message
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.intake.names import sop_of
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.stream import Intake, Stream
from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pdcheck.bits.message import Message
    from pdcheck.intake.opened import Opened
    from pdcheck.intake.stream import How

MAGIC = b"\x0a\x0d\x0d\x0a"
LINK_PRIVATE = range(147, 163)
"""Link types that everybody may use for their own packets; no public one means USB Power Delivery."""
LINK_WRITTEN = LINK_PRIVATE[0]
_SECTION, _INTERFACE, _SIMPLE, _PACKET = 0x0A0D0D0A, 1, 3, 6
_ORDER = 0x1A2B3C4D
_COMMENT, _RESOLUTION = 1, 9
_NANOSECONDS = 9
_LONGEST = 1 << 24


def looks(head: bytes) -> bool:
    """Whether bytes begin as pcapng does."""
    return head.startswith(MAGIC)


class _Interface(NamedTuple):
    link: int
    per_s: float


class Written(NamedTuple):
    """A packet to write: time [s], ordered set, bytes with the CRC."""

    time_s: float | None
    sop: str
    raw: bytes


def read(opened: Opened, how: How) -> Stream:
    """The form ``pcapng``: each packet a message from its header on, its ordered set in the packet's comment.

    Raises ``InputError`` for a file that is torn, and for packets that are no USB Power Delivery.
    """
    data = opened.text_bytes() if opened.path is not None else opened.everything()
    packets, problems, links, step_s = _packets(data)
    if not packets:
        raise InputError("holds no packet", expected="packets of USB Power Delivery, each from its header on")
    items = [_message(*packet) for packet in packets]
    proved = sum(not isinstance(item, BadPacket) and (item.crc_ok is True or not item.raw) for item in items)
    named = ", ".join(str(link) for link in sorted(links))
    if not proved or 2 * proved < len(items):
        raise InputError(
            f"{proved} of {len(items)} packets are messages with a right CRC (link type {named})",
            expected="packets that begin with the message header and end in the CRC",
        )
    text = f"link type {named}: no public one means USB Power Delivery; taken so because the CRCs fit. Check that it is"
    problems.append(Problem("link-type", text))
    said = Intake("pcapng", problems=tuple(problems), resolution_s=step_s)
    return Stream(said, items)


def _message(time_s: float | None, data: bytes, comment: str) -> Message | BadPacket:
    sop = next((named for named in map(sop_of, comment.replace(",", " ").split()) if named), "SOP")
    if sop.endswith("Reset") and not data:
        return reset_message(sop, time_s)
    if not crc_matches(data) and len(data) > 1 and crc_matches(data[1:]):
        # Some put the ordered set's number before the header.
        sop = {0: "SOP", 1: "SOP'", 2: "SOP''"}.get(data[0], sop)
        data = data[1:]
    try:
        return read_message(data, sop, time_s)
    except InputError as error:
        return BadPacket(time_s or 0.0, str(error))


def _packets(data: bytes) -> tuple[list[tuple[float | None, bytes, str]], list[Problem], set[int], float | None]:
    found: list[tuple[float | None, bytes, str]] = []
    problems: list[Problem] = []
    links: set[int] = set()
    faces: list[_Interface] = []
    order, at, step_s = "<", 0, None
    while at + 12 <= len(data):
        if data[at : at + 4] == MAGIC:
            order = "<" if struct.unpack_from("<I", data, at + 8)[0] == _ORDER else ">"
            faces = []
        kind, size = struct.unpack_from(order + "II", data, at)
        if size < 12 or size % 4 or size > _LONGEST or at + size > len(data):
            problems.append(
                Problem("cut-short", f"the file ends or is torn at byte {at}: what comes before it is read")
            )
            break
        body = data[at + 8 : at + size - 4]
        if kind == _INTERFACE and len(body) >= 8:
            faces.append(_Interface(struct.unpack_from(order + "H", body)[0], _per_s(body[8:], order)))
        elif kind == _PACKET and len(body) >= 20:
            face, high, low, captured, _ = struct.unpack_from(order + "IIIII", body)
            if face >= len(faces) or captured > len(body) - 20:
                problems.append(Problem("cut-short", f"the packet at byte {at} is torn: left out"))
            else:
                links.add(faces[face].link)
                step_s = 1 / faces[face].per_s
                comment = _comment(body[20 + captured + -captured % 4 :], order)
                found.append(((high << 32 | low) / faces[face].per_s, body[20 : 20 + captured], comment))
        elif kind == _SIMPLE and len(body) >= 4 and faces:
            links.add(faces[0].link)
            found.append((None, body[4 : 4 + struct.unpack_from(order + "I", body)[0]], ""))
        at += size
    return found, problems, links, step_s


def _options(data: bytes, order: str) -> Iterator[tuple[int, bytes]]:
    at = 0
    while at + 4 <= len(data):
        code, size = struct.unpack_from(order + "HH", data, at)
        if not code:
            return
        yield code, data[at + 4 : at + 4 + size]
        at += 4 + size + -size % 4


def _per_s(data: bytes, order: str) -> float:
    for code, value in _options(data, order):
        if code == _RESOLUTION and value:
            return float(2 ** (value[0] & 0x7F) if value[0] & 0x80 else 10 ** min(value[0], 30))
    return 1e6


def _comment(data: bytes, order: str) -> str:
    return " ".join(value.decode("utf-8", "replace") for code, value in _options(data, order) if code == _COMMENT)


def written(packets: Iterable[Written]) -> bytes:
    """Packets as a pcapng file: from the message header to the CRC, the ordered set as the packet's comment.

    >>> looks(written([Written(0.5, "SOP", bytes.fromhex("4100bb6cbba8"))]))
    True
    """
    blocks = [
        _block(_SECTION, struct.pack("<IHHq", _ORDER, 1, 0, -1)),
        _block(
            _INTERFACE,
            struct.pack("<HHI", LINK_WRITTEN, 0, 0) + _option(_RESOLUTION, bytes([_NANOSECONDS])) + _option(0, b""),
        ),
    ]
    for packet in packets:
        ticks = max(round((packet.time_s or 0.0) * 10**_NANOSECONDS), 0)
        body = struct.pack("<IIIII", 0, ticks >> 32, ticks & 0xFFFFFFFF, len(packet.raw), len(packet.raw))
        body += packet.raw + bytes(-len(packet.raw) % 4)
        body += _option(_COMMENT, packet.sop.encode()) + _option(0, b"")
        blocks.append(_block(_PACKET, body))
    return b"".join(blocks)


def _block(kind: int, body: bytes) -> bytes:
    size = struct.pack("<I", len(body) + 12)
    return struct.pack("<I", kind) + size + body + size


def _option(code: int, value: bytes) -> bytes:
    return struct.pack("<HH", code, len(value)) + value + bytes(-len(value) % 4)
