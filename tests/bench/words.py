"""Decoding of words: one message against the bare construct parse, many against construct, bitstruct and NumPy."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np

from pdcheck.bits import bulk
from pdcheck.bits.codec import FRAME, codec
from pdcheck.bits.layout import Field
from pdcheck.bits.message import read_message
from pdcheck.bits.power import FIXED_SOURCE, SOURCE_WORDS
from pdcheck.bits.sequence import Listener
from tests.bench.row import Row, side_by_side, times
from tests.bench.startup import HEX

FEW = 2_000


def rows(count: int, runs: int) -> Iterator[Row]:
    """Rows of one message, and of ``count`` words."""
    frame = bytes.fromhex(HEX + "48c6e7c6")

    def ours() -> None:
        for _ in range(200):
            Listener().hear(read_message(frame))

    def bare() -> None:
        for _ in range(200):
            FRAME.parse(frame)

    one, other, ratio = side_by_side(ours, bare, runs)
    told = f"{one / 200 * 1e6:.0f} µs with all fields of 6 objects; construct {other / 200 * 1e6:.0f} µs, words alone"
    yield Row("one message, in a process", "construct's parse of the frame", times(ratio), "", told)
    words = np.random.default_rng(1).integers(0, 1 << 32, count, dtype=np.uint32)
    few = words[:FEW]
    many, _, _ = side_by_side(lambda: bulk.decode_words(words, FIXED_SOURCE), lambda: None, runs)
    rate = f"{count / many / 1e6:.0f} million words a second"
    for name, theirs, bar in (("plain construct", _construct, "≥ 300"), ("bitstruct", _bitstruct(), "")):
        if theirs is not None:
            slow, _, _ = side_by_side(lambda theirs=theirs: theirs(few), lambda: None, max(1, runs // 2))
            faster = slow / FEW / (many / count)
            yield Row("bulk, all fields of one kind: times as fast", name, times(faster), bar, rate)
    _, _, ratio = side_by_side(
        lambda: _masks(words, FIXED_SOURCE.fields), lambda: bulk.decode_words(words, FIXED_SOURCE), runs
    )
    yield Row("bulk, one kind: times as fast", "NumPy's mask and shift", times(ratio), "≥ 0.5", rate)
    every = {field.key: field for word in SOURCE_WORDS.values() for field in word.named}
    _, _, ratio = side_by_side(lambda: _masks(words, every.values()), lambda: bulk.decode_sources(words), runs)
    yield Row(
        "bulk, all kinds mixed: times as fast", "NumPy's mask and shift", times(ratio), "≥ 0.5", f"{len(every)} columns"
    )


def _masks(words: np.ndarray, fields: Iterable[Field]) -> dict[str, Any]:
    """Mask and shift, and the scale where there is one: no kinds told apart."""
    out = {}
    for field in fields:
        column = (words >> np.uint32(field.low)) & np.uint32(field.mask)
        out[field.key] = column if field.scale == 1 else column * np.uint32(field.scale)
    return out


def _construct(words: np.ndarray) -> None:
    parse = codec(FIXED_SOURCE).parse
    for word in words.astype("<u4"):
        parse(word.tobytes())


def _bitstruct() -> Any:
    try:
        import bitstruct.c as bitstruct
    except ImportError:
        return None
    fields = FIXED_SOURCE.fields
    layout = bitstruct.compile("".join(f"u{field.width}" for field in fields), [field.key for field in fields])

    def unpack(words: np.ndarray) -> None:
        for word in words.astype(">u4"):
            layout.unpack(word.tobytes())

    return unpack
