"""Getting at the text: gzip and its traps, long lines, line numbers, progress; telling waveforms from other files."""

from __future__ import annotations

import gzip
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.crc import with_crc
from pdcheck.errors import InputError
from pdcheck.intake.packet import Packet
from pdcheck.intake.waveform.looks import looks_like_vcd, looks_like_waveform_csv
from pdcheck.intake.waveform.reading import find_packets, read_waveform
from pdcheck.intake.waveform.text import CaptureText
from pdcheck.intake.waveform.writing import write_vcd

RAW = with_crc(bytes.fromhex("4102"))
VCD = write_vcd([(50e-6, RAW, "SOP")]).encode()


def test_gzip_is_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "capture.bin"
    path.write_bytes(gzip.compress(VCD[:300]) + gzip.compress(VCD[300:]))
    (one,) = find_packets(read_waveform(path))
    assert isinstance(one, Packet)
    assert one.raw == RAW


def test_a_bomb_is_refused_and_not_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    bomb = gzip.compress(b"0\n" * 4_000_000)
    monkeypatch.setattr("pdcheck.intake.waveform.text.TEXT_LIMIT", 1_000_000)
    with pytest.raises(InputError, match="unfolds to more than 1000000 bytes"):
        read_waveform(bomb, sample_rate_hz=4e6)
    monkeypatch.setattr("pdcheck.intake.waveform.text.TEXT_LIMIT", 8_000_000)
    assert len(read_waveform(bomb, sample_rate_hz=4e6).times) == 0


@pytest.mark.parametrize("damage", [lambda data: data[:60], lambda data: data[:40] + b"\xff" * 20 + data[60:]])
def test_damaged_gzip(damage) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError, match="damaged gzip data"):
        read_waveform(damage(gzip.compress(VCD)))


def test_an_endless_line_is_refused() -> None:
    with pytest.raises(InputError, match="line 2: a line of more than"):
        for _ in CaptureText(b"0\n" + b"1" * (1 << 23)).chunks():
            pass


@given(st.lists(st.text("ab", max_size=9), max_size=30), st.integers(1, 40))
def test_chunks_are_whole_lines_with_their_numbers(lines: list[str], size: int) -> None:
    text = "\n".join(lines).encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pdcheck.intake.waveform.text.CHUNK_BYTES", size)
        chunks = list(CaptureText(text).chunks())
    assert b"".join(chunk.text for chunk in chunks).removesuffix(b"\n") == text.removesuffix(b"\n")
    number = 1
    for chunk in chunks:
        assert chunk.text.endswith(b"\n")
        assert chunk.first_line == number
        number += chunk.text.count(b"\n")


def test_progress_reaches_the_end(tmp_path: Path) -> None:
    path = tmp_path / "capture.vcd"
    path.write_bytes(VCD)
    seen: list[tuple[int, int]] = []
    read_waveform(path, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (len(VCD), len(VCD))


@pytest.mark.parametrize(
    ("data", "vcd", "table"),
    [
        (VCD, True, False),
        (gzip.compress(VCD, mtime=0), True, False),
        (b"\xef\xbb\xbf \n$comment x $end", True, False),
        ("$timescale 1 ns $end".encode("utf-16"), True, False),
        (b"$5.00 for a cable", False, False),
        (b"Time [s],CC\n0,0\n1e-6,1\n2e-6,0\n", False, True),
        (gzip.compress(b"Time [s],CC\n0,0\n1e-6,1\n2e-6,0\n" * 50, mtime=0), False, False),
        (gzip.compress(b"Time [s],CC\n0,0\n1e-6,1\n2e-6,0\n", mtime=0), False, True),
        (b"0.0\t1.15\n0.5e-6\t0.03\n1e-6\t0.04\n", False, True),
        ("Zeit (µs);CC\n0;0\n0,5;1\n1;1\n".encode(), False, True),
        (b"1\n0\n" * 20, False, True),
        (b"0.001 a1612c91\n0.002 4101\n0.003 6101\n", False, False),
        (b"0.001,4101\n0.002,4102\n0.003,4103\n", False, False),
        (b"a1 61 2c 91\n", False, False),
        (b"41 01\n41 02\n61 03\n", False, False),
        (b"0x2C,0x91\n", False, False),
        (b"5V 3A, 9V 3A, 15V 3A", False, False),
        (b"5\n9\n15\n", False, False),
        (b"", False, False),
        (b"\x1f\x8b\xff\xff\xff", False, False),
    ],
)
def test_sniffing(data: bytes, vcd: bool, table: bool) -> None:
    assert looks_like_vcd(data) is vcd
    assert looks_like_waveform_csv(data) is table


def test_sniffing_and_drawing_do_without_numpy() -> None:
    modules = "pdcheck.intake.waveform.looks, pdcheck.intake.waveform.writing, pdcheck.intake.packet"
    code = f"import sys, {modules}; print('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "False\n"


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    looks_like_vcd(data)
    looks_like_waveform_csv(data)
    try:
        find_packets(read_waveform(data))
    except InputError as error:
        assert "\n" not in str(error)


WORDS = st.sampled_from(
    ["#0", "#5", "#99999999999999999999", "#-1", "#1e9", "0!", "1!", "x!", "z!", "b1 !", "b !", "b", "r1.5 !", "rx !",
     "$end", "$comment", "$dumpvars", "$var wire 1 ! cc $end", "$scope module m $end", "$upscope $end", "!", "1 !", "$"]
)  # fmt: skip


@given(st.lists(WORDS, max_size=40), st.booleans())
def test_any_dump_is_read_or_refused(words: list[str], lines: bool) -> None:
    head = "$timescale 1 us $end\n$var wire 1 ! cc $end\n$enddefinitions $end\n"
    try:
        find_packets(read_waveform((head + ("\n" if lines else " ").join(words)).encode()))
    except InputError as error:
        assert "\n" not in str(error)


CELLS = st.sampled_from(["0", "1", "0.5", "1,5", "1e-6", "x", "", "-3", "nan", "1e999", '"', "word", "0.0000001", "#"])


@given(st.lists(st.lists(CELLS, max_size=4), max_size=20), st.sampled_from(",;\t "), st.sampled_from([None, 2e6]))
def test_any_table_is_read_or_refused(rows: list[list[str]], separator: str, rate: float | None) -> None:
    text = "\n".join(separator.join(row) for row in rows)
    try:
        find_packets(read_waveform(text.encode(), sample_rate_hz=rate))
    except InputError as error:
        assert "\n" not in str(error)
