"""Which files a command has read, so that it writes over none of them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_READ: ContextVar[set[tuple[int, int]] | None] = ContextVar("_READ", default=None)


@contextmanager
def noting() -> Iterator[None]:
    """Note every file that is read until the end, by what it is and not by its name, which may be a link."""
    before = _READ.set(set())
    try:
        yield
    finally:
        _READ.reset(before)


def note(handle: int) -> None:
    """Note the file behind an open handle."""
    read = _READ.get()
    if read is not None:
        found = os.fstat(handle)
        read.add((found.st_dev, found.st_ino))


def was_read(found: os.stat_result) -> bool:
    """Whether a file was read since ``noting`` began; never outside of that."""
    return (found.st_dev, found.st_ino) in (_READ.get() or ())
