"""Files written: whole or not at all, never over what was read, over a link, a device, or a file of another kind."""

from __future__ import annotations

import contextlib
import errno
import glob
import os
import re
import stat
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from pdcheck.errors import InputError
from pdcheck.intake.read_files import takes_the_answer, was_read

_HEAD_BYTES = 512
_PART = ".part"
_LONG_BYTES = 100  # some file systems take 143 in a name, most 255
# Another writer is done within a moment; one that is stopped, or holds the folder for something else, never.
_TOLD_AFTER_S, _GIVEN_UP_AFTER_S = 1.0, 5.0

Kind = tuple[str, Callable[[bytes], bool]]
"""What is written, and whether a file that begins with these bytes is another such, to be written over unasked."""
PAGE: Kind = ("a page", lambda head: head.lstrip().lower().startswith(b"<!doctype html"))
SVG: Kind = ("an SVG picture", lambda head: head.lstrip().startswith((b"<?xml", b"<svg")) and b"<svg" in head)
PNG: Kind = ("a PNG picture", lambda head: head.startswith(b"\x89PNG\r\n\x1a\n"))
VCD: Kind = ("a VCD waveform", lambda head: head.lstrip().startswith(b"$"))
PCAPNG: Kind = ("packets in pcapng", lambda head: head.startswith(b"\x0a\x0d\x0d\x0a"))
LOG: Kind = ("a log of packets", lambda head: re.match(rb"\d+\.\d{6} [A-Z]", head) is not None)


def write_whole(
    path: str | Path,
    text: str | bytes,
    *,
    new: bool = False,
    kind: Kind | None = None,
    replace: bool = False,
    again: bool = False,
) -> None:
    """Write a file so that whatever kills the process leaves the old one or the new one, never a piece.

    A new file beside it is written, flushed to the disk and put in its place; the mode of an old file stays, a link
    is followed. A pipe, a terminal or the null device is written into. Raises ``InputError`` where that cannot be
    done; for what ``writable`` refuses; with ``new`` where there is a file already.
    """
    target = writable(path, kind=kind, replace=replace, again=again)
    if target.exists() and not target.is_file():
        _write_into(target, encoded(text, target), str(path))
        return
    with alone(target.parent):
        if new and target.exists():
            raise InputError("is there already", where=str(path), expected="another name, or to overwrite it")
        put(target, text)


def writable(path: str | Path, *, kind: Kind | None = None, replace: bool = True, again: bool = False) -> Path:
    """The file that is meant by a path, links followed, if it may be written.

    Raises ``InputError`` for a folder, a socket, a disk, a loop of links; for a file that is read-only, that has other
    names, or that was read and not written to be written ``again``; and for a file of another ``kind``, unless it is
    to be replaced.
    """
    name = str(path)
    if "\0" in name:
        raise InputError("is no path", where=name[:80], expected="a place to write to")
    if name.endswith(("/", os.sep)):
        raise InputError("is the name of a folder", where=name, expected="the name of a file")
    target = Path(os.path.realpath(path))
    try:
        # What stands for an open pipe leads to a name that is no file's.
        found = Path(path).stat()
        target = target if target.exists() else Path(path)
    except FileNotFoundError:
        if not target.parent.is_dir():
            raise InputError("no such folder", where=str(target.parent), expected="a place to write to") from None
        return target
    except OSError as error:
        what = "is a loop of links" if error.errno == errno.ELOOP else (error.strerror or "cannot be written").lower()
        raise InputError(what, where=name, expected="a place to write to") from None
    mode = found.st_mode
    if stat.S_ISDIR(mode):
        raise InputError("is a directory", where=name, expected="the name of a file")
    if stat.S_ISFIFO(mode) or stat.S_ISCHR(mode):
        return target
    if not stat.S_ISREG(mode):
        raise InputError("is no plain file", where=name, expected="the name of a file")
    if takes_the_answer(found):
        what = "is where the answer goes, so it is not written over"
        raise InputError(what, where=name, expected="another name, or - for standard output")
    if not again and was_read(found):
        raise InputError("is read by this command, so it is not written over", where=name, expected="another name")
    if not mode & 0o222 or not os.access(target, os.W_OK):
        raise InputError("is read-only", where=name, expected="a file that may be written, or another name")
    if found.st_nlink > 1:
        what = f"has {found.st_nlink} names (hard links), and would change under one of them only"
        raise InputError(what, where=name, expected="a file with one name")
    if kind is not None and not replace and found.st_size and not kind[1](_head(target)):
        what = f"is there already and is not {kind[0]}"
        raise InputError(what, where=name, expected="--replace, or another name")
    return target


def outputs_differ(*paths: str | None) -> None:
    """Raise ``InputError`` where two of the paths to be written are one; ``-``, standard output, among them."""
    seen: set[object] = set()
    for path in filter(None, paths):
        real = path if path == "-" or "\0" in path else _same(path)
        if real in seen:
            name = "standard output" if path == "-" else path
            raise InputError("two outputs of one name", where=name, expected="another name for one of them")
        seen.add(real)


def _same(path: str) -> object:
    """What a file is known by, whatever it is called: its place on the disk, or its path until it has one."""
    real = os.path.realpath(path)
    try:
        found = Path(real).stat()
    except OSError:
        return real
    return (found.st_dev, found.st_ino) if found.st_ino else real


def _head(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(_HEAD_BYTES)
    except OSError as error:
        raise cannot(error, path) from None


def _write_into(target: Path, data: bytes, name: str) -> None:
    """Write into a pipe or a device that is there; a pipe that nobody reads is an ``InputError``, not a wait."""
    flags = sum(getattr(os, name, 0) for name in ("O_NONBLOCK", "O_NOCTTY", "O_BINARY"))
    set_blocking = getattr(os, "set_blocking", None)
    try:
        handle = os.open(target, os.O_WRONLY | flags)
        with os.fdopen(handle, "wb") as stream:
            if set_blocking is not None:
                set_blocking(handle, True)
            stream.write(data)
    except BrokenPipeError:
        raise
    except OSError as error:
        what = "is a pipe that nobody reads" if error.errno == errno.ENXIO else (error.strerror or "").lower()
        raise InputError(what, where=name, expected="a place to write to") from None


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
