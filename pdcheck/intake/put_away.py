"""Putting away: what a long input makes lies in the system's folder for temporary files, which may be full."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from pdcheck.errors import InputError


@contextmanager
def putting_away() -> Iterator[None]:
    """While something is written there: what the system says against it is told of that folder.

    Raises ``InputError`` where the folder is full or cannot be written to.
    """
    try:
        yield
    except OSError as error:
        from tempfile import gettempdir

        what = (error.strerror or "cannot be written to").lower()
        expected = "room there for a long input, or TMPDIR set to a folder that has more"
        raise InputError(what, where=f"temporary files in {gettempdir()}", expected=expected) from None
