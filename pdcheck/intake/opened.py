"""Opened: an input while it is read, from a path, standard input or the argument itself, unpacked where it is gzip."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from itertools import chain
from math import inf
from typing import BinaryIO

from pdcheck.errors import InputError
from pdcheck.intake.given import (
    STANDARD_INPUT,
    UTF16_MARKS,
    fits_memory,
    is_path,
    open_file,
    standard_input,
    unmarked_order,
    unreadable,
)
from pdcheck.intake.stream import AS_IT_LOOKS, How

HEAD_BYTES = 1 << 16
"""What an input looks like is told by so many bytes of it."""
GZIP = b"\x1f\x8b"
LIVE_LINES = 40
"""So many lines of a stream tell its form, where each message is to be shown as it comes and the first is not plain."""
LARGEST_TEXT = 1 << 28
"""Text that a gzip-compressed input may unfold to where all of it is kept [bytes]."""
_PIECE_BYTES = 1 << 17

# Compiled where a text has any, which few have.
# By ECMA-48: control sequences (colours, where the cursor goes), strings up to their end (titles, links),
# and the sets of characters that a terminal is put back to with its colours.
_STRING_LONGEST = 2048
_CONTROL = rb"\x1b(?:\[[0-?]{0,32}[ -/]{0,2}[@-~]|[P\]X^_][^\x07\x1b\n]{0,%d}(?:\x07|\x1b\\)|[()][0-9A-Z])"
_CONTROL %= _STRING_LONGEST
_CONTROL_BEGUN = rb"\x1b(?:\[[0-?]{0,32}[ -/]{0,2}|[P\]X^_][^\x07\x1b\n]{0,%d}\x1b?|[()])?\Z" % _STRING_LONGEST
_TEXT_BYTES = b"\x07\t\n\f\r\x1b" + bytes(range(0x20, 0x100))


class Opened:
    """An input by its name (empty for text typed as the argument), with its first bytes, ``head``.

    ``path`` is set for a plain file, which may be read from the start as often as needed. ``read`` gives the next bytes
    of text, from the first on, none at the end. ``size`` is the bytes in all, zero where that is not known.

    >>> Opened("", BytesIO(b"a1 61")).read()
    b'a1 61'
    """

    def __init__(self, name: str, stream: BinaryIO, how: How = AS_IT_LOOKS, path: str | None = None) -> None:
        self.name = name
        self.path = path
        self.size = os.fstat(stream.fileno()).st_size if path is not None else 0
        self._how = how
        self._begun: list[bytes] | None = []
        self._raw = self._pieces(stream)
        first = next(self._raw, b"")
        while 0 < len(first) < len(GZIP):
            further = next(self._raw, b"")
            first += further
            if not further:
                break
        pieces = chain([first], self._raw)
        self._text = _uncoloured(_in_utf8(self._unpacked(pieces) if first.startswith(GZIP) else pieces))
        self.head = self._head()

    def read(self) -> bytes:
        """The next bytes of text, unpacked and without a byte-order mark; none at the end."""
        self._begun = None
        return next(self._text, b"")

    def everything(self) -> bytes:
        """All bytes as they came, gzip as gzip; before anything has been read."""
        return b"".join([*(self._begun or ()), *self._raw])

    def text_bytes(self, most: float = inf) -> bytes:
        """All bytes of text, or so many whole pieces of them as make ``most``: a device may have no end.

        Raises ``InputError`` where all of them are more than are kept.
        """
        kept: list[bytes] = []
        size = 0
        while size < most and (piece := self.read()):
            kept.append(piece)
            size += len(piece)
            fits_memory(size, "")
        return b"".join(kept)

    def _head(self) -> bytes:
        """The beginning: all of it that a form is told by where one may wait for it, else the first lines of it.

        How much the first read brings must not matter, so lines beyond are put back.
        """
        waits = not self._how.live or self.path is not None
        head, lines = b"", 0
        while len(head) < HEAD_BYTES and lines <= 0:
            piece = next(self._text, b"")
            if not piece:
                break
            head += piece
            if not waits and b"\n" in piece:
                lines = _lines_enough(head[:HEAD_BYTES], -lines)
        head = head.removeprefix(b"\xef\xbb\xbf")
        end = HEAD_BYTES if lines <= 0 else sum(len(line) + 1 for line in head.split(b"\n")[:lines])
        self._text = chain([each for each in (head[:end], head[end:]) if each], self._text)
        return head[:end]

    def _pieces(self, stream: BinaryIO) -> Iterator[bytes]:
        some: Callable[[int], bytes] = getattr(stream, "read1", stream.read)
        done = 0
        while True:
            try:
                piece = some(_PIECE_BYTES)
            except OSError as error:
                raise unreadable(error, "") from None
            if not piece:
                return
            done += len(piece)
            if self._how.progress is not None:
                self._how.progress(done, self.size)
            if self._how.gathered and self.path is None:
                fits_memory(done, "")
            if self._begun is not None:
                self._begun.append(piece)
            yield piece

    def _unpacked(self, pieces: Iterator[bytes]) -> Iterator[bytes]:
        """What a gzip stream of one member or several unpacks to, a piece at a time."""
        import zlib

        unpack = zlib.decompressobj(31)
        rest = b""
        done = 0
        while True:
            if unpack.eof:
                rest = unpack.unused_data or next(pieces, b"")
                if not rest.startswith(GZIP[:1]):
                    # The end, or what some writers fill up with.
                    return
                unpack = zlib.decompressobj(31)
            elif not rest:
                rest = next(pieces, b"")
                if not rest:
                    raise InputError("the gzip data end before their end", expected="a whole gzip file")
            try:
                data = unpack.decompress(rest, _PIECE_BYTES)
            except zlib.error:
                raise InputError("begins as gzip but cannot be unpacked", expected="a whole gzip file") from None
            rest = unpack.unconsumed_tail
            done += len(data)
            if self._how.gathered and done > LARGEST_TEXT:
                raise InputError(f"unpacks to more than {LARGEST_TEXT} bytes", expected="a log of reasonable size")
            if data:
                yield data


def _lines_enough(head: bytes, known: int) -> int:
    """How many of the first lines tell a form where nobody may wait for more, negative while they do not: so many as
    there are, all but the first ``known`` of which have been looked at before.

    One line is enough where it is a plain message; more, where it may be the head of a table or part of a dump.
    """
    from pdcheck.intake.hexlog import plain_crc
    from pdcheck.intake.learnt import tells

    lines = head.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace").split("\n")[:-1]
    for count in range(known + 1, len(lines) + 1):
        if count == LIVE_LINES or (count == 1 and plain_crc(lines[0].rstrip("\r"))) or tells(lines[:count]):
            return count
    return -len(lines)


def _in_utf8(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The pieces of a text, out of UTF-16 where its mark says so."""
    first = next(pieces, b"")
    while len(first) < 2 and (more := next(pieces, b"")):
        first += more
    order = unmarked_order(first)
    if not first.startswith(UTF16_MARKS) and not order:
        yield from filter(None, chain([first], pieces))
        return
    from codecs import getincrementaldecoder

    decoder = getincrementaldecoder(order or "utf-16")("replace")
    yield from filter(None, (decoder.decode(piece).encode() for piece in chain([first], pieces)))
    yield decoder.decode(b"", True).encode()


