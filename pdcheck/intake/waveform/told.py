"""A captured waveform to an intake: packets read as messages, those that cannot be read kept with time and reason."""

from __future__ import annotations

import os

from pdcheck.bits.crc import CRC_BYTES
from pdcheck.bits.header import type_name
from pdcheck.bits.message import Message, payload_bytes, read_message, reset_message
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.sniff import Intake, told_intake
from pdcheck.intake.waveform.looks import looks_like_vcd
from pdcheck.intake.waveform.reading import find_packets, read_waveform
from pdcheck.intake.waveform.text import CaptureText, Progress

RESOLUTION_S = 1e-6
"""Times of packets are taken as sure to this [s]: a third of a bit, whatever the sample rate."""


def read_captured(
    path_or_bytes: str | os.PathLike[str] | bytes,
    form: str | None = None,
    *,
    channel: str | None = None,
    sample_rate_hz: float | None = None,
    threshold_v: float | None = None,
    request_form: str | None = None,
    progress: Progress | None = None,
) -> Intake:
    """All messages on one channel of a capture, VCD or CSV, gzip or plain; parameters as ``read_waveform`` has them.

    Raises ``InputError`` where the capture, or no single channel of it, can be read.
    """
    is_vcd = looks_like_vcd(CaptureText(path_or_bytes).head())
    if form == "vcd" and not is_vcd:
        raise InputError("is no VCD", where=_name(path_or_bytes), expected="a value change dump: $timescale and so on")
    if form == "csv" and is_vcd:
        raise InputError("is a VCD", where=_name(path_or_bytes), expected="rows of time and level")
    waveform = read_waveform(
        path_or_bytes,
        channel=channel,
        sample_rate_hz=sample_rate_hz,
        threshold_v=threshold_v,
        progress=progress,
    )
    messages: list[Message] = []
    lost: list[BadPacket] = []
    for packet in find_packets(waveform):
        if isinstance(packet, BadPacket):
            lost.append(packet)
            continue
        try:
            messages.append(packet_message(packet))
        except InputError as error:
            lost.append(BadPacket(packet.time_s, str(error)))
    intake = told_intake("vcd" if is_vcd else "csv", messages, request_form)
    lost.sort(key=lambda packet: packet.time_s)
    return intake._replace(lost=tuple(lost), channel=waveform.name, resolution_s=RESOLUTION_S)


def packet_message(packet: Packet) -> Message:
    """The message of a packet, what was odd about the line among its problems.

    Raises ``InputError`` where the bytes are not what their header promises.

    >>> packet_message(Packet(0.5, 0.6, "Hard_Reset", b"", 300e3)).type
    'Hard_Reset'
    """
    if packet.sop.endswith("Reset"):
        message = reset_message(packet.sop, packet.time_s)
    else:
        # On the line a CRC always ends the packet, so its bytes are never taken for an object.
        held, promised = len(packet.raw) - CRC_BYTES, payload_bytes(packet.raw[:-CRC_BYTES])
        if held != promised:
            header = int.from_bytes(packet.raw[:2], "little")
            what = f"{held} bytes before the CRC do not fit the header 0x{header:04X} ({type_name(header)})"
            raise InputError(what, expected=f"{promised} bytes")
        message = read_message(packet.raw, packet.sop, packet.time_s)
    # A CRC that does not fit is among the message's own problems already.
    odd = [Problem("line", text) for text in packet.problems if not text.startswith("CRC")]
    return message._replace(problems=(*odd, *message.problems))


def _name(path_or_bytes: str | os.PathLike[str] | bytes) -> str:
    return "" if isinstance(path_or_bytes, bytes) else os.fspath(path_or_bytes)
