"""Reading costs in proportion to the input: its ugliest kinds, n, 2n, 4n and 8n, in the time of the processor.

No second is asserted: of one kind an input may take so many times the smallest as it is larger, with room for what a
shared machine does to a measurement.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable
from io import BytesIO
from itertools import product
from pathlib import Path
from time import process_time

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.dressing import _without_remark
from pdcheck.intake.forms import FORMS, form_of
from pdcheck.intake.label_text import pieces
from pdcheck.intake.opened import Opened
from pdcheck.intake.pcapng import Written, written
from pdcheck.intake.sniff import read_any, stream_of
from pdcheck.intake.stream import How, gathered
from pdcheck.intake.sysfs.attached import read_attached
from pdcheck.intake.waveform.edges import Threshold
from pdcheck.intake.waveform.text import CaptureText
from pdcheck.intake.waveform.vcd_file import VcdReader
from pdcheck.parts.cable_face import looks_like_words
from pdcheck.parts.kit import Kit
from pdcheck.verdict.bringup.sheet import sheet_data, sheet_head
from tests.intake.dresses import CONVERSATION

HEAD = "$timescale 1 ns $end\n{}$var wire 1 ! CC $end\n$enddefinitions $end\n#0\n0!\n"


def _vcd(text: str) -> None:
    capture = VcdReader(CaptureText(text.encode()), Threshold(0.5, 0.1))
    capture.scan((capture.resolve("CC"),))


def _sheet(text: str) -> None:
    sheet_head(sheet_data(text, "sheet.toml"), "sheet.toml")


KINDS: dict[str, tuple[Callable[[str], object], Callable[[int], str], int]] = {
    "blank lines in a kit": (Kit.from_toml, lambda n: "\n" * n + 'title = "a', 20_000),
    "blanks in a kit": (Kit.from_toml, lambda n: " " * n + 'title = "a', 20_000),
    "a string without an end": (Kit.from_toml, lambda n: 'title = { a = "' + '\\"' * n, 4000),
    "a long string without an end": (Kit.from_toml, lambda n: 'title = { a = """' + 'a""' * n, 4000),
    "a deep key": (Kit.from_toml, lambda n: "x = { " + "a." * n + "a = 1 }", 10_000),
    "a deep key in quotes": (Kit.from_toml, lambda n: '"a b".' * n + "a = 1", 10_000),
    "semicolons": (_without_remark, lambda n: ";" * n + "a" * n + ";", 4000),
    "letters that are hex": (_without_remark, lambda n: ";" + "a1é" * n, 4000),
    "letters in a line of hex": (read_any, lambda n: "a1 61;" + "a" * n + ";", 500),
    "blanks in a label": (lambda text: list(pieces(text, [])), lambda n: "1" + " " * n + "to" + " " * n + "x", 1000),
    "digits in a label": (lambda text: list(pieces(text, [])), lambda n: "1" * n + " ", 1000),
    "outputs in a label": (lambda text: list(pieces(text, [])), lambda n: "output 1 " * n, 200),
    "comments that do not end": (_vcd, lambda n: HEAD.format("") + "$comment a\n" * n, 10_000),
    "scopes in scopes": (_vcd, lambda n: HEAD.format("$scope module a $end\n" * n), 10_000),
    "blanks before a cable's words": (looks_like_words, lambda n: " " * n + "x", 1000),
    "figures before a cable's words": (looks_like_words, lambda n: "[" + "1." * n + "s", 500),
    "keys of a sheet": (_sheet, lambda n: "".join(f'a{at} = "1V"\n' for at in range(n)), 500),
    "tables of a sheet": (_sheet, lambda n: "".join(f'[a{at}]\nb = "1V"\n' for at in range(n)), 500),
    "a deep key in a sheet": (_sheet, lambda n: "a" + ".a" * n, 2000),
    "a deep key in a header of a sheet": (_sheet, lambda n: "[a" + ".a" * n + "]", 2000),
    "a sheet without an end": (_sheet, lambda n: 'a = "' + "\\\\" * n, 10_000),
    "declarations without an end": (_vcd, lambda n: "$timescale 1 ns $end\n" + "$enddefinitions x\n" * n, 10_000),
}


GOOD = "4100bb6cbba8"
BYTES = "41 00 bb 6c bb a8"
CAPABILITIES = CONVERSATION[4].whole
ROW = f"0.5,SOP,{CAPABILITIES.hex()}\n"
OBJECT = f'{{"t_us": 5, "data": "{GOOD}"}}'


