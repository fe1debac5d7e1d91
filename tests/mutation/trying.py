"""The second step: which tests pass through which function, then a sample of changes, each against its tests.

Tests are collected once; each change wakes in a fork of that process, so that trying one costs no start.
"""

from __future__ import annotations

import json
import os
import pickle
import random
import resource
import signal
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from _pytest.main import pytest_runtestloop as run_items
from hypothesis import HealthCheck, settings
from mutmut.configuration import config
from mutmut.mutation.trampoline import set_mutant_under_test
from mutmut.state import state

PLACES = ("told", "bits", "contract", "circuit", "verdict", "cli", "show", "parts", "outside", "facts")
# These start processes, which take seconds each with every change in the package.
LEFT_OUT = (
    "tests/cli/test_garbage.py",
    "tests/cli/test_demo.py",
    "tests/cli/test_terminal.py",
    "tests/cli/test_new.py::test_ctrl_c_and_even_kill_lose_no_answer",
    "tests/parts/test_keeping.py::test_a_killed_writer_leaves_the_old_file_or_the_new_one",
    "tests/show/test_page.py",
)
SLOW_S = 1.4
"""Tests that take longer by themselves are left out: random ones, for the most part."""

NOTICED, UNNOTICED, TOO_LONG = "noticed", "unnoticed", "took too long"
_GIGABYTES = 6


class Trying:
    """A pytest plugin whose run of the collected tests is one run for each change."""

    def __init__(self, names: list[str], jobs: int) -> None:
        self.names, self.jobs = names, jobs
        self.seconds: dict[str, float] = {}
        self.through: dict[str, list[str]] = {}
        self.running: dict[int, str] = {}
        self.results: dict[str, str] = {}
        self._since, self._failed = 0.0, False
        self._notes: Any = None

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        """The clock of a test starts."""
        self._since, self._failed = time.process_time(), False

    def pytest_runtest_logfinish(self, nodeid: str) -> None:
        """While all is as it should be: what a test took and passed through."""
        if self._notes is not None:
            if not self._failed:
                pickle.dump((nodeid, time.process_time() - self._since, set(state()._stats)), self._notes)
            state()._stats.clear()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that fails without any change is of no use here."""
        if self._notes is not None and report.failed:
            self._failed = True
            print(f"fails without a change, so left out: {report.nodeid}", flush=True)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Everything once, unchanged; then the changes."""
        set_mutant_under_test("")
        self._learn(session)
        items = {item.nodeid: item for item in session.items if self.seconds.get(item.nodeid, SLOW_S) < SLOW_S}
        for name in self.names:
            function = name.rsplit("__mutmut_", 1)[0]
            tests = sorted(
                (test for test in self.through.get(function, []) if test in items), key=self.seconds.__getitem__
            )
            while len(self.running) >= self.jobs:
                self._reap()
            child = os.fork()
            if not child:
                self._try(session, name, [items[test] for test in tests])
            self.running[child] = name
        while self.running:
            self._reap()
        return True

    def _learn(self, session: pytest.Session) -> None:
        notes = Path("passed-through.pickle")
        child = os.fork()
        if not child:
            set_mutant_under_test("stats")
            state()._stats.clear()
            session.config.option.maxfail = 0
            with notes.open("wb") as self._notes:
                run_items(session)
            os._exit(0)
        os.waitpid(child, 0)
        with notes.open("rb") as kept:
            while True:
                try:
                    test, seconds, functions = pickle.load(kept)
                except EOFError:
                    return
                self.seconds[test] = seconds
                for function in functions:
                    self.through.setdefault(function, []).append(test)

    def _try(self, session: pytest.Session, name: str, tests: list[pytest.Item]) -> None:
        """In the child: the tests with one change awake; does not return."""
        longest = int(3 * sum(self.seconds[test.nodeid] for test in tests)) + 12
        resource.setrlimit(resource.RLIMIT_CPU, (longest, longest + 5))
        resource.setrlimit(resource.RLIMIT_AS, (_GIGABYTES << 30, _GIGABYTES << 30))
        signal.alarm(4 * longest)
        nowhere = os.open(os.devnull, os.O_RDWR)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        session.items[:] = tests
        session.config.option.maxfail = 1
        set_mutant_under_test(name)
        try:
            run_items(session)
        except (session.Failed, session.Interrupted):
            pass
        except BaseException:
            os._exit(3)
        os._exit(1 if session.testsfailed else 0)

    def _reap(self) -> None:
        child, status = os.wait()
        code = os.waitstatus_to_exitcode(status)
        name = self.running.pop(child)
        self.results[name] = UNNOTICED if code == 0 else TOO_LONG if code < 0 else NOTICED
        if self.results[name] != NOTICED:
            print(f"{self.results[name]}: {name}", flush=True)


def all_changes() -> list[str]:
    """The names of all changes, in order."""
    found: list[str] = []
    for kept in sorted(Path("mutants/pdcheck").rglob("*.meta")):
        found += json.loads(kept.read_text(encoding="utf-8"))["exit_code_by_key"]
    return found


def try_sample(sample: int, seed: int, jobs: int) -> int:
    """Try that many changes and print the share that was noticed."""
    names = all_changes()
    every = len(names)
    random.Random(seed).shuffle(names)
    config()
    os.environ["MUTMUT_DEPENDENCY_DEPTH"] = "-1"
    # A test is not to fail because the machine is busy, nor because of what another process has found.
    settings.register_profile("trying", deadline=None, database=None, suppress_health_check=list(HealthCheck))
    settings.load_profile("trying")
    os.chdir("mutants")
    set_mutant_under_test("stats")
    trying = Trying(names[:sample], jobs)
    places = [f"tests/{place}" for place in PLACES]
    without = [word for name in LEFT_OUT for word in ("--deselect", name)]
    options = ["--rootdir=.", "-q", "-s", "-p", "no:cacheprovider", "-W", "ignore"]
    code = pytest.main([*options, *places, *without], plugins=[trying])
    tried, noticed = Counter[str](), Counter[str]()
    for name, result in trying.results.items():
        for room in (name.split(".")[1], "all"):
            tried[room] += 1
            noticed[room] += result != UNNOTICED
    for room, count in sorted(tried.items()):
        print(f"{room:10} {noticed[room]} of {count} noticed, {100 * noticed[room] / count:.1f} %")
    print(f"{every} changes in all")
    return 0 if trying.results else int(code) or 1


if __name__ == "__main__":
    sys.exit(try_sample(*(int(word) for word in sys.argv[1:4])))
