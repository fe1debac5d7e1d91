"""From a capture file to the edges of the right channel: the way in for everything that reads waveforms."""

from __future__ import annotations

import math
import os

from pdcheck.bits.line import SWING
from pdcheck.errors import InputError
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.waveform.csv_file import CsvReader
from pdcheck.intake.waveform.edges import Budget, Threshold, Uncrossed, Waveform, listed
from pdcheck.intake.waveform.looks import looks_like_vcd
from pdcheck.intake.waveform.packets import find_packets, packets_of
from pdcheck.intake.waveform.text import CaptureText, Progress
from pdcheck.intake.waveform.vcd_file import VcdReader

__all__ = ["BadPacket", "Packet", "Waveform", "find_packets", "packets_of", "read_waveform"]

DEFAULT_THRESHOLD_V = SWING.value / 2
HYSTERESIS = 0.25
"""Of the threshold, to either side of it."""


def read_waveform(
    path_or_bytes: str | os.PathLike[str] | bytes,
    *,
    channel: str | None = None,
    sample_rate_hz: float | None = None,
    threshold_v: float | None = None,
    by_swing: bool = False,
    torn: bool = False,
    progress: Progress | None = None,
) -> Waveform:
    """The edges of one channel of a capture: VCD (IEEE 1364) or a table of time and level, gzip or plain.

    ``channel`` names the signal (with or without its scopes or unit, or a column by its number from 1); without it the
    one that toggles at the rates of the line is taken. ``sample_rate_hz`` stands in for a column of times.
    ``threshold_v`` [V] parts low from high in analog data; without it half the transmitter's swing, and cells of a bare
    0 or 1 are levels as they stand. The hysteresis to either side of it is a quarter of it. With ``by_swing`` a channel
    that does not cross it well is parted in the middle of its own swing. With ``torn`` rows of a table that cannot be
    read are kept with what is wrong with them.
    ``progress`` is called with bytes read and bytes in all. Raises InputError, with the line, for what cannot be read.

    >>> table = b"Time [us],CC\\n0,0\\n1.5,1\\n3,0\\n"
    >>> read_waveform(table).times.tolist()
    [1.5e-06, 3e-06]
    """
    if sample_rate_hz is not None and not (math.isfinite(sample_rate_hz) and sample_rate_hz > 0):
        raise InputError(f"sample rate {sample_rate_hz}", expected="a rate above 0 Hz")
    if threshold_v is not None and not (math.isfinite(threshold_v) and threshold_v != 0):
        raise InputError(f"threshold {threshold_v}", expected="a voltage")
    text = CaptureText(path_or_bytes, progress)
    middle_v = DEFAULT_THRESHOLD_V if threshold_v is None else threshold_v
    threshold = Threshold(middle_v, abs(middle_v) * HYSTERESIS)
    try:
        reader: VcdReader | CsvReader
        if looks_like_vcd(text.head()):
            reader = VcdReader(text, threshold)
        else:
            reader = CsvReader(text, sample_rate_hz, threshold, forced=threshold_v is not None, torn=torn)
        if by_swing:
            _part_by_swing(reader, channel)
        wave = _chosen(reader, channel)
        return wave._replace(span=reader.spans.get(wave.name, wave.span), torn=tuple(reader.torn.values()))
    except Uncrossed:
        raise
    except InputError as error:
        if isinstance(path_or_bytes, bytes) or error.where == os.fspath(path_or_bytes):
            raise
        raise error.inside(os.fspath(path_or_bytes)) from error


def _part_by_swing(reader: VcdReader | CsvReader, channel: str | None) -> None:
    uncrossed: Uncrossed | None = None
    try:
        reader.scan(reader.channels if channel is None else (reader.resolve(channel),), Budget(0))
    except Uncrossed as error:
        uncrossed = error
    if not reader.by_swing():
        raise uncrossed or Uncrossed("no channel that another threshold would read", expected="a channel that toggles")


def _chosen(reader: VcdReader | CsvReader, channel: str | None) -> Waveform:
    if channel is not None or len(reader.channels) == 1:
        name = reader.resolve(channel) if channel is not None else reader.channels[0]
        return _one(reader, name)
    if not reader.channels:
        raise InputError("no signal of one bit", expected=f"a channel chosen from {listed(reader.all_names)}")
    collectors = reader.scan(reader.channels, Budget())
    active = [collector for collector in collectors if collector.active]
    if not active:
        raise InputError(
            "no channel toggles at the rates of the line", expected=f"a channel chosen from {listed(reader.channels)}"
        )
    found: list[Waveform] = []
    for collector in active:
        kept = collector.keeps
        one = (
            collector.waveform(reader.start_s, reader.end_s, reader.channels) if kept else _one(reader, collector.name)
        )
        if len(active) == 1:
            return one
        if any(isinstance(packet, Packet) for packet in packets_of(one)):
            found.append(one)
    if len(found) == 1:
        return found[0]
    names = tuple(one.name for one in found) or tuple(collector.name for collector in active)
    what = "several channels carry packets" if found else "several channels toggle at the rates of the line"
    raise InputError(what, expected=f"a channel chosen from {listed(names)}")


def _one(reader: VcdReader | CsvReader, name: str) -> Waveform:
    collector = reader.scan((name,))[0]
    return collector.waveform(reader.start_s, reader.end_s, reader.channels)
