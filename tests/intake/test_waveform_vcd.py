"""Value change dumps as other programs write them: scopes, vectors, unknown states, comments, and what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from pdcheck.bits.crc import with_crc
from pdcheck.errors import InputError
from pdcheck.intake.packet import Packet
from pdcheck.intake.waveform.reading import find_packets, read_waveform
from pdcheck.intake.waveform.text import CHUNK_BYTES
from pdcheck.intake.waveform.writing import packet_levels

RAW = with_crc(bytes.fromhex("4102"))
END = "$enddefinitions $end\n"


def dump(header: str, change: str, unit_s: float = 1e-9, *, extra: str = "") -> bytes:
    """A dump with one GoodCRC-sized packet at 50 us; ``change`` has LEVEL where 0 or 1 goes."""
    lines = [header + END + "#0", "$dumpvars", change.replace("LEVEL", "0"), "$end"]
    for time_s, level in packet_levels(RAW, "SOP"):
        lines += [f"#{round((50e-6 + time_s) / unit_s)}", change.replace("LEVEL", str(level)), extra]
    return "\n".join([*lines, f"#{round(1e-3 / unit_s)}"]).encode()


def raws(data: bytes, channel: str | None = None) -> list[bytes]:
    return [one.raw for one in find_packets(read_waveform(data, channel=channel)) if isinstance(one, Packet)]


@pytest.mark.parametrize(
    ("timescale", "unit_s"),
    [("1 ns", 1e-9), ("10ns", 10e-9), ("100 ps", 1e-10), ("1\n\tfs", 1e-15), ("1 us", 1e-6 / 8), ("1 NS", 1e-9)],
)
def test_time_scales(timescale: str, unit_s: float) -> None:
    data = dump(f"$timescale {timescale} $end\n$var wire 1 ! CC $end\n", "LEVEL!", unit_s)
    if timescale == "1 us":  # too coarse to decode, but read with the right unit
        assert read_waveform(data).end_s == pytest.approx(8e-3, rel=1e-3)
    else:
        assert raws(data) == [RAW]


HEAD = "$date today $end\n$timescale 1 ns $end\n$scope module board $end\n"


@pytest.mark.parametrize(
    ("var", "change", "channel"),
    [
        ("$var wire 1 ! cc $end", "LEVEL!", None),
        ("$var reg 1 #$ cc $end", "LEVEL#$", "board.cc"),
        ("$var wire 1 b0 cc $end", "LEVELb0", "cc"),
        ("$var wire 1 ! cc $end", "bLEVEL !", None),
        ("$var wire 1 0 cc $end", "bLEVEL 0", None),
        ("$var wire 1 ! cc $end", "LEVEL !", None),
        ("$var wire 1 ! cc [0] $end", "LEVEL!", "CC"),
        ("$var wire 8 ! port [7:0] $end", "b0LEVEL10 !", "port[2]"),
        ("$var wire 8 ! port [7:0] $end", "bLEVEL !", "board.port[0]"),
        ("$var wire 4 ! port $end", "bLEVEL00 !", "port[2]"),
        ("$var real 64 ! volts $end", "rLEVEL.1 !", "volts"),
        ("$var real 64 ! volts $end", "rLEVELe0 !", None),
    ],
)
def test_signals_of_every_kind(var: str, change: str, channel: str | None) -> None:
    assert raws(dump(HEAD + var + "\n$upscope $end\n", change), channel) == [RAW]


def test_other_signals_do_not_disturb() -> None:
    header = (
        HEAD + "$var wire 1 ! cc $end\n$var wire 1 !! clk $end\n$var wire 8 \" bus $end\n$var real 64 ' v $end\n"
        "$upscope $end\n$scope module other $end\n$var wire 1 % cc $end\n$var event 1 & e $end\n$upscope $end\n"
    )
    data = dump(header, "LEVEL!", extra="b1x0z1 \"\nr1.5e-3 '\n1!! 0%\n$comment 1! #5 $end\nz%")
    assert raws(data) == [RAW]
    assert raws(data, "board.cc") == [RAW]
    with pytest.raises(InputError, match=r"several signals; expected one of board\.cc, other\.cc"):
        read_waveform(data, channel="cc")
    with pytest.raises(InputError, match=r"vector of 8 bits; expected one bit, board\.bus"):
        read_waveform(data, channel="bus")
    with pytest.raises(InputError, match=r"no channel 'vbus'; expected one of board\.cc, board\.clk"):
        read_waveform(data, channel="vbus")


def test_an_unknown_state_holds_the_level_before() -> None:
    data = dump(HEAD + "$var wire 1 ! cc $end\n", "LEVEL!")
    floating = data.replace(b"\n0!\n$end", b"\nz!\n$end") + b"\nz!\n#2000000\nx!\n"
    assert raws(floating) == [RAW]


def test_two_live_channels_have_to_be_chosen_from() -> None:
    data = dump(HEAD + "$var wire 1 ! cc1 $end\n$var wire 1 % cc2 $end\n", "LEVEL! LEVEL%")
    with pytest.raises(InputError, match=r"several channels carry packets; .*board\.cc1, board\.cc2"):
        read_waveform(data)
    assert raws(data, "cc2") == [RAW]


def test_only_the_channel_that_decodes_is_taken() -> None:
    clock = "\n".join(f"#{t}\n{t // 2000 % 2}%" for t in range(2_000_000, 2_600_000, 2000))
    data = dump(HEAD + "$var wire 1 % clk $end\n$var wire 1 ! cc $end\n", "LEVEL!") + b"\n" + clock.encode()
    assert read_waveform(data).name == "board.cc"


def test_many_channels_and_a_long_file(tmp_path: Path) -> None:
    header = HEAD + "".join(f"$var wire 1 {chr(33 + n // 90)}{chr(33 + n % 90)} w{n} $end\n" for n in range(200))
    data = dump(header + "$var wire 1 ~ cc $end\n", "LEVEL~")
    slow = "".join(f"#{t}\n1#&\n#{t + 7000}\n0#&\n" for t in range(2_000_000, 2_000_000 + 14_000 * 200_000, 14_000))
    path = tmp_path / "long.vcd"
    path.write_bytes(data + b"\n" + slow.encode())
    assert path.stat().st_size > CHUNK_BYTES
    wave = read_waveform(path)
    assert wave.name == "board.cc"
    assert [one.raw for one in find_packets(wave) if isinstance(one, Packet)] == [RAW]
    assert len(read_waveform(path, channel="w185").times) == 399_999


def test_a_value_and_its_identifier_may_stand_in_different_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    data = dump(HEAD + "$var wire 1 ! cc $end\n", "bLEVEL\n!", extra="$comment\n0!\n$end")
    for size in (7, 64, 501):
        monkeypatch.setattr("pdcheck.intake.waveform.text.CHUNK_BYTES", size)
        assert raws(data) == [RAW]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"$timescale 1 ns $end", "without $enddefinitions"),
        (f"$var wire 1 ! cc $end {END}".encode(), "without $timescale"),
        (f"$timescale 3 ns $end\n$var wire 1 ! cc $end\n{END}".encode(), "line 1: unreadable $timescale '3 ns'"),
        (f"$timescale 1 ns $end\n{END}".encode(), "without variables"),
        (f"$timescale 1 ns $end\n$var wire 1 $end\n{END}".encode(), "line 2: $var with too few words"),
        (f"$timescale 1 ns $end\n$var wire x ! cc $end\n{END}".encode(), "line 2: $var of size 'x'"),
        (f"{HEAD}$var wire 1 ! cc $end\n{END}#0\n0!\n#9\n1!\n#5\n0!\n".encode(), "line 10: time runs backwards"),
        (f"{HEAD}$var wire 1 ! cc $end\n{END}#0\n0!\ngibberish\n".encode(), "line 8: unreadable 'gibberish'"),
        (f"{HEAD}$var wire 1 ! cc $end\n{END}#12x\n0!\n".encode(), "line 6: unreadable '#12x'"),
        (f"{HEAD}$var wire 1 ! cc $end\n{END}#0\nb2 !\n".encode(), "line 7: unreadable 'b2'"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(data: bytes, message: str) -> None:
    with pytest.raises(InputError) as caught:
        read_waveform(data)
    assert message in str(caught.value)


def test_an_error_in_a_file_names_the_file(tmp_path: Path) -> None:
    path = tmp_path / "bad.vcd"
    path.write_text(f"{HEAD}$var wire 1 ! cc $end\n{END}#0\n0!\ngibberish\n")
    with pytest.raises(InputError, match=r"bad\.vcd, line 8: unreadable 'gibberish'"):
        read_waveform(path)
    with pytest.raises(InputError, match="cannot be opened"):
        read_waveform(tmp_path / "none.vcd")
    with pytest.raises(InputError, match="cannot be opened"):
        read_waveform(tmp_path)
