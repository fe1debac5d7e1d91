"""Mutation testing by a sample: ``python -m tests.mutation [--sample N] [--seed S] [--jobs J] [--folder WORK]``.

mutmut (the extra ``mutation``) makes the changes, in a copy of the checkout; ``tests/mutation/trying.py`` tries a
random sample of them, each in a process of its own with the tests that pass through the changed function, quickest
first.
Prints what nobody noticed and, in the end, the share that was noticed for each room.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

TOP = Path(__file__).parent.parent.parent
ROOMS = ("bits", "contract", "circuit", "verdict")
SETTINGS = """[mutmut]
source_paths = pdcheck
only_mutate =
{rooms}
also_copy =
    README.md
    DEVELOPERS.md
    docs
    vectors
track_dependencies = false
use_git_change_detection = false
"""


def main() -> int:
    """Copy the checkout, make the changes there, try a sample of them."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__.split("\n")[0])
    parser.add_argument("--sample", type=int, default=600, help="how many changes to try")
    parser.add_argument("--seed", type=int, default=7, help="which ones")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="how many at a time")
    parser.add_argument("--folder", type=Path, help="where to work, kept afterwards; else a temporary folder")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = (asked.folder or Path(scratch) / "checkout").absolute()
        for name in ("pdcheck", "tests", "docs", "vectors", "README.md", "DEVELOPERS.md", "pyproject.toml"):
            _copy(TOP / name, folder / name)
        rooms = "\n".join(f"    pdcheck/{room}/*" for room in ROOMS)
        (folder / "setup.cfg").write_text(SETTINGS.format(rooms=rooms), encoding="utf-8")
        # The changed package is to be the one that is imported, here and in processes that tests start.
        environment = os.environ | {"PYTHONPATH": str(folder / "mutants")}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        for step in ("making", "trying"):
            command = [sys.executable, str(folder / "tests" / "mutation" / f"{step}.py")]
            told = [str(asked.sample), str(asked.seed), str(asked.jobs)]
            done = subprocess.run([*command, *told], cwd=folder, env=environment, check=False)
            if done.returncode:
                return done.returncode
    return 0


def _copy(source: Path, target: Path) -> None:
    if source.is_dir():
        left_out = shutil.ignore_patterns("__pycache__", ".hypothesis")
        shutil.copytree(source, target, dirs_exist_ok=True, ignore=left_out)
    else:
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)


if __name__ == "__main__":
    sys.exit(main())
