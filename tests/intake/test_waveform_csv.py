"""Tables of samples and of edges in the dress of many exporters, and what is wrong with some."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.crc import with_crc
from pdcheck.errors import InputError
from pdcheck.intake.packet import Packet
from pdcheck.intake.waveform.csv_file import counted_times, look_rounded
from pdcheck.intake.waveform.numbers import parse_decimals
from pdcheck.intake.waveform.reading import find_packets, read_waveform
from pdcheck.intake.waveform.writing import packet_levels

RAW = with_crc(bytes.fromhex("4102"))
EDGES = [(0.0, 0)] + [(50e-6 + time_s, level) for time_s, level in packet_levels(RAW, "SOP")] + [(2e-3, 0)]


def samples(rate: float = 4e6) -> list[tuple[float, int]]:
    """The same line, sampled."""
    times = np.arange(round(0.7e-3 * rate)) / rate
    at = np.searchsorted([time_s for time_s, _ in EDGES], times, side="right") - 1
    return [(time_s, EDGES[n][1]) for time_s, n in zip(times.tolist(), at.tolist(), strict=True)]


def raws(text: str | bytes, **how: object) -> list[bytes]:
    data = text if isinstance(text, bytes) else text.encode()
    return [one.raw for one in find_packets(read_waveform(data, **how)) if isinstance(one, Packet)]  # type: ignore[arg-type]


ROWS = samples()
DRESSES = {
    "plain": "".join(f"{t:.9f},{v}\n" for t, v in ROWS),
    "edges only": "Time [s],CC\n" + "".join(f"{t:.9f},{v}\n" for t, v in EDGES),
    "microseconds": "Time (us);CC1\n" + "".join(f"{t * 1e6:.3f};{v}\n" for t, v in ROWS),
    "milliseconds, decimal comma": "Zeit [ms];CC\n"
    + "".join(f"{t * 1e3:.6f};{v}\n".replace(".", ",") for t, v in ROWS),
    "nanoseconds, tabs, CRLF": "time_ns\tCC\r\n" + "".join(f"{t * 1e9:.0f}\t{v}\r\n" for t, v in ROWS),
    "spaces": "".join(f"  {t:.9f}   {v} \n" for t, v in ROWS),
    "quotes": '"Time","CC"\n' + "".join(f'"{t:.9f}", "{v}"\n' for t, v in ROWS),
    "volts": "t,CC [V]\n" + "".join(f"{t:.3e},{v * 1.1 + 0.05:.4f}\n" for t, v in EDGES),
    "millivolts": "Time,CC (mV)\n" + "".join(f"{t:.9f},{v * 1100 + 30:.1f}\n" for t, v in ROWS),
    "exponents": "x,y\n" + "".join(f"{t:.9E},{v * 1.05 + 0.02:+.3E}\n" for t, v in ROWS),
    "preamble of a scope": "Points,2800\nModel,any\n\nsecond,Volt\n" + "".join(f"{t:.9f},{v}.0\n" for t, v in ROWS),
    "comment lines": "# taken at the bench\n% 4 MS/s\n" + "".join(f"{t:.9f},{v}\n" for t, v in ROWS),
    "blank lines": "".join(f"{t:.9f},{v}\n{'' if n % 9 else chr(10)}" for n, (t, v) in enumerate(ROWS)),
    "other columns": "Time [s],D0,CC,VBUS\n" + "".join(f"{t:.9f},0,{v},5.1\n" for t, v in ROWS),
    "trailing separator": "Time [s],CC,\n" + "".join(f"{t:.9f},{v},\n" for t, v in ROWS),
    "unknown states": "Time,CC\n0,x\n" + "".join(f"{t + 1e-6:.9f},{v}\n" for t, v in EDGES) + "3e-3,z\n4e-3,\n",
    "no last line end": "".join(f"{t:.9f},{v}\n" for t, v in ROWS).rstrip("\n"),
    "times before zero": "".join(f"{t - 1:.9f},{v}\n" for t, v in ROWS),
}


@pytest.mark.parametrize("dress", DRESSES)
def test_every_dress_is_read(dress: str) -> None:
    assert raws(DRESSES[dress]) == [RAW]


@pytest.mark.parametrize("dress", ["plain", "volts", "milliseconds, decimal comma", "spaces", "blank lines"])
def test_pieces_may_end_anywhere(dress: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for size in (11, 300, 4099):
        monkeypatch.setattr("pdcheck.intake.waveform.text.CHUNK_BYTES", size)
        assert raws(DRESSES[dress]) == [RAW]


def test_byte_order_marks_and_utf_16() -> None:
    assert raws(b"\xef\xbb\xbf" + DRESSES["microseconds"].encode()) == [RAW]
    assert raws(DRESSES["microseconds"].encode("utf-16")) == [RAW]


@pytest.mark.parametrize(
    "text",
    [
        "".join(f"{v}\n" for _, v in ROWS),
        "CC\n" + "".join(f"{v * 3.3:.2f}\n" for _, v in ROWS),
        "sample,CC\n" + "".join(f"{n},{v}\n" for n, (_, v) in enumerate(ROWS)),
        "D0,CC\n" + "".join(f"1,{v}\n" for _, v in ROWS),
        "".join(f"{t:.6f},{v}\n" for t, v in ROWS),
    ],
)
def test_levels_at_a_sample_rate(text: str) -> None:
    assert raws(text, sample_rate_hz=4e6) == [RAW]


@pytest.mark.parametrize("digits", [5, 6, 7])
@pytest.mark.parametrize("rate", [2e6, 3e6, 12.5e6])
def test_rows_are_counted_where_their_times_have_too_few_digits(rate: float, digits: int) -> None:
    text = "Time,CC\n" + "".join(f"{7 + t:.{digits}f},{v}\n" for t, v in samples(rate))
    assert raws(text) == [RAW]
    cut = "Time,CC\n" + "".join(f"{int(t * 10**digits) / 10**digits:.{digits}f},{v}\n" for t, v in samples(rate))
    assert raws(cut) == [RAW]


def test_rows_that_are_not_evenly_spaced_are_not_counted() -> None:
    stamps = np.round(np.arange(200) * 0.4e-6, 6)
    stamps[100:] += 5e-3
    assert look_rounded(np.round(np.arange(200) * 0.4e-6, 6))
    assert counted_times(stamps) is None


def test_channels_are_chosen_by_name_or_number() -> None:
    text = "Time [s],CC1 [V],CC2 [V]\n" + "".join(f"{t:.9f},{v},{v}\n" for t, v in ROWS)
    for channel in ("CC2", "cc2 [v]", "3", "column 3"):
        assert read_waveform(text.encode(), channel=channel).name == "CC2 [V]"
    with pytest.raises(InputError, match=r"several channels carry packets; .* CC1 \[V\], CC2 \[V\]"):
        read_waveform(text.encode())
    with pytest.raises(InputError, match="no channel 'VBUS'"):
        read_waveform(text.encode(), channel="VBUS")


def test_noise_on_volts_makes_no_edges() -> None:
    noise = np.random.default_rng(1).normal(0, 0.04, len(ROWS)).tolist()
    text = "Time,CC\n" + "".join(f"{t:.9f},{v * 1.1 + n:.4f}\n" for (t, v), n in zip(ROWS, noise, strict=True))
    assert len(read_waveform(text.encode()).times) == len(EDGES) - 2


def test_a_threshold_is_obeyed() -> None:
    text = "Time,CC\n" + "".join(f"{t:.9f},{2 + v * 3:.4f}\n" for t, v in ROWS)
    assert raws(text, threshold_v=3.5) == [RAW]
    with pytest.raises(InputError, match=r"runs from 2 to 5 V.*a threshold between"):
        read_waveform(text.encode())


@pytest.mark.parametrize(
    ("text", "how", "message"),
    [
        ("", {}, "an empty table"),
        ("just words\nand more\n", {}, "no rows of numbers found, the first line is 'just words'"),
        ("0\n1\n0\n1\n", {}, "no column of rising times"),
        ("0.1\n0.2\n0.3\n", {}, "no column of rising times"),
        ("time,CC\n0,0\n1e-6,1\n2e-6,what\n", {}, "line 4: unreadable 'what'"),
        ("time,CC\n0,0\n1e-6,1\n?,0\n", {}, "line 4: unreadable '?'"),
        ("time,CC\n0,0\n1e-6,1\n0.5e-6,0\n", {}, "line 4: time runs backwards"),
        ("time,CC\n0,0\n1e-6,1\nword\n", {}, "line 4: row 'word' has too few cells"),
        ("time,CC\n0,0\n1e-6,1\nnan,0\n", {}, "line 4: unreadable 'nan'"),
        ("n,CC\n1,0\n2,1\n3,0\n", {}, "holds no times"),
        ("time,CC\n" + "".join(f"{n},{n // 40 % 2}\n" for n in range(99)), {}, "samples 1e+06 µs apart are too coarse"),
        ("time,CC\n0,0\n1,1\n", {"sample_rate_hz": 0.0}, "sample rate 0"),
        ("time,CC\n0,0\n1,1\n", {"threshold_v": float("nan")}, "threshold nan"),
        (
            "time,CC\n" + "".join(f"{n // 9 * 1e-6 + n // 30 * 1e-3:.6f},{n % 2}\n" for n in range(99)),
            {},
            "times with more digits",
        ),
        ("t" * (1 << 21), {}, "no rows of numbers"),
    ],
)
def test_what_is_wrong_is_said(text: str, how: dict[str, float], message: str) -> None:
    with pytest.raises(InputError) as caught:
        read_waveform(text.encode(), **how)  # type: ignore[arg-type]
    assert message in str(caught.value)


@given(
    st.lists(
        st.one_of(
            st.floats(-1e15, 1e15).map(repr),
            st.floats(-1e3, 1e3).map("{:.4f}".format),
            st.floats(-1e-3, 1e3).map("{:+.6E}".format),
            st.integers(-(10**30), 10**30).map(str),
            st.sampled_from(["", "x", "1e", "e5", "--1", "1.2.3", "1_0", "inf", "1e999", "+", ".", "5.", ".5"]),
        ),
        min_size=1,
    )
)
def test_numbers_are_those_of_float(cells: list[str]) -> None:
    buffer = np.frombuffer((",".join(cells) + ",").encode(), dtype=np.uint8)
    end = np.flatnonzero(buffer == ord(","))
    start = np.concatenate([[0], end[:-1] + 1])
    for cell, value in zip(cells, parse_decimals(buffer, start, end).tolist(), strict=True):
        try:
            expected = float(cell.replace("_", "?"))
        except ValueError:
            expected = float("nan")
        assert value == pytest.approx(expected, rel=5e-16, abs=0, nan_ok=True)
