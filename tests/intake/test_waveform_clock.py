"""Pieces of the clock recovery by themselves, where a later stage would mend what an earlier one got wrong."""

from __future__ import annotations

import numpy as np
import pytest

from pdcheck.bits.crc import with_crc
from pdcheck.bits.line import packet_bits
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.waveform.clock import (
    GAINS,
    Lock,
    find_preambles,
    lock_on,
    read_bits,
    read_bits_again,
    without_glitches,
)
from pdcheck.intake.waveform.packets import FEWEST_PAIRS
from pdcheck.intake.waveform.quick import read_quickly
from pdcheck.intake.waveform.reading import Waveform, find_packets, read_waveform
from pdcheck.intake.waveform.writing import packet_levels

RAW = with_crc(bytes.fromhex("a1612c910108"))
UI = 1 / 300e3


def edges_of(*steps: float) -> np.ndarray:
    """Edges at 1 ms and after each of these steps in bits."""
    return 1e-3 + np.cumsum([0.0, *steps]) * UI


def sent(raw: bytes = RAW, sop: str = "SOP", start_s: float = 1e-3) -> np.ndarray:
    return np.array([start_s + time_s for time_s, _ in packet_levels(raw, sop, 300e3)])


def test_half_a_bit_at_its_shortest_is_no_glitch() -> None:
    times = edges_of(1, 0.5, 0.5, 0.75, 0.25, 0.5, 0.5)
    assert len(without_glitches(times)) == len(times)


def test_a_pulse_of_one_slow_sample_is_a_glitch() -> None:
    assert len(without_glitches(edges_of(1, 0.5, 0.15, 0.85))) == 3


def test_the_lock_is_exact_on_a_clean_preamble() -> None:
    times = sent()
    (preamble,) = find_preambles(times, FEWEST_PAIRS)
    lock = lock_on(times, preamble)
    assert preamble.first == 0
    assert lock.period == pytest.approx(UI)
    assert lock.boundary == pytest.approx(float(times[lock.edge]))
    assert lock.lag_s == 0


def test_the_lock_finds_out_which_direction_lags() -> None:
    times = sent()
    times[0::2] += 0.1 * UI
    preamble = find_preambles(times, FEWEST_PAIRS)[0]
    lock = lock_on(times, preamble)
    assert lock.period == pytest.approx(UI, rel=1e-3)
    assert lock.lag_s == pytest.approx((0.05 if lock.edge % 2 == 0 else -0.05) * UI, rel=0.05)
    assert lock.boundary == pytest.approx(
        1e-3 + 0.05 * UI + round((float(times[lock.edge]) - 1e-3) / UI) * UI, abs=0.02 * UI
    )


def test_a_false_pair_at_the_end_is_not_locked_on() -> None:
    times = edges_of(*[1, 0.5, 0.5] * 20, 0.61, 0.41, 0.46, 0.6, 0.47, 0.45)
    preamble = find_preambles(times, FEWEST_PAIRS)[0]._replace(pairs=21)
    lock = lock_on(times, preamble)
    assert lock.edge == 60
    assert lock.period == pytest.approx(UI, rel=0.01)


def test_a_doubtful_edge_is_judged_with_the_next() -> None:
    edges = edges_of(0.78, 0.22, 0.72, 0.28 + 0.5, 0.5, 1, 1).tolist()
    bits = read_bits(edges, Lock(1e-3, UI, 0), GAINS[0], 1.0)
    assert bits.values[:3] == [1, 0, 1]


def test_the_second_reading_leaves_out_pulses() -> None:
    bits = packet_bits(RAW, "SOP")
    times = sent()
    glitched = np.sort(np.concatenate([times, *([at, at + 0.2 * UI] for at in times[[150, 201, 260]] + 0.2 * UI)]))
    assert read_bits_again(glitched.tolist(), Lock(1e-3, UI, 0), 1.0).values[: len(bits)] == bits


def test_clean_packets_are_read_the_quick_way_and_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    times = np.concatenate([sent(start_s=1e-3 * n, sop=sop) for n, sop in enumerate(("SOP", "SOP'", "SOP''"), 1)])
    quiet = np.flatnonzero(np.diff(times) > 12e-6)
    preambles = find_preambles(times, FEWEST_PAIRS)
    readings = read_quickly(times, preambles, quiet)
    assert sorted(readings) == [0, 1, 2]
    monkeypatch.setattr("pdcheck.intake.waveform.packets.read_quickly", lambda *_: {})
    slow = find_packets(Waveform("CC", times, 0, 0.0, 1.0))
    for reading, packet in zip(readings.values(), slow, strict=True):
        assert isinstance(packet, Packet)
        assert (reading.packet.sop, reading.packet.raw) == (packet.sop, packet.raw)
        assert reading.packet.end_s == pytest.approx(packet.end_s, abs=1e-9)


def test_a_wrong_k_code_needs_a_sure_preamble() -> None:
    bits = packet_bits(RAW, "SOP")
    bits[64:69] = [0, 0, 0, 0, 0]
    edges, now = [], 1e-3
    for bit in bits:
        edges += [now, now + UI / 2] if bit else [now]
        now += UI
    times = np.array(edges)
    assert [type(one) for one in find_packets(Waveform("CC", times, 0, 0.0, 1.0))] == [Packet]
    short = find_packets(Waveform("CC", times[96 - 3 * 7 :], 0, 0.0, 1.0))
    assert [type(one) for one in short] == [BadPacket]


def test_a_broken_packet_is_reported_once() -> None:
    bits = packet_bits(with_crc(bytes([0x34] * 100)), "SOP")
    for at in (100, 300, 500, 700):
        bits[at : at + 5] = [0, 0, 0, 0, 0]
    edges, now = [], 1e-3
    for bit in bits:
        edges += [now, now + UI / 2] if bit else [now]
        now += UI
    found = find_packets(Waveform("CC", np.array(edges), 0, 0.0, 1.0))
    assert [type(one) for one in found] == [BadPacket]


def test_slow_edges_with_noise_cross_the_threshold_once() -> None:
    dice = np.random.default_rng(3)
    step = 20e-9
    count = round(2e-3 / step)
    clean = np.zeros(count)
    clean[np.round(sent() / step).astype(int)] = 1
    level = np.cumsum(clean) % 2
    ramp = np.convolve(level, np.ones(20) / 20, "same") * 1.125 + dice.normal(0, 0.05, count)
    text = "Time,CC [V]\n" + "".join(f"{n * step:.9f},{volts:.4f}\n" for n, volts in enumerate(ramp.tolist()))
    wave = read_waveform(text.encode())
    assert len(wave.times) == len(sent())
    (one,) = find_packets(wave)
    assert isinstance(one, Packet)
    assert one.raw == RAW
