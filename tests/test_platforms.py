"""Linux, macOS, Windows: no call that one of them lacks, but where it is asked for first; no start method needed."""

from __future__ import annotations

import ast
import multiprocessing
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S

ROOT = Path(__file__).parent.parent / "pdcheck"
MODULES = sorted(ROOT.rglob("*.py"))
# What the Python Library Reference marks "Availability: Unix" (or Linux), by its name [Python 3.11 to 3.14].
ABSENT = {
    "os": {
        "fork",
        "forkpty",
        "getuid",
        "geteuid",
        "getgid",
        "getegid",
        "getgroups",
        "getpgid",
        "getpgrp",
        "setpgid",
        "setsid",
        "setuid",
        "setgid",
        "killpg",
        "wait",
        "wait3",
        "wait4",
        "waitid",
        "mkfifo",
        "mknod",
        "chown",
        "lchown",
        "fchown",
        "fchmod",
        "chroot",
        "statvfs",
        "fstatvfs",
        "uname",
        "getloadavg",
        "nice",
        "pread",
        "pwrite",
        "readv",
        "writev",
        "sendfile",
        "openpty",
        "ttyname",
        "ctermid",
        "sync",
        "posix_fadvise",
        "posix_fallocate",
        "sched_getaffinity",
        "sched_setaffinity",
        "sched_yield",
        "set_blocking",
        "get_blocking",
        "memfd_create",
        "getxattr",
        "setxattr",
        "listxattr",
        "O_NONBLOCK",
        "O_NOCTTY",
        "O_DIRECTORY",
        "O_NOFOLLOW",
        "O_CLOEXEC",
        "O_SYNC",
        "O_DSYNC",
        "WNOHANG",
        "confstr",
        "sysconf",
        "setpriority",
        "getpriority",
        "startfile",
        "O_BINARY",
        "O_NOINHERIT",
        "O_TEMPORARY",
        "getrandom",
        "eventfd",
        "pidfd_open",
        "lockf",
        "posix_spawn",
    },
    "signal": {
        "SIGHUP",
        "SIGQUIT",
        "SIGKILL",
        "SIGPIPE",
        "SIGALRM",
        "SIGUSR1",
        "SIGUSR2",
        "SIGCHLD",
        "SIGSTOP",
        "SIGTSTP",
        "SIGCONT",
        "SIGTTIN",
        "SIGTTOU",
        "SIGWINCH",
        "SIGBREAK",
        "CTRL_C_EVENT",
        "alarm",
        "setitimer",
        "getitimer",
        "pause",
        "pthread_kill",
        "pthread_sigmask",
        "sigwait",
        "sigpending",
        "siginterrupt",
        "SIG_BLOCK",
        "SIG_UNBLOCK",
        "SIG_SETMASK",
        "sigtimedwait",
    },
    "time": {"tzset", "clock_gettime", "clock_settime", "clock_getres", "pthread_getcpuclockid"},
    "socket": {"AF_UNIX", "socketpair"},
    "asyncio": {"add_signal_handler", "DefaultChildWatcher"},
}
MODULES_ABSENT = {
    "fcntl",
    "termios",
    "tty",
    "pty",
    "pwd",
    "grp",
    "spwd",
    "resource",
    "posix",
    "syslog",
    "readline",
    "curses",
    "crypt",
    "nis",
    "msvcrt",
    "winreg",
    "winsound",
    "_winapi",
}
ASKED_FOR = {
    ("intake/several.py", "SIG_BLOCK"): "behind the question for pthread_sigmask",
    ("intake/several.py", "SIG_SETMASK"): "behind the question for pthread_sigmask",
}
PLACES = {
    "/proc/locks": "parts/writing.py", "/sys": "intake/sysfs/attached.py",
    **dict.fromkeys(("/usr/share/hwdata/usb.ids", "/var/lib/usbutils/usb.ids", "/usr/share/misc/usb.ids"),
                    "intake/sysfs/vendor.py"),
}  # fmt: skip
"""Places of one system, each read in one file, where that it is missing is no fault."""


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def nodes(path: Path) -> Iterator[tuple[ast.AST, bool]]:
    """Every node, and whether it stands in a ``try`` that catches what a system without it would raise."""

    def walk(node: ast.AST, guarded: bool) -> Iterator[tuple[ast.AST, bool]]:
        yield node, guarded
        for inner in ast.iter_child_nodes(node):
            here = guarded
            if isinstance(node, ast.Try) and inner in node.body:
                caught = {ast.unparse(each.type) for each in node.handlers if each.type is not None}
                here = here or bool(caught & {"ImportError", "AttributeError"})
            yield from walk(inner, here)

    yield from walk(ast.parse(path.read_text(encoding="utf-8")), False)


