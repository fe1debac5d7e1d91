"""Given: what the user handed over, from a path, standard input or the argument itself, as bytes or as text."""

from __future__ import annotations

import contextlib
import os
import re
import sys
from typing import TYPE_CHECKING, BinaryIO

from pdcheck.errors import InputError
from pdcheck.intake.read_files import note
from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pathlib import Path

LARGEST_BYTES = 2**31
"""A capture larger than this is refused: it would not fit the memory of a small machine."""

STANDARD_INPUT = "standard input"
_TOLD_FROM = 32
"""So many bytes tell UTF-16 that has no mark."""
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
"""What UTF-16 begins with [The Unicode Standard, 23.8]."""

# Compiled where it is needed: a pattern costs more than reading one message.
_PATH_LIKE = r"^[\w.~/\\ -]*(/|\\|\.(txt|log|hex|csv|vcd|gz|toml|bin|json))[\w.-]*$"

# A label of volts and amperes, or of mAh and Wh, has slashes of its own; no file is named so and ends as files do.
_LABEL_LIKE = r"\d\s*V\W{0,3}\d[\d.,]*\s*m?A\b|\d\s*(?:m?Ah|Wh)\b"
_FILE_END = r"\.(txt|log|hex|csv|vcd|gz|toml|bin|json)$"


class Given(NamedTuple):
    """The bytes of an input and the name to call it by in a message; ``name`` is empty for text typed as argument."""

    name: str
    data: bytes

    def text(self) -> str:
        """The input as text.

        Raises ``InputError`` naming line and offset where it is not UTF-8, or holds a zero byte.
        """
        data = in_utf8(self.data)
        try:
            text = decoded(data)
        except UnicodeDecodeError as error:
            raise self._at(data, error.start, f"byte 0x{data[error.start]:02X} is no UTF-8 text") from None
        zero = text.find("\0")
        if zero >= 0:
            raise self._at(data, data.index(b"\0"), "a zero byte in what should be text")
        return text

    def _at(self, data: bytes, offset: int, what: str) -> InputError:
        line = data.count(b"\n", 0, offset) + 1
        column = offset - (data.rfind(b"\n", 0, offset) + 1)
        return InputError(what, where=f"line {line}, offset {column}", expected="hex digits or a charger's label")

    def blame(self, error: InputError) -> InputError:
        """The error with the name of this input before its place."""
        return error.inside(self.name) if self.name else error


def decoded(data: bytes) -> str:
    """Text in UTF-8, or in Latin-1 where it is none and only its letters and signs say so (ISO 8859-1, A0 to FE).

    >>> decoded(b"5 \\xb5s"), decoded("5 µs".encode())
    ('5 µs', '5 µs')
    """
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        if any(0x80 <= byte < 0xA0 or byte == 0xFF or byte < 9 for byte in data):
            raise
        return data.decode("latin-1")


def head_text(data: bytes) -> str:
    """The beginning of a text, cut anywhere, as far as it can be read."""
    try:
        return decoded(data[: data.rfind(b"\n") + 1 or len(data)])
    except UnicodeDecodeError:
        return data.decode("utf-8", "replace")


def unmarked_order(first: bytes) -> str:
    """The encoding of ASCII in UTF-16 that has no mark, told by its zeros; empty for anything else.

    >>> unmarked_order("0.5 SOP 41 00 and so on".encode("utf-16-le"))
    'utf-16-le'
    """
    some = first[:_TOLD_FROM]
    if len(some) < _TOLD_FROM:
        return ""
    for encoding, zeros, signs in (("utf-16-le", some[1::2], some[::2]), ("utf-16-be", some[::2], some[1::2])):
        if not any(zeros) and all(8 < sign < 127 for sign in signs):
            return encoding
    return ""


def in_utf8(data: bytes) -> bytes:
    """Text in UTF-8 without its mark; out of UTF-16 where its mark says so, as some shells write what they redirect.

    >>> in_utf8(b"\\xff\\xfe5\\0V\\0"), in_utf8(b"\\xef\\xbb\\xbf5V")
    (b'5V', b'5V')
    """
    if data.startswith(UTF16_MARKS):
        try:
            return data.decode("utf-16").encode()
        except UnicodeDecodeError:
            return data
    return data.removeprefix(b"\xef\xbb\xbf")


def given(argument: str) -> Given:
    """Standard input for ``-``, the content of a file where the argument is a path, else the argument itself.

    Raises ``InputError`` for a directory, for what cannot be read, and for what looks like a path of no file.

    >>> given("a1 61").data
    b'a1 61'
    """
    if argument == "-":
        try:
            return Given(STANDARD_INPUT, standard_input().read(LARGEST_BYTES))
        except OSError as error:
            raise unreadable(error, STANDARD_INPUT) from None
    if is_path(argument):
        return Given(argument, file_bytes(argument))
    return Given("", os.fsencode(argument))


def standard_input() -> BinaryIO:
    """The bytes that a pipe or a person gives; ``InputError`` where there is no such thing."""
    if sys.stdin is None:
        raise InputError("is closed", where=STANDARD_INPUT, expected="hex or a charger's label")
    with contextlib.suppress(OSError):  # a program may have put a text in its place
        note(sys.stdin.buffer.fileno(), STANDARD_INPUT)
    return sys.stdin.buffer


def is_path(argument: str) -> bool:
    """Whether an argument is the path of something to read rather than the text itself.

    Raises ``InputError`` for a directory, and for what looks like a path of no file.
    """
    if os.path.isdir(argument):
        raise InputError("is a directory", where=argument, expected="a file, text, or - for standard input")
    if os.path.islink(argument) and not os.path.exists(argument):
        raise InputError(
            "is a link that leads to no file", where=argument, expected="a file, text, or - for standard input"
        )
    if len(argument) < 4096 and "\0" not in argument and "\n" not in argument and os.path.exists(argument):
        return True
    looks_like_path = ("/" in argument or "\\" in argument or "." in argument) and re.match(
        _PATH_LIKE, argument, re.IGNORECASE
    )
    printed = re.search(_LABEL_LIKE, argument, re.IGNORECASE) and not re.search(_FILE_END, argument, re.IGNORECASE)
    if looks_like_path and not printed and not re.fullmatch(r"[0-9A-Fa-fxXvV\s/.\\-]+", argument):
        raise InputError("no such file", where=argument, expected="a path, hex, a charger's label, or -")
    return False


def file_bytes(path: str | Path) -> bytes:
    """All bytes of a file or a pipe; ``InputError`` where it cannot be read or is too large."""
    try:
        if os.path.isfile(path):
            fits_memory(os.path.getsize(path), str(path))
        with open_file(str(path)) as stream:
            return stream.read(LARGEST_BYTES)
    except OSError as error:
        raise unreadable(error, str(path)) from None


def open_file(path: str) -> BinaryIO:
    """A file to be read, and noted as such; ``InputError`` where it cannot be opened."""
    try:
        stream = open(path, "rb")  # noqa: SIM115 - closed by who asked
    except OSError as error:
        raise unreadable(error, path) from None
    try:
        note(stream.fileno(), path)
    except InputError:
        stream.close()
        raise
    return stream


def fits_memory(size: int, name: str) -> None:
    """Refuse an input of more bytes than are kept."""
    if size > LARGEST_BYTES:
        raise InputError(f"{size} bytes", where=name, expected=f"at most {LARGEST_BYTES}")


def unreadable(error: OSError, name: str) -> InputError:
    """What the system says against reading a file."""
    from errno import EBADF

    what = "is closed" if error.errno == EBADF else (error.strerror or "cannot be read").lower()
    return InputError(what, where=name, expected="a readable file")
