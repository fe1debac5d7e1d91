"""Every command with what it cannot read: exit 2, one line on standard error, nothing else, and soon."""

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S

DATA = Path(__file__).parents[2] / "pdcheck" / "data"
KIT, RIG = DATA / "kit.toml", DATA / "pier-box.toml"
MEGABYTES = 10_000_000

COMMANDS = {
    "decode": lambda it: ("decode", it),
    "decode --from hex": lambda it: ("decode", "--from", "hex", it),
    "decode --from label": lambda it: ("decode", "--from", "label", it),
    "encode": lambda it: ("encode", it),
    "cable": lambda it: ("cable", it),
    "pick --source": lambda it: ("pick", "--source", it, "--output", "12V@2A"),
    "pick --cable": lambda it: ("pick", "--source", "5V 3A", "--output", "5V@1A", "--cable", it),
    "pick --converter": lambda it: ("pick", "--source", "5V 3A", "--output", "5V@1A", "--converter", it),
    "pick --output": lambda it: ("pick", "--source", "5V 3A", "--output", it),
    "pick --kit": lambda it: ("pick", "--source", "wall-45", "--output", "5V@1A", "--kit", it),
    "check": lambda it: ("check", it),
    "check --kit": lambda it: ("check", RIG, "--kit", it),
    "check --source": lambda it: ("check", RIG, "--kit", KIT, "--source", it),
    "check --cable": lambda it: ("check", RIG, "--kit", KIT, "--cable", it),
    "rules": lambda it: ("rules", it),
}

SMALL = {
    "empty": b"",
    "blank": b" \n\t\n",
    "text": b"lorem ipsum dolor sit amet\n" * 3,
    "not UTF-8": b"5V 3A, gr\xfc\xdfe 9V",
    "UTF-16": "lorem ipsum".encode("utf-16"),
    "a mark of UTF-16": b"\xff\xfe",
    "a zero byte": b"a1 61\0 2c",
    "half a gzip": b"\x1f\x8b\x08garbage",
    "half a message": b"a161 2c91",
    "open lists": b"a = [[[[",
    "deep lists": b"a = " + b"[" * 5000 + b"]" * 5000,
    "deep tables": b"a = " + b"{ b = " * 3000 + b"1" + b" }" * 3000,
    "deep keys": b".".join([b"a"] * 20000) + b" = 1",
    "a long number": b"a = " + b"9" * 100_000,
    "escapes": b"\x1b[31mred\x1b]0;title\x07\n",
    "a key twice": b"title = 'a'\ntitle = 'b'\n",
    "an unknown key": b"tilte = 'a'\n",
    "brackets": b"{}[]()\n",
    "marks": b"?!$%&\n",
    "a lone surrogate": "\ud800".encode("utf-8", "surrogatepass"),
}


