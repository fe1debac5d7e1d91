"""Two files changed together: killed at any step, both are old or, once one is read again, both are new."""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.journal import JOURNAL
from pdcheck.parts.keeping import change_together
from pdcheck.parts.toml_reading import read_toml_text

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kill -9 is of POSIX systems")
FORK = multiprocessing.get_context("fork")
CALLS = ("replace", "unlink", "chmod")


def places(folder: Path, apart: bool) -> tuple[Path, Path]:
    other = folder / "kits" if apart else folder
    other.mkdir(exist_ok=True)
    return folder / "rig.toml", other / "kit.toml"


def fresh(paths: tuple[Path, Path]) -> None:
    for path in paths:
        path.write_text("n = 0\n")


def advance(paths: tuple[Path, Path]) -> None:
    edits = {str(path): lambda text: f"n = {int(text.split()[-1]) + 1}\n" for path in paths}
    change_together(edits)


def dying_at(paths: tuple[Path, Path], call: int) -> None:
    """The same, killed right before the given call that changes something on the disk."""
    left = call

    def counted(name: str) -> None:
        own = getattr(Path, name)

        def other(self: Path, *args: object, **named: object) -> object:
            nonlocal left
            left -= 1
            if left < 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return own(self, *args, **named)

        setattr(Path, name, other)

    for name in CALLS:
        counted(name)
    advance(paths)


@pytest.mark.parametrize("apart", [False, True], ids=["one folder", "two folders"])
@pytest.mark.parametrize("first", [0, 1], ids=["rig read first", "kit read first"])
def test_killed_before_any_step_the_files_agree(tmp_path: Path, apart: bool, first: int) -> None:
    paths = places(tmp_path, apart)
    seen = set()
    for call in range(40):
        fresh(paths)
        worker = FORK.Process(target=dying_at, args=(paths, call))
        worker.start()
        worker.join()
        texts = {read_toml_text(paths[first]), read_toml_text(paths[1 - first])}
        assert len(texts) == 1, call
        seen |= texts
        advance(paths)  # whatever was left over is in nobody's way
        assert not list(tmp_path.rglob(JOURNAL))
        assert not list(tmp_path.rglob("*.part"))
        if worker.exitcode == 0:
            break
    assert worker.exitcode == 0
    assert seen == {"n = 0\n", "n = 1\n"}


def keep_advancing(paths: tuple[Path, Path]) -> None:
    while True:
        advance(paths)


def kill_at_random(folder: Path, times: int, seed: int = 5) -> int:
    """Kill a writer of two files at random; how often they did not agree until one was read again."""
    chance, late = random.Random(seed), 0
    paths = places(folder, False)
    fresh(paths)
    for _ in range(times):
        writer = FORK.Process(target=keep_advancing, args=(paths,))
        writer.start()
        assert writer.pid is not None
        time.sleep(chance.uniform(0.002, 0.03))
        os.kill(writer.pid, signal.SIGKILL)
        writer.join()
        late += paths[0].read_text() != paths[1].read_text()
        assert read_toml_text(paths[0]) == read_toml_text(paths[1])
    return late


def test_killed_at_random_the_files_agree(tmp_path: Path) -> None:
    kill_at_random(tmp_path, 40)


def test_a_file_changed_by_hand_since_is_left_alone(tmp_path: Path) -> None:
    rig, kit = places(tmp_path, False)
    fresh((rig, kit))
    rig.write_text("n = 1\n")
    listed = [{"path": str(path), "old": "0" * 64, "text": "n = 1\n"} for path in (rig, kit)]
    (tmp_path / JOURNAL).write_text(json.dumps(listed))
    assert (read_toml_text(rig), read_toml_text(kit)) == ("n = 1\n", "n = 0\n")
    assert not (tmp_path / JOURNAL).exists()


@pytest.mark.parametrize("text", ["", "{}", "[1]", "\x00", '[{"path": 5}]'])
def test_what_is_no_journal_stays(tmp_path: Path, text: str) -> None:
    rig, kit = places(tmp_path, False)
    fresh((rig, kit))
    (tmp_path / JOURNAL).write_text(text)
    assert read_toml_text(rig) == "n = 0\n"


def test_one_that_cannot_be_edited_leaves_both(tmp_path: Path) -> None:
    rig, kit = places(tmp_path, False)
    fresh((rig, kit))

    def refuse(_: str) -> str:
        raise InputError("no")

    with pytest.raises(InputError):
        change_together({str(rig): lambda _: "n = 9\n", str(kit): refuse})
    assert (rig.read_text(), kit.read_text()) == ("n = 0\n", "n = 0\n")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        print(kill_at_random(Path(made), int(sys.argv[1])), "of", sys.argv[1], "agreed only once read again")


def planted(folder: Path, *files: tuple[Path, str]) -> None:
    """A journal as a stranger would write it: of each file what it holds, and what it should hold."""
    mark = hashlib.sha256
    texts = [{"path": str(path), "old": mark(path.read_bytes()).hexdigest(), "text": text} for path, text in files]
    (folder / JOURNAL).write_text(json.dumps(texts))


@pytest.mark.parametrize("way", ["path", "link", "steps"])
def test_a_journal_of_a_stranger_changes_nothing_elsewhere(tmp_path: Path, way: str) -> None:
    home, theirs = tmp_path / "home", tmp_path / "theirs"
    home.mkdir()
    theirs.mkdir()
    (home / "profile").write_text("mine\n")
    (theirs / "kit.toml").write_text("n = 1\n")
    (theirs / "sub").symlink_to(home)
    to = {"path": home, "link": theirs / "sub", "steps": theirs / ".." / "home"}[way] / "profile"
    planted(theirs, (theirs / "kit.toml", "n = 1\n"), (to, "theirs\n"))
    read_toml_text(theirs / "kit.toml")
    assert (home / "profile").read_text() == "mine\n" and not (home / "profile").is_symlink()


@pytest.mark.parametrize("text", ["", "[" * 100_000, "[1]", "[{}]", '[{"path": "\\u0000", "old": "", "text": ""}]', "7",
    '[{"path": "kit.toml", "old": "", "text": "\\ud800"}]', "\xff"], ids=range(8))  # fmt: skip
def test_an_odd_journal_is_in_nobodys_way(tmp_path: Path, text: str) -> None:
    (tmp_path / "kit.toml").write_text("n = 1\n")
    (tmp_path / JOURNAL).write_bytes(text.encode("latin-1"))
    assert read_toml_text(tmp_path / "kit.toml") == "n = 1\n"


def test_a_journal_that_is_a_pipe_or_names_one_ends_the_wait(tmp_path: Path) -> None:
    (tmp_path / "kit.toml").write_text("n = 1\n")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / JOURNAL).write_text(json.dumps([{"path": str(tmp_path / "pipe"), "old": "", "text": ""}]))
    assert read_toml_text(tmp_path / "kit.toml") == "n = 1\n"
    (tmp_path / JOURNAL).unlink(missing_ok=True)
    os.mkfifo(tmp_path / JOURNAL)
    assert read_toml_text(tmp_path / "kit.toml") == "n = 1\n"
