"""Text of a capture in bounded chunks of whole lines, from a path or bytes, gzip or plain, with line numbers kept."""

from __future__ import annotations

import codecs
import gzip
import io
import os
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from pdcheck.errors import InputError
from pdcheck.intake.given import unmarked_order
from pdcheck.named import NamedTuple

CHUNK_BYTES = 1 << 20
LONGEST_LINE = 1 << 20
GZIP_MAGIC = b"\x1f\x8b"

TEXT_LIMIT = 1 << 31
"""Text that a gzip-compressed capture may unfold to before it is refused; plain files have no limit."""

Progress = Callable[[int, int], None]
"""Called with the bytes of the file read so far and the bytes there are."""


class Chunk(NamedTuple):
    """Some whole lines, and the number of the first of them (1-based)."""

    text: bytes
    first_line: int

    def line_at(self, offset: int) -> int:
        """The line number of a byte offset within this chunk."""
        return self.first_line + self.text.count(b"\n", 0, offset)


_RETURNS_IN = 1 << 14


class CaptureText:
    """A capture that can be read from the start as often as needed."""

    def __init__(self, source: str | os.PathLike[str] | bytes, progress: Progress | None = None) -> None:
        self._source = source
        self._progress = progress

    def head(self, size: int = 1 << 16) -> bytes:
        """The first ``size`` bytes of text or fewer, without a byte-order mark."""
        for piece in self._pieces(size):
            return piece[:size]
        return b""

    def chunks(self) -> Iterator[Chunk]:
        """The text in chunks of whole lines, line ends as found; a last line without an end gets one."""
        rest = b""
        line = 1
        for piece in self._pieces(CHUNK_BYTES):
            text = rest + piece
            cut = text.rfind(b"\n") + 1
            if not cut and len(text) > LONGEST_LINE:
                raise InputError(
                    f"a line of more than {LONGEST_LINE} bytes",
                    where=f"line {line}",
                    expected="a text file of short lines",
                )
            rest = text[cut:]
            if cut:
                whole = text[:cut]
                yield Chunk(whole, line)
                line += whole.count(b"\n")
        if rest:
            yield Chunk(rest + b"\n", line)

    def _pieces(self, size: int) -> Iterator[bytes]:
        """Pieces of the text as UTF-8, unpacked and without a byte-order mark; an empty text gives none."""
        decoder: codecs.IncrementalDecoder | None = None
        first, returns = True, False
        for piece in self._unpacked(size):
            if first:
                first = False
                order = unmarked_order(piece)
                if piece.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or order:
                    decoder = codecs.getincrementaldecoder(order or "utf-16")(errors="replace")
                elif piece.startswith(codecs.BOM_UTF8):
                    piece = piece[len(codecs.BOM_UTF8) :]  # noqa: PLW2901
                returns = _ends_in_returns(piece, order)
            text = decoder.decode(piece).encode() if decoder else piece
            if text:
                yield text.replace(b"\r", b"\n") if returns else text

    def _unpacked(self, size: int) -> Iterator[bytes]:
        with self._open() as raw:
            total = raw.seek(0, io.SEEK_END)
            raw.seek(0)
            packed = raw.read(2) == GZIP_MAGIC
            raw.seek(0)
            stream: BinaryIO = gzip.GzipFile(fileobj=raw, mode="rb") if packed else raw  # type: ignore[assignment]
            unpacked = 0
            while True:
                try:
                    piece = stream.read(size)
                except (EOFError, zlib.error, gzip.BadGzipFile) as error:
                    raise InputError(
                        f"damaged gzip data after {unpacked} bytes of text ({error})", expected="a whole gzip file"
                    ) from error
                except OSError as error:
                    raise InputError(f"cannot be read: {error.strerror or error}") from error
                if not piece:
                    break
                unpacked += len(piece)
                if packed and unpacked > TEXT_LIMIT:
                    raise InputError(
                        f"gzip data unfolds to more than {TEXT_LIMIT} bytes",
                        expected="a shorter capture, or the same file unpacked",
                    )
                if self._progress:
                    self._progress(raw.tell(), total)
                yield piece

    def _open(self) -> BinaryIO:
        if isinstance(self._source, bytes):
            return io.BytesIO(self._source)
        try:
            return Path(self._source).open("rb")
        except OSError as error:
            raise InputError(f"cannot be opened: {error.strerror or error}", where=os.fspath(self._source)) from error
        except ValueError as error:
            raise InputError("no usable path", expected="a path of a capture file") from error


def _ends_in_returns(piece: bytes, order: str) -> bool:
    """Whether lines end in a carriage return alone, as they did on some machines."""
    some = piece[:_RETURNS_IN]
    return b"\r" in some and b"\n" not in some and not order
