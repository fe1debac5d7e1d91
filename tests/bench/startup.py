"""Start-up of each command against ``python -c "import click"``, as pairs of whole processes."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.row import Row, side_by_side, times

DATA = Path(__file__).parents[2] / "pdcheck" / "data"
HEX = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc0"
LABEL = "5V 3A, 9V 3A, 15V 3A, 20V 2.25A"
RIG, KIT = str(DATA / "pier-box.toml"), ("--kit", str(DATA / "kit.toml"))
PAIR = (*KIT, "--source", "wall-45", "--cable", "thin-2m")
COMMANDS: dict[str, tuple[tuple[str, ...], str]] = {
    "--help": (("--help",), "1.5"),
    "decode, one message": (("decode", HEX), "2.2"),
    "decode, a label": (("decode", LABEL), ""),
    "decode --jsonl": (("decode", HEX, "--jsonl"), ""),
    "encode": (("encode", LABEL), ""),
    "cable": (("cable", "C-C 5A 1m"), ""),
    "wire": (("wire", "--awg", "20", "--length", "2m", "--current", "3A"), ""),
    "pick": (("pick", "--source", LABEL, "--output", "12V@2A"), ""),
    "check, one pair": (("check", RIG, *PAIR), "5"),
    "talk": (("talk", RIG, *PAIR), ""),
    "matrix": (("matrix", RIG, *KIT), ""),
    "rules": (("rules",), ""),
    "need": (("need", RIG), "10"),
    "report": (("report", RIG, *PAIR, "-o", "-"), "20"),
    "demo": (("demo",), "10"),
}


def rows(runs: int) -> Iterator[Row]:
    """A row for each command, with the byte code of all files at hand, as an installed package has it."""
    script = Path(sys.executable).with_name("pdcheck")
    start = [str(script)] if script.exists() else [sys.executable, "-m", "pdcheck"]
    with tempfile.TemporaryDirectory() as cache:
        environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
        environment["PYTHONPYCACHEPREFIX"] = cache

        def run(command: list[str]) -> int:
            return subprocess.run(command, env=environment, capture_output=True, check=False).returncode

        for name, (arguments, bar) in COMMANDS.items():
            command = [*start, *arguments]
            if run(command) not in (0, 1):
                raise SystemExit(f"{name}: {' '.join(command)} failed")
            ours, _, ratio = side_by_side(
                lambda command=command: run(command), lambda: run([sys.executable, "-c", "import click"]), runs
            )
            yield Row(
                f"start of `{name}`",
                'python -c "import click"',
                times(ratio),
                bar and f"≤ {bar}",
                f"{ours * 1e3:.0f} ms",
            )
