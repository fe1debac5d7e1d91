"""Every option and argument that names a file to write, on all that stands in its way: refused, and nothing is lost."""

from __future__ import annotations

import os
import socket
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pdcheck.cli import run
from tests.cli.calling import TREE, call_of, put_files

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes, sockets and links are those of POSIX")


def bare(name: str) -> list[str]:
    """A call that writes no file."""
    call = call_of(name)
    return call[: call.index("--svg")] if name == "report" else call


def by_option(name: str, option: str) -> Callable[[str], list[str]]:
    return lambda path: [*bare(name), option, path]


WRITTEN = {
    f"{name} {param.opts[-1]}": by_option(name, param.opts[-1])
    for name, found in TREE.items()
    for param in found.params
    if param.param_type_name == "option" and getattr(param, "metavar", None) == "FILE"
} | {
    "new": lambda path: ["new", path, *call_of("new")[2:]],
    "new --replace": lambda path: ["new", path, *call_of("new")[2:], "--replace"],
    "kit add": lambda path: ["kit", "add", path, *call_of("kit add")[3:]],
    "kit add a capture": lambda path: ["kit", "add", path, "--source", "more", "log.txt"],
    "kit remove": lambda path: ["kit", "remove", path, "old-18"],
    "audit --keep": lambda path: [*call_of("audit"), "--keep", path, "--as", "more"],
    "demo --copy": lambda path: ["demo", "--copy", path],
}
"""What is written, by the path that it is written to: every option for a FILE, and what else changes files."""
CHANGED = ("kit add", "kit add a capture", "kit remove", "audit --keep")
"""What changes a kit that is there."""
IN_THE_WAY = {
    "a folder": "sub", "a folder by its name": "sub/", "a new folder by its name": "new/", "no folder": "none/x.out",
    "nothing": "", "here": ".", "a pipe": "pipe", "a socket": "socket", "read-only": "fixed", "two names": "hard",
    "a loop": "loop", "a link to no folder": "astray", "a link to a folder": "aside", "a long name": "x" * 300,
    "a deep path": "y/" * 2500, "a zero": "a\0b", "no file of a process": "/proc/self/none", "no handle": "/dev/fd/99",
    "what the system says": "/proc/version",
}  # fmt: skip
LATE = ("a pipe", "no file of a process", "no handle")
"""What is known only once the writing has begun, which is in one place: not after long sums."""
READ = ("pier-box.toml", "./pier-box.toml", "kit.toml", "sub/../kit.toml", "around/kit.toml", "kit-link.toml",
        "kit-link-link.toml", "kit-hard.toml", "/proc/self/cwd/kit.toml")  # fmt: skip
"""What a rig's commands read, by other names too."""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    # The path of a socket may be no longer than some hundred letters.
    monkeypatch.chdir(tmp_path)
    put_files(tmp_path)
    Path("sub").mkdir()
    os.mkfifo("pipe")
    for name, to in (
        ("around", "."), ("aside", "sub"), ("loop", "loop"), ("astray", "none/x"), ("kit-link.toml", "kit.toml"),
        ("kit-link-link.toml", "kit-link.toml"),
    ):  # fmt: skip
        Path(name).symlink_to(to)
    Path("fixed").write_text("mine")
    Path("fixed").chmod(0o444)
    Path("first").write_text("mine")
    Path("hard").hardlink_to("first")
    Path("text").write_text("mine")
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("socket")
        yield tmp_path


def held() -> dict[str, tuple[int, bytes]]:
    """Everything in this folder: its kind and what it holds."""
    out = {}
    for path in sorted(Path().rglob("*")):
        mode = path.lstat().st_mode
        data = bytes(path.readlink()) if stat.S_ISLNK(mode) else b""
        out[str(path)] = (stat.S_IFMT(mode), path.read_bytes() if stat.S_ISREG(mode) else data)
    return out


def refused(call: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """The one line that a call is refused with; nothing in this folder is another than before."""
    before = held()
    code = run(call)
    said = capsys.readouterr()
    assert (code, said.out) == (2, ""), said
    assert said.err.startswith("pdcheck: ") and said.err.count("\n") == 1
    assert held() == before
    return said.err


@pytest.mark.parametrize("written", WRITTEN)
def test_what_stands_in_the_way_is_left_alone(written: str, capsys: pytest.CaptureFixture[str]) -> None:
    for what, path in IN_THE_WAY.items():
        if (written, what) in FINE or (what in LATE and written.startswith(("draw", "report", "transient"))):
            continue
        assert refused(WRITTEN[written](path), capsys), what


FINE = {("demo --copy", what) for what in ("a folder", "a folder by its name", "a new folder by its name", "nothing",
        "here", "a link to a folder", "no folder", "a deep path", "a link to no folder")}  # fmt: skip
"""A folder is what is asked for there, and made where there is none."""


@pytest.mark.parametrize("written", [each for each in WRITTEN if each not in CHANGED and each != "demo --copy"])
def test_what_is_read_is_not_written(written: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("kit-hard.toml").hardlink_to("kit.toml")
    call = WRITTEN[written]
    for path in READ:
        if written == "new --replace" and "pier-box" in path:
            continue
        refused(call(path), capsys)
        if written.startswith(("draw", "talk", "report", "transient", "bringup")):
            refused([*call(path), "--replace"], capsys)


@pytest.mark.parametrize("written", [each for each in WRITTEN if " --" in each and each.split()[0] in ("encode", "draw",
                                     "talk", "report", "transient")])  # fmt: skip
def test_what_is_of_another_kind_is_not_written_unasked(written: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert "is there already and is not" in refused(WRITTEN[written]("text"), capsys)
