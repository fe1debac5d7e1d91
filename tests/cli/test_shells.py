"""bash, zsh and fish on a terminal of their own, Tab pressed on files of a stranger: nothing runs, nothing acts."""

from __future__ import annotations

import os
import select
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from pdcheck.cli import completing
from pdcheck.parts.journal import JOURNAL
from pdcheck.show.demo import copy_files

termios = pytest.importorskip("termios", reason="terminals of POSIX")

SHELLS = {
    "bash": (
        ["bash", "--norc", "--noprofile", "-i"],
        "bind 'set enable-bracketed-paste off' 'set bell-style none' 'set page-completions off'",
        'eval "$(_PDCHECK_COMPLETE=bash_source pdcheck)"',
    ),
    "zsh": (
        ["zsh", "-f", "-i"],
        "unsetopt prompt_sp zle_bracketed_paste; autoload -Uz compinit; compinit -u -D",
        'eval "$(_PDCHECK_COMPLETE=zsh_source pdcheck)"',
    ),
    "fish": (
        ["fish", "--no-config", "-i"],
        "function fish_greeting; end; function fish_title; end",
        "_PDCHECK_COMPLETE=fish_source pdcheck | source",
    ),
}
TITLE = "\x1b]0;owned"
ACTING = [
    "w$(touch${IFS}X)", "w`touch${IFS}X`", "w;touch${IFS}X", "w&&touch${IFS}X", "w|touch${IFS}X", "w>X", "w\ntouch X\n",
    "w\rtouch X\r", f"w{TITLE}\x07", "w\x9b2J", "w\x1b[2J", "w(touch X)", "w'$(touch X)'", 'w"$(touch X)"', "w*", "w~",
    "w,plain\nplain,w;touch X", "w\tplain", "w\\", "w%F{red}", "w${(e):-$(touch${IFS}X)}", "w<(touch${IFS}X)", "w\x03",
]  # fmt: skip
"""Ids and names that a shell, its line editor or a terminal would act on, were they put there as they are."""
ACTING_ALONE = ["q0$(touch${IFS}X)", "q1;touch${IFS}X", "q2`touch${IFS}X`"]
"""What a shell would put on a line at once, since nothing else begins so."""
ACTING_FILES = ["w$(touch${IFS}X)", "w`touch X`", "w;touch X", "w\ntouch X\n", f"w{TITLE}\x07", "w'$(touch X)'", "w\\"]
ACTING_TITLES = [f"T{TITLE}\x07 $(touch X)", "T\x1b[2J`touch X`", "T\n;touch X\n", "T:%F{red}:x", "T\x9b31m", "T,\t\r"]


class Screen:
    """A shell at a terminal: what is typed, and all that it sent back."""

    def __init__(self, name: str, terminal: int) -> None:
        self.name, self._terminal, self.sent = name, terminal, ""

    def type(self, keys: str) -> None:
        os.write(self._terminal, keys.encode())

    def until(self, text: str) -> str:
        """What it sends up to a text, however long a busy machine takes; fails where nothing comes any more."""
        begun = len(self.sent)
        while len(self.sent) == begun or text not in self.sent[begun:]:
            assert self._more(60), f"{self.name} sent no {text!r} after {self.sent[begun:]!r}"
        return self.sent[begun:]

    def quiet(self) -> str:
        """What it sends until it has nothing more to say."""
        begun = len(self.sent)
        while self._more(0.4):
            pass
        return self.sent[begun:]

    def line(self, text: str) -> None:
        """Type a line and let it run to its end."""
        self.type(f"{text}\r")
        self.type("echo END''ED\r")
        self.until("ENDED")

    def tab(self, line: str) -> str:
        """What Tab shows and leaves on a line; then that line is run, so that what is on it would act."""
        self.quiet()
        self.type(line)
        self.quiet()
        begun = len(self.sent)
        # A key is echoed when the Tabs before it are done with, however slow the machine.
        self.type("\t\tZ")
        self.until("Z")
        self.quiet()
        shown = self.sent[begun:]
        self.type("\x7f\r")
        self.quiet()
        self.type("\x03")
        self.line("true")
        return shown

    def _more(self, wait_s: float) -> bool:
        ready, _, _ = select.select([self._terminal], [], [], wait_s)
        if not ready:
            return False
        try:
            piece = os.read(self._terminal, 1 << 16)
        except OSError:  # the shell has gone
            return False
        if b"\x1b[c" in piece or b"\x1b[0c" in piece:
            os.write(self._terminal, b"\x1b[?62c")  # what a terminal answers to the question what it is
        self.sent += piece.decode("utf-8", "surrogateescape")
        return bool(piece)


