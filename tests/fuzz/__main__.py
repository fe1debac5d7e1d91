"""Coverage-guided fuzzing: ``python -m tests.fuzz TARGET|all [--runs N] [--seconds S] [--keep FOLDER]``.

Needs atheris (the extra ``fuzz``). Each target runs in a process of its own; an input that brings out what may not
come out is kept in ``tests/fuzz/found/TARGET`` and the run goes on, one input for each place in the code. Exit code 1
where anything was found.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import os
import pkgutil
import re
import subprocess
import sys
import tempfile
import traceback
from pathlib import Path

HERE = Path(__file__).parent
CORPUS, FOUND, WORDS = HERE / "corpus", HERE / "found", HERE / "words.dict"
MEGABYTES, TIMEOUT_S, LONGEST = 2048, 30, 2048
BY_ITSELF = "--in-this-process"


def main() -> int:
    """Run the targets that are asked for, one after the other, and say how many executions each had."""
    from tests.fuzz.targets import TARGETS

    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__.split("\n")[0])
    parser.add_argument("target", choices=[*TARGETS, "all"])
    parser.add_argument("--runs", type=int, default=-1, help="executions of each target")
    parser.add_argument("--seconds", type=int, default=0, help="time of each target")
    parser.add_argument("--keep", type=Path, help="folder for the inputs that found new paths; else they are dropped")
    asked = parser.parse_args()
    if asked.runs < 0 and not asked.seconds:
        parser.error("give --runs or --seconds")
    names = list(TARGETS) if asked.target == "all" else [asked.target]
    clean = True
    for name in names:
        with tempfile.TemporaryDirectory() as dropped:
            grown = asked.keep / name if asked.keep else Path(dropped)
            grown.mkdir(parents=True, exist_ok=True)
            runs, fine = _one(name, grown, asked.runs, asked.seconds)
        clean = clean and fine
        print(f"{name:10} {runs:>9} executions{'' if fine else '  SOMETHING WAS FOUND'}", flush=True)
    return 0 if clean else 1


def _one(name: str, grown: Path, runs: int, seconds: int) -> tuple[int, bool]:
    before = _held(name)
    (FOUND / name).mkdir(parents=True, exist_ok=True)
    command = [
        *(sys.executable, "-m", "tests.fuzz", BY_ITSELF, name),
        *(f"-runs={runs}", f"-max_total_time={seconds}", f"-timeout={TIMEOUT_S}", f"-rss_limit_mb={MEGABYTES}"),
        # Time is judged by the processor's clock (judging.py); a busy machine is no finding.
        f"-report_slow_units={TIMEOUT_S}",
        *(f"-max_len={LONGEST}", f"-dict={WORDS}", f"-artifact_prefix={FOUND / name}/", "-print_final_stats=1"),
        *(str(grown), str(CORPUS / name)),
    ]
    top = HERE.parent.parent
    done = subprocess.run(command, cwd=top, capture_output=True, text=True, errors="replace", check=False)
    log = done.stdout + done.stderr
    counted = [int(number) for number in re.findall(r"number_of_executed_units: (\d+)", log)]
    for line in re.findall(r"^FOUND .*$", log, re.MULTILINE):
        print(f"{name}: {line}", flush=True)
    fresh = _held(name) - before
    if done.returncode and not fresh:
        print(log[-3000:], flush=True)
    if not any((FOUND / name).iterdir()):
        (FOUND / name).rmdir()
    return (counted[-1] if counted else 0), not fresh and done.returncode == 0


def _held(name: str) -> set[str]:
    folder = FOUND / name
    return {path.name for path in folder.iterdir()} if folder.is_dir() else set()


def fuzz(name: str, options: list[str]) -> None:
    """Fuzz one target in this process; does not return."""
    import atheris

    with atheris.instrument_imports(include=["pdcheck"]):
        import pdcheck

        # What is imported later, inside functions, would not be instrumented.
        for module in pkgutil.walk_packages(pdcheck.__path__, "pdcheck."):
            if not module.name.endswith("__main__"):
                importlib.import_module(module.name)
    from tests.fuzz.judging import judged
    from tests.fuzz.targets import TARGETS

    target = TARGETS[name]
    seen: set[str] = set()

    def once(data: bytes) -> None:
        try:
            judged(target, data)
        except Exception as error:
            place = _place(error)
            if place in seen:
                return
            seen.add(place)
            path = FOUND / name / f"{type(error).__name__}-{hashlib.sha256(place.encode()).hexdigest()[:8]}"
            path.write_bytes(data)
            print(f"FOUND {place} -> {path.name}: {str(error)[:300]!r}", file=sys.stderr, flush=True)

    atheris.Setup([sys.argv[0], *options], once)
    atheris.Fuzz()


def _place(error: Exception) -> str:
    """Where in the package an exception came from, its kind before that."""
    frames = [each for each in traceback.extract_tb(error.__traceback__) if f"{os.sep}pdcheck{os.sep}" in each.filename]
    last = frames[-1] if frames else traceback.extract_tb(error.__traceback__)[-1]
    what = "" if frames else re.sub(r"['\"].*['\"]|[^a-z ]", "", str(error).lower(), flags=re.DOTALL)[:30]
    return f"{type(error).__name__} {what} {Path(last.filename).name}:{last.lineno}"


if __name__ == "__main__":
    if sys.argv[1:2] == [BY_ITSELF]:
        fuzz(sys.argv[2], sys.argv[3:])
    else:
        sys.exit(main())
