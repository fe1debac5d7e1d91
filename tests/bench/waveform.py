"""Waveforms against NumPy's own reading of the same file: ``python -m tests.bench.waveform [--quick]``.

A capture of 20 million samples (2 million with ``--quick``) of a busy line is written as a table of 0 and 1, as a table
of volts and as a value change dump, then read by ``numpy.loadtxt`` and by pdcheck down to packets. Prints a table of
processor seconds, ratios and the peak memory of each reading, each in a process of its own.
"""

from __future__ import annotations

import argparse
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time

import numpy as np

from pdcheck.bits.crc import with_crc
from pdcheck.intake.packet import Packet
from pdcheck.intake.waveform.writing import packet_levels

SAMPLES = 20_000_000
BLOCK = 1 << 20


def edges(rate_hz: float, samples: int) -> tuple[np.ndarray, int]:
    """Sample numbers of the edges of a line with a packet every few hundred microseconds, and how many packets."""
    chance = random.Random(11)
    now, packets = 100e-6, 0
    times: list[float] = []
    while now < samples / rate_hz - 10e-3:
        raw = with_crc(chance.randbytes(chance.choice((2, 2, 2, 6, 10, 30))))
        levels = packet_levels(raw, "SOP", chance.uniform(275e3, 325e3))
        times += [now + time_s + chance.uniform(-0.1e-6, 0.1e-6) for time_s, _ in levels]
        now += levels[-1][0] + chance.choice((40e-6, 200e-6, 1e-3))
        packets += 1
    return np.unique(np.ceil(np.array(times) * rate_hz).astype(np.int64)), packets


def table(at: np.ndarray, rate_hz: float, samples: int, cell: Callable[[int], str]) -> Iterator[str]:
    """Lines of a table with every sample."""
    turns = np.zeros(samples, dtype=np.uint8)
    turns[at] = 1
    levels = np.cumsum(turns, dtype=np.uint8) & 1
    yield "Time [s],CC\n"
    for begin in range(0, samples, BLOCK):
        for number, level in enumerate(levels[begin : begin + BLOCK].tolist(), begin):
            yield f"{number / rate_hz:.9f},{cell(level)}\n"


def dump(at: np.ndarray, rate_hz: float) -> Iterator[str]:
    """Lines of a value change dump of the same."""
    step = round(1e9 / rate_hz)
    yield "$timescale 1 ns $end\n$var wire 1 ! CC $end\n$enddefinitions $end\n#0\n0!\n"
    for number, place in enumerate(at.tolist()):
        yield f"#{place * step}\n{1 - number % 2}!\n"


def measure(kind: str, path: str) -> tuple[float, float, int]:
    """Processor seconds, peak memory in MB and packets of one reading, in this process."""
    begin = process_time()
    packets = 0
    if kind == "pdcheck":
        from pdcheck.intake.waveform.reading import find_packets, read_waveform

        packets = sum(isinstance(one, Packet) for one in find_packets(read_waveform(path)))
    elif path.endswith(".vcd"):
        np.loadtxt(path, dtype=str, skiprows=3, comments="$")
    else:
        np.loadtxt(path, delimiter=",", skiprows=1)
    spent = process_time() - begin
    return spent, peak_mb(), packets


def peak_mb() -> float:
    """Peak memory of this process, from the kernel's status file if there is one: getrusage counts the parent too."""
    status = Path("/proc/self/status")
    if status.exists():
        lines = [line for line in status.read_text().splitlines() if line.startswith("VmHWM")]
        return float(lines[0].split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    """Write the captures, read each twice, print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--measure", nargs=2, metavar=("KIND", "PATH"))
    options = parser.parse_args()
    if options.measure:
        print(*measure(*options.measure))
        return
    samples = SAMPLES // 10 if options.quick else SAMPLES
    print(f"{'capture':28}{'NumPy s':>9}{'pdcheck s':>11}{'ratio':>8}{'peak MB':>9}  packets found/sent")
    with tempfile.TemporaryDirectory() as place:
        for rate_hz in (50e6, 2e6):
            at, sent = edges(rate_hz, samples)
            for name, lines in (
                ("bits.csv", table(at, rate_hz, samples, str)),
                ("volts.csv", table(at, rate_hz, samples, ("0.0312", "1.1207").__getitem__)),
                ("dump.vcd", dump(at, rate_hz)),
            ):
                path = Path(place) / name
                with path.open("w") as file:
                    file.writelines(lines)
                rows = []
                for kind in ("numpy", "pdcheck"):
                    command = [sys.executable, "-m", "tests.bench.waveform", "--measure", kind, str(path)]
                    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
                    rows.append([float(word) for word in told])
                (theirs, _, _), (ours, peak, found) = rows
                title = f"{name}, {rate_hz / 1e6:g} MS/s"
                print(f"{title:28}{theirs:9.2f}{ours:11.2f}{ours / theirs:8.2f}{peak:9.0f}  {found:.0f}/{sent}")
                path.unlink()


if __name__ == "__main__":
    main()
