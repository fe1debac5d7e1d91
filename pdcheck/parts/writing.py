"""Files written: whole or not at all, never over what was read, over a link, a device, or a file of another kind."""

from __future__ import annotations

import errno
import os
import re
import stat
from collections.abc import Callable
from pathlib import Path

from pdcheck.errors import InputError
from pdcheck.intake.read_files import takes_the_answer, was_read
from pdcheck.parts.whole_file import alone, cannot, encoded, put

_HEAD_BYTES = 512

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
