"""Waveforms through ``read_input`` and the command line: sniffed, unpacked, and what cannot be decoded is told."""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.bits.crc import with_crc
from pdcheck.bits.message import build_message, make_header
from pdcheck.cli import run
from pdcheck.errors import InputError
from pdcheck.intake.sniff import read_input
from pdcheck.intake.stamps import finest_step
from pdcheck.intake.waveform.writing import packet_levels, write_vcd

CAPABILITIES = build_message(make_header("Source_Capabilities", 2), [0x0801912C, 0x0002D12C])
GOOD_CRC = build_message(make_header("GoodCRC", 0, source=False))
REQUEST = build_message(make_header("Request", 1, source=False), [0x2304B12C & 0xFFFFFFFF])
PACKETS = [(0.001, CAPABILITIES, "SOP"), (0.003, GOOD_CRC, "SOP"), (0.005, REQUEST, "SOP"), (0.007, b"", "Hard_Reset")]


@pytest.fixture
def vcd(tmp_path: Path) -> Path:
    path = tmp_path / "line.vcd"
    path.write_text(write_vcd(PACKETS))
    return path


def table(path: Path, rows: str = "{time:.9f},{level}\n", header: str = "Time [s],CC1\n") -> Path:
    lines = [header, rows.format(time=0.0, level=0)]
    for at, raw, sop in PACKETS:
        lines += [rows.format(time=at + time, level=level) for time, level in packet_levels(raw, sop)]
    path.write_text("".join(lines))
    return path


def test_a_vcd_is_sniffed_and_its_messages_told(vcd: Path) -> None:
    intake = read_input(str(vcd))
    assert (intake.form, intake.channel, intake.lost) == ("vcd", "line.CC", ())
    assert [told.message.type for told in intake.told] == ["Source_Capabilities", "GoodCRC", "Request", "Hard_Reset"]
    assert [offer.max_mv for offer in intake.offers] == [5000, 9000]
    assert intake.told[0].message.time_s == pytest.approx(0.001, abs=1e-6)
    assert not intake.bad_crc()


def test_csv_and_gzip(vcd: Path, tmp_path: Path) -> None:
    csv = table(tmp_path / "line.csv")
    packed = tmp_path / "line.bin"
    packed.write_bytes(gzip.compress(vcd.read_bytes()))
    told = [told.message.raw for told in read_input(str(vcd)).told]
    for path in (csv, packed):
        assert [each.message.raw for each in read_input(str(path)).told] == told
    assert read_input(str(csv)).form == "csv"


def test_a_gzip_hex_log_is_read(tmp_path: Path) -> None:
    path = tmp_path / "log.gz"
    path.write_bytes(gzip.compress(f"0.125 SOP {CAPABILITIES.hex()}\n".encode()))
    intake = read_input(str(path))
    assert intake.form == "hex"
    assert intake.resolution_s == 0.001
    for damaged in (path.read_bytes()[:-9], b"\x1f\x8b" + bytes(40)):
        path.write_bytes(damaged)
        assert run(["decode", str(path)]) == 2


def test_the_form_is_held_to(vcd: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a VCD"):
        read_input(str(vcd), "csv")
    with pytest.raises(InputError, match="is no VCD"):
        read_input(str(table(tmp_path / "x.csv")), "vcd")
    with pytest.raises(InputError, match="from a file"):
        read_input("5V 3A", "vcd")


def test_samples_at_a_rate(tmp_path: Path) -> None:
    rate = 4e6
    levels = [0] * round(0.0005 * rate)
    shape = packet_levels(CAPABILITIES)
    for (at, level), (until, _) in zip(shape, [*shape[1:], (shape[-1][0] + 1e-4, 0)], strict=True):
        levels += [level] * (round(until * rate) - round(at * rate))
    path = tmp_path / "samples.csv"
    path.write_text("\n".join(map(str, levels)) + "\n")
    assert run(["decode", str(path), "--rate", "4MHz"]) == 0
    assert [told.message.type for told in read_input(str(path), sample_rate_hz=rate).told] == ["Source_Capabilities"]
    assert run(["decode", str(path), "--rate", "fast"]) == 2


def test_what_cannot_be_decoded_is_told_and_the_rest_decodes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    short = with_crc(make_header("Request", 1, source=False).to_bytes(2, "little"))  # an object too few
    path = tmp_path / "line.vcd"
    path.write_text(write_vcd([(0.001, CAPABILITIES, "SOP"), (0.003, short, "SOP"), (0.005, GOOD_CRC, "SOP")]))
    assert run(["decode", str(path), "--json"]) == 1
    document = json.loads(capsys.readouterr().out)
    assert [message["header"]["type"] for message in document["messages"]] == ["Source_Capabilities", "GoodCRC"]
    (lost,) = document["undecoded"]
    assert lost["time_s"] == pytest.approx(0.003, abs=1e-5)
    assert "do not fit the header" in lost["reason"]
    assert run(["decode", str(path)]) == 1
    assert "could not be decoded: 1" in capsys.readouterr().out


def test_a_bad_crc_ends_in_one(tmp_path: Path) -> None:
    path = tmp_path / "line.vcd"
    path.write_text(write_vcd([(0.001, CAPABILITIES[:-1] + b"\0", "SOP")]))
    assert run(["decode", str(path)]) == 1


def test_options_of_the_command_line(vcd: Path, tmp_path: Path) -> None:
    assert run(["decode", str(vcd), "--channel", "CC"]) == 0
    assert run(["decode", str(vcd), "--channel", "CC9"]) == 2
    analog = table(tmp_path / "analog.csv", "{time:.9f},{level}.1\n")
    assert run(["decode", str(analog), "--threshold", "0.6V"]) == 0
    assert run(["decode", str(analog), "--threshold", "3A"]) == 2


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("0.1 a1\n0.123456 b1", 1e-6),
        ("12:00:01 SOP a1", 1.0),
        ("[12:00:01.25] SOP a1", 0.01),
        ("17ms a1", 1e-3),
        ("3.5 us a1", 1e-7),
        ("a1 61 2c", None),
        ("0x2C,0x91", None),
        ("", None),
    ],
)
def test_the_step_of_time_stamps(text: str, step: float | None) -> None:
    assert finest_step(text.splitlines()) == (None if step is None else pytest.approx(step))


@settings(max_examples=60, deadline=None)
@given(data=st.binary(max_size=400), form=st.sampled_from([None, "hex", "label", "vcd", "csv"]))
def test_random_bytes_never_crash(tmp_path_factory: pytest.TempPathFactory, data: bytes, form: str | None) -> None:
    path = tmp_path_factory.getbasetemp() / "random.bin"
    for content in (data, gzip.compress(data), b"\x1f\x8b" + data, b"$timescale 1 ns $end " + data):
        path.write_bytes(content)
        arguments = ["decode", str(path)] + (["--from", form] if form else [])
        assert run(arguments) in (0, 1, 2)
