"""Standard streams: documents in UTF-8, streams that are closed or full, signals that end the program."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import signal
import sys
from _thread import get_ident, interrupt_main, start_new_thread
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from time import sleep
from typing import Any, NoReturn

READER_LEFT = 128 + 13
"""The exit code where nobody reads standard output any more, as a shell tells it: 128 and the number of SIGPIPE."""
_ENDING = ("SIGTERM", "SIGHUP")
_A_MOMENT_S = 0.001
_afterwards: list[Callable[[], object]] = []
"""What puts streams back as they were handed over."""
_came: list[int] = []
"""The signals that came and are to end the program."""


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
    """A signal that ends the program came. What is half written is taken away on the way out."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


@contextlib.contextmanager
def losing() -> Iterator[None]:
    """Raise ``Lost`` for what the system says inside."""
    try:
        yield
    except OSError as error:
        raise Lost(error) from None


def document(text: str | bytes | Iterable[str]) -> None:
    """Write a document for programs to standard output: UTF-8 with plain line ends, whatever the locale; bytes as they
    are."""
    pieces = (text,) if isinstance(text, str | bytes) else text
    buffer: Any = getattr(sys.stdout, "buffer", None)
    if buffer is None:
        sys.stdout.writelines(piece if isinstance(piece, str) else repr(piece) for piece in pieces)
    else:
        sys.stdout.flush()
        for piece in pieces:
            # A byte of a path that is no UTF-8 becomes an escape that JSON knows too.
            buffer.write(piece if isinstance(piece, bytes) else piece.encode("utf-8", "backslashreplace"))
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
        _made_to_wait(number)
    if sys.stdin is None:
        # A folder is none that can be read; whoever asks is told so.
        with contextlib.suppress(OSError):
            sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115 - as long as the program runs
    if sys.stdout is None:
        sys.stdout = _text(io.FileIO(1, "w", closefd=False), None)
    elif isinstance(raw := getattr(sys.stdout, "buffer", None), io.RawIOBase):
        # PYTHONUNBUFFERED: what a raw stream takes only a part of, on a disk that is nearly full, it drops the rest of.
        sys.stdout = io.TextIOWrapper(io.BufferedWriter(raw), sys.stdout.encoding, line_buffering=True)
    if sys.stderr is None or os.name == "posix":
        encoding = None if sys.stderr is None else sys.stderr.encoding
        with contextlib.suppress(OSError):
            sys.stderr = _text(_Deaf(2, "w", closefd=False), encoding)
    for stream in (sys.stdin, sys.stdout):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def _made_to_wait(number: int) -> None:
    """Let a stream wait for whoever is at its other end, to the end of the program.

    A program that shares it may have said that nobody is to wait: what is late would be taken for the end, and what
    finds no room for a fault.
    """
    waits, make = getattr(os, "get_blocking", None), getattr(os, "set_blocking", None)
    with contextlib.suppress(OSError):
        if waits is not None and make is not None and not waits(number):
            make(number, True)
            _afterwards.append(partial(make, number, False))


def heed_signals() -> None:
    """Let the signals that end a program end it in order, unless it was started to ignore them.

    What one of them raises may come up anywhere, also where nothing can be raised: then it is raised once more.
    """

    def ended(number: int, frame: object) -> NoReturn:
        _came.append(number)
        for each in heeded:
            # A terminal that is closed tells it twice; the way out is not cut short by that.
            signal.signal(each, signal.SIG_IGN)
        raise Ended(number)

    def interrupted(number: int, frame: object) -> NoReturn:
        _came.append(number)
        raise KeyboardInterrupt

    def lost(unraisable: Any) -> None:
        kind = unraisable.exc_type
        if not issubclass(kind, Ended | KeyboardInterrupt):
            sys.__unraisablehook__(unraisable)
        elif _came:
            number = _came[-1]
            signal.signal(number, interrupted if kind is KeyboardInterrupt else ended)
            start_new_thread(again, (number, get_ident()))

    def again(number: int, main_thread: int) -> None:
        # Here nothing can be raised either; a moment later it can.
        sleep(_A_MOMENT_S)
        tell = getattr(signal, "pthread_kill", None)
        interrupt_main(signal.Signals(number)) if tell is None else tell(main_thread, number)

    numbers = [getattr(signal, name) for name in _ENDING if hasattr(signal, name)]
    heeded = [each for each in numbers if signal.getsignal(each) is signal.SIG_DFL]
    for number in heeded:
        signal.signal(number, ended)
    if signal.getsignal(signal.SIGINT) in (signal.default_int_handler, signal.SIG_DFL):
        signal.signal(signal.SIGINT, interrupted)
    sys.unraisablehook = lost


def signalled() -> int | None:
    """The exit code that a signal which came asks for; whatever is raised then may be of its doing."""
    return 128 + _came[-1] if _came else None


def leave(code: int) -> NoReturn:
    """End the program with an exit code; as by the signal, where that is what ended it."""
    endings = [getattr(signal, name) for name in ("SIGINT", *_ENDING) if hasattr(signal, name)]
    for each in endings:
        if callable(signal.getsignal(each)):
            # What is left to do takes nothing away that could be saved.
            signal.signal(each, signal.SIG_DFL)
    try:
        sys.stdout.flush()
        left = False
    except (OSError, ValueError):
        left = True
    sys.stderr.flush()
    for put_back in _afterwards:
        with contextlib.suppress(OSError):
            put_back()
    number = code - 128
    if number in {getattr(signal, name, None) for name in ("SIGPIPE", *_ENDING)}:
        signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)
    if left:
        # The interpreter would try once more to write what is left, and end with a code of its own.
        os._exit(code)
    sys.exit(code)
