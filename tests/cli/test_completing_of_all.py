"""Every parameter of every command, completed on files of a stranger: nothing that a shell would act on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete

from pdcheck.cli import COMPLETING, group, run
from pdcheck.facts.characters import is_name
from tests.cli.calling import TREE, call_of, put_files
from tests.cli.test_shells import ACTING, written


def stranger(others: str) -> str:
    """A kit or rig whose every name and title is one that would act, but one of each kind."""
    tables = []
    for id in [*ACTING, "wall-45", "thin-2m"]:
        tables += [f'[[{each}]]\n{key} = "{written(id)}"\ntitle = "{written(id)}"\n{others}\n'
                   for each, key in (("source", "id"), ("cable", "id"), ("branch", "name"))]  # fmt: skip
    return "".join(tables)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    put_files(tmp_path)
    for name in ("kit.toml", "pier-box.toml"):
        Path(name).write_text(stranger('load = "1W"'), encoding="utf-8")
    monkeypatch.setenv(COMPLETING, "bash_complete")
    return tmp_path


def lines(name: str, command: click.Command) -> Iterator[tuple[list[str], str]]:
    """What may stand on a line before the word that Tab completes."""
    call = call_of(name)
    for at in range(len(name.split()), len(call) + 1):
        yield call[:at], ""
        yield call[:at], "w"
        yield call[:at], "-"
    for param in command.params:
        for option in param.opts if isinstance(param, click.Option) and not param.is_flag else ():
            for begun in ("", "w", "t", "$(", "\x1b"):
                yield [*call, option], begun
                yield call, f"{option}={begun}"


@pytest.mark.parametrize("name", TREE)
def test_no_candidate_acts(name: str) -> None:
    offered = set()
    for before, begun in lines(name, TREE[name]):
        for each in ShellComplete(group, {}, "pdcheck", COMPLETING).get_completions(before, begun):
            # Of files the shell gets back what is typed, and looks for them itself.
            assert each.type == "file" or is_name(each.value) or each.value.startswith("-"), (before, begun)
            assert each.type == "file" or str(each.value).isprintable()
            assert all(sign.isprintable() for sign in each.help or "")
            offered.add(str(each.value))
    ids = {"--kit", "--source"} <= {option for param in TREE[name].params for option in param.opts}
    assert not ids or "wall-45" in offered


@pytest.mark.parametrize("asked", ["bash_complete", "zsh_complete", "fish_complete"])
@pytest.mark.parametrize("words", [{}, {"COMP_WORDS": "pdcheck ch"}, {"COMP_CWORD": "1"}])
def test_completions_without_the_words_of_a_line_are_refused(
    asked: str, words: dict[str, str], monkeypatch: pytest.MonkeyPatch, refused: Callable[..., str]
) -> None:
    for name, value in (words | {COMPLETING: asked}).items():
        monkeypatch.setenv(name, value)
    assert "is not what a shell sets" in refused()


def test_the_place_of_the_word_is_a_number_but_for_the_shell_that_gives_the_word(
    monkeypatch: pytest.MonkeyPatch, refused: Callable[..., str]
) -> None:
    for name, value in {"COMP_WORDS": "pdcheck ch", "COMP_CWORD": "x", COMPLETING: "bash_complete"}.items():
        monkeypatch.setenv(name, value)
    assert "COMP_CWORD" in refused()
    monkeypatch.setenv(COMPLETING, "fish_complete")
    with pytest.raises(SystemExit) as left:
        run([])
    assert left.value.code == 0


@pytest.mark.parametrize("asked", ["1", "tcsh_source", "bash", "bash_complete_x", "\x1b[2J"])
def test_what_no_shell_asks_is_refused(
    asked: str, monkeypatch: pytest.MonkeyPatch, refused: Callable[..., str]
) -> None:
    monkeypatch.setenv(COMPLETING, asked)
    assert "is not what a shell sets" in refused()
