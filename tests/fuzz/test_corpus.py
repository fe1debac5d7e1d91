"""Every input of the corpus and every one that once brought out something wrong, without a fuzzer."""

from __future__ import annotations

from pathlib import Path

import pytest

from pdcheck.cli.commands import COMMANDS
from tests.fuzz.commands import USUAL
from tests.fuzz.judging import judged
from tests.fuzz.targets import TARGETS

HERE = Path(__file__).parent
INPUTS = sorted(path for kind in ("corpus", "found") for path in (HERE / kind).glob("*/*"))
SECONDS = 5.0


@pytest.mark.parametrize("path", INPUTS, ids=lambda path: "/".join(path.parts[-3:]))
def test_nothing_comes_out_that_may_not(path: Path) -> None:
    judged(TARGETS[path.parent.name], path.read_bytes(), SECONDS)


@pytest.mark.parametrize("name", TARGETS)
@pytest.mark.parametrize("data", [b"", b"\0", b"\xff" * 64], ids=["empty", "a zero byte", "ones"])
def test_the_least_that_there_is(name: str, data: bytes) -> None:
    judged(TARGETS[name], data, SECONDS)


def test_every_command_is_called() -> None:
    assert set(USUAL) == set(COMMANDS)


def test_every_target_has_a_corpus_and_every_input_a_target() -> None:
    assert {path.parent.name for path in INPUTS} == set(TARGETS)
