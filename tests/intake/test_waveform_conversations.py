"""Random conversations from a generator with its own tables: every intact packet decodes, none is invented."""

from __future__ import annotations

import random
import zlib
from typing import NamedTuple

import numpy as np
import pytest

from pdcheck.intake.waveform.reading import BadPacket, Packet, Waveform, find_packets, read_waveform

# Typed from the published tables once more, as text; nothing here comes from pdcheck.bits.
NIBBLES = (
    "0 11110, 1 01001, 2 10100, 3 10101, 4 01010, 5 01011, 6 01110, 7 01111, 8 10010, 9 10011, A 10110, B 10111, "
    "C 11010, D 11011, E 11100, F 11101"
)
CODES = "S1 11000, S2 10001, S3 00110, R1 00111, R2 11001, EOP 01101"
SETS = {
    "SOP": "S1 S1 S1 S2",
    "SOP'": "S1 S1 S3 S3",
    "SOP''": "S1 S3 S1 S3",
    "SOP'_Debug": "S1 R2 R2 S3",
    "SOP''_Debug": "S1 R2 S3 S2",
    "Hard_Reset": "R1 R1 R1 R2",
    "Cable_Reset": "R1 S1 R1 S3",
}
SENT = {name: code[::-1] for name, code in (pair.split() for pair in f"{NIBBLES}, {CODES}".split(", "))}
SAMPLE_RATES = (2e6, 4e6, 10e6, 24e6, 50e6)


class Truth(NamedTuple):
    """A packet as drawn: start, ordered set, bytes, whether all of it is on the line as it should be."""

    time_s: float
    sop: str
    raw: bytes
    intact: bool


class Manners(NamedTuple):
    """How rough the line is; times in bits unless they say otherwise."""

    jitter: float = 0.0
    sigma: float = 0.0
    wander: float = 0.0
    drift: float = 0.0
    noise: float = 0.0
    glitch_in_gap: float = 0.0
    glitches_inside: int = 0
    close_noise: bool = False
    damage: float = 0.0
    early_preamble: bool = False
    idle: int | None = None
    closing_edge: bool = True
    pulse_bias: float = 0.0


def bits_of(raw: bytes, sop: str, wrong_code: str | None = None, which: int = 0) -> str:
    names = SETS[sop].split()
    codes = [SENT[name] for name in names]
    if wrong_code:
        codes[which] = wrong_code[::-1]
    bits = "01" * 32 + "".join(codes)
    if not sop.endswith("Reset"):
        bits += "".join(SENT[digit] for byte in raw for digit in f"{byte:02X}"[::-1]) + SENT["EOP"]
    return bits


def edges_of(bits: str, rate: float, dice: random.Random, how: Manners) -> list[float]:
    """Times of all transitions from the first bit on, the closing one included, in seconds."""
    period = 1 / rate
    now, drifted, walk = 0.0, 0.0, 0.0
    edges: list[float] = []

    def mark(at: float) -> None:
        bias = how.pulse_bias * period * (1 if len(edges) % 2 else -1) / 2
        edges.append(at + walk + bias + (dice.uniform(-how.jitter, how.jitter) + dice.gauss(0, how.sigma)) * period)

    for bit in bits:
        length = period * (1 + drifted)
        mark(now)
        if bit == "1":
            mark(now + length / 2)
        now += length
        drifted += how.drift / len(bits)
        walk += dice.uniform(-how.wander, how.wander) * period
    if how.closing_edge:
        mark(now)
    return edges


def random_raw(dice: random.Random) -> bytes:
    size = dice.choice([2, 2, 2, 6, 6, 10, 14, 22, 30, dice.randint(2, 264)])
    message = dice.choice([dice.randbytes(size), bytes([0x34] * size), bytes([dice.randrange(256)] * size)])
    return message + zlib.crc32(message).to_bytes(4, "little")


