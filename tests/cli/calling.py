"""Every command that the program has, each with a call that works; and one that is forked off with streams to order.

Run as a program it is the process that forks: it has loaded what the commands need, so that a call takes a moment and
yet is a process of its own, with its own streams, limits and signals.
"""

from __future__ import annotations

import base64
import contextlib
import io
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import click

from pdcheck.cli import group, main, run
from pdcheck.show.demo import copy_files

PAIR = ("pier-box.toml", "--kit", "kit.toml", "--source", "wall-45", "--cable", "thin-2m")
CALLS: dict[str, tuple[str, ...]] = {
    "decode": ("log.txt",),
    "encode": ("5V 3A, 9V 3A",),
    "cable": ("C-C 5A 1m",),
    "drop": ("--source", "5.12V", "--sink", "4.80V", "--at", "2A"),
    "pick": ("--source", "wall-45", "--output", "12V@2A", "--kit", "kit.toml"),
    "settings": ("--source", "wall-45", "--kit", "kit.toml"),
    "new": ("made.toml", "--yes", "--output", "12V@1A", "--converter", "buck-boost", "--kit", "kit.toml"),
    "matrix": ("pier-box.toml", "--kit", "kit.toml", "--source", "wall-45"),
    "kit list": ("kit.toml",),
    "kit show": ("kit.toml", "wall-45"),
    "kit add": ("kit.toml", "--source", "more", "5V 3A"),
    "kit remove": ("kit.toml", "old-18"),
    "need": ("pier-box.toml",),
    "audit": ("log.txt",),
    "runtime": ("pier-box.toml", "--source", "20000mAh 74Wh 5V 3A, 9V 3A"),
    "share": ("pier-box.toml", "--source", "C1 65W, C2 30W", "--cable", "C-C 5A 1m"),
    "wire": ("--length", "2m", "--current", "3A", "--drop", "0.3V"),
    "led": ("--count", "3", "--vf", "3.4V", "--current", "250mA", "--on", "9V,12V"),
    "report": (*PAIR, "--svg", "-"),
    "rules": (),
    "schema": (),
    "demo": (),
}
"""What follows a command that is not asked about a rig on one source and cable."""
LOG = "0.001000 SOP a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6\n0.002000 SOP 4210f0c3cb11 9aab7db2\n"


def commands(found: click.Command = group, *names: str) -> Iterator[tuple[str, click.Command]]:
    """Every command of the tree that does something, by its whole name."""
    if not isinstance(found, click.Group):
        yield " ".join(names), found
        return
    for name in found.list_commands(click.Context(found)):
        inner = found.get_command(click.Context(found), name)
        assert inner is not None
        yield from commands(inner, *names, name)


TREE = dict(commands())


def call_of(name: str) -> list[str]:
    """A call of a command that works."""
    return [*name.split(), *CALLS.get(name, PAIR)]


class Done(NamedTuple):
    """How a call ended: its code, negative for a signal, or None where it had to be stopped; what it wrote."""

    code: int | None
    out: bytes
    err: bytes

    @property
    def one_line(self) -> bool:
        """Whether standard error is one line of complaint."""
        return self.err.startswith(b"pdcheck: ") and self.err.count(b"\n") == 1 and self.err.endswith(b"\n")


class Forked:
    """The process that forks."""

    def __init__(self, **environment: str) -> None:
        environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"} | environment
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.cli.calling"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[2],
            env=environment,
        )

    def call(
        self, *arguments: str, folder: Path, streams: tuple[str, str, str] = ("null", "kept", "kept"), **more: Any
    ) -> Done:
        """Run ``pdcheck`` with arguments; how each stream is, see ``_stream``.

        More: ``environment``, ``limits`` by their names, ``data`` on standard input, ``gone`` where the current folder
        goes away before, a ``signal`` and how long ``after_s`` the start it comes.
        """
        assert self._process.stdin is not None and self._process.stdout is not None
        asked = {"arguments": arguments, "folder": str(folder), "streams": streams, **more}
        self._process.stdin.write(json.dumps(asked).encode() + b"\n")
        self._process.stdin.flush()
        code, out, err = json.loads(self._process.stdout.readline())
        return Done(code, base64.b64decode(out), base64.b64decode(err))

    def end(self) -> None:
        """No more calls."""
        self._process.communicate(timeout=30)