def lacking(path: Path) -> Iterator[str]:
    for node, guarded in nodes(path):
        if guarded:
            continue
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            absent = ABSENT.get(node.value.id, set())
            if node.attr in absent and (name_of(path), node.attr) not in ASKED_FOR:
                yield f"line {node.lineno}: {node.value.id}.{node.attr}"
        elif isinstance(node, ast.ImportFrom) and node.module in ABSENT:
            taken = {each.name for each in node.names} & ABSENT[node.module]
            yield from (f"line {node.lineno}: from {node.module} import {each}" for each in taken)
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [each.name for each in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            yield from (f"line {node.lineno}: {each}" for each in names if each.partition(".")[0] in MODULES_ABSENT)


def careless(path: Path) -> Iterator[str]:
    """Text without its encoding, formats that one library has, places of one system."""
    for node, _ in nodes(path):
        if isinstance(node, ast.Call) and without_encoding(node):
            yield f"line {node.lineno}: {ast.unparse(node)[:70]} without its encoding"
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        if re.search(r"%[-#][A-Za-z]", node.value) and "strftime" in path.read_text(encoding="utf-8"):
            yield f"line {node.lineno}: {node.value!r} is a format of one C library"
        place = re.match(r"(/(dev|proc|sys|tmp|etc|usr|bin|var|home)(/[\w.]+)*|[A-Z]:\\.*)$", node.value)
        if place and PLACES.get(node.value) != name_of(path):
            yield f"line {node.lineno}: {node.value!r} is a place of one system"


def without_encoding(call: ast.Call) -> bool:
    """Whether a call opens, reads or writes text in whatever encoding the system is set to."""
    whole = ast.unparse(call.func)
    called = whole.rpartition(".")[2]
    given = [*call.args, *(key.value for key in call.keywords if key.arg == "mode")]
    modes = [str(each.value) for each in given if isinstance(each, ast.Constant)]
    binary = any(re.fullmatch("[rwxa+]*b[rwxa+]*", mode) for mode in modes)
    opens = called in ("open", "fdopen", "TemporaryFile", "NamedTemporaryFile") and whole != "os.open" and not binary
    reads = called == "read_text" and not call.args
    writes = called == "write_text" and len(call.args) < 2
    return (opens or reads or writes) and not any(key.arg in ("encoding", None) for key in call.keywords)


def test_no_call_that_a_system_lacks() -> None:
    assert not {name_of(path): found for path in MODULES if (found := list(lacking(path)))}


def test_nothing_hangs_on_how_one_system_is_set_up() -> None:
    assert not {name_of(path): found for path in MODULES if (found := list(careless(path)))}


@pytest.mark.parametrize(
    "wrong",
    ["import os\nos.fork()", "import fcntl", "from signal import SIGHUP", "import os\nos.getuid()", "open('x')",
     "p.read_text()", "p.write_text('x')", "p.open('w')", "x = '/dev/null'", "t.strftime('%-d')",
     "import signal\nsignal.SIGKILL"],
)  # fmt: skip
def test_what_a_system_lacks_is_noticed(wrong: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    path = tmp_path / "x.py"
    path.write_text(wrong)
    assert [*lacking(path), *careless(path)]


SCRIPT = """
import multiprocessing
from pdcheck import Kit, Rig, matrix

def main():
    rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}])
    kit = Kit(source=[{"id": f"s{at}", "offers": "5V 3A, 9V 3A"} for at in range(6)],
              cable=[{"id": f"c{at}", "kind": "C-C"} for at in range(3)])
    print(matrix(rig, kit, processes=2).to_json())

if __name__ == "__main__":
    multiprocessing.set_start_method(METHOD)
    main()
"""


def test_processes_of_every_start_method_give_one_answer(tmp_path: Path) -> None:
    told = set()
    for method in multiprocessing.get_all_start_methods():
        path = tmp_path / f"by_{method}.py"
        path.write_text(SCRIPT.replace("METHOD", repr(method)))
        done = subprocess.run([sys.executable, str(path)], capture_output=True, check=True, timeout=PATIENCE_S)
        told.add(done.stdout)
    assert len(told) == 1 and told.pop().startswith(b"{")