def _samples(row: str, n: int) -> str:
    return "Time (s),CC\n" + "".join(
        row.format(t=at * 2.5e-7, v=at // 5 % 2, w=("Low", "High")[at // 5 % 2]) for at in range(n)
    )


LOGS: dict[str, tuple[Callable[[int], str | bytes], int]] = {
    "a table": (lambda n: "time_ms,sop,data\n" + ROW * n, 400),
    "a torn table": (lambda n: "time_ms,sop,data\n" + ROW + "0.5,SOP,41 04 x\n" * n, 400),
    "an array": (lambda n: "[" + ",".join([OBJECT] * n) + "]", 400),
    "a torn array": (lambda n: "[" + ",\n".join([OBJECT] * n), 400),
    "an array of arrays": (lambda n: '{"a": [' + ",".join(["[1, 2]"] * n) + "]}", 800),
    "an array that never ends": (lambda n: '{"b": [{"a": [1' + ", [1]" * n, 1600),
    "objects that never end": (lambda n: '{"x" : ' * n, 16_000),
    "markdown": (lambda n: "| t (us) | data |\n|---|---|\n" + f"| 5 | {GOOD} |\n" * n, 400),
    "rules of markdown": (lambda n: "| t (us) | data |\n|---|---|\n" + ("|" * 400 + "\n") * n, 800),
    "dumps": (lambda n: f"0000: {BYTES}\n\n" * n, 400),
    "one dump": (lambda n: "".join(f"{at * 16:08x}  {'41 ' * 16}\n" for at in range(n)), 400),
    "bytes a line": (lambda n: "SOP\n" + f"{BYTES}\n".replace(" ", "\n") * n, 400),
    "timed bytes": (lambda n: "0.5,ff\n" * n, 800),
    "literals in one line": (lambda n: "x = [" + "b'A\\x00\\xbbl\\xbb\\xa8', " * n + "]\n", 200),
    "raw bytes": (lambda n: CAPABILITIES * n, 1600),
    "raw noise": (lambda n: CAPABILITIES + b"\xff\xff\x01" * n, 6400),
    "raw noise that promises much": (lambda n: CAPABILITIES + bytes([0x8F, 0xFF, 0xFF, 0x81]) * n, 3200),
    "pcapng": (lambda n: written([Written(0.5, "SOP", CAPABILITIES)] * n), 800),
    "pcapng of empty blocks": (
        lambda n: written([Written(0.5, "SOP", CAPABILITIES)]) + b"\x05\0\0\0\x0c\0\0\0\x0c\0\0\0" * n,
        25_000,
    ),
    "indented rows": (lambda n: f"0.5 SOP\n    {BYTES}\n" * n, 400),
    "blocks": (lambda n: f"t: 0.5 s\nsop: SOP\nraw: {BYTES}\n\n" * n, 400),
    "keys": (lambda n: f"t: 0.5 s\nsop: SOP\nraw: {BYTES}\n" * n, 400),
    "a long row": (lambda n: "0.5 SOP x\n0.6 SOP y\n" + "41 " * n + "\n", 100_000),
    "quotes": (lambda n: "time_us,sop,data\n" + ('"' * 400 + "\n") * n, 800),
    "remarks": (lambda n: ROW + "what it says\n" * n, 800),
    "readings": (lambda n: ROW + "0.5 VBUS 5.02 V 0.1 A\n" * n, 400),
    "wrapped messages": (lambda n: "0.5 SOP a1 41 2c 91 01 08\n  2c d1 02 00 2c b1 04\n 00 f4 41 06 00\n" * n, 400),
    "samples": (lambda n: _samples("{t:.9f},{v}.1\n", n), 25_000),
    "torn samples": (lambda n: _samples("{t:.9f},{v}.1\ntorn\n", n), 10_000),
    "samples in words": (lambda n: _samples("{t:.9f},{w}\n", n), 25_000),
    "samples beside keys": (lambda n: _samples(",,{t:.9f},{v}.1\n", n)[12:], 25_000),
    "a label of outputs": (lambda n: "output 1: 5V 3A, 9V 2A\n" * n, 200),
    "a label of digits": (lambda n: "5V 3A " + "1" * n, 3200),
    "a waveform's changes": (lambda n: HEAD.format("") + "".join(f"#{at}\n{at % 2}!\n" for at in range(1, n)), 6400),
    "a waveform's times": (lambda n: HEAD.format("") + "".join(f"#{at}\n" for at in range(1, n)), 6400),
    "a waveform's variables": (lambda n: HEAD.format("$var wire 1 a b $end\n" * n), 1600),
    "samples as counts": (lambda n: _samples("{t:.9f},{v}57\n", n), 25_000),
}


TREES: dict[str, tuple[Callable[[Path, int], None], int]] = {}
"""Trees of the system by their kind: what makes one, and of how many pieces the largest is."""


def tree(size: int) -> Callable[[Callable[[Path, int], None]], None]:
    """Note what makes a tree under its name."""

    def noted(made: Callable[[Path, int], None]) -> None:
        TREES[made.__name__] = made, size

    return noted


PD = Path("class/usb_power_delivery")


def put(folder: Path, **files: str) -> None:
    """Write the attributes of a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text)


@tree(64)
def many_ports(top: Path, n: int) -> None:
    for at in range(n):
        put(top / f"class/typec/port{at}", data_role="[host]")
        put(top / f"class/typec/port{at}-partner/pd{at}/source-capabilities/1:fixed_supply", voltage="5000mV")


@tree(160)
def many_offers(top: Path, n: int) -> None:
    for at in range(n):
        put(top / PD / f"pd0/source-capabilities/{at + 1}:fixed_supply", voltage="5000mV", maximum_current="3000mA")


@tree(160)
def much_else(top: Path, n: int) -> None:
    put(top / PD / "pd0/source-capabilities/1:fixed_supply", voltage="5000mV", maximum_current="3000mA")
    for at in range(n):
        put(top / f"class/typec/other{at}", data_role="[host]")


@tree(400_000)
def long_attributes(top: Path, n: int) -> None:
    put(top / PD / "pd0/source-capabilities/1:fixed_supply", voltage="5" * n, maximum_current="3000mA " * n)


def test_every_form_has_an_ugly_input() -> None:
    told = {id(form_of(given[0](8)[:400], How(torn=True), typed=False)) for given in encoded_logs().values()}
    assert TREES
    missing = [name for name, form in FORMS.items() if id(form) not in told and not form.folder]
    assert not missing, f"a form has an input in LOGS that it is hard to read from: {missing}"
    of_folders = [name for name, form in FORMS.items() if form.folder]
    assert of_folders == ["sysfs"], (
        f"a form that is a folder has trees in TREES, and a test as that of sysfs: {of_folders}"
    )


def encoded_logs() -> dict[str, tuple[Callable[[int], bytes], int]]:
    """``LOGS`` as bytes."""

    def made(each: Callable[[int], str | bytes]) -> Callable[[int], bytes]:
        return lambda n: given if isinstance(given := each(n), bytes) else given.encode()

    return {name: (made(each), size) for name, (each, size) in LOGS.items()}


@pytest.mark.parametrize("kind", TREES)
def test_the_cost_of_a_tree_grows_as_the_tree(kind: str, tmp_path: Path) -> None:
    made, size = TREES[kind]

    def cost(times: int) -> float:
        top = tmp_path / str(times)
        if not top.exists():
            made(top, max(size * times // 8, 1))
        best = float("inf")
        for _ in range(3):
            begun = process_time()
            with contextlib.suppress(InputError):
                read_attached(str(top))
            best = min(best, process_time() - begun)
        return best

    cost(1)
    least = max(cost(1), 0.002)
    for times in (2, 4, 8):
        assert cost(times) <= 3 * times * least, times


def _read(data: bytes) -> None:
    how = How(torn=True)
    gathered(stream_of(Opened("log", BytesIO(data), how), None, how))


@pytest.mark.parametrize("kind", LOGS)
def test_the_cost_of_a_log_grows_as_the_log(kind: str) -> None:
    made, size = LOGS[kind]

    def cost(times: int) -> float:
        given = made(max(size * times // 8, 1))
        data = given if isinstance(given, bytes) else given.encode()
        best = float("inf")
        for _ in range(2):
            begun = process_time()
            with contextlib.suppress(InputError):
                _read(data)
            best = min(best, process_time() - begun)
        return best

    cost(1)
    least = max(cost(1), 0.004)
    for times in (2, 4, 8):
        assert cost(times) <= 3 * times * least, times


@pytest.mark.parametrize("kind", KINDS)
def test_the_cost_grows_as_the_input(kind: str) -> None:
    read, made, size = KINDS[kind]

    def cost(times: int) -> float:
        text = made(size * times)
        best = float("inf")
        for _ in range(3):
            begun = process_time()
            with contextlib.suppress(InputError):
                read(text)
            best = min(best, process_time() - begun)
        return best

    cost(1)
    # Linear is 8, quadratic 64; what every reading costs at least counts for the small one.
    assert cost(8) <= 24 * max(cost(1), 0.0005)


OLD_REMARK = re.compile(r";[^;]*(?<![0-9A-Za-z])[^\W\d_]*[^\W\dA-Fa-f_][^\W\d_]*(?![0-9A-Za-z])[^;]*$")
"""What a remark is, as one expression: plain to read, and of cubic cost."""


def test_a_remark_is_what_the_expression_says() -> None:
    for length in range(6):
        for signs in product("; a1gé", repeat=length):
            line = "".join(signs)
            assert _without_remark(line) == OLD_REMARK.sub(lambda found: " " * len(found[0]), line), line
