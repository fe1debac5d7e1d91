"""The forms ``vcd`` and ``csv``: packets of a waveform read as messages, those that cannot be kept with the reason."""

from __future__ import annotations

from contextlib import suppress
from itertools import chain

from pdcheck.bits.crc import CRC_BYTES
from pdcheck.bits.header import type_name
from pdcheck.bits.line import SWING
from pdcheck.bits.message import Message, payload_bytes, read_message, reset_message
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.intake.long_list import LongList
from pdcheck.intake.opened import Opened
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.stream import How, Intake, Stream
from pdcheck.intake.waveform.edges import Uncrossed, of_swing
from pdcheck.intake.waveform.looks import looks_like_vcd
from pdcheck.intake.waveform.reading import Waveform, packets_of, read_waveform

_RATIOS = (10.0, 100.0, 0.1)
_LIKE = 0.3
_MOST_V = 24.0
"""Of a swing that is no voltage of such a line, whatever the probe [V]."""
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

    def waveform(*, by_swing: bool) -> Waveform:
        return read_waveform(
            given,
            channel=how.channel,
            sample_rate_hz=how.sample_rate_hz,
            threshold_v=how.threshold_v,
            by_swing=by_swing,
            torn=how.torn,
            progress=how.progress,
        )

    problems: tuple[Problem, ...] = ()
    refused: Uncrossed | None = None
    wave: Waveform | None = None
    found: LongList[Packet | BadPacket] = LongList()
    try:
        wave = waveform(by_swing=False)
        found = LongList(packets_of(wave))
    except Uncrossed as uncrossed:
        refused = uncrossed
    if how.threshold_v is None and not any(map(_is_good, found)):
        # A probe of another ratio, counts of a converter, a line without its mean: the swing says where its middle is.
        with suppress(Uncrossed):
            other = waveform(by_swing=True)
            packets = LongList(packets_of(other))
            if any(map(_is_good, packets)):
                wave, found, problems = other, packets, (Problem("threshold", _by_swing(other), other.name),)
    if wave is None:
        raise refused or Uncrossed("no channel toggles")
    items = chain(wave.torn, map(_read, found))
    return Stream(Intake(form, channel=wave.name, problems=problems, resolution_s=RESOLUTION_S), items)


def _is_good(packet: Packet | BadPacket) -> bool:
    return isinstance(packet, Packet) and not packet.problems


def _by_swing(wave: Waveform) -> str:
    """What is said of a channel that was read at a threshold of its own."""
    low_v, high_v = wave.span
    ratio = SWING.value / (high_v - low_v)
    likely = next((each for each in _RATIOS if abs(ratio / each - 1) < _LIKE), None)
    if likely is not None:
        why = f"as with a probe of {likely:g}:1 that the table knows nothing of" if likely > 1 else "ten times too much"
    elif high_v - low_v > _MOST_V:
        why = "perhaps counts of a converter"
    else:
        why = "check the probe's ratio and the coupling"
    middle_v = of_swing(wave.span).middle_v
    return (
        f"{wave.name!r} runs from {low_v:.4g} to {high_v:.4g} V: read at {middle_v:g} V, the middle of its swing; {why}"
    )


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
