"""A file written whole or not at all, with no other writer of this program in between."""

from __future__ import annotations

import contextlib
import glob
import os
import stat
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from pdcheck.errors import InputError

_PART = ".part"
_LONG_BYTES = 100  # some file systems take 143 in a name, most 255
# Another writer is done within a moment; one that is stopped, or holds the folder for something else, never.
_TOLD_AFTER_S, _GIVEN_UP_AFTER_S = 1.0, 5.0


def target_of(path: str | Path) -> Path:
    """Where a path really leads to: a link is followed."""
    return Path(os.path.realpath(path))


@contextlib.contextmanager
def alone(*folders: Path, wait: bool = True) -> Iterator[None]:
    """Hold folders against other writers, where the system can; locks that die with the process.

    Where somebody else holds one, says so after a second; after five raises ``InputError``. Without ``wait`` it raises
    ``BlockingIOError`` at once.
    """
    try:
        import fcntl
    except ImportError:  # no such lock on this system: a file is still whole at any moment
        yield
        return
    with contextlib.ExitStack() as held:
        for folder in sorted(folders):  # always in one order, so that no two writers wait for each other
            try:
                handle = os.open(folder, os.O_RDONLY)
            except OSError as error:
                raise cannot(error, folder) from None
            held.callback(os.close, handle)
            with contextlib.suppress(_NoLocksError):
                _hold(partial(fcntl.flock, handle, fcntl.LOCK_EX | fcntl.LOCK_NB), handle, folder, wait)
        yield


class _NoLocksError(Exception):
    """A file system without locks."""


def _hold(lock: Callable[[], None], handle: int, folder: Path, wait: bool) -> None:
    told, begun = False, time.monotonic()
    while True:
        try:
            lock()
            return
        except BlockingIOError:
            if not wait:
                raise
        except OSError:
            raise _NoLocksError from None
        waited = time.monotonic() - begun
        if waited > _GIVEN_UP_AFTER_S:
            what = f"another program holds this folder{_holder(handle)}"
            raise InputError(what, where=str(folder), expected="to try again when it is done")
        if waited > _TOLD_AFTER_S and not told and sys.stderr is not None:
            told = True
            with contextlib.suppress(OSError):
                sys.stderr.write(f"pdcheck: waiting for another program that holds this folder{_holder(handle)}\n")
        time.sleep(0.02)


def _holder(folder: int) -> str:
    """Which process holds a folder, where the system tells."""
    with contextlib.suppress(OSError, ValueError):
        inode = os.fstat(folder).st_ino
        for line in Path("/proc/locks").read_text(encoding="ascii").splitlines():
            words = line.split()
            if "->" not in words and words[5].endswith(f":{inode}"):
                return f" (process {int(words[4])})"
    return ""


def put(target: Path, text: str | bytes) -> None:
    """Write a file whole: a new one beside it is written, flushed to the disk and put in its place.

    Raises ``InputError`` where that cannot be done; the caller holds the folder.
    """
    part = staged(target, text)
    try:
        part.replace(target)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise cannot(error, target) from None
    sync_folder(target.parent)


def encoded(text: str | bytes, target: Path) -> bytes:
    """What a file will hold. Raises ``InputError`` for the bytes of a file's name that are no UTF-8."""
    try:
        return text.encode("utf-8") if isinstance(text, str) else text
    except UnicodeEncodeError as error:
        what = f"would hold {error.object[error.start]!r}, which is no character"
        raise InputError(what, where=str(target), expected="names of files in UTF-8") from None


def staged(target: Path, text: str | bytes) -> Path:
    """A new file beside a target, on the disk and ready to take its place, with the mode of the old one."""
    data = encoded(text, target)
    folder, begun = target.parent, _shortened(target.name)
    try:
        # What a killed writer left: nobody else is writing while the folder is held.
        for old in folder.glob(f".{glob.escape(begun)}.*{_PART}"):
            old.unlink(missing_ok=True)
        from tempfile import mkstemp

        handle, made = mkstemp(prefix=f".{begun}.", suffix=_PART, dir=folder)
        part = Path(made)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            part.chmod(_mode(target))
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    except OSError as error:
        raise cannot(error, target) from None
    return part


def _shortened(name: str) -> str:
    """A name that leaves room for more letters, where the file's own fills what a system allows."""
    if len(os.fsencode(name)) <= _LONG_BYTES:
        return name
    from hashlib import sha256

    return sha256(os.fsencode(name)).hexdigest()


def _mode(target: Path) -> int:
    """The mode of the old file, else what a new file gets here."""
    if target.exists():
        return stat.S_IMODE(target.stat().st_mode)
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def sync_folder(folder: Path) -> None:
    """See to it that what was put in place or taken away in a folder stays so."""
    with contextlib.suppress(OSError):  # some systems cannot; the file itself is on the disk
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def cannot(error: OSError, path: Path) -> InputError:
    """What is told where the system refuses to write."""
    return InputError((error.strerror or "cannot be written").lower(), where=str(path), expected="a place to write to")
