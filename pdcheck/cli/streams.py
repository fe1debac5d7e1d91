"""Standard streams: documents in UTF-8, streams that are closed or full, signals that end the program."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import signal
import sys
from collections.abc import Iterable, Iterator
from typing import Any, NoReturn

READER_LEFT = 128 + 13
"""The exit code where nobody reads standard output any more, as a shell tells it: 128 and the number of SIGPIPE."""
_ENDING = ("SIGTERM", "SIGHUP")


class Lost(Exception):  # noqa: N818 - a stream is
    """What the system says against reading or writing, kept from whoever gives such errors a code of his own."""

    def __init__(self, error: OSError) -> None:
        super().__init__(error)
        self.error = error

    @property
    def code(self) -> int:
        """The exit code: input not read or answer not given, unless the reader left."""
        return READER_LEFT if self.error.errno == errno.EPIPE else 2

    def told(self) -> str:
        """The one line."""
        what = (self.error.strerror or "cannot be read or written").lower()
        try:
            os.getcwd()  # noqa: PTH109 - pathlib is not loaded by most commands
        except OSError:
            return "the current folder is gone; change to another one"
        if self.error.errno in (errno.EMFILE, errno.ENFILE, errno.EAGAIN, errno.ENOMEM):
            return f"{what}: the system allows this program no more; see 'ulimit -a'"
        if self.error.filename is not None:
            return f"{os.fsdecode(self.error.filename)}: {what}"
        if self.error.errno == errno.EBADF:
            what = "is closed"
        return f"standard output: {what}; the answer could not be written"


class Ended(BaseException):
    """A signal that ends the program came; carries its number. What is half written is taken away on the way out."""


@contextlib.contextmanager
def losing() -> Iterator[None]:
    """Raise ``Lost`` for what the system says inside."""
    try:
        yield
    except OSError as error:
        raise Lost(error) from None


def document(text: str | Iterable[str]) -> None:
    """Write a document for programs to standard output: UTF-8 with plain line ends, whatever the locale."""
    pieces = (text,) if isinstance(text, str) else text
    buffer: Any = getattr(sys.stdout, "buffer", None)
    if buffer is None:
        sys.stdout.writelines(pieces)
    else:
        sys.stdout.flush()
        for piece in pieces:
            # A byte of a path that is no UTF-8 becomes an escape that JSON knows too.
            buffer.write(piece.encode("utf-8", "backslashreplace"))
    sys.stdout.flush()


class _Deaf(io.FileIO):
    """Standard error: where it takes nothing, the exit code is still told."""

    def write(self, data: Any) -> int:
        """As a file does, but what cannot be written is dropped."""
        try:
            return super().write(data) or 0
        except OSError:
            return memoryview(data).nbytes


def _text(stream: io.RawIOBase, encoding: str | None) -> io.TextIOWrapper:
    buffered = io.BufferedWriter(stream)
    return io.TextIOWrapper(buffered, encoding or "utf-8", errors="backslashreplace", line_buffering=stream.isatty())


def open_streams() -> None:
    """Give the program three streams, whichever of them it was started without."""
    for number, way in ((0, os.O_WRONLY), (1, os.O_RDONLY), (2, os.O_RDONLY)):
        # A file that is opened later would take the number of a closed stream, and get what is written there.
        try:
            os.fstat(number)
        except OSError:
            with contextlib.suppress(OSError):
                os.open(os.devnull, way)
    if sys.stdin is None:
        sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115 - as long as the program runs
    if sys.stdout is None:
        sys.stdout = _text(io.FileIO(1, "w", closefd=False), None)
    if sys.stderr is None or os.name == "posix":
        encoding = None if sys.stderr is None else sys.stderr.encoding
        with contextlib.suppress(OSError):
            sys.stderr = _text(_Deaf(2, "w", closefd=False), encoding)
    for stream in (sys.stdin, sys.stdout):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def heed_signals() -> None:
    """Let the signals that end a program end it in order, unless it was started to ignore them."""

    def ended(number: int, frame: object) -> NoReturn:
        raise Ended(number)

    for name in _ENDING:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, ended)


def leave(code: int) -> NoReturn:
    """End the program with an exit code; as by the signal, where that is what ended it."""
    interrupt = signal.getsignal(signal.SIGINT)
    if interrupt is signal.default_int_handler:
        # What is left to do takes nothing away that an interrupt could save.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        sys.stdout.flush()
        left = False
    except (OSError, ValueError):
        left = True
    sys.stderr.flush()
    number = code - 128
    if number in {getattr(signal, name, None) for name in ("SIGPIPE", *_ENDING)}:
        signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)
    if left:
        # The interpreter would try once more to write what is left, and end with a code of its own.
        os._exit(code)
    sys.exit(code)
