"""Which files a command has read, so that it writes over none of them, and knows when they change."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from pdcheck.errors import InputError

_READ: ContextVar[set[tuple[int, int]] | None] = ContextVar("_READ", default=None)
_PATHS: ContextVar[set[str] | None] = ContextVar("_PATHS", default=None)


@contextmanager
def noting() -> Iterator[None]:
    """Note every file that is read until the end, by what it is and not by its name, which may be a link."""
    before, paths = _READ.set(set()), _PATHS.set(set())
    try:
        yield
    finally:
        _READ.reset(before)
        _PATHS.reset(paths)


def note_path(path: str) -> None:
    """Note a path that is about to be read, whether there is a file or not."""
    paths = _PATHS.get()
    if paths is not None:
        paths.add(path)


def read_paths() -> frozenset[str]:
    """The paths that were read, or tried, since ``noting`` began."""
    return frozenset(_PATHS.get() or ())


def note(place: int | str, name: str) -> None:
    """Note a file that is read, by its open handle or its path; ``InputError`` where the answer goes into that file."""
    found = os.stat(place)  # noqa: PTH116 - a handle is no path
    read = _READ.get()
    if read is not None:
        if takes_the_answer(found):
            raise InputError("is where the answer goes", where=name, expected="another file for one of them")
        read.add((found.st_dev, found.st_ino))


def was_read(found: os.stat_result) -> bool:
    """Whether a file was read since ``noting`` began; never outside of that."""
    return (found.st_dev, found.st_ino) in (_READ.get() or ())


def takes_the_answer(found: os.stat_result) -> bool:
    """Whether standard output is a plain file, and this one: read, it would grow as it is read."""
    if _READ.get() is None or not stat.S_ISREG(found.st_mode):
        return False
    try:
        out = os.fstat(1)
    except OSError:
        return False
    return (out.st_dev, out.st_ino) == (found.st_dev, found.st_ino)
