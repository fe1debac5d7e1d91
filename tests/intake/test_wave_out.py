"""Messages to waveforms and back; the drawn line against the rules of the code."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.bits.crc import with_crc
from pdcheck.bits.line import ORDERED_SETS, RESETS
from pdcheck.errors import InputError
from pdcheck.intake.packet import Packet
from pdcheck.intake.waveform.reading import find_packets, read_waveform
from pdcheck.intake.waveform.writing import Sent, packet_levels, write_vcd

messages = st.tuples(
    st.sampled_from(sorted(set(ORDERED_SETS) - set(RESETS))), st.binary(min_size=2, max_size=262).map(with_crc)
)
packets = st.one_of(messages, st.sampled_from(sorted(RESETS)).map(lambda name: (name, b"")))


@settings(deadline=None, max_examples=60)
@given(st.lists(packets, min_size=1, max_size=4), st.floats(270e3, 330e3), st.integers(0, 1), st.floats(25e-6, 2e-3))
def test_what_is_drawn_is_read_back(sent: list[tuple[str, bytes]], rate: float, idle: int, gap: float) -> None:
    now, drawn = 10e-6, []
    for sop, raw in sent:
        drawn.append(Sent(now, raw, sop))
        now += packet_levels(raw, sop, rate, idle=idle)[-1][0] + gap
    found = find_packets(read_waveform(write_vcd(drawn, bit_rate=rate, idle=idle).encode()))
    assert [(one.sop, one.raw, one.problems) for one in found if isinstance(one, Packet)] == [
        (one.sop, one.raw, ()) for one in drawn
    ]
    for one, was in zip(found, drawn, strict=True):
        assert one.time_s == pytest.approx(was.time_s, abs=5e-9)
        assert one.bit_rate == pytest.approx(rate, rel=1e-4)


def test_a_zero_is_one_interval_and_a_one_is_two_halves() -> None:
    levels = packet_levels(b"", "Hard_Reset", 250e3)
    steps = [round((b[0] - a[0]) * 1e6) for a, b in pairwise(levels)]
    assert steps[: 3 * 32] == [4, 2, 2] * 32
    assert steps[96 : 96 + 8] == [2, 2, 2, 2, 2, 2, 4, 4]  # RST-1, sent 11100


@pytest.mark.parametrize("idle", [0, 1])
def test_levels_alternate_and_end_idle(idle: int) -> None:
    for sop in ORDERED_SETS:
        levels = packet_levels(b"" if sop in RESETS else with_crc(b"\x01\x02"), sop, idle=idle)
        assert levels[0] == (0.0, 1 - idle)
        assert all(a[1] != b[1] and a[0] < b[0] for a, b in pairwise(levels))
        assert levels[-1][1] == idle


def test_overlapping_packets_are_refused() -> None:
    with pytest.raises(InputError, match="begins before"):
        write_vcd([(0.0, b"", "Hard_Reset"), (100e-6, b"", "Hard_Reset")])