def _noise():
    dice = random.Random(20240502)
    printable = bytes(range(32, 127))
    line = bytes(dice.choices(printable, k=80))
    return {
        "printable noise": bytes(dice.choices(printable, k=100_000)) * (MEGABYTES // 100_000),
        "lines of noise": b"".join(bytes(dice.sample(line, 80)) + b"\n" for _ in range(500)) * (MEGABYTES // 40_500),
        "binary noise": dice.randbytes(MEGABYTES),
        "one line of hex": dice.randbytes(MEGABYTES // 2).hex().encode(),
        "pairs of hex": dice.randbytes(MEGABYTES // 3).hex(" ").encode(),
        "one digit": b"1" * MEGABYTES,
        "zeros": bytes(MEGABYTES),
        "blanks": b" " * MEGABYTES,
        "volts without end": b"5V " * (MEGABYTES // 3),
        "colons": b"12:" * (MEGABYTES // 3),
        "brackets": b"[" * MEGABYTES,
        "words without end": b"0x0801912C " * (MEGABYTES // 11),
    }


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("garbage")
    made = {}
    for number, (name, data) in enumerate([*SMALL.items(), *_noise().items()]):
        path = folder / f"file{number}"
        path.write_bytes(data)
        made.setdefault(name, path)
    return made | {
        "a directory": folder,
        "no such file": folder / "no-such.txt",
        "no such folder": "no-such-folder/rig.toml",
    }


NAMES = [*SMALL, *_noise(), "a directory", "no such file", "no such folder"]


@pytest.mark.parametrize("name", dict.fromkeys(NAMES))
@pytest.mark.parametrize("command", COMMANDS)
def test_files_that_cannot_be_read(refused, files, command, name):
    line = refused(*COMMANDS[command](files[name]))
    assert len(line) < 1000 and line.rstrip("\n").isprintable(), line


@pytest.mark.parametrize("data", SMALL.values(), ids=SMALL)
@pytest.mark.parametrize("command", ["decode", "encode", "cable", "pick --source"])
def test_the_same_on_standard_input(refused, command, data):
    refused(*COMMANDS[command]("-"), stdin=data)


TYPED = [
    "",
    " ",
    "hello",
    "?",
    "\x1b[31m",
    "\n",
    "-1",
    "9" * 5000,
    "NaN",
    "1e999",
    "@",
    "V@A",
    "12V@",
    "12V@2A@3A",
    "0V@0A",
    "12A@2A",
    "-12V@",
    "\u202eevil",
    "a\u0000b",
    "/" * 300,
    "x" * 300,
]


@pytest.mark.parametrize("text", TYPED, ids=[ascii(text)[:20] for text in TYPED])
@pytest.mark.parametrize("command", COMMANDS)
def test_words_that_say_nothing(refused, command, text):
    if text.startswith("-") and command in ("decode", "encode", "cable", "check", "rules"):
        pytest.skip("an option, refused as such elsewhere")
    line = refused(*COMMANDS[command](text))
    assert line.rstrip("\n").isprintable()


@pytest.mark.parametrize(
    "arguments",
    [
        ("decod", "a1"),
        ("decode",),
        ("decode", "--no-such", "a1"),
        ("decode", "--from", "cbor", "a1"),
        ("decode", "--request-as", "x", "a1"),
        ("encode",),
        ("encode", "--id", "9", "5V 3A"),
        ("encode", "--revision", "4", "5V 3A"),
        ("cable",),
        ("cable", "C-C", "--at", "3V"),
        ("cable", "C-C", "--at", "lots"),
        ("cable", "C-C", "--at", "-1A"),
        ("cable", "C-C", "--revision", "9"),
        ("pick",),
        ("pick", "--source", "5V 3A"),
        ("pick", "--output", "5V@1A"),
        ("pick", "--source", "5V 3A", "--output", "5V@1A", "--converter", "buck:6-36V:5A:92%:more"),
        ("pick", "--source", "5V 3A", "--output", "5V@1A", "--converter", "buck:36-6V"),
        ("pick", "--source", "5V 3A", "--output", "5V@1A", "--converter", "buck:6-36V:5A:120%"),
        ("check",),
        ("check", str(RIG), "extra"),
        ("check", str(KIT)),
        ("check", str(RIG), "--kit", str(RIG)),
        ("rules", "no-such-rule"),
        ("rules", "no-such-rule", "--json"),
        ("demo", "extra"),
        ("demo", "--copy", "/dev/null/x"),
        ("--no-such",),
    ],
    ids=" ".join,
)
def test_calls_that_are_none(refused, arguments):
    refused(*arguments)


def _rig(body):
    return f'[trigger]\nrequest = "9V"\n{body}'


BRANCH = '[[branch]]\nname = "x"\nload = "5W"\n'
KITTED = '[[source]]\nid = "s"\noffers = "5V 3A, 9V 3A"\n[[cable]]\nid = "c"\nkind = "C-C"\n'
BROKEN = {
    "two branches of one name": _rig(BRANCH + BRANCH + KITTED),
    "two sources of one id": _rig(BRANCH + KITTED + '[[source]]\nid = "s"\noffers = "5V 3A"\n'),
    "two cables of one id": _rig(BRANCH + KITTED + '[[cable]]\nid = "c"\nkind = "C-C"\n'),
    "unknown key": _rig(BRANCH + "colour = 'red'\n" + KITTED),
    "unknown table": _rig(BRANCH + KITTED + "[extra]\n"),
    "no branch": _rig(KITTED),
    "no trigger": BRANCH + KITTED,
    "a huge number": _rig(BRANCH.replace("5W", "1e400W") + KITTED),
    "a negative load": _rig(BRANCH.replace("5W", "-5W") + KITTED),
    "not a number": _rig(BRANCH.replace('"5W"', "nan") + KITTED),
    "infinity": _rig(BRANCH.replace('"5W"', "{ power = inf }") + KITTED),
    "a list for a load": _rig(BRANCH.replace('"5W"', "[1, 2]") + KITTED),
    "a date for a load": _rig(BRANCH.replace('"5W"', "2024-05-01") + KITTED),
    "volts for watts": _rig(BRANCH.replace('"5W"', '{ power = "5V" }') + KITTED),
    "two loads in one": _rig(BRANCH.replace('"5W"', '{ power = "5W", current = "1A" }') + KITTED),
    "escapes in an unknown key": _rig(BRANCH + '"\\u001b[31m" = 1\n' + KITTED),
    "escapes in a quantity": _rig(BRANCH.replace("5W", "\\u001b[31m5W") + KITTED),
    "offers of nothing": _rig(BRANCH + KITTED.replace("5V 3A, 9V 3A", "")),
    "offers of nonsense": _rig(BRANCH + KITTED.replace("5V 3A, 9V 3A", "5V 3A, 9V")),
    "request of nonsense": _rig(BRANCH + KITTED).replace('"9V"', '"lots"'),
    "a capture that is not there": _rig(BRANCH + KITTED.replace("offers", "capture")),
    "a capture that is a directory": _rig(BRANCH + KITTED.replace('offers = "5V 3A, 9V 3A"', 'capture = "."')),
}


@pytest.mark.parametrize("text", BROKEN.values(), ids=BROKEN)
def test_rig_files_with_a_mistake_name_file_and_line(refused, tmp_path, text):
    path = tmp_path / "rig.toml"
    path.write_text(text)
    line = refused("check", path)
    assert "rig.toml, line " in line or "capture" in text
    assert line.rstrip("\n").isprintable()


def test_a_file_that_may_not_be_read(refused, tmp_path):
    if os.geteuid() == 0:
        pytest.skip("root may read everything")
    path = tmp_path / "secret.toml"
    path.write_text("x")
    path.chmod(0)
    for command in ("decode", "cable", "check"):
        refused(*COMMANDS[command](path))


ESCAPES = "\\u001b[31mred\\u001b]0;title\\u0007\\u009b\\u202e"
DIRTY = _rig(
    BRANCH.replace('"x"', f'"{ESCAPES}"') + KITTED.replace('"s"', f'"{ESCAPES}"').replace('"c"', f'"{ESCAPES}"')
)


@pytest.mark.parametrize("more", [(), ("--brief",)])
def test_no_control_character_of_a_file_reaches_the_terminal(pdcheck, tmp_path, more):
    path = tmp_path / "rig.toml"
    path.write_text(f'title = "{ESCAPES}"\n{DIRTY}')
    outcome = pdcheck("check", path, *more)
    shown = outcome.out + outcome.err
    assert all(character == "\n" or character.isprintable() for character in shown), ascii(shown)


def test_json_keeps_what_the_file_says_without_raw_control_characters(pdcheck, tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(f'title = "{ESCAPES}"\n{DIRTY}')
    outcome = pdcheck("check", path, "--json")
    if outcome.code != 2:
        assert "\x1b" not in outcome.out and "\x07" not in outcome.out
        assert outcome.json["schema"] == "pdcheck/check/3"


SHELL = [sys.executable, "-m", "pdcheck"]


def _outside(*arguments, **more):
    environment = {**os.environ, **more.pop("environment", {})}
    return subprocess.run([*SHELL, *map(str, arguments)], capture_output=True, env=environment, check=False, **more)


CHECKED = ("check", RIG, "--kit", KIT)


@pytest.mark.parametrize("columns", [40, 60])
@pytest.mark.parametrize(
    "arguments",
    [
        ("demo",),
        CHECKED,
        (*CHECKED, "--source", "wall-45", "--cable", "thin-2m"),
        ("rules",),
        ("rules", "cable-current"),
        ("decode", "5V 3A, 9V 3A; PPS 3.3-11V 3A"),
        ("decode", "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"),
        ("cable", "C-C 5A 1m", "--at", "3A"),
        ("cable", "0xFF00A841 0x1860EE01 0x00000000 0x00020100 0x100A2643"),
        ("pick", "--source", "5V 3A, 9V 3A, 15V 3A", "--output", "12V@2A", "--converter", "buck-boost:6-36V:5A:92%"),
    ],
    ids=lambda arguments: " ".join(map(str, arguments))[:30],
)
def test_a_narrow_terminal(pdcheck, monkeypatch, columns, arguments):
    monkeypatch.setenv("COLUMNS", str(columns))
    outcome = pdcheck(*arguments)
    assert outcome.code in (0, 1) and outcome.out and not outcome.err
    # One word may be longer than the line, and so may a command to copy; nothing else is.
    for line in outcome.out.splitlines():
        assert len(line) <= columns or len(line.split()) == 1 or line.startswith("  pdcheck "), (len(line), line)


@pytest.mark.parametrize("arguments", [("demo",), CHECKED, (*CHECKED, "--json"), ("rules", "--json")])
def test_a_reader_that_goes_away(arguments):
    with subprocess.Popen([*SHELL, *map(str, arguments)], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        process.stdout.read(10)
        process.stdout.close()
        assert process.stderr.read() == b""
        # Ended by SIGPIPE, as the shell's own tools are, where it was not done by then.
        assert process.wait(PATIENCE_S) in (0, 1, -signal.SIGPIPE)


@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "1", "NO_COLOR": "1"}])
def test_a_pipe_gets_plain_text(environment):
    outcome = _outside("decode", "5V 3A, 9V 3A", environment=environment)
    assert outcome.returncode == 0
    assert b"\x1b" not in outcome.stdout


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_a_terminal_that_cannot_show_every_character(encoding):
    outcome = _outside(*CHECKED, environment={"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"})
    assert outcome.returncode in (0, 1) and not outcome.stderr


def test_standard_input_that_is_closed():
    outcome = subprocess.run(
        [*SHELL, "decode", "-"], stdin=subprocess.DEVNULL, capture_output=True, check=False, timeout=PATIENCE_S
    )
    assert outcome.returncode == 2 and outcome.stderr.count(b"\n") == 1
    closed = subprocess.run(
        ["/bin/sh", "-c", f"'{sys.executable}' -m pdcheck decode - <&-"],
        capture_output=True,
        check=False,
        timeout=PATIENCE_S,
    )
    assert closed.returncode == 2 and closed.stderr.count(b"\n") == 1 and b"Traceback" not in closed.stderr
