"""``--watch``: the same question again whenever a file that it read is saved."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import click

from pdcheck.cli.answering import remark, say_kits_found
from pdcheck.errors import InputError
from pdcheck.intake.read_files import noting, read_paths

EVERY_S = 0.2
"""How often the files are looked at: by their times, as every system has them."""
SETTLED_S = 0.1
"""A file that changed is left alone for as long, so that it is not read half written."""


def watched(once: Callable[[], int], paths: Iterable[Any] = ()) -> int:
    """Ask ``once``, and again whenever ``paths`` or any file that it read changes, until the program is stopped.

    What cannot be read is told, and the files are watched on: an editor may be half through with them. Raises
    ``InputError`` where there is no file to watch.
    """
    files = {str(path) for path in paths if isinstance(path, str) and _stamp(path) is not None}
    while True:
        with noting():
            before = _stamps(files)
            try:
                once()
                say_kits_found()
            except InputError as error:
                remark(f"pdcheck: {error.told('--')}")
            found = read_paths()
        files |= found
        if not files:
            raise InputError("--watch and no file is read", expected="RIG or a kit, a file")
        sys.stdout.flush()
        before |= {path: stamp for path, stamp in _stamps(found).items() if path not in before}
        remark(f"pdcheck: watching {', '.join(sorted(files))}; Ctrl-C ends it")
        changed = _next_change(before)
        remark(f"pdcheck: {', '.join(changed)} changed")
        if sys.stdout.isatty():
            click.clear()


def _next_change(before: dict[str, object]) -> list[str]:
    """The files that are not as they were, once they stay as they are."""
    while True:
        time.sleep(EVERY_S)
        now = _stamps(before)
        if now != before:
            time.sleep(SETTLED_S)
            if (again := _stamps(before)) == now:
                return sorted(path for path in again if again[path] != before[path])


def _stamps(paths: Iterable[str]) -> dict[str, object]:
    return {path: _stamp(path) for path in paths}


def _stamp(path: str) -> object:
    try:
        found = Path(path).stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
