"""Tables of generic scopes: any swing, keys and units beside the data, rates in the head, words, torn rows."""

from __future__ import annotations

from pathlib import Path

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.sniff import read_input
from tests.intake.test_waveform_csv import RAW, ROWS


def table(row: str, head: str = "") -> str:
    return head + "".join(
        row.format(t=t, us=t * 1e6, v=v * 1.1 + 0.03, w=("Low", "High")[v], n=at, d=v) + "\n"
        for at, (t, v) in enumerate(ROWS)
    )


def swing(scale: float, offset: float = 0.0) -> str:
    return "Time (s),CC\n" + "".join(f"{t:.9f},{(v * 1.1 + 0.03) * scale + offset:.4f}\n" for t, v in ROWS)


SWINGS = {
    "a probe of ten": swing(0.1),
    "counts": swing(1240.0, 40.0),
    "no mean": swing(1.0, -0.58),
    "high": swing(1, 2),
}
TABLES = {
    "words": table("{t:.9f},{w}", "Time,CC\n"),
    "keys beside": table(",,{t:.9f},{v:.3f}").replace(",,", "Points,2800,", 1).replace(",,", "Interval,2.5e-7,", 1),
    "a rate": table("{v:.3f}", "# Sample rate: 4 MHz\n"),
    "start and step": table("{n},{v:.3f}", "Start: -1.0 ms\nStep: 0.25 us\nindex,CC (V)\n"),
    "units in a row": table("{us:.3f},{v:.4f}", "Time,Channel A\n(us),(V)\n\n"),
    "units in the cells": table("{us:.3f}us;{v:.4f} V", "t;CC\n"),
    "the level first": table("{v:.4f},{t:.9f}"),
    "a clock": table("00:00:{t:012.9f},{d}", "Time,CC\n"),
    "two channels": table("{t:.9f},{v:.3f},5.1", "Time (s),CC1 (V),VBUS (V)\n"),
}


def read(folder: Path, text: str) -> tuple[list[bytes], str]:
    path = folder / "capture"
    path.write_text(text)
    intake = read_input(str(path), torn=True)
    return [told.message.raw for told in intake.told], " ".join(each.text for each in intake.problems)


@pytest.mark.parametrize("name", TABLES)
def test_a_packet_is_read_in_every_table(tmp_path: Path, name: str) -> None:
    assert read(tmp_path, TABLES[name]) == ([RAW[:-4]], "")


@pytest.mark.parametrize("name", SWINGS)
def test_a_swing_that_does_not_cross_is_read_and_said(tmp_path: Path, name: str) -> None:
    raws, said = read(tmp_path, SWINGS[name])
    assert raws == [RAW[:-4]] and "the middle of its swing" in said


def test_a_torn_row_is_left_out_and_told(tmp_path: Path) -> None:
    rows = table("{t:.9f},{v:.3f}", "Time (s),CC\n").splitlines()
    rows[900] = rows[900][:7]
    raws, said = read(tmp_path, "\n".join([*rows[:1500], "no row", *rows[1500:]]) + "\n")
    assert raws == [RAW[:-4]] and said.count("too few cells") == 2


def test_an_idle_channel_says_its_range(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"runs from 1\.7 to 1\.72 V"):
        read(tmp_path, "Time (s),CC\n" + "".join(f"{t:.9f},{1.7 + at % 3 / 100}\n" for at, (t, _) in enumerate(ROWS)))
