"""What may come out of a target: a result or an InputError, soon, and nothing that acts on a terminal."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from typing import Any

from pdcheck.errors import InputError
from pdcheck.facts.characters import is_hidden
from pdcheck.result import Result

SECONDS = 10.0
"""Processor time that one input may take; instrumented code on a busy machine is some times slower than it is."""
LONGEST_COMPLAINT = 2000
LONGEST_REPR = 400


class WrongError(AssertionError):
    """Something came out that may not."""


def judged(target: Callable[[bytes], None], data: bytes, seconds: float = SECONDS) -> None:
    """Run a target on an input; whatever else than a result or an InputError comes out is raised."""
    start = time.process_time()
    try:
        target(data)
    except InputError as error:
        told(error)
    took = time.process_time() - start
    if took > seconds:
        raise WrongError(f"took {took:.1f} s")


def told(error: InputError) -> None:
    """A complaint is one line of bounded length."""
    line = str(error)
    if "\n" in line or len(line) > LONGEST_COMPLAINT:
        raise WrongError(f"a complaint of {len(line)} characters: {line[:80]!r}")


def shown(text: str) -> None:
    """A text for a terminal holds nothing that acts on it."""
    acting = next((each for each in text if each != "\n" and is_hidden(each)), None)
    if acting is not None:
        at = text.index(acting)
        raise WrongError(f"{acting!r} is shown in {text[max(0, at - 20) : at + 20]!r}")


def document(data: dict[str, Any]) -> None:
    """A document can be written as JSON and says its schema."""
    if not str(data["schema"]).startswith("pdcheck/"):
        raise WrongError(f"schema {data['schema']!r}")
    json.dumps(data, allow_nan=False)


def answered(result: Result) -> None:
    """A result can be shown, written, and laid out in rows; its repr is short."""
    shown(str(result))
    document(result.to_dict())
    if len(repr(result)) >= LONGEST_REPR:
        raise WrongError(f"a repr of {len(repr(result))} characters: {repr(result)[:80]}")
    json.dumps(result.rows(), allow_nan=False)


def same(what: str, one: object, other: object) -> None:
    """Two ways to one thing give the same."""
    if one != other:
        raise WrongError(f"{what}: {one!r} and {other!r}")
