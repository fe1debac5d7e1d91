"""Questions on the terminal: asked until the answer can be read, every answer kept in a draft file at once."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pdcheck.errors import InputError

if TYPE_CHECKING:
    from pdcheck.parts.rig_questions import Question


BACK = "<"
"""What takes one a step back: no name, figure or title is that."""


def draft_path(target: Path) -> Path:
    """Where the answers for a file are kept until it is written.

    >>> draft_path(Path("boxes/pier-box.toml")).name
    'pier-box.draft.toml'
    """
    return target.with_name(f"{target.stem}.draft.toml")


_MARK = "# Answers so far; the same command goes on from here, and takes this file away at the end."
"""What a draft begins with: a file of its name that does not is somebody's own."""


def is_draft(path: Path) -> bool:
    """Whether answers are kept in a file."""
    try:
        return path.is_file() and path.read_bytes()[: len(_MARK)] == _MARK.encode()
    except OSError:
        return False


def read_draft(path: Path) -> dict[str, str]:
    """The answers of a draft; none where there is no draft, or it cannot be read."""
    import tomllib

    from pdcheck.parts.toml_reading import read_toml_text
    from pdcheck.parts.toml_text import read_toml

    if not is_draft(path):
        return {}
    try:
        data = read_toml(read_toml_text(path))
    except (InputError, tomllib.TOMLDecodeError):
        return {}
    return {key: value for key, value in data.items() if isinstance(value, str)}


def write_draft(path: Path, answers: Mapping[str, str]) -> None:
    """Keep the answers so far; whatever ends the program, they are there."""
    from pdcheck.parts.toml_places import toml_key, toml_value
    from pdcheck.parts.writing import write_whole

    lines = [_MARK]
    lines += [f"{toml_key(key)} = {toml_value(value)}" for key, value in answers.items()]
    write_whole(path, "\n".join(lines) + "\n", again=True)


@contextlib.contextmanager
def hearing() -> Iterator[None]:
    """Raise ``InputError`` where a question inside cannot be answered: standard input is closed, or no text."""
    try:
        yield
    except OSError as error:
        try:
            os.read(0, 0)
        except OSError:
            error.errno = None
        if error.errno is not None:
            raise
        raise InputError("cannot be read", where="standard input", expected="a terminal, or --yes") from None


def ask(question: Question, answers: Mapping[str, str], default: str, *, err: bool) -> str:
    """Ask on the terminal until the answer can be read; empty takes the default, ? is don't know.

    ``BACK`` where the question before is wanted again.
    """
    from pdcheck.show.columns import paragraph

    click.echo(err=err)
    click.secho(paragraph(question.text), bold=True, err=err)
    for line in (question.meaning, f"Find it: {question.where}."):
        click.echo(paragraph(line, indent=2), err=err)
    while True:
        with hearing():
            given = click.prompt("  (? if you don't know, < to go back)", default=default, err=err, prompt_suffix=": ")
        if str(given).strip() == BACK:
            return BACK
        try:
            return question.readable(str(given), answers)
        except InputError as error:
            click.echo(paragraph(str(InputError(error.what, expected=error.expected)), indent=2, hang=2), err=err)


def all_answers(
    given: Mapping[str, str],
    default: Callable[[Question, Mapping[str, str]], str],
    keep: Callable[[Mapping[str, str]], None],
    *,
    interactive: bool,
    err: bool,
) -> tuple[dict[str, str], frozenset[str]]:
    """Every question answered: from what was given, by asking, or by its default where nobody can be asked.

    ``keep`` is called after each answer with all of them, those for later questions included. Also the keys of which
    the default was taken.
    """
    from pdcheck.parts.rig_questions import QUESTIONS

    answers: dict[str, str] = {}
    guessed: set[str] = set()
    asked: list[int] = []
    at = 0
    while at < len(QUESTIONS):
        question, here = QUESTIONS[at], at
        at += 1
        if not question.asked(answers):
            continue
        if question.key in given:
            answers[question.key] = question.readable(given[question.key], answers)
            continue
        usual = default(question, answers)
        said = ask(question, answers, usual, err=err) if interactive else usual
        if said == BACK:
            # What was answered since is asked again, for it may hang on the answer that changes.
            at = asked.pop() if asked else here
            for later in QUESTIONS[at:]:
                answers.pop(later.key, None)
                guessed.discard(later.key)
            continue
        answers[question.key] = said
        if said == usual:
            guessed.add(question.key)
        if interactive:
            asked.append(here)
            keep({**given, **answers})
    return answers, frozenset(guessed)
