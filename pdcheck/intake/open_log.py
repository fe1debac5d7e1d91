"""Opens a log of hex as a stream, and tells it from inputs that have to be read as a whole."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from pdcheck.errors import InputError
from pdcheck.intake.given import Given
from pdcheck.intake.hexlog import HexLog
from pdcheck.intake.sniff import GZIP, HEAD_BYTES, speaks_of_volts
from pdcheck.intake.waveform.looks import looks_like_vcd, looks_like_waveform_csv

_PIECE_BYTES = 1 << 17
# The first row of a dump: an offset, which is zero, and bytes.
_DUMP = re.compile(rb"\s*(?:0[xX])?0{4,16}(?::|\s)")


@contextmanager
def opened_log(
    argument: str, form: str | None = None, progress: Callable[[int, int], None] | None = None
) -> Iterator[HexLog | Given | None]:
    """A log as a stream, from a path or ``-``, unpacked where it is gzip; whole bytes where it is no log of hex.

    ``None`` where the argument is no path, or names what has to be read as a whole: a label, a waveform, a dump with
    offsets. Standard input of that sort has been taken by then and comes as ``Given``. ``progress`` is told the bytes
    done and the bytes in all, zero where that is not known. Raises ``InputError`` where nothing can be read.
    """
    if argument == "-":
        if sys.stdin is None:
            raise InputError("is closed", where="standard input", expected="hex or a charger's label")
        yield _log_or_all(sys.stdin.buffer, "standard input", form, progress, 0)
    elif (path := _existing(argument)) is not None:
        with _opened(path) as stream:
            size = os.fstat(stream.fileno()).st_size
            log = _log_or_all(stream, argument, form, progress, size)
            yield log if isinstance(log, HexLog) or not path.is_file() else None
    else:
        yield None


def _existing(argument: str) -> Path | None:
    """The path of anything but a directory, ``None`` where the argument is no path."""
    path = Path(argument)
    try:
        return path if path.exists() and not path.is_dir() else None
    except (OSError, ValueError):
        return None


def _opened(path: Path) -> IO[bytes]:
    try:
        return path.open("rb")
    except OSError as error:
        what = (error.strerror or "cannot be read").lower()
        raise InputError(what, where=str(path), expected="a readable file") from None


def _log_or_all(
    stream: IO[bytes], name: str, form: str | None, progress: Callable[[int, int], None] | None, size: int
) -> HexLog | Given:
    done = 0

    def taken(piece: bytes) -> bytes:
        nonlocal done
        done += len(piece)
        if progress is not None:
            progress(done, size)
        return piece

    some: Any = getattr(stream, "read1", stream.read)

    def read() -> bytes:
        try:
            return taken(some(_PIECE_BYTES))
        except OSError as error:
            what = (error.strerror or "cannot be read").lower()
            raise InputError(what, expected="a readable file") from None

    try:
        log = _log_from(read, name, form)
        if isinstance(log, HexLog):
            log.size = size
        return log
    except InputError as error:
        raise error.inside(name) from None


def _log_from(read: Callable[[], bytes], name: str, form: str | None) -> HexLog | Given:
    head = read()
    while b"\n" not in head and len(head) < HEAD_BYTES and (more := read()):
        head += more
    if head.startswith(GZIP):
        read = _unpacking(_after(head, read))
        head = read()
    if form in ("label", "vcd", "csv") or (form is None and _no_log(head)) or _DUMP.match(head):
        pieces = [head]
        while piece := read():
            pieces.append(piece)
        return Given(name, b"".join(pieces))
    return HexLog(_after(head.removeprefix(b"\xef\xbb\xbf"), read))


def _no_log(head: bytes) -> bool:
    if looks_like_vcd(head) or looks_like_waveform_csv(head):
        return True
    return speaks_of_volts(head.decode("utf-8", errors="replace"))


def _after(head: bytes, read: Callable[[], bytes]) -> Callable[[], bytes]:
    """Reads the head first, then what follows it."""
    heads = [head] if head else []

    def read_on() -> bytes:
        return heads.pop() if heads else read()

    return read_on


def _unpacking(read: Callable[[], bytes]) -> Callable[[], bytes]:
    """Reads what a gzip stream of one member or several unpacks to, a piece at a time."""
    import zlib

    unpack = zlib.decompressobj(31)
    rest = b""

    def read_on() -> bytes:
        nonlocal unpack, rest
        while True:
            if unpack.eof:
                rest = unpack.unused_data or read()
                if not rest.startswith(GZIP[:1]):
                    # The end, or what some writers fill up with.
                    return b""
                unpack = zlib.decompressobj(31)
            elif not rest:
                rest = read()
                if not rest:
                    raise InputError("the gzip data end before their end", expected="a whole gzip file")
            try:
                data = unpack.decompress(rest, _PIECE_BYTES)
            except zlib.error:
                raise InputError("begins as gzip but cannot be unpacked", expected="a whole gzip file") from None
            rest = unpack.unconsumed_tail
            if data:
                return data

    return read_on
