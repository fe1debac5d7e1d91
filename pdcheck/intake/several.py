"""Work shared out among processes that start from nothing, so that no thread or lock of this one is in them."""

from __future__ import annotations

import gc
import os
import pickle
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from tempfile import mkstemp
from typing import Any

from pdcheck.errors import InputError


class Several:
    """Processes that take work; see ``several``."""

    def __init__(self, pool: ProcessPoolExecutor) -> None:
        self._pool = pool

    def take(self, work: Callable[..., Any], *arguments: Any) -> Future[Any]:
        """Give work to the next process that is free."""
        mask = getattr(signal, "pthread_sigmask", None)
        if mask is None:
            return self._pool.submit(work, *arguments)
        # A process that is started here inherits the mask: the one at the keyboard stops the first one only.
        before = mask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            return self._pool.submit(work, *arguments)
        finally:
            mask(signal.SIG_SETMASK, before)


@contextmanager
def several(processes: int, begin: Callable[..., object], *arguments: Any) -> Iterator[Several]:
    """So many processes, each of which begins with ``begin``; they end with the block.

    A process that somebody ends, or that finds no memory, is an ``InputError`` and no endless wait. A script that asks
    for several processes needs the usual ``if __name__ == "__main__"``.
    """
    # Through a file: to hand much to a process that dies at once would wait for ever in the system's pipe.
    handle, kept = mkstemp(prefix="pdcheck-")
    pool = ProcessPoolExecutor(processes, get_context("spawn"), initializer=_begun, initargs=(kept,))
    try:
        with os.fdopen(handle, "wb") as stream:
            pickle.dump((begin, arguments), stream)
        yield Several(pool)
    except BrokenProcessPool:
        what = "a process that took part in the work ended before it was done"
        raise InputError(what, expected="one process, or a script with 'if __name__ == \"__main__\"'") from None
    finally:
        pool.shutdown(cancel_futures=True)
        os.unlink(kept)  # noqa: PTH108 - pathlib is not loaded by most commands


def _begun(kept: str) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.set_threshold(200_000, 20, 20)
    with open(kept, "rb") as stream:  # noqa: PTH123
        begin, arguments = pickle.load(stream)
    begin(*arguments)
