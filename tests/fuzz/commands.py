"""Target that calls the commands in this process: arguments, files and standard input from choices."""

from __future__ import annotations

import contextlib
import gzip
import io
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from importlib.resources import files
from itertools import cycle, islice
from pathlib import Path
from unittest.mock import patch

from pdcheck.cli import run
from pdcheck.cli.commands import COMMANDS
from tests.fuzz.chooser import Chooser
from tests.fuzz.files import NUMBERS, WORDS, built_text
from tests.fuzz.judging import WrongError, shown

SLOW = ("need", "report", "demo", "new")
"""Commands that take long by nature: one call in so many goes to them."""
FILES = (
    *("rig.toml", "kit.toml", "pier.toml", "sheet.toml", "log.txt", "made.bin", "wave.vcd", "wave.csv.gz"),
    "none.txt",
)
OPTIONS = (
    *("--json", "--json", "--csv", "--brief", "--states", "--list", "--help", "--replace", "--no-such", "--reverse"),
    *("--kit", "--kit", "--source", "--cable", "--output", "--converter", "--from", "--request-as", "--channel"),
    *("--rate", "--threshold", "--port", "--at", "--revision", "--event", "--until", "--fault", "--give-back"),
    "--seed",
    *("--log", "--vcd", "--to", "--toml", "--measured", "--branch", "--voltages", "--count", "--vf", "--current"),
    *("--ohm", "--headroom", "--efficiency", "--length", "--drop", "--awg", "--mm2", "--contacts", "--temperature"),
    *("--sink", "--error", "--also", "--id", "--wave", "--keep", "--as", "--title", "--pdp", "--captured-over"),
    *("--sort", "--only", "--rig", "--resistor", "--driver", "--stranded", "--fallback", "--write-back", "--yes", "-o"),
    "--jsonl",
)
VALUES = (
    *("-", "wall-45", "thin-2m", "source0", "cable0", "b0", "mount", "hex", "label", "vcd", "csv", "sysfs", "fixed"),
    *("5V 3A, 9V 3A, 20V 5A", "C-C 5A 1m", "A-C", "EPR", "12V@2A", "buck-boost:6-36V:5A:92%", "2.0", "3.x", "unplug"),
    *("9V", "offer 2", "30W", "3A", "0.3V", "1m", "20", "second port at 3s", "request 9V at 4s", "lower to 30W at 5s"),
    *("no-renewal", "5V..24V", "5V,9V", "verdict", "max_w", "runs", "next-lower", "highest", "pps 9V 3A", "EPR"),
    "10MHz",
    *("a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6", "0x0801912C 0x0002D12C", "tree", "port0"),
    *("0xFF00A841 0x1860EE01 0x00000000 0x00020100 0x100A2643", "list", "show", "add", "remove", "out.html", "offers"),
    *("nan", "inf", "-1", "1e999999V", "９V", "9" * 5000, "\x1b[31mred", "\u202eevil", "=1+1", "", " ", "0V@0A"),
    "1e-15V",
)
USUAL: dict[str, tuple[str, ...]] = {
    "decode": ("log.txt",),
    "encode": ("5V 3A, 9V 3A",),
    "cable": ("C-C 5A 1m",),
    "pick": ("--source", "5V 3A, 9V 3A", "--output", "5V@1A"),
    "check": ("rig.toml",),
    "matrix": ("rig.toml",),
    "need": ("rig.toml",),
    "envelope": ("rig.toml",),
    "draw": ("rig.toml",),
    "fuse": ("rig.toml",),
    "audit": ("log.txt",),
    "settings": ("--source", "5V 3A, 9V 3A"),
    "talk": ("rig.toml",),
    "change": ("rig.toml",),
    "transient": ("rig.toml",),
    "bringup": ("rig.toml",),
    "kit": ("list", "kit.toml"),
    "wire": ("--length", "1m", "--current", "2A"),
    "led": ("--count", "3", "--vf", "3V", "--current", "20mA"),
    "drop": ("--source", "20V", "--sink", "19V", "--at", "2A"),
    "rules": (),
    "report": ("rig.toml", "-o", "-"),
    "demo": (),
    "new": ("Box",),
    "schema": (),
    "runtime": ("rig.toml", "--source", "20000mAh 74Wh 5V 3A, 9V 3A"),
    "share": ("rig.toml", "rig.toml", "--source", "C1 65W, C2 30W, C1+C2: 45W+18W"),
}
"""Each command with arguments that it can work with. New ones go to the end, so that the corpus keeps its meaning."""
USUAL |= {name: ("rig.toml",) for name in COMMANDS if name not in USUAL}
NAMES = (*USUAL, *islice(cycle(tuple(USUAL)[:20]), 64 - len(USUAL)))
_HOME = Path(tempfile.gettempdir()) / f"fuzzed-commands-{os.getpid()}"