def conversation(
    dice: random.Random, packets: int, rate: float, how: Manners
) -> tuple[list[float], list[Truth], float, int]:
    """Edges, what was sent, end of the capture in seconds, level before the first edge."""
    now = dice.uniform(20e-6, 200e-6)
    edges: list[float] = []
    truth: list[Truth] = []
    for number in range(packets):
        sop = dice.choice(["SOP"] * 8 + ["SOP'"] * 3 + list(SETS))
        raw = b"" if sop.endswith("Reset") else random_raw(dice)
        bits = bits_of(raw, sop)
        intact = True
        if dice.random() < how.damage:
            intact = False
            if dice.random() < 0.5:
                bits = bits[: dice.randrange(40, len(bits) - 6)]
            else:
                at = dice.randrange(64, len(bits) - 5)
                bits = bits[:at] + "".join(dice.choice("01") for _ in range(5)) + bits[at + 5 :]
                intact = bits == bits_of(raw, sop)
        if number == 0 and how.early_preamble:
            bits = bits[dice.randrange(2, 32) :]
            now = 1e-6
        own = [now + edge for edge in edges_of(bits, rate, dice, how)]
        truth.append(Truth(own[0], sop, raw, intact))
        for _ in range(how.glitches_inside):
            at = dice.uniform(own[0], own[-1])
            edges += [at, at + dice.uniform(0.02, 0.12) / rate]
        edges += own
        now = own[-1] + 1 / rate
        gap = dice.choice([dice.uniform(25e-6, 60e-6), dice.uniform(60e-6, 2e-3)])
        if dice.random() < how.noise and gap > 50e-6:
            far = 0.0 if how.close_noise else 1.0
            at = now + far * dice.uniform(8e-6, 15e-6)
            while at < now + gap - far * 15e-6:
                edges.append(at)
                at += dice.choice([dice.uniform(0.05e-6, 0.5e-6), dice.uniform(0.4e-6, 6e-6), 20e-6 * dice.random()])
        elif dice.random() < how.glitch_in_gap:
            at = now + dice.uniform(8e-6, gap - 10e-6)
            edges += [at, at + dice.uniform(0.02e-6, 2e-6)]
        now += gap
    return edges, truth, now, dice.randrange(2) if how.idle is None else how.idle


def sampled(edges: list[float], rate_hz: float, phase: float) -> np.ndarray:
    """Sample numbers at which a capture at ``rate_hz`` sees a new level."""
    at = np.ceil(np.array(edges) * rate_hz - phase).astype(np.int64)
    place, count = np.unique(at, return_counts=True)
    return place[count % 2 == 1]


def check(found: list[Packet | BadPacket], truth: list[Truth], tolerance_s: float) -> tuple[int, int]:
    """Packets missed and packets invented."""
    good = [packet for packet in found if isinstance(packet, Packet)]
    missed = [
        one
        for one in truth
        if one.intact
        and not any(
            packet.sop == one.sop and packet.raw == one.raw and abs(packet.time_s - one.time_s) < tolerance_s
            for packet in good
        )
    ]
    sent = {(one.sop, one.raw) for one in truth}
    sound = [packet for packet in good if not packet.problems or packet.sop.endswith("Reset")]
    invented = [packet for packet in sound if (packet.sop, packet.raw) not in sent]
    return len(missed), len(invented)


def as_vcd(at: np.ndarray, rate_hz: float, level: int, samples: int) -> bytes:
    step = round(1e12 / rate_hz)
    lines = ["$timescale 1 ps $end", "$var wire 1 ! CC $end", "$enddefinitions $end", "#0", f"{level}!"]
    for number in at.tolist():
        level ^= 1
        lines += [f"#{number * step}", f"{level}!"]
    return "\n".join([*lines, f"#{samples * step}", ""]).encode()


def as_csv(at: np.ndarray, rate_hz: float, level: int, samples: int) -> bytes:
    turns = np.zeros(samples, dtype=np.int64)
    turns[at[at < samples]] = 1
    levels = (np.cumsum(turns) + level & 1).tolist()
    return ("Time [us];CC\n" + "".join(f"{n / rate_hz * 1e6:.3f};{v}\n" for n, v in enumerate(levels))).encode()


