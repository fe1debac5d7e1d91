"""Every command that there is, on streams that are full, closed or left, and in another encoding."""

from __future__ import annotations

import json
import os
import random
import signal
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError
from pathlib import Path
from unittest.mock import patch

import pytest

from pdcheck.cli import run
from tests.cli.calling import CALLS, TREE, Done, Forked, call_of, put_files

pytestmark = pytest.mark.skipif(os.name != "posix", reason="processes are forked")


@pytest.fixture(scope="module")
def forked() -> Iterator[Forked]:
    process = Forked()
    yield process
    process.end()


@pytest.fixture(autouse=True)
def folder(tmp_path: Path) -> Path:
    put_files(tmp_path)
    return tmp_path


def test_the_calls_are_of_commands_that_there_are() -> None:
    assert set(CALLS) <= set(TREE)


def with_json(name: str) -> list[str]:
    """A call that gives the document alone."""
    call = call_of(name)
    return [*call[: call.index("--svg")], "--json"] if name == "report" else [*call, "--json"]


@pytest.mark.parametrize("name", TREE)
def test_what_cannot_be_said_is_no_verdict(name: str, forked: Forked, folder: Path) -> None:
    def call(out: str, err: str) -> Done:
        for path in folder.iterdir():
            path.unlink()
        put_files(folder)
        return forked.call(*call_of(name), folder=folder, streams=("closed", out, err))

    well = call("kept", "full").code
    assert well in (0, 1)
    done = call("full", "kept")
    assert done.code == 2 and done.one_line, done
    assert call("closed", "closed") == (2, b"", b"")
    assert call("left", "kept") == (-signal.SIGPIPE, b"", b"")


@pytest.mark.parametrize(
    "name", [name for name, found in TREE.items() if any("--json" in p.opts for p in found.params)]
)
def test_its_document_is_utf_8_in_any_encoding(name: str, forked: Forked, folder: Path) -> None:
    done = forked.call(*with_json(name), folder=folder, encoding="utf-16")
    assert done.code in (0, 1), done
    json.loads(done.out.decode("utf-8"))


def test_who_is_not_to_wait_is_waited_for(forked: Forked, folder: Path) -> None:
    """A pipe that was said to hold nobody up is read to its end."""
    done = forked.call("decode", "-", folder=folder, streams=("data, not blocking", "kept", "kept"), data="NVYgM0E=")
    assert done.code == 0 and b"3 A" in done.out, done


def test_a_file_is_not_read_into_itself(forked: Forked, folder: Path) -> None:
    log, rig = folder / "log.txt", folder / "pier-box.toml"
    before = log.read_bytes(), rig.read_bytes()
    for call, stdin, out in (
        (["decode", "log.txt", "--jsonl"], "null", log),
        (["decode", "-", "--jsonl"], str(log), log),
        (["audit", "-"], str(log), log),
        (call_of("check"), "null", rig),
        ([*call_of("draw"), "--svg", "log.txt", "--replace"], "null", log),
        (["new", "log.txt", "--yes", "--replace"], "null", log),
    ):
        done = forked.call(*call, folder=folder, streams=(stdin, str(out), "kept"))
        assert done.code == 2 and done.one_line and b"is where the answer goes" in done.err, done
    assert (log.read_bytes(), rig.read_bytes()) == before


def test_no_place_to_work_in_is_told(forked: Forked, folder: Path) -> None:
    for call in (call_of("check"), call_of("new"), call_of("kit add"), call_of("draw")):
        done = forked.call(*call, folder=folder, gone=True)
        assert done.code == 2 and done.one_line, done
    done = forked.call(*call_of("check"), folder=folder, limits={"RLIMIT_NOFILE": 3})
    assert done.code == 2 and done.one_line and b"too many open files" in done.err, done


@pytest.mark.parametrize("name", TREE)
def test_a_signal_at_any_moment_is_heeded_without_a_word(name: str, forked: Forked, folder: Path) -> None:
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        after_s = random.choice((0.001, 0.02, 0.05)) * random.random()
        done = forked.call(*call_of(name), folder=folder, signal=number, after_s=after_s)
        # One that came too late finds the answer given.
        assert done.code in (0, 1, 130, -number), (number, after_s, done)
        assert b"Traceback" not in done.err and b"Exception" not in done.err, (number, after_s, done)
        assert not [path for path in folder.iterdir() if path.name.endswith(".part")]
        for path in folder.iterdir():
            path.unlink()
        put_files(folder)


def test_what_was_never_installed_has_no_version(capsys: pytest.CaptureFixture[str]) -> None:
    with patch("importlib.metadata.version", side_effect=PackageNotFoundError):
        assert run(["--version"]) == 0
    assert "not installed" in capsys.readouterr().out
