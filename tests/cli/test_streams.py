"""Exit codes keep their meaning whatever becomes of the streams; nothing that is read or is no plain file is lost."""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path
from unittest.mock import patch

import pydantic
import pytest

from pdcheck.cli import run
from pdcheck.errors import InputError
from pdcheck.intake.several import several
from pdcheck.show.demo import copy_files
from tests.patience import PATIENCE_S

pytestmark = pytest.mark.skipif(os.name != "posix", reason="streams are closed by the shell of POSIX")
BEGIN = """
from pdcheck.__main__ import main
sys.addaudithook(lambda event, given: print(1, flush=True) if given[:1] == ("pdcheck.cli",) else None)
main()
"""
"""Says so when the program has begun: what comes before is the interpreter's own start."""
CHECK = "check pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    copy_files(".")
    return tmp_path


def shell(line: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """A line of the shell with ``pdcheck`` in it, as a person would run it."""
    begin = f'pdcheck() {{ "{sys.executable}" -m pdcheck "$@"; }}\n'
    return subprocess.run(
        ["bash", "-c", begin + line], capture_output=True, env=os.environ | environment, check=False, timeout=PATIENCE_S
    )


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (f"pdcheck {CHECK} > /dev/full", 2),
        (f"pdcheck {CHECK} --json > /dev/full", 2),
        ("pdcheck --help > /dev/full", 2),
        (f"pdcheck {CHECK} >&-", 2),
        ("pdcheck decode - <&-", 2),
        ("pdcheck decode - 0> written", 2),
        ("pdcheck cable - <&-", 2),
        ("pdcheck new n.toml <&-", 2),
        ("printf '\\xff\\xff' | pdcheck decode -", 2),
        ("mkdir g; cd g; rmdir ../g; pdcheck new n.toml --yes 2>&1 | grep -v getcwd >&2; exit ${PIPESTATUS[0]}", 2),
    ],
)
def test_what_the_streams_refuse_is_one_line_and_two(line: str, code: int) -> None:
    done = shell(line)
    told = done.stderr.decode()
    assert done.returncode == code, told
    assert told.startswith("pdcheck: ") and told.count("\n") == 1


@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("call", [CHECK, f"{CHECK} --json", "schema check", "--help", "demo", "rules"])
def test_an_answer_of_which_the_disk_takes_a_part_is_no_answer(call: str, unbuffered: str) -> None:
    done = shell(f"ulimit -f 1; pdcheck {call} > written", PYTHONUNBUFFERED=unbuffered)
    assert done.returncode == 2
    assert done.stderr == b"pdcheck: standard output: file too large; the answer could not be written\n"


def test_the_code_is_the_verdict_where_nobody_hears_of_it() -> None:
    whole = shell(f"pdcheck {CHECK} 2>&1; echo $?").stdout.decode().split()[-1]
    assert shell(f"pdcheck {CHECK} 2>&-; echo $?").stdout.decode().split()[-1] == whole
    assert shell("pdcheck check none.toml 2> /dev/full").returncode == 2
    page = f"pdcheck report {CHECK.removeprefix('check ')} -o page.html"
    assert shell(f"{page} 2> /dev/full").returncode == int(whole)


