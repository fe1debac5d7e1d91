"""A folder for temporary files that is full, or cannot be written to, is told of by its own name."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

import numpy as np
import pytest

from pdcheck.errors import InputError
from pdcheck.intake import long_list
from pdcheck.intake.long_list import LongList
from pdcheck.intake.waveform import edges
from pdcheck.show import written


def long_list_of_many() -> None:
    LongList(os.urandom(40) for _ in range(100 * long_list.BLOCK))


def edges_of_many() -> None:
    edges.Times().add(np.arange(edges._IN_MEMORY + 1.0))


def texts_of_many() -> None:
    aside = written.Aside()
    for _ in range(written._MOST):
        aside.add("a line that stands at the end")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("fill", [long_list_of_many, edges_of_many, texts_of_many])
def test_a_full_disk_is_told_with_the_folder(fill: Callable[[], None], monkeypatch: pytest.MonkeyPatch) -> None:
    def full(mode: str, **asked: Any) -> IO[Any]:
        return open("/dev/full", "wb" if "b" in mode else "w", **asked)  # noqa: PTH123

    fill()
    monkeypatch.setattr(tempfile, "TemporaryFile", full)
    with pytest.raises(InputError, match=r"temporary files in .*: no space left on device; expected room there"):
        fill()
