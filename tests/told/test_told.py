"""What people are told, kept as text: findings of every rule and what the commands print of rigs unlike the demo's.

The numbers in it are held by other tests, against sums from outside; here a word, a unit or a line that goes missing is
seen. ``python -m tests.told.test_told`` writes the present text; read the difference before you keep it.
"""

from __future__ import annotations

import shlex
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from pdcheck.verdict.finding import Finding
from tests.conftest import call
from tests.contract.test_audit_rules import FAULTS, MORE
from tests.told import sheets
from tests.verdict.test_rules_each import CASES

HERE = Path(__file__).parent
RIGS = HERE / "rigs"
KIT = HERE.parent.parent / "pdcheck" / "data" / "kit.toml"

COMMANDS = {
    "lanterns": [
        "check RIG --kit KIT --source bank-60 --cable short-5a",
        "check RIG --kit KIT --source old-18 --cable thin-2m",
        "change RIG --kit KIT --source bank-60 --cable short-5a",
        "bringup RIG --kit KIT --source bank-60 --cable short-5a",
        "settings --kit KIT --source bank-60 --cable short-5a",
        "envelope RIG --kit KIT --source desk-65 --cable thin-2m",
    ],
    "rover": [
        "check RIG --kit KIT --source wall-45 --cable short-5a",
        "check RIG --kit KIT --source tower-100 --cable short-5a",
        "check RIG --kit KIT --source old-18 --cable a-to-c",
        "check RIG --kit KIT --brief",
        "change RIG --kit KIT --source wall-45 --cable short-5a --to 9V",
        "bringup RIG --kit KIT --source wall-45 --cable short-5a",
        "bringup RIG --kit KIT --source wall-45 --cable short-5a --toml -",
        "envelope RIG --kit KIT --source wall-45 --cable short-5a",
        "talk RIG --kit KIT --source wall-45 --cable short-5a",
    ],
    "amplifier": [
        "check RIG --kit KIT --source wall-45 --cable drawer",
        "check RIG --kit KIT --source board-27",
        "change RIG --kit KIT --source wall-45 --cable drawer --to 20W",
        "change RIG --kit KIT --source wall-45 --cable drawer --to unplug",
        "bringup RIG --kit KIT --source wall-45 --cable thin-2m --toml -",
        "pick --kit KIT --source wall-45 --cable drawer --output 9V@2A",
        "talk RIG --kit KIT --source wall-45 --cable drawer --until 22s --states",
        "need RIG",
    ],
    "winch": [
        "check RIG --kit KIT --source brick-140 --cable epr-1m",
        "check RIG --kit KIT --source brick-140 --cable drawer",
        "change RIG --kit KIT --source brick-140 --cable epr-1m --to 20V",
        "bringup RIG --kit KIT --source brick-140 --cable epr-1m",
        "pick --kit KIT --source brick-140 --cable epr-1m --output 24V@4A --converter buck:12V-30V:5A:0.94",
        "talk RIG --kit KIT --source brick-140 --cable epr-1m",
        "need RIG",
    ],
    "pond": [
        "transient RIG --kit KIT --source bank-60 --cable short-5a",
        "transient RIG --kit KIT --source bank-60 --cable short-5a --event 'load pump off at 0s' "
        "--event 'join sensor at 700ms'",
        "transient RIG --kit KIT --source old-18 --cable thin-2m --until 500ms",
        "transient RIG --kit KIT --source old-18 --cable a-to-c --until 500ms",
        "transient RIG --kit KIT --source bank-60 --cable short-5a --event 'fetch water at 1s'",
    ],
    "beacon": [
        "check RIG --kit KIT --source tower-100 --cable short-5a",
        "check RIG --kit KIT --source old-18 --cable a-to-c",
        "change RIG --kit KIT --source tower-100 --cable short-5a",
        "bringup RIG --kit KIT --source tower-100 --cable short-5a",
        "envelope RIG --kit KIT --source tower-100 --cable short-5a",
    ],
}


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:.5g}"


def _lines(findings: Iterable[Finding]) -> Iterable[str]:
    for each in findings:
        against = f"{_figure(each.value)} against {_figure(each.limit)} {each.unit}".strip()
        yield f"{each.level} {each.rule}: {each.subject}: {against} [{each.origin}]"
        yield f"    {each.text}"
        yield f"    -> {each.advice}"


def _rules() -> str:
    told = []
    for name, pair in sorted(CASES.items()):
        for which, make in zip(("broken", "kept"), pair, strict=True):
            judgement = make()
            told += [f"== {name}, {which}: {judgement.verdict}", *_lines(judgement.findings)]
    return "\n".join(told) + "\n"


def _audits() -> str:
    talks = [(f"{number} {rule}", make) for number, (rule, _, make) in enumerate(FAULTS)]
    talks += [(name, make) for name, _, make in MORE]
    told = []
    for name, make in talks:
        remarks = make().judge().remarks
        told.append(f"== {name}")
        for remark in remarks:
            told += [f"message {remark.number}, {_figure(remark.time_s)} s", *_lines([remark.finding])]
    return "\n".join(told) + "\n"


def _commands(rig: str) -> str:
    told = []
    with tempfile.TemporaryDirectory() as folder:
        # Under a name without a folder, since the text tells of files.
        here = Path(folder)
        (here / "rig.toml").write_bytes((RIGS / f"{rig}.toml").read_bytes())
        for command in COMMANDS[rig]:
            words = [{"RIG": str(here / "rig.toml"), "KIT": str(KIT)}.get(word, word) for word in shlex.split(command)]
            done = call(*words)
            text = (done.out + done.err).replace(str(here / "rig.toml"), "RIG").replace(str(KIT), "KIT")
            told += [f"$ {command}", text + f"[exit code {done.code}]", ""]
    return "\n".join(told)


PAGES: dict[str, Callable[[], str]] = {"rules": _rules, "audits": _audits, "sheets": sheets.page}
PAGES |= {rig: lambda rig=rig: _commands(rig) for rig in COMMANDS}  # type: ignore[misc]


@pytest.mark.parametrize("page", PAGES)
def test_people_are_told_what_they_were(page: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("NO_COLOR", "1")
    assert PAGES[page]() == (HERE / f"{page}.txt").read_text(encoding="utf-8"), "anew: python -m tests.told.test_told"


if __name__ == "__main__":
    import os

    os.environ |= {"COLUMNS": "100", "NO_COLOR": "1"}
    for name, make in PAGES.items():
        (HERE / f"{name}.txt").write_text(make(), encoding="utf-8")