def test_a_reader_that_left_ends_the_program_as_it_does_the_shells_own() -> None:
    Path("log.txt").write_text("1.0 SOP 6111 2c910108 5cb81f2e\n" * 3000)
    ours = shell("pdcheck decode log.txt --jsonl | true; echo ${PIPESTATUS[0]}")
    theirs = shell("yes | true; echo ${PIPESTATUS[0]}")
    assert (ours.stdout, ours.stderr) == (theirs.stdout, b"") and ours.stdout == b"141\n"


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_signal_ends_it_without_a_word(name: str) -> None:
    number = getattr(signal, name)
    started = subprocess.Popen(
        [sys.executable, "-m", "pdcheck", "decode", "-", "--jsonl"],
        stdin=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert started.stdin is not None and started.stdout is not None
    # The unit of the times shows with the second message.
    started.stdin.write(b"1.0 SOP 6111 2c910108 5cb81f2e\n1.1 SOP 6113 2c910108 3cebdf54\n")
    started.stdin.flush()
    started.stdout.readline()
    started.send_signal(number)
    _, told = started.communicate(timeout=PATIENCE_S)
    assert (started.returncode, told) == (-number, b"")


@pytest.mark.skipif(
    tuple(map(int, pydantic.VERSION.split(".")[:2])) < (2, 10),
    reason="pydantic's own core panics while it builds a validator",
)
def test_an_interrupt_at_any_moment_leaves_no_traceback() -> None:
    for at in range(12):
        started = subprocess.Popen(
            [
                sys.executable,
                "-S",
                "-c",
                f"import sys; sys.path[:] = {sys.path!r}\n{BEGIN}",
                "demo",
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        assert started.stdout is not None
        started.stdout.readline()
        time.sleep(0.012 * at)
        started.send_signal(signal.SIGINT)
        _, told = started.communicate(timeout=PATIENCE_S)
        assert b"Traceback" not in told and started.returncode in (130, -signal.SIGINT, 0)


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-16", "latin-1", "utf-8"])
def test_documents_are_utf_8_in_any_locale(encoding: str) -> None:
    Path("kit2.toml").write_text('[[source]]\nid = "größe"\ntitle = "µ 🔌"\noffers = "5V 3A"\n', encoding="utf-8")
    done = shell("pdcheck kit list kit2.toml --json", PYTHONIOENCODING=encoding, LC_ALL="C")
    source = json.loads(done.stdout.decode("utf-8"))["sources"][0]
    assert (source["id"], source["title"]) == ("größe", "µ 🔌")


def test_a_file_in_utf_16_with_its_mark_is_read() -> None:
    for name in ("pier-box.toml", "kit.toml"):
        Path(name).write_text(Path(name).read_text(encoding="utf-8"), encoding="utf-16")
    Path("label.txt").write_text("5V 3A, 9V 3A", encoding="utf-16")
    assert shell(f"pdcheck {CHECK}").returncode in (0, 1)
    assert shell("pdcheck decode label.txt").returncode == shell("pdcheck decode - < label.txt").returncode == 0


REPORT = ["report", "pier-box.toml", "--kit", "kit.toml"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([*REPORT, "--svg", "pier-box.toml"], "is read by this command"),
        ([*REPORT, "--png", "link.toml"], "is read by this command"),
        ([*REPORT, "-o", "kit.toml", "--replace"], "is read by this command"),
        ([*REPORT, "-o", "notes.txt"], "is there already and is not a page"),
        ([*REPORT, "--svg", "two", "--png", "./two"], "two outputs of one name"),
        ([*REPORT, "--json", "-o", "-"], "two outputs of one name"),
        (["talk", *REPORT[1:], "--source", "wall-45", "--cable", "thin-2m", "--log", "kit.toml"], "is read by this"),
        (["encode", "5V 3A", "--wave", "folder/"], "is the name of a folder"),
        (["encode", "5V 3A", "--wave", "loop"], "is a loop of links"),
        (["encode", "5V 3A", "--wave", "hard"], "has 2 names"),
        (["encode", "5V 3A", "--wave", "fixed"], "is read-only"),
        (["encode", "5V 3A", "--wave", "pipe"], "is a pipe that nobody reads"),
        (["encode", "5V 3A", "--wave", "notes.txt"], "is not a VCD waveform"),
    ],
)
def test_nothing_is_lost_by_writing(arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("notes.txt").write_text("mine")
    Path("link.toml").symlink_to("kit.toml")
    Path("loop").symlink_to("loop2")
    Path("loop2").symlink_to("loop")
    Path("first").write_text("mine")
    Path("hard").hardlink_to("first")
    Path("fixed").write_text("$end")
    Path("fixed").chmod(0o444)
    os.mkfifo("pipe")
    before = {path.name: path.read_bytes() for path in Path().iterdir() if path.is_file()}
    assert run(arguments) == 2
    assert told in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in Path().iterdir() if path.is_file()} == before
    assert stat.S_ISFIFO(Path("pipe").stat().st_mode)


def test_what_was_written_before_is_written_again_and_a_device_is_written_into() -> None:
    for name in ("one.vcd", "one.vcd", "/dev/null"):
        assert run(["encode", "5V 3A", "--wave", name]) == 0
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode) and Path("one.vcd").read_text().startswith("$")
    Path("notes.txt").write_text("mine")
    assert run(["encode", "5V 3A", "--wave", "notes.txt", "--replace"]) == 0


def test_a_folder_that_somebody_holds_and_a_pipe_that_nobody_writes_end_the_wait() -> None:
    held = shell(
        "flock . sleep 20 & sleep 0.2; pdcheck kit add kit.toml --source more '5V 3A'; code=$?; kill %1; exit $code"
    )
    lines = held.stderr.decode().splitlines()
    assert held.returncode == 2 and "waiting for another program" in lines[0] and "(process " in lines[0]
    os.mkfifo("pipe")
    assert b"nothing came through" in shell("pdcheck check pipe --kit kit.toml").stderr
    assert shell("pdcheck check <(cat pier-box.toml) --kit <(cat kit.toml)").returncode in (0, 1)


def _die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def test_a_process_that_is_killed_ends_the_wait() -> None:
    with pytest.raises(InputError, match="took part in the work"), several(2, print) as workers:
        workers.take(_die).result()


def test_work_that_cannot_be_handed_over_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temporary"))
    Path("temporary").mkdir()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pickle.dump", full)
    with pytest.raises(OSError, match="No space"), several(2, print):
        pass
    assert not list(Path("temporary").iterdir())


def test_a_script_without_a_main_guard_asks_one_process_and_gets_a_complaint_for_more() -> None:
    rig = "Rig(trigger='9V', branch=[{'name': 'fan', 'load': '5W'}])"
    kit = "Kit(source=[{'id': f's{at}', 'offers': '5V 3A, 9V 3A'} for at in range(90)], "
    kit += "cable=[{'id': f'c{at}', 'kind': 'C-C'} for at in range(60)])"
    for asked, code in (("", 0), (", processes=2", 1)):
        Path("script.py").write_text(
            f"from pdcheck import Kit, Rig, matrix\nprint(len(matrix({rig}, {kit}{asked}).cells))\n"
        )
        done = subprocess.run([sys.executable, "script.py"], capture_output=True, check=False, timeout=PATIENCE_S)
        assert done.returncode == code, done.stderr
        assert (done.stdout.strip() == b"5400") == (code == 0)


@pytest.mark.parametrize("number", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_that_comes_where_nothing_can_be_raised_ends_it_a_moment_later(number: str) -> None:
    script = f"""
import os, signal, time
from pdcheck.cli.streams import Ended, heed_signals

class Last:
    def __del__(self):
        os.kill(os.getpid(), signal.{number})
        time.sleep(0.01)

heed_signals()
try:
    last = Last()
    del last
    for _ in range(6000):
        time.sleep(0.01)
except (KeyboardInterrupt, Ended):
    print("in order")
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=False, timeout=PATIENCE_S)
    assert (done.stdout.split(), done.stderr, done.returncode) == ([b"in", b"order"], b"", 0)


@pytest.mark.parametrize(
    "error", [ImportError("\n\nIMPORTANT\nmore"), ImportError("lib.so: failed to map segment"), SystemError()]
)
def test_a_library_that_cannot_be_loaded_is_no_verdict(error: Exception, capsys: pytest.CaptureFixture[str]) -> None:
    """As where the system allows too little memory for one: what the interpreter is told of, the user is."""
    with patch("pdcheck.cli.import_module", side_effect=error):
        assert run(CHECK.split()) == 2
    told = capsys.readouterr()
    assert not told.out and told.err.count("\n") == 1 and "could not be loaded" in told.err
