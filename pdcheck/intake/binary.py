"""The form ``raw``: messages one after the other as bytes, each with its CRC, and nothing between them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.message import HEADER_BYTES, payload_bytes, read_message
from pdcheck.errors import InputError
from pdcheck.intake.stream import Intake, Stream, proved

if TYPE_CHECKING:
    from pdcheck.intake.opened import Opened
    from pdcheck.intake.stream import How, Item

EXPECTED = "messages one after the other, each with its CRC"


def looks(head: bytes) -> bool:
    """Whether bytes that are no text begin with a message whose CRC fits, or are one message without.

    >>> looks(bytes.fromhex("4100bb6cbba8")), looks(b"a1 61")
    (True, False)
    """
    return _is_binary(head) and (frame_at(head, 0) is not None or _alone(head))


def _is_binary(head: bytes) -> bool:
    return any(byte < 9 or 13 < byte < 27 or byte > 126 for byte in head[:4096])


def _alone(data: bytes) -> bool:
    return 2 * HEADER_BYTES < len(data) == payload_bytes(data)


def frame_at(data: bytes, at: int) -> bytes | None:
    """The message that begins at a place, with its CRC; ``None`` where no CRC fits."""
    head = data[at : at + 2 * HEADER_BYTES]
    if len(head) < HEADER_BYTES:
        return None
    frame = data[at : at + payload_bytes(head) + CRC_BYTES]
    return frame if len(frame) >= HEADER_BYTES + CRC_BYTES and crc_matches(frame) else None


def read(opened: Opened, how: How) -> Stream:
    """The form ``raw``; bytes between messages that belong to none are told, as a torn line of a log is."""
    data = opened.everything() if opened.path is None else opened.text_bytes()
    return _Raw(data, torn=how.torn)


class _Raw(Stream):
    def __init__(self, data: bytes, *, torn: bool) -> None:
        super().__init__(Intake("raw"))
        self._data = data
        self._torn = torn

    def __iter__(self) -> Iterator[tuple[str, Item]]:
        data, at, heard = self._data, 0, False
        if _alone(data) and frame_at(data, 0) is None:
            yield "", read_message(data)
            return
        while at < len(data):
            frame = frame_at(data, at)
            if frame is not None:
                heard = True
                yield "", proved("SOP", frame, None)
                at += len(frame)
                continue
            begun = at
            while at < len(data) and frame_at(data, at) is None:
                at += 1
            what = f"{at - begun} byte{'s' * (at - begun > 1)} that belong to no message with a right CRC"
            error = InputError(what, where=f"byte {begun}", expected=EXPECTED)
            if not self._torn or (at >= len(data) and not heard):
                raise error
            yield "", error
        if not heard:
            raise InputError("no message in it", expected=EXPECTED)