class Called:
    """Exit code, standard output and standard error of a call."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


def arguments(choice: Chooser) -> list[str]:
    """A command with its usual arguments, or others, and some options more."""
    name = choice.one_of(NAMES)
    if name in SLOW and not choice.chance(16):
        name = "check"
    given = list(USUAL.get(name, ()))
    if choice.chance(4):
        given = []
    for _ in range(choice.up_to(5)):
        kind = choice.up_to(9)
        if kind < 4:
            given.append(choice.one_of(OPTIONS))
        elif kind < 7:
            given.append(choice.one_of(VALUES))
        elif kind < 8:
            given.append(choice.one_of(FILES))
        elif kind < 9:
            given.append(choice.one_of(WORDS if choice.chance(2) else NUMBERS).strip('"'))
        else:
            given.append(_harmless(choice.text(60)))
    if len(given) > 1 and choice.chance(4):
        at = choice.up_to(len(given) - 1)
        given[at] = choice.one_of(VALUES)
    # What is written goes nowhere but into the folder of this target.
    return [name, *(_harmless(each) for each in given)]


def _harmless(text: str) -> str:
    return text.replace("/", "_").replace("\0", "_").replace("..", "__")


def command(data: bytes) -> None:
    """A call of the program: exit 0, 1 or 2; for 2 one line on standard error and nothing else."""
    choice = Chooser(data)
    called = arguments(choice)
    with _folder():
        Path("rig.toml").write_text(built_text(bytes(choice.byte() for _ in range(choice.up_to(40)))), encoding="utf-8")
        rest = choice.rest()
        Path("made.bin").write_bytes(rest)
        if "kit" in called[:1] or rest[:1] == b"[":
            Path("sheet.toml").write_bytes(rest)
        result = call(called, rest)
    _judge(called, result)


def _judge(called: list[str], result: Called) -> None:
    if result.code == 130 and result.err.endswith("pdcheck: stopped\n"):
        return  # a question was asked, and standard input had no answer
    if result.code not in (0, 1, 2):
        raise WrongError(f"exit code {result.code} of {called}: {result.err}")
    if "Traceback" in result.err:
        raise WrongError(f"a traceback of {called}: {result.err}")
    shown(_without_bold(result.err))
    shown(_without_bold(result.out))
    if result.code == 2:
        lines = result.err.count("\n")
        if lines != 1 or not result.err.startswith("pdcheck: ") or len(result.err) > 1000:
            raise WrongError(f"{lines} lines for exit code 2 of {called}: {result.err[:400]}")
    elif "--json" in called and result.out.startswith("{"):
        json.loads(result.out)


def _without_bold(text: str) -> str:
    """Questions are asked in bold letters; nothing else may be."""
    return text.replace("\x1b[1m", "").replace("\x1b[0m", "")


def call(called: list[str], stdin: bytes) -> Called:
    """Call the program with other standard streams."""
    out, err = io.BytesIO(), io.BytesIO()
    before = sys.stdout, sys.stderr, sys.stdin
    sys.stdout = io.TextIOWrapper(out, encoding="utf-8", write_through=True)
    sys.stderr = io.TextIOWrapper(err, encoding="utf-8", write_through=True)
    sys.stdin = io.TextIOWrapper(io.BytesIO(stdin), encoding="utf-8")
    try:
        # What goes into a pipe is stripped of some escapes on the way; what goes to a terminal is not.
        with patch("click.utils.should_strip_ansi", lambda *_, **__: False):
            code = run(called)
        sys.stdout.flush()
        sys.stderr.flush()
        return Called(code, out.getvalue().decode("utf-8", "replace"), err.getvalue().decode("utf-8", "replace"))
    finally:
        sys.stdout, sys.stderr, sys.stdin = before


@contextlib.contextmanager
def _folder() -> Iterator[None]:
    """The folder of this target as the working directory, each time with the same files in it."""
    before = Path.cwd()
    held = _files()
    _HOME.mkdir(exist_ok=True)
    for entry in os.scandir(_HOME):
        if entry.name not in (*held, "tree"):
            (shutil.rmtree if entry.is_dir(follow_symlinks=False) else os.unlink)(entry.path)
    for name, content in held.items():
        path = _HOME / name
        if not path.is_file() or path.read_bytes() != content:
            path.write_bytes(content)
    port = _HOME / "tree" / "class" / "typec" / "port0"
    port.mkdir(parents=True, exist_ok=True)
    os.chdir(_HOME)
    try:
        yield
    finally:
        os.chdir(before)


_HELD: dict[str, bytes] = {}


def _files() -> dict[str, bytes]:
    if not _HELD:
        data = files("pdcheck.data")
        _HELD["kit.toml"] = data.joinpath("kit.toml").read_bytes()
        _HELD["pier.toml"] = data.joinpath("pier-box.toml").read_bytes()
        log = "0.001 SOP a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6\n"
        _HELD["log.txt"] = (log + "0.003 SOP 4210f0c3cb11 9aab7db2\n").encode()
        _HELD["wave.vcd"] = call(["encode", "5V 3A, 9V 3A", "--wave", "-"], b"").out.encode()
        rows = "".join(f"{at * 5e-7:.7f},{at // 3 % 2}\n" for at in range(200))
        _HELD["wave.csv.gz"] = gzip.compress(f"Time [s],CC\n{rows}".encode(), mtime=0)
    return _HELD


def leave() -> None:
    """Take the folder of this target away."""
    shutil.rmtree(_HOME, ignore_errors=True)
