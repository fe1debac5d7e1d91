"""``--watch``: judged again after a save, through a file that is half written or gone, until Ctrl-C ends it."""

from __future__ import annotations

import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pdcheck.cli import run
from pdcheck.show.demo import copy_files
from tests.patience import PATIENCE_S

PAIR = ("--source", "wall-45", "--cable", "thin-2m")


class Watch:
    """A running ``--watch``, its lines as they come."""

    def __init__(self, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "pdcheck", *arguments, "--watch"],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            # Behind a job in the background it would not hear of Ctrl-C.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509
        )  # fmt: skip
        self.lines: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.put(line)
        self.lines.put("pdcheck: ended\n")

    def until(self, found: Callable[[str], bool]) -> list[str]:
        """The lines up to one that is meant."""
        heard = [self.lines.get(timeout=PATIENCE_S)]
        while not found(heard[-1]):
            assert heard[-1] != "pdcheck: ended\n", "".join(heard)
            heard.append(self.lines.get(timeout=PATIENCE_S))
        return heard

    def waits(self) -> list[str]:
        """The lines until it waits for a save."""
        return self.until(lambda line: line.startswith("pdcheck: watching "))


@pytest.fixture
def watch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Watch]]:
    monkeypatch.chdir(tmp_path)
    copy_files(".")
    begun: list[Watch] = []

    def begin(*arguments: str) -> Watch:
        begun.append(Watch(*arguments))
        return begun[-1]

    yield begin
    for each in begun:
        each.process.kill()
        each.process.wait()


def test_each_save_is_judged_and_ctrl_c_ends_it(watch: Callable[..., Watch]) -> None:
    rig = Path("pier-box.toml")
    whole = rig.read_text()
    watching = watch("check", "pier-box.toml", *PAIR)
    assert "RUNS" in watching.waits()[0]
    rig.write_text(whole.replace('request = "15V"', 'request = "5V"'))
    heard = watching.waits()
    assert heard[0] == "pdcheck: pier-box.toml changed\n" and any("FAILS" in line for line in heard)
    rig.write_text(whole[: len(whole) // 2] + "\n[[branch]\n")
    assert any(line.startswith("pdcheck: pier-box.toml, line ") for line in watching.waits())
    rig.unlink()
    assert any("no such file" in line for line in watching.waits())
    # As editors save: a new file takes the old one's place.
    Path("new.toml").write_text(whole)
    Path("new.toml").replace("pier-box.toml")
    assert any("RUNS" in line for line in watching.waits())
    kit = Path("kit.toml").read_text()
    Path("kit.toml").write_text(kit.replace('loop = "240mOhm"', 'loop = "2400mOhm"'))
    heard = watching.waits()
    assert heard[0] == "pdcheck: kit.toml changed\n" and not any("RUNS" in line for line in heard)
    watching.process.send_signal(signal.SIGINT)
    assert watching.process.wait(PATIENCE_S) == 130
    assert not any("Traceback" in line for line in list(watching.lines.queue))


def test_a_page_is_written_again(watch: Callable[..., Watch]) -> None:
    watching = watch("report", "pier-box.toml", *PAIR, "-o", "page.html")
    watching.waits()
    before = Path("page.html").read_text()
    rig = Path("pier-box.toml")
    rig.write_text(rig.read_text().replace('title = "', 'title = "Second '))
    assert any(line.startswith("wrote page.html") for line in watching.waits())
    assert "Second " in Path("page.html").read_text() and "Second " not in before


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["check", "pier-box.toml", *PAIR, "--json"], "--watch and --json exclude each other"),
        (["report", "pier-box.toml", *PAIR, "-o", "-"], "--watch writes to a file"),
        (["check", "--output", "5V@1A", "--source", "5V 3A"], "--watch and no file is read"),
    ],
)
def test_what_cannot_be_watched(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run([*arguments, "--watch"]) == 2
    assert told in capsys.readouterr().err
