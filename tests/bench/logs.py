"""A long hex log to JSON Lines and CSV, against the json and csv modules writing the same records; and peak memory."""

from __future__ import annotations

import csv
import json
import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from time import perf_counter

from pdcheck.bits.crc import with_crc
from pdcheck.bits.message import make_header
from pdcheck.bits.offers import fixed, pps
from tests.bench.row import Row, times

SLICE = 20_000


def log(count: int, seed: int) -> Iterator[str]:
    """Lines of a log: capabilities of 1 to 7 objects that seldom come again, requests of all currents, and the rest."""
    chance = random.Random(seed)
    time_s, number = 0.0, 0
    offered = [0x0801912C]
    for _ in range(count):
        time_s += chance.random() * 0.01
        number = (number + 1) % 8
        sop, words, source = "SOP", [], True
        what = chance.randrange(7)
        if what == 0:
            voltages = sorted(chance.sample((9000, 12000, 15000, 18000, 20000), chance.randint(0, 5)))
            offers = [fixed(5000, chance.randrange(500, 3001, 10), usb_communications_capable=True)]
            offers += [fixed(voltage, chance.randrange(500, 5001, 10)) for voltage in voltages]
            if chance.random() < 0.5:
                offers.append(pps(3300, chance.choice((11000, 16000, 21000)), chance.randrange(1000, 5001, 50)))
            name, words = "Source_Capabilities", [offer.word for offer in offers]
            offered = words
        elif what == 1:
            position = chance.randint(1, len(offered))
            word = offered[position - 1]
            if word >> 30 == 3:
                voltage, current = chance.randrange(165, 500), chance.randint(10, word & 0x7F)
                words = [position << 28 | 1 << 25 | voltage << 9 | current]
            else:
                current = chance.randint(10, word & 0x3FF)
                words = [position << 28 | 1 << 25 | current << 10 | current]
            name, source = "Request", False
        elif what == 2:
            sop, name = "SOP'", "Vendor_Defined"
            words = [0xFF00A041, 0x1C000000 | chance.choice((0x1111, 0x2222)), 0, chance.randrange(64), 0x11082032]
            words = words if chance.random() < 0.5 else [0xFF00A001]
        else:
            name = ("GoodCRC", "GoodCRC", "Accept", "PS_RDY")[what - 3]
        header = make_header(name, len(words), message_id=number, source=source, dfp=source and sop == "SOP")
        raw = header.to_bytes(2, "little") + b"".join(word.to_bytes(4, "little") for word in words)
        yield f"{time_s:.6f} {sop} {with_crc(raw).hex()}\n"


def rows(count: int) -> Iterator[Row]:
    """A row for each form: seconds, ratio and peak memory."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "bus.log"
        with path.open("w") as file:
            file.writelines(log(count, 3))
        for option, module, bar in (("--jsonl", "json", 3), ("--csv", "csv", 2)):
            out = Path(place) / "out"
            ours, peak = _run(path, option, out)
            theirs = (_dump if module == "json" else _rewrite)(out, Path(place) / "again")
            told = f"{ours:.1f} s for {count:,} messages, {out.stat().st_size / 1e6:.0f} MB"
            yield Row(
                f"`decode {option}`", f"the {module} module writing the same", times(ours / theirs), f"≤ {bar}", told
            )
            yield Row(
                f"`decode {option}`, peak memory", "", f"{peak:.0f} MB", "< 400 MB", "of all its processes together"
            )


def _run(path: Path, option: str, out: Path) -> tuple[float, float]:
    """Seconds, and an upper bound of the peak memory of all processes [MB]."""
    code = (
        "import resource, sys; from pdcheck.cli import run; from tests.bench.waveform import peak_mb;"
        "code = run(sys.argv[1:]); child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss;"
        "sys.stderr.write(f'{peak_mb()} {child}'); sys.exit(code)"
    )
    begin = perf_counter()
    with out.open("w") as file:
        command = [sys.executable, "-c", code, "decode", str(path), option]
        done = subprocess.run(command, stdout=file, stderr=subprocess.PIPE, text=True, check=True)
    spent = perf_counter() - begin
    own, child = map(float, done.stderr.split())
    # The largest child's memory counts for each of them.
    return spent, own + child * _workers() / (1e6 if sys.platform == "darwin" else 1e3)


def _workers() -> int:
    from pdcheck.show import shared_out

    return shared_out._processes_for(shared_out._SHARED_FROM)


def _dump(path: Path, again: Path) -> float:
    """Seconds that json.dumps and write take for the records of a file, read in beforehand a slice at a time."""
    spent = 0.0
    with path.open() as lines, again.open("w") as out:
        while records := [json.loads(line) for line in islice(lines, SLICE)]:
            begin = perf_counter()
            for record in records:
                out.write(json.dumps(record) + "\n")
            spent += perf_counter() - begin
    return spent


def _rewrite(path: Path, again: Path) -> float:
    """As ``_dump``, for rows of CSV."""
    spent = 0.0
    with path.open(newline="") as lines, again.open("w", newline="") as out:
        reader, writer = csv.reader(lines), csv.writer(out)
        while rows := list(islice(reader, SLICE)):
            begin = perf_counter()
            writer.writerows(rows)
            spent += perf_counter() - begin
    return spent
