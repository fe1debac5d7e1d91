"""The shell completes commands, options, ids, names and files; a mistyped word is told with the one that was meant."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from pdcheck import cli
from pdcheck.cli import group, run
from pdcheck.cli.commands import COMMANDS, MEANT
from pdcheck.show.demo import copy_files
from tests.patience import PATIENCE_S

FILES = sorted(Path(cli.__file__).parent.glob("*.py"))


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    copy_files(".")
    return tmp_path


def offered(line: str) -> list[str]:
    """What is offered at the end of a line, as bash asks for it."""
    words = line.split(" ")
    asking = {"_PDCHECK_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(words) - 1)}
    done = subprocess.run(
        [sys.executable, "-c", "from pdcheck.cli import main; main()"],
        env=os.environ | asking,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    return done.stdout.split()


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("pdcheck bri", ["plain,bringup"]),
        ("pdcheck kit sh", ["plain,show"]),
        ("pdcheck check --br", ["plain,--brief"]),
        ("pdcheck check pi", ["file,pi"]),
        ("pdcheck decode --from l", ["plain,label"]),
        ("pdcheck check pier-box.toml --kit ki", ["file,ki"]),
        ("pdcheck check pier-box.toml --kit kit.toml --source w", ["plain,wall-45"]),
        ("pdcheck check pier-box.toml --kit kit.toml --cable e", ["plain,epr-1m"]),
        ("pdcheck check pier-box.toml --kit none.toml --source w", []),
        ("pdcheck pick --kit kit.toml --source bo", ["plain,board-27"]),
        ("pdcheck bringup pier-box.toml --kit kit.toml --source de", ["plain,desk-65"]),
        ("pdcheck kit show kit.toml ol", ["plain,old-18"]),
        ("pdcheck kit remove kit.toml --cable dr", ["plain,drawer"]),
        ("pdcheck report pier-box.toml -o pa", ["file,pa"]),
        ("pdcheck settings --kit kit.toml --cable a-", ["plain,a-to-c"]),
        ("pdcheck audit cap --as wa", []),
        ("pdcheck envelope pier-box.toml --branch d", ["plain,dew-heater"]),
        ("pdcheck rules cable-cur", ["plain,cable-current"]),
        ("pdcheck schema rig", ["plain,rig-file"]),
        ("pdcheck chekc --so", []),
    ],
)
def test_what_the_shell_offers(line: str, expected: list[str]) -> None:
    assert offered(line) == expected


def test_ids_of_a_kit_inside_of_a_rig_are_offered() -> None:
    text = Path("pier-box.toml").read_text() + '\n[[source]]\nid = "inside"\noffers = "5V 3A"\n'
    Path("both.toml").write_text(text)
    assert offered("pdcheck check both.toml --source in") == ["plain,inside"]


def test_all_commands_are_offered_without_loading_any() -> None:
    code = "import pdcheck.cli, sys; ctx = pdcheck.cli.click.Context(pdcheck.cli.group)\n"
    code += "print(*(each.value for each in pdcheck.cli.group.shell_complete(ctx, '')))\n"
    code += "print(*(name for name in sys.modules if name.startswith('pdcheck.cli.')))"
    lines = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.splitlines()
    assert lines[0].split() == list(COMMANDS)
    assert set(lines[1].split()) == {f"pdcheck.cli.{each}" for each in ("commands", "streams")}


def test_every_file_with_a_command_is_one_of_the_commands() -> None:
    files = [path.stem for path in FILES if re.search(r"\n(def )?command\b", path.read_text(encoding="utf-8"))]
    assert sorted(files) == sorted(COMMANDS), (
        "a command's file begins with ``pdcheck NAME``: its help, and below an empty line Meant by: words."
    )


COMPLETE_IN = {
    "bash": """
eval "$(_PDCHECK_COMPLETE=bash_source pdcheck)"
COMP_WORDS=(pdcheck check pier-box.toml --kit kit.toml --source w); COMP_CWORD=6
_pdcheck_completion pdcheck; echo "${COMPREPLY[@]}"
""",
    "fish": """
_PDCHECK_COMPLETE=fish_source pdcheck | source
complete -C "pdcheck check pier-box.toml --kit kit.toml --source w"
""",
    "zsh": """
