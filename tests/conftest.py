"""The command line called in this process, as a program would call it: exit code, standard output, standard error."""

import contextlib
import io
import json
import os
import signal
import sys
from typing import NamedTuple

import pytest
from hypothesis import settings

from pdcheck.cli import run

# The debugger of the first doctest imports it, and then it tells every process that is started how wide a terminal is.
with contextlib.suppress(ImportError):
    import readline  # noqa: F401

# Whatever the terminal is like from which the tests are run; a run side by side states a width of its own.
for _told in ("COLUMNS", "LINES", "NO_COLOR"):
    os.environ.pop(_told, None)
    os.unsetenv(_told)

# Whatever those who start the tests do not heed, as one in the background: what the tests start would inherit it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
for _told in ("SIGHUP", "SIGTERM"):
    if hasattr(signal, _told):
        signal.signal(getattr(signal, _told), signal.SIG_DFL)

# A busy machine is not a wrong answer. What holds a change back draws the same examples each time; all else draws anew.
settings.register_profile("drawn-anew", deadline=None)
settings.register_profile("drawn-alike", deadline=None, derandomize=True)
settings.load_profile("drawn-alike" if os.environ.get("CI") else "drawn-anew")


class Outcome(NamedTuple):
    code: int
    out: str
    err: str

    @property
    def json(self):
        return json.loads(self.out)


def call(*arguments, stdin=b""):
    """Run ``pdcheck`` with arguments; text or bytes on standard input."""
    out, err = io.BytesIO(), io.BytesIO()
    data = stdin.encode() if isinstance(stdin, str) else stdin
    before = sys.stdout, sys.stderr, sys.stdin
    sys.stdout = io.TextIOWrapper(out, encoding="utf-8", write_through=True)
    sys.stderr = io.TextIOWrapper(err, encoding="utf-8", write_through=True)
    sys.stdin = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8")
    try:
        code = run([str(argument) for argument in arguments])
        sys.stdout.flush()
        sys.stderr.flush()
        return Outcome(code, out.getvalue().decode(), err.getvalue().decode())
    finally:
        sys.stdout, sys.stderr, sys.stdin = before


@pytest.fixture
def pdcheck():
    return call


def one_line(outcome):
    """Exit 2, one line on standard error, nothing on standard output, no traceback."""
    assert outcome.code == 2, outcome
    assert outcome.out == "", outcome
    assert outcome.err.count("\n") == 1 and outcome.err.endswith("\n"), outcome.err
    assert outcome.err.startswith("pdcheck: "), outcome.err
    assert "Traceback" not in outcome.err
    return outcome.err


@pytest.fixture
def refused():
    """Calls ``pdcheck`` with what cannot be read and gives the one line of complaint."""

    def refuse(*arguments, stdin=b""):
        return one_line(call(*arguments, stdin=stdin))

    return refuse


collect_ignore_glob = ["notebook/*"]
"""Programs that tests/test_front_door.py runs in a folder of their own."""
