"""Reading costs in proportion to the input: its ugliest kinds, doubled three times, in the time of the processor.

No second is asserted: of one kind the largest input may take so many times the smallest as it is larger, with room for
what a shared machine does to a measurement.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable
from itertools import product
from time import process_time

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.dressing import _without_remark
from pdcheck.intake.label_text import pieces
from pdcheck.intake.sniff import read_any
from pdcheck.intake.waveform.edges import Threshold
from pdcheck.intake.waveform.text import CaptureText
from pdcheck.intake.waveform.vcd_file import VcdReader
from pdcheck.parts.kit import Kit

HEAD = "$timescale 1 ns $end\n{}$var wire 1 ! CC $end\n$enddefinitions $end\n#0\n0!\n"


def _vcd(text: str) -> None:
    capture = VcdReader(CaptureText(text.encode()), Threshold(0.5, 0.1))
    capture.scan((capture.resolve("CC"),))


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
    "declarations without an end": (_vcd, lambda n: "$timescale 1 ns $end\n" + "$enddefinitions x\n" * n, 10_000),
}


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
