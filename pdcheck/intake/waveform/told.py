"""The forms ``vcd`` and ``csv``: packets of a waveform read as messages, those that cannot be kept with the reason."""

from __future__ import annotations

from pdcheck.bits.crc import CRC_BYTES
from pdcheck.bits.header import type_name
from pdcheck.bits.message import Message, payload_bytes, read_message, reset_message
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.intake.opened import Opened
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.stream import How, Intake, Stream
from pdcheck.intake.waveform.csv_file import Uncrossed
from pdcheck.intake.waveform.looks import looks_like_vcd
from pdcheck.intake.waveform.reading import Waveform, find_packets, read_waveform

_HYSTERESIS_OF_SWING = 0.125
RESOLUTION_S = 1e-6
"""Times of packets are taken as sure to this [s]: a third of a bit, whatever the sample rate."""


def read_vcd(opened: Opened, how: How) -> Stream:
    """The form ``vcd``: the packets on one channel of a value change dump (IEEE 1364)."""
    if not looks_like_vcd(opened.head):
        raise InputError("is no VCD", where=opened.name, expected="a value change dump: $timescale and so on")
    return _captured("vcd", opened, how)


def read_csv(opened: Opened, how: How) -> Stream:
    """The form ``csv``: the packets on one channel of a table of time and level."""
    if looks_like_vcd(opened.head):
        raise InputError("is a VCD", where=opened.name, expected="rows of time and level")
    return _captured("csv", opened, how)


def _captured(form: str, opened: Opened, how: How) -> Stream:
    given = opened.everything() if opened.path is None else opened.path

    def waveform(threshold_v: float | None, hysteresis_v: float | None = None) -> Waveform:
        return read_waveform(
            given,
            channel=how.channel,
            sample_rate_hz=how.sample_rate_hz,
            threshold_v=threshold_v,
            hysteresis_v=hysteresis_v,
            progress=how.progress,
        )

    problems: tuple[Problem, ...] = ()
    try:
        wave = waveform(how.threshold_v)
        found = find_packets(wave)
    except Uncrossed as uncrossed:
        if how.threshold_v is not None:
            raise
        # A probe of another ratio, counts of a converter, a line without its mean: the swing says where its middle is.
        middle = float(f"{(uncrossed.low_v + uncrossed.high_v) / 2:.3g}")
        wave = waveform(middle, (uncrossed.high_v - uncrossed.low_v) * _HYSTERESIS_OF_SWING)
        found = find_packets(wave)
        if not any(isinstance(each, Packet) and not each.problems for each in found):
            raise uncrossed from None
        text = f"{uncrossed.what}: read at {middle:g} V, the middle of its swing; check the probe's ratio"
        problems = (Problem("threshold", text, wave.name),)
    return Stream(Intake(form, channel=wave.name, problems=problems, resolution_s=RESOLUTION_S), map(_read, found))


def _read(packet: Packet | BadPacket) -> Message | BadPacket:
    if isinstance(packet, BadPacket):
        return packet
    try:
        return packet_message(packet)
    except InputError as error:
        return BadPacket(packet.time_s, str(error))


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
