"""One packet at a time: each way in which it can be odd or broken, and what is said about it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from pdcheck.bits.crc import with_crc
from pdcheck.bits.line import K_CODES, ORDERED_SETS, packet_bits, symbol_bits
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.waveform.clock import without_glitches
from pdcheck.intake.waveform.reading import Waveform, find_packets, read_waveform
from pdcheck.intake.waveform.writing import Sent, write_vcd

RAW = with_crc(bytes.fromhex("a1612c910108"))
UI = 1 / 300e3


def line_of(*bursts: list[int], gap_s: float = 100e-6, closed: bool = True) -> Waveform:
    """A waveform of bursts of bits at 300 kbit/s."""
    now, edges = gap_s, []
    for bits in bursts:
        for bit in bits:
            edges += [now, now + UI / 2] if bit else [now]
            now += UI
        if closed:
            edges.append(now)
        now += gap_s
    return Waveform("CC", np.array(edges), 0, 0.0, now)


def only(*bursts: list[int], **how: float) -> Packet | BadPacket:
    (one,) = find_packets(line_of(*bursts, **how))  # type: ignore[arg-type]
    return one


def with_set(names: list[str], raw: bytes = RAW) -> list[int]:
    """Bits of a packet whose ordered set is spelled out."""
    bits = packet_bits(raw, "SOP")
    codes = [bit for name in names for bit in symbol_bits(K_CODES.get(name, int(name, 2) if name.isdigit() else 0))]
    return bits[:64] + codes + bits[84:]


@pytest.mark.parametrize("sop", ORDERED_SETS)
def test_each_ordered_set(sop: str) -> None:
    raw = b"" if sop.endswith("Reset") else RAW
    one = only(packet_bits(raw, sop))
    assert isinstance(one, Packet)
    assert (one.sop, one.raw, one.problems) == (sop, raw, ())
    assert one.time_s == pytest.approx(100e-6)
    assert one.end_s - one.time_s == pytest.approx(len(packet_bits(raw, sop)) * UI)
    assert one.bit_rate == pytest.approx(300e3)


@pytest.mark.parametrize("sop", sorted(ORDERED_SETS))
@pytest.mark.parametrize("at", range(4))
@pytest.mark.parametrize("wrong", ["00000", "11111", "01010", "10101"])
def test_one_wrong_k_code_is_accepted_and_noted(sop: str, at: int, wrong: str) -> None:
    names = list(ORDERED_SETS[sop])
    names[at] = wrong
    bits = with_set(names)
    one = only(bits[:84] if sop.endswith("Reset") else bits)
    assert isinstance(one, Packet)
    assert one.sop == sop
    assert f"K-code {at + 1} of 4 of the ordered set is {wrong}" in one.problems[0]


@pytest.mark.parametrize("sop", sorted(ORDERED_SETS))
def test_two_wrong_k_codes_are_not(sop: str) -> None:
    names = [*ORDERED_SETS[sop][:2], "00000", "11111"]
    one = only(with_set(names))
    assert isinstance(one, BadPacket)
    assert one.reason == "no ordered set after the preamble"
    assert one.time_s == pytest.approx(100e-6)


def flipped(at: int, bits: list[int]) -> list[int]:
    return [bit ^ (n == at) for n, bit in enumerate(bits)]


def test_a_wrong_crc_is_noted_and_the_bytes_kept() -> None:
    raw = RAW[:-1] + bytes([RAW[-1] ^ 0x10])
    one = only(packet_bits(raw, "SOP"))
    assert isinstance(one, Packet)
    assert one.raw == raw
    assert "CRC is" in one.problems[0]


@pytest.mark.parametrize(
    ("bits", "reason"),
    [
        (packet_bits(RAW, "SOP")[:120] + [0] * 5 + packet_bits(RAW, "SOP")[125:], "no 4b5b code"),
        (packet_bits(RAW, "SOP")[:-5], "the line goes quiet after 10 bytes, without EOP"),
        (packet_bits(RAW, "SOP")[:100], "the line goes quiet after 1 bytes, without EOP"),
        (packet_bits(RAW, "SOP")[:70], "no ordered set after the preamble"),
        (packet_bits(RAW[:5], "SOP"), "EOP after 5 bytes, expected 6 to 268"),
        (packet_bits(bytes(300), "SOP"), "more than 268 bytes without EOP"),
        (packet_bits(RAW, "SOP")[:89] + list(symbol_bits(K_CODES["EOP"])), "EOP in the middle of a byte"),
        ([0, 1] * 4000, "alternating bits for 26.7 ms without an ordered set"),
    ],
)
def test_what_cannot_be_decoded_is_reported_and_the_next_one_read(bits: list[int], reason: str) -> None:
    good = packet_bits(RAW, "SOP'")
    found = find_packets(line_of(good, bits, good))
    assert [type(one) for one in found] == [Packet, BadPacket, Packet]
    assert reason in found[1].reason  # type: ignore[union-attr]
    assert found[1].time_s == pytest.approx(100e-6 + len(good) * UI + 100e-6)


def test_a_packet_without_its_preamble_is_reported() -> None:
    good = packet_bits(RAW, "SOP")
    found = find_packets(line_of(good[66:], good))
    assert isinstance(found[0], BadPacket)
    assert "without a preamble" in found[0].reason
    assert isinstance(found[1], Packet)


@pytest.mark.parametrize("lost", [2, 10, 21, 40])
def test_a_capture_may_start_in_the_preamble(lost: int) -> None:
    whole = line_of(packet_bits(RAW, "SOP"))
    one = find_packets(whole._replace(times=whole.times[lost:]))
    assert [type(packet) for packet in one] == [Packet]


def test_a_capture_may_end_anywhere() -> None:
    whole = line_of(packet_bits(RAW, "SOP"), packet_bits(RAW, "SOP''"))
    last = len(whole.times)
    kinds = []
    for count in range(last // 2 + 1, last + 1):
        cut = whole._replace(times=whole.times[:count], end_s=float(whole.times[count - 1]))
        found = find_packets(cut)
        assert isinstance(found[0], Packet)
        kinds.append("".join("P" if isinstance(one, Packet) else "B" for one in found))
        if kinds[-1] == "PB":
            assert "the capture ends" in found[1].reason  # type: ignore[union-attr]
    assert kinds[-1] == "PP"
    assert kinds[-2] == "PP", "the closing edge is missing, the CRC vouches for the packet"
    assert kinds[-3] == "PB"
    assert [kind for kind, after in pairwise(kinds) if kind != after] == ["P", "PB"]


def test_polarity_does_not_matter() -> None:
    wave = line_of(packet_bits(RAW, "SOP"))
    assert find_packets(wave) == find_packets(wave._replace(initial=1))


@pytest.mark.parametrize("rate", [262e3, 340e3])
def test_a_rate_outside_the_limits_is_read_and_noted(rate: float) -> None:
    wave = line_of(packet_bits(RAW, "SOP"))
    (one,) = find_packets(wave._replace(times=wave.times * 300e3 / rate, end_s=1.0))
    assert isinstance(one, Packet)
    assert one.problems == (f"bit rate {rate / 1e3:.1f} kbit/s is outside 270 to 330 kbit/s",)


@pytest.mark.parametrize("rate", [200e3, 450e3])
def test_a_line_of_another_kind_holds_no_packet(rate: float) -> None:
    wave = line_of(packet_bits(RAW, "SOP"))
    assert not [
        one
        for one in find_packets(wave._replace(times=wave.times * 300e3 / rate, end_s=1.0))
        if isinstance(one, Packet)
    ]


def test_payload_that_looks_like_a_preamble() -> None:
    raw = with_crc(bytes([0x34] * 200))
    found = find_packets(line_of(packet_bits(raw, "SOP"), packet_bits(raw, "SOP'"), gap_s=26e-6))
    assert [(one.sop, one.raw) for one in found if isinstance(one, Packet)] == [("SOP", raw), ("SOP'", raw)]
    assert len(found) == 2


def test_long_captures_are_read_in_stretches(monkeypatch: pytest.MonkeyPatch) -> None:
    bits = [packet_bits(with_crc(bytes([n, 0])), "SOP") for n in range(40)]
    whole = find_packets(line_of(*bits, gap_s=30e-6))
    monkeypatch.setattr("pdcheck.intake.waveform.packets._BLOCK_EDGES", 1000)
    monkeypatch.setattr("pdcheck.intake.waveform.packets._LONGEST_PACKET_EDGES", 400)
    pieces = find_packets(line_of(*bits, gap_s=30e-6))
    assert [one.raw for one in pieces if isinstance(one, Packet)] == [with_crc(bytes([n, 0])) for n in range(40)]
    assert len(pieces) == len(whole) == 40


def test_edges_on_the_disk_are_those_in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    data = write_vcd([Sent(1e-3 * n, with_crc(bytes([n, 0])), "SOP") for n in range(40)]).encode()
    monkeypatch.setattr("pdcheck.intake.waveform.text.CHUNK_BYTES", 5000)
    whole = read_waveform(data)
    assert not isinstance(whole.times, np.memmap)
    monkeypatch.setattr("pdcheck.intake.waveform.edges._IN_MEMORY", 100)
    monkeypatch.setattr("pdcheck.intake.waveform.packets._BLOCK_EDGES", 1000)
    kept = read_waveform(data)
    assert isinstance(kept.times, np.memmap)
    assert kept.times.tolist() == whole.times.tolist()
    assert find_packets(kept) == find_packets(whole)
    assert len(find_packets(kept)) == 40


def test_glitches_go_shortest_first() -> None:
    times = np.array([0, 3.3, 4.9, 5.0, 6.6, 7.0, 7.3, 10.0, 10.05, 10.2, 13.3]) * 1e-6
    assert (without_glitches(times) * 1e6).round(1).tolist() == [0, 3.3, 6.6, 10.2, 13.3]


def test_endless_chatter_ends() -> None:
    times = np.cumsum(np.linspace(0.4e-6, 0.01e-6, 200_000))
    assert len(without_glitches(times)) <= 1
