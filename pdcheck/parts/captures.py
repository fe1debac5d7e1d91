"""The captures that a kit names: read from its folder or below, and from nowhere else unless the user says so."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from pdcheck.errors import InputError

ALLOWED = "PDCHECK_CAPTURES"
"""The variable that names further folders in which captures may lie, parted as in PATH."""
LARGEST_CAPTURE = 1 << 26
"""Of a capture that a kit names, which is read whenever the kit is [bytes]."""


def capture_text(named: str, folder: Path | None) -> tuple[Path, str]:
    """The path of a capture and its text; ``folder`` is that of the file that names it, None for a program's own.

    Raises ``InputError`` for what is no plain file, is too large, or lies neither in the folder or below nor where the
    user allows it: a kit from elsewhere is not to have any file of this machine read.
    """
    from pdcheck.intake.given import Given, file_bytes
    from pdcheck.intake.opened import naming

    path = Path(named) if folder is None else folder / named
    try:
        real = Path(os.path.realpath(path))
        if folder is not None and not any(real.is_relative_to(each) for each in (_real(folder), *_allowed())):
            what = "lies outside of the folder of the file that names it"
            raise InputError(what, where=str(path), expected=f"a path below it; {ALLOWED} names more folders")
        found = path.stat()
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        what = (getattr(error, "strerror", None) or "is no path").lower()
        raise InputError(what, where=str(path), expected="a file with a capture") from None
    if not stat.S_ISREG(found.st_mode):
        # A device or a pipe may hold up the reading, or never end.
        what = "is a directory" if stat.S_ISDIR(found.st_mode) else "is no plain file"
        raise InputError(what, where=str(path), expected="a file with a capture")
    if found.st_size > LARGEST_CAPTURE:
        what = f"{found.st_size} bytes"
        raise InputError(what, where=str(path), expected=f"a capture of at most {LARGEST_CAPTURE}")
    with naming(str(path)):
        return path, Given(str(path), file_bytes(path)).text()


def _real(folder: Path) -> Path:
    return Path(os.path.realpath(folder))


def _allowed() -> list[Path]:
    return [_real(Path(each)) for each in os.environ.get(ALLOWED, "").split(os.pathsep) if each]