def _uncoloured(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The pieces of a text without the control sequences of terminals, which many a log on screen is saved with.

    >>> b"".join(_uncoloured(iter([b"\\x1b[1;3", b"2mSOP\\x1b[0m 41"]))), b"".join(_uncoloured(iter([b"\\x00\\x1b[m"])))
    (b'SOP 41', b'\\x00\\x1b[m')
    >>> b"".join(_uncoloured(iter([b"\\x1b]8;;file:a\\x1b", b"\\\\SOP\\x1b]8;;\\x07 41\\x1b(B\\x1b[m"])))
    b'SOP 41'
    """
    rest = b""
    for piece in pieces:
        text = rest + piece
        rest = b""
        # What is no text is left as it is.
        if b"\x1b" in text and not text.translate(None, _TEXT_BYTES):
            text = re.sub(_CONTROL, b"", text)
            begun = re.search(_CONTROL_BEGUN, text[-_STRING_LONGEST - 4 :])
            if begun is not None:
                text, rest = text[: -len(begun[0])], begun[0]
        if text:
            yield text
    if rest:
        yield rest


@contextmanager
def opened(argument: str, how: How) -> Iterator[Opened]:
    """An input that is read: ``-`` for standard input, a path, else the text itself.

    Raises ``InputError`` for a directory, for what cannot be read, and for what looks like a path of no file.
    """
    if argument == "-":
        with naming(STANDARD_INPUT):
            yield Opened(STANDARD_INPUT, standard_input(), how)
    elif not is_path(argument):
        yield Opened("", BytesIO(os.fsencode(argument)), how)
    else:
        with naming(argument), open_file(argument) as stream:
            yield Opened(argument, stream, how, argument if os.path.isfile(argument) else None)


@contextmanager
def naming(name: str) -> Iterator[None]:
    """Put the name of an input before the place of any error in it."""
    try:
        yield
    except InputError as error:
        named = error.where in (name, name[:80]) or error.where.startswith(f"{name}, ")
        raise error if named else error.inside(name) from None