autoload -Uz compinit && compinit -u -D
eval "$(_PDCHECK_COMPLETE=zsh_source pdcheck)"
compadd() { local each; for each in "$@"; do print -- "$each ${(P)each}"; done }
_describe() { compadd "$@" }
words=(pdcheck check pier-box.toml --kit kit.toml --source w); CURRENT=7
_pdcheck_completion
""",
}


@pytest.mark.parametrize("shell", COMPLETE_IN)
def test_completion_in_the_shell_itself(shell: str, folder: Path) -> None:
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed")
    tools = folder / "bin"
    tools.mkdir()
    (tools / "pdcheck").write_text(f'#!/bin/sh\nexec {sys.executable} -m pdcheck "$@"\n')
    (tools / "pdcheck").chmod(0o755)
    environment = os.environ | {"PATH": f"{tools}:{os.environ['PATH']}", "HOME": str(folder)}
    done = subprocess.run(
        [shell, "-c", COMPLETE_IN[shell]],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )
    assert "wall-45" in done.stdout, done.stderr
    assert "board-27" not in done.stdout


@pytest.mark.parametrize(
    ("arguments", "meant"),
    [
        (["chekc"], "did you mean check"),
        (["kit", "remvoe"], "did you mean remove"),
        (["check", "pier-box.toml", "--sorce", "x"], "--source"),
        (["check", "pier-box.toml", "--kit", "kit.toml", "--source", "wal-45"], "expected wall-45"),
        (["check", "pier-box.toml", "--kit", "kit.toml", "--cable", "thin2m"], "expected thin-2m"),
        (["kit", "show", "kit.toml", "thin2m"], "expected thin-2m"),
        (["bringup", "pier-box.toml", "--kit", "kit.toml", "--source", "desk65"], "expected desk-65"),
        (["rules", "cable-curent"], "expected cable-current"),
        (["schema", "rigfile"], "expected rig-file"),
        (["decode", "5V 3A", "--from", "lable"], "label"),
        (["envelope", "pier-box.toml", "--kit", "kit.toml", "--branch", "mont"], "mount"),
        (["new", "x.toml", "--yes", "--load", "curent"], "expected current"),
    ],
)
def test_a_mistyped_word_is_told_with_the_one_that_was_meant(
    capsys: pytest.CaptureFixture[str], arguments: list[str], meant: str
) -> None:
    assert run(arguments) == 2
    error = capsys.readouterr().err
    assert meant in error
    assert len(error.splitlines()) == 1


def test_a_mistyped_key_is_told_with_the_one_that_was_meant(capsys: pytest.CaptureFixture[str]) -> None:
    Path("box.toml").write_text(Path("pier-box.toml").read_text().replace("fallback", "falback"))
    assert run(["check", "box.toml", "--kit", "kit.toml"]) == 2
    assert "unknown key 'falback'; expected fallback" in capsys.readouterr().err


RIG = """title = "T"
[trigger]
{trigger}
[[branch]]
name = "m"
converter = {{ kind = "buck", input = "6V-36V", output = "5V", {converter} }}
load = {{ power = "5W" }}
"""


@pytest.mark.parametrize(
    ("trigger", "converter", "told"),
    [
        ('request = "9V"', "efficiency = 92", "efficiency: 92 is not an efficiency: write 92% or 0.92"),
        ('request = "9V"', 'efficiency = "92"', "efficiency: 92 is not an efficiency: write 92% or 0.92"),
        ('reqest = "9V"', 'efficiency = "92%"', "line 3: trigger.reqest: unknown key 'reqest'; expected request\n"),
        ('request = "9V"', 'eficiency = "92%"', "unknown key 'eficiency'; expected efficiency\n"),
        ('request = "9V"', 'length = "1m"', "unknown key 'length'; expected one of: "),
        ("request = 9V", 'efficiency = "92%"', "line 3: '9V' without quotes; expected request = \"9V\"\n"),
        (
            'request = "9V"',
            "input_limit = 2000",
            "2000 is out of range; expected 0 A to 1000 A, with its unit, as in 3",
        ),
        ('request = "9V"\nefficiency = "92%"', 'idle = "0.3W"', "unknown key 'efficiency'; expected "),
    ],
)
def test_a_slip_in_a_file_says_what_to_type(
    trigger: str, converter: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("box.toml").write_text(RIG.format(trigger=trigger, converter=converter))
    assert run(["check", "box.toml", "--kit", "kit.toml"]) == 2
    error = capsys.readouterr().err
    assert told in error and error.count("\n") == 1


def test_one_mistake_has_one_wording(capsys: pytest.CaptureFixture[str]) -> None:
    """An efficiency without its sign: in a file, for 'new', 'pick' and a rig without a file."""
    said = "92 is not an efficiency: write 92% or 0.92"
    Path("box.toml").write_text(RIG.format(trigger='request = "9V"', converter="efficiency = 92"))
    through = ("--output", "5V@1A", "--converter", "buck:6-36V:5A:92")
    for arguments in (
        ["check", "box.toml", "--kit", "kit.toml"],
        ["new", "x.toml", "--yes", "--efficiency", "92"],
        ["pick", "--source", "5V 3A", *through],
        ["check", "--source", "5V 3A", *through],
    ):
        assert run(arguments) == 2
        assert said in capsys.readouterr().err


def test_a_key_at_the_top_that_belongs_to_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    Path("box.toml").write_text('request = "9V"\n[[branch]]\nname = "x"\nload = "5W"\n')
    assert run(["check", "box.toml", "--kit", "kit.toml"]) == 2
    assert "line 1: request: unknown key 'request'; expected it in [trigger]" in capsys.readouterr().err
    Path("my.toml").write_text('[[source]]\nid = "a"\noffer = "5V 3A"\n')
    assert run(["kit", "list", "my.toml"]) == 2
    assert "line 3: source.offer: unknown key 'offer'; expected offers" in capsys.readouterr().err


def test_a_title_may_have_emoji(capsys: pytest.CaptureFixture[str]) -> None:
    title = "Pier \U0001f52d\U0001f469\u200d\U0001f680 \u2600\ufe0f"
    text = RIG.format(trigger='request = "9V"', converter='efficiency = "92%"').replace('"T"', f'"{title}"')
    Path("box.toml").write_text(text, encoding="utf-8")
    assert run(["draw", "box.toml", "--source", "5V 3A, 9V 3A"]) in (0, 1)
    assert title in capsys.readouterr().out
    assert run(["new", "x.toml", "--yes", "--title", title]) == 0


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("buy", "need"), ("verify", "check"), ("charger", "decode"), ("chargers", "decode"), ("volts", "pick"),
        ("heat", "check"), ("compare", "matrix"), ("unplug", "change"), ("inrush", "transient"), ("measure", "bringup"),
        ("help", "--help"), ("usb", "decode"), ("Battery", "runtime"), ("schematic", "draw"), ("wires", "wire"),
    ],
)  # fmt: skip
def test_a_word_that_people_type_leads_to_the_command(
    word: str, meant: str, capsys: pytest.CaptureFixture[str]
) -> None:
    if word in COMMANDS:
        pytest.skip("a command of its own")
    assert run([word]) == 2
    assert f"did you mean {meant}" in capsys.readouterr().err


def test_every_word_leads_to_a_command() -> None:
    # A word may stand in one file alone: the second would take it from the first.
    words = [word for path in FILES for word in re.findall(r"\nMeant by: (.*)\.\n", path.read_text("utf-8"))]
    said = " ".join(words).split()
    assert len(said) == len(set(said)) and set(said) - set(COMMANDS) == set(MEANT)
    assert set(MEANT.values()) == set(COMMANDS)


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_help_has_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([command, "--help"]) == 0
    assert f"\n  pdcheck {command}" in capsys.readouterr().out
    assert group.get_command(None, command) is not None  # type: ignore[arg-type]


ACTING = [
    "w$(touch${IFS}X)",
    "w;touch X",
    "w&touch X",
    "w|x",
    "w>X",
    "w`x`",
    "w\x1b]0;title\x07",
    "w\nv",
    "w v",
    "w*",
    "w{a,b}",
]
"""Ids that a shell or a terminal would act on [POSIX Shell Command Language, 2.2: characters to be quoted]."""


@pytest.mark.parametrize("id", ACTING)
def test_an_id_that_would_act_is_neither_read_nor_completed(id: str, capsys: pytest.CaptureFixture[str]) -> None:
    written = "".join(f"\\u{ord(each):04x}" for each in id)
    Path("bad.toml").write_text(
        f'[[source]]\nid = "{written}"\noffers = "5V 3A"\n\n[[source]]\nid = "wall"\noffers = "5V 3A"\n'
    )
    assert offered("pdcheck check pier-box.toml --kit bad.toml --source w") == ["plain,wall"]
    assert run(["kit", "list", "bad.toml"]) == 2
    told = capsys.readouterr().err
    assert "is not a name" in told and told.count("\n") == 1 and told.rstrip("\n").isprintable()


def test_ids_that_look_the_same_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    for other in ("w\u0430ll", "wall\u0301", "wa\u006cl"):
        first = "wall" if other != "wall\u0301" else "wal\u013a"
        text = "".join(f'[[source]]\nid = "{id}"\noffers = "5V 3A"\n' for id in (first, other))
        Path("two.toml").write_text(text, encoding="utf-8")
        assert run(["kit", "list", "two.toml"]) == 2
        assert "source" in capsys.readouterr().err


def test_a_line_to_paste_runs_nothing_but_itself(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["demo", "--copy", "a b;touch X"]) == 0
    line = next(line for line in capsys.readouterr().out.splitlines() if "pdcheck check" in line)
    said = subprocess.run(
        ["sh", "-c", line.replace("pdcheck", "printf '%s\\n'", 1)], capture_output=True, text=True, check=True
    )
    assert "a b;touch X/pier-box.toml" in said.stdout.splitlines() and not Path("X").exists()


def test_helps_list_the_commands_in_the_order_of_the_readme(capsys: pytest.CaptureFixture[str]) -> None:
    readme = (Path(cli.__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    rows = [line.split("|")[2] for line in readme.splitlines() if line.startswith("| ") and line.count("|") == 4]
    named = [word for row in rows for word in re.findall(r"`(\w+)`", row) if word in COMMANDS]
    told = "the table of README.md names each command, in the order of FIRST in pdcheck/cli/commands.py, others behind"
    assert list(COMMANDS) == list(dict.fromkeys(named)), told
    assert run(["--help"]) == 0
    told = capsys.readouterr().out
    listed = [line.split()[0] for line in told.partition("Commands:")[2].splitlines() if line[2:3].strip()]
    assert listed == list(COMMANDS)


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_help_says_its_defaults(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = group.get_command(None, command)  # type: ignore[arg-type]
    assert found is not None and run([command, "--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    for option in found.params:
        if isinstance(option, click.Option) and isinstance(option.default, str) and not option.is_flag:
            assert f"default: {option.default}]" in told or "flag_value" in vars(option), option.name


def test_fish_shows_whole_descriptions(folder: Path) -> None:
    asking = {"_PDCHECK_COMPLETE": "fish_complete", "COMP_WORDS": "pdcheck ", "COMP_CWORD": ""}
    done = subprocess.run(
        [sys.executable, "-m", "pdcheck"], env=os.environ | asking, capture_output=True, text=True, check=False
    )
    told = dict(line.removeprefix("plain,").split("\t", 1) for line in done.stdout.splitlines() if "\t" in line)
    assert told.items() >= COMMANDS.items()


def on_a_terminal(*arguments: str, **environment: str) -> str:
    """What a command prints on a terminal of 80 columns."""
    import pty

    ours, theirs = pty.openpty()
    kept = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "COLUMNS", "TERM")}
    with subprocess.Popen(
        [sys.executable, "-m", "pdcheck", *arguments], stdout=theirs, stdin=theirs, stderr=theirs,
        env=kept | {"COLUMNS": "80", "TERM": "xterm"} | environment,
    ) as process:  # fmt: skip
        os.close(theirs)
        told = b""
        while True:
            try:
                piece = os.read(ours, 4096)
            except OSError:  # the other end is closed
                break
            if not piece:
                break
            told += piece
        process.wait()
    os.close(ours)
    return told.decode()


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such terminals")
def test_the_verdict_is_bold_on_a_terminal_and_nowhere_else(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ("check", "pier-box.toml", "--kit", "kit.toml", "--source", "wall-45", "--cable", "thin-2m")
    assert "\x1b[1mRUNS\x1b[0m" in on_a_terminal(*asked)
    assert "\x1b" not in on_a_terminal(*asked, NO_COLOR="1")
    run(list(asked))
    assert "\x1b" not in capsys.readouterr().out


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such terminals")
def test_a_complaint_on_a_terminal_fits_it() -> None:
    told = on_a_terminal("check", "no-such-rig-file.toml", COLUMNS="40").splitlines()
    assert len(told) > 1 and max(map(len, told)) <= 40