def _stream(how: str, number: int, kept: int, data: bytes) -> int | None:
    """A file descriptor for a standard stream; None for one that is closed."""
    write = os.O_RDONLY if number == 0 else os.O_WRONLY
    match how:
        case "closed":
            return None
        case "kept":
            return kept
        case "null" | "full":
            return os.open(f"/dev/{how}", write)
        case "backwards":
            return os.open(os.devnull, os.O_WRONLY if number == 0 else os.O_RDONLY)
        case "folder":
            return os.open(".", os.O_RDONLY)
        case "left":
            theirs, ours = os.pipe()
            os.close(theirs)
            return ours
        case "data" | "data, not blocking":
            theirs, ours = os.pipe()
            os.set_blocking(ours, False)
            os.write(ours, data)
            if how != "data":
                os.set_blocking(theirs, False)
                os.set_inheritable(ours, True)
                if os.fork() == 0:
                    time.sleep(0.1)
                    os._exit(0)
            os.close(ours)
            return theirs
        case "socket":
            ours_socket, theirs_socket = socket.socketpair()
            if number == 0:
                theirs_socket.sendall(data)
                theirs_socket.close()
            else:
                os.dup2(theirs_socket.detach(), 90)
            return ours_socket.detach()
        case "terminal gone":
            ours, theirs = os.openpty()
            os.close(ours)
            return theirs
    return os.open(how, write | os.O_APPEND | (os.O_CREAT if number else 0))


def _begin(asked: dict[str, Any], kept: tuple[int, int]) -> None:
    """Be the call: as an interpreter that has just been started with these streams."""
    os.environ.update(asked.get("environment", {}))
    for name in asked.get("unset", ()):
        os.environ.pop(name, None)
    os.chdir(asked["folder"])
    if asked.get("gone"):
        gone = tempfile.mkdtemp()
        os.chdir(gone)
        Path(gone).rmdir()
    data = base64.b64decode(asked.get("data", ""))
    opened = [_stream(how, at, kept[at - 1], data) for at, how in enumerate(asked["streams"])]
    high = [None if each is None else os.dup2(each, 100 + at) for at, each in enumerate(opened)]
    for at, each in enumerate(high):
        if each is None:
            with contextlib.suppress(OSError):
                os.close(at)
        else:
            os.dup2(each, at)
    os.closerange(3, 90)
    os.closerange(91, 200)
    assert sys.__stdout__ is not None
    how = (asked.get("encoding", sys.__stdout__.encoding), sys.__stdout__.errors)
    built: list[Any] = []
    for at, name in enumerate(asked["streams"]):
        try:
            if name == "folder":
                raise OSError
            raw = io.FileIO(at, "rb" if at == 0 else "wb", closefd=False)
            buffered: Any = io.BufferedReader(raw) if at == 0 else io.BufferedWriter(raw)
            if at == 0 or name != "backwards":
                built.append(io.TextIOWrapper(buffered, how[0], "backslashreplace" if at == 2 else how[1]))
            else:
                built.append(None)
        except OSError:
            built.append(None)
    sys.stdin, sys.stdout, sys.stderr = sys.__stdin__, sys.__stdout__, sys.__stderr__ = built
    if "limits" in asked:
        import resource

        for name, limit in asked["limits"].items():
            resource.setrlimit(getattr(resource, name), (limit, limit))
    sys.argv = ["pdcheck", *asked["arguments"]]
    main()


def _run(asked: dict[str, Any]) -> tuple[int | None, str, str]:
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        child = os.fork()
        if child == 0:
            code = 99
            try:
                os.setpgid(0, 0)
                _begin(asked, (out.fileno(), err.fileno()))
            except SystemExit as ended:
                code = ended.code if isinstance(ended.code, int) else 0
                for stream in (sys.stdout, sys.stderr):
                    try:
                        if stream is not None:
                            stream.flush()
                    except (OSError, ValueError):
                        code = 120  # as the interpreter ends where it cannot write what is left
            except BaseException:
                import traceback

                traceback.print_exc(file=io.TextIOWrapper(io.FileIO(err.fileno(), "wb", closefd=False)))
            os._exit(code)
        if "signal" in asked:
            time.sleep(asked["after_s"])
            os.kill(child, asked["signal"])
        until = time.monotonic() + 120
        ended, status = os.waitpid(child, os.WNOHANG)
        while not ended and time.monotonic() < until:
            time.sleep(0.002)
            ended, status = os.waitpid(child, os.WNOHANG)
        if not ended:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
        out.seek(0)
        err.seek(0)
        texts = [base64.b64encode(each.read(1 << 24)).decode() for each in (out, err)]
        return (os.waitstatus_to_exitcode(status) if ended else None), texts[0], texts[1]


def put_files(folder: Path) -> None:
    """What the calls read."""
    copy_files(str(folder))
    (folder / "log.txt").write_text(LOG, encoding="utf-8")


def _serve() -> None:
    nothing = io.StringIO()
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        put_files(Path())
        with contextlib.redirect_stdout(nothing), contextlib.redirect_stderr(nothing):
            for name in TREE:
                # Some only load what they need when they are called; these load nothing that no other does.
                if name not in ("demo", "need"):
                    run(call_of(name))
    # What comes before a call has begun is the business of this process.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    for line in sys.stdin.buffer:
        sys.stdout.buffer.write(json.dumps(_run(json.loads(line))).encode() + b"\n")
        sys.stdout.buffer.flush()


if __name__ == "__main__":
    _serve()