@contextmanager
def shell(name: str, folder: Path) -> Iterator[Screen]:
    """A shell on a terminal of its own that has read the line of docs/terminal.md."""
    if shutil.which(name) is None:
        pytest.skip(f"{name} is not installed")
    tools = folder / "tools"
    tools.mkdir()
    (tools / "pdcheck").write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m pdcheck "$@"\n')
    (tools / "pdcheck").chmod(0o755)
    command, quiet, completing = SHELLS[name]
    ours, theirs = os.openpty()
    termios.tcsetwinsize(ours, (200, 160))
    environment = {key: each for key, each in os.environ.items() if not key.startswith("_PDCHECK")}
    environment |= {
        "PATH": f"{tools}{os.pathsep}{os.environ['PATH']}", "HOME": str(tools), "TERM": "vt100", "PS1": "> ",
        "LC_ALL": "C.UTF-8", "XDG_DATA_HOME": str(tools), "XDG_CONFIG_HOME": str(tools), "HISTFILE": "",
    }  # fmt: skip
    # Who begins a session and opens a terminal has it for his own.
    begin = ["sh", "-c", 'exec "$@" <"$0" >"$0" 2>&1', os.ttyname(theirs), *command]
    started = subprocess.Popen(begin, cwd=folder, env=environment, start_new_session=True)
    try:
        screen = Screen(name, ours)
        screen.until("")
        os.close(theirs)
        screen.line(quiet)
        screen.line(completing)
        yield screen
    finally:
        started.kill()
        started.wait()
        os.close(ours)


def written(text: str) -> str:
    """A text as TOML has it, each character as an escape."""
    return "".join(f"\\U{ord(each):08x}" for each in text)


def kit_of(ids: list[str]) -> str:
    titles = [ACTING_TITLES[at % len(ACTING_TITLES)] for at in range(len(ids))]
    pairs = list(zip(ids, titles, strict=True))
    sources = [f'[[source]]\nid = "{written(id)}"\ntitle = "{written(t)}"\noffers = "5V 3A"\n' for id, t in pairs]
    cables = [f'[[cable]]\nid = "{written(id)}"\ntitle = "{written(t)}"\nkind = "C-C"\n' for id, t in pairs]
    return "".join([*sources, *cables])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy_files(str(tmp_path))
    (tmp_path / "bad.toml").write_text(kit_of([*ACTING, *ACTING_ALONE, "wall-65", "wall-66"]), encoding="utf-8")
    (tmp_path / JOURNAL).write_text("[]")
    branches = "".join(f'[[branch]]\nname = "{written(name)}"\nload = "1W"\n' for name in [*ACTING, "wall-65"])
    (tmp_path / "rig.toml").write_text(f'[trigger]\nrequest = "5V"\n{branches}', encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("name", SHELLS)
def test_tab_on_a_kit_of_a_stranger_runs_nothing(name: str, folder: Path) -> None:
    with shell(name, folder) as screen:
        # A command that is run completes the journal that it finds; Tab does not, which is tried elsewhere.
        before = {path.name for path in folder.iterdir()} - {JOURNAL}
        for line in (
            "pdcheck check pier-box.toml --kit bad.toml --source w",
            "pdcheck check pier-box.toml --kit bad.toml --cable w",
            "pdcheck envelope rig.toml --branch w",
            "pdcheck kit show bad.toml w",
        ):
            # On a busy machine a line may be typed before the shell's editor is there.
            assert any("all-6" in screen.tab(line) for _ in range(4)), f"{line}: {screen.sent[-2000:]!r}"
            assert "Traceback" not in screen.sent
        for at in range(len(ACTING_ALONE)):
            screen.tab(f"pdcheck check pier-box.toml --kit bad.toml --source q{at}")
        assert "\x9b" not in screen.sent and TITLE not in screen.sent
        assert {path.name for path in folder.iterdir()} - {JOURNAL} == before


@pytest.mark.parametrize("name", SHELLS)
def test_tab_on_files_of_a_stranger_runs_nothing(name: str, folder: Path) -> None:
    for at, acting in enumerate(ACTING_FILES):
        own = folder / f"f{at}"
        own.mkdir()
        (own / f"z{acting.replace('/', '')}.toml").write_text("")
    with shell(name, folder) as screen:
        before = {path.name for path in folder.rglob("*")}
        for at in range(len(ACTING_FILES)):
            screen.line(f"cd {shlex.quote(str(folder / f'f{at}'))}")
            screen.tab("pdcheck check z")
        assert {path.name for path in folder.rglob("*")} == before
        assert TITLE not in screen.sent


@pytest.mark.parametrize("kit", ["-", "pipe", "endless.toml", "folder.toml", "$(touch X)", "`touch X`", "\0"])
def test_tab_reads_nothing_but_plain_files_and_writes_none(
    kit: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    os.mkfifo("pipe")
    Path("endless.toml").symlink_to("/dev/zero")
    Path("folder.toml").mkdir()
    read: list[str] = []
    monkeypatch.setattr(completing, "read_toml_text", lambda path, **how: read.append(path))
    found = completing._tables(kit, "source")
    assert (found, read) == ([], [])