ROUGH = Manners(jitter=0.06, drift=0.01, noise=0.5, glitch_in_gap=0.5, damage=0.3)
LINES = {
    "clean": Manners(),
    "jitter": Manners(jitter=0.1),
    "bell-shaped jitter": Manners(sigma=0.04),
    "wander": Manners(wander=0.05, jitter=0.05),
    "fast drift up": Manners(drift=0.05),
    "fast drift down": Manners(drift=-0.05),
    "one edge late": Manners(pulse_bias=0.1),
    "noise between": Manners(noise=0.8, glitch_in_gap=0.8, jitter=0.03),
    "noise up to the packets": Manners(noise=1.0, close_noise=True, jitter=0.03),
    "glitches inside": Manners(glitches_inside=2, jitter=0.04),
    "capture starts in the preamble": Manners(early_preamble=True, jitter=0.05),
    "no closing edge": Manners(closing_edge=False, jitter=0.05),
    "all at once": ROUGH,
}


@pytest.mark.parametrize("rate_hz", SAMPLE_RATES)
@pytest.mark.parametrize("line", LINES)
def test_every_intact_packet_is_decoded_and_none_invented(line: str, rate_hz: float) -> None:
    how = LINES[line]
    for seed in range(5):
        dice = random.Random(f"{line} {rate_hz} {seed}")
        rate = dice.choice([270e3, 330e3, dice.uniform(270e3, 330e3)])
        edges, truth, end, level = conversation(dice, 10, rate, how)
        at = sampled(sorted(edges), rate_hz, dice.random())
        found = find_packets(Waveform("CC", at / rate_hz, level, 0.0, end))
        tolerance = 70 / rate if how.early_preamble else 3 / rate
        assert check(found, truth, tolerance) == (0, 0)
        for packet in found:
            if isinstance(packet, Packet) and not packet.problems:
                assert packet.bit_rate == pytest.approx(rate, rel=0.01 + abs(how.drift) + how.wander)


@pytest.mark.parametrize("seed", range(4))
def test_files_carry_the_same_conversation(seed: int) -> None:
    dice = random.Random(seed)
    rate_hz = dice.choice(SAMPLE_RATES[:3])
    edges, truth, end, level = conversation(dice, 8, dice.uniform(270e3, 330e3), ROUGH)
    at = sampled(sorted(edges), rate_hz, dice.random())
    samples = round(end * rate_hz)
    found = [find_packets(read_waveform(write(at, rate_hz, level, samples))) for write in (as_vcd, as_csv)]
    assert [(type(one), round(one.time_s, 7)) for one in found[0]] == [
        (type(one), round(one.time_s, 7)) for one in found[1]
    ]
    for one in found:
        assert check(one, truth, 20e-6) == (0, 0)


def test_every_damaged_packet_is_reported() -> None:
    how = Manners(damage=1.0, jitter=0.03, noise=0.3)
    for seed in range(20):
        dice = random.Random(seed)
        edges, truth, end, level = conversation(dice, 8, 300e3, how)
        found = find_packets(Waveform("CC", np.array(sorted(edges)), level, 0.0, end))
        for one in truth:
            near = [packet for packet in found if abs(packet.time_s - one.time_s) < 30e-6]
            assert near
            assert all(isinstance(packet, BadPacket) or packet.problems or one.intact for packet in near) or (
                near[0].sop == one.sop and near[0].raw == one.raw
            )


def test_pure_noise_holds_no_packet() -> None:
    dice = np.random.default_rng(7)
    for spread in (1e-6, 2e-6, 3e-6):
        times = np.cumsum(dice.exponential(spread, 300_000) + 0.1e-6)
        assert not find_packets(Waveform("CC", times, 0, 0.0, float(times[-1])))
    coarse = np.cumsum(dice.choice([1.5e-6, 2e-6, 3e-6, 3.5e-6], 300_000))
    assert not [
        one for one in find_packets(Waveform("CC", coarse, 0, 0.0, float(coarse[-1]))) if isinstance(one, Packet)
    ]
