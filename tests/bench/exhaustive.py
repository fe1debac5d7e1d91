"""Every 32-bit word by every table, and every 16-bit header: decoded in bulk, put together, compared with itself.

Run all of it with ``python -m tests.bench.exhaustive`` (minutes), a part with ``--slice N`` (one word of every N), one
table with ``--only NAME``, on several cores with ``--processes N``. The single decoder is compared at the boundaries of
every field and on random words.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pdcheck.bits import bulk
from pdcheck.bits.header import EXTENDED_HEADER, HEADER, HEADER_CABLE
from pdcheck.bits.identity import (
    ACTIVE_CABLE_1,
    ACTIVE_CABLE_2,
    ACTIVE_CABLE_R2,
    ID_HEADER_CABLE,
    PASSIVE_CABLE,
    PASSIVE_CABLE_R2,
    VPD,
)
from pdcheck.bits.layout import Word
from pdcheck.bits.power import REQUEST_WORDS, REQUEST_WORDS_SHORT, SINK_WORDS, SOURCE_WORDS, kind_of

SPACE = 1 << 32
CHUNK = 1 << 22
SEED = 20241

Words = NDArray[np.uint32]
Columns = dict[str, NDArray[Any]]


class Job(NamedTuple):
    """One way to read 32-bit words in bulk, and the table of each kind of them, or the one there is."""

    name: str
    decode: Callable[[Words], Columns]
    tables: tuple[Word, ...]

    def table_of(self, raw: int) -> Word:
        """The table of a word."""
        return self.tables[bulk.KINDS.index(kind_of(raw)) if len(self.tables) > 1 else 0]


def put_together(columns: Columns, tables: tuple[Word, ...]) -> Words:
    """The words that have these fields: by the table of the kind of each, or by the one there is."""
    raw = columns[bulk.RESERVED].copy()
    for kind, table in enumerate(tables):
        words = np.zeros_like(raw)
        for field in table.named:
            counts = columns.get(field.key, np.uint32((field.fixed or 0) * field.scale))
            words |= np.left_shift(counts // np.uint32(field.scale), np.uint32(field.low), dtype=np.uint32)
        raw |= words if len(tables) == 1 else words * (columns["kind"] == kind)
    return raw


def jobs() -> list[Job]:
    """Source objects, sink objects, each form of request in both widths of position, each cable word."""
    cables = (ID_HEADER_CABLE, PASSIVE_CABLE, PASSIVE_CABLE_R2, ACTIVE_CABLE_1, ACTIVE_CABLE_R2, ACTIVE_CABLE_2, VPD)
    return [
        Job("source", bulk.decode_sources, tuple(SOURCE_WORDS.values())),
        Job("sink", bulk.decode_sinks, tuple(SINK_WORDS.values())),
        *(
            Job(word.name, partial(bulk.decode_words, word=word), (word,))
            for word in (*REQUEST_WORDS.values(), *REQUEST_WORDS_SHORT.values(), *cables)
        ),
    ]


def chunks(every: int) -> Iterator[Words]:
    """The space of 32-bit words in chunks, one of every ``every``, at an odd step so that the low bits vary too."""
    step = every | 1 if every > 1 else 1
    for start in range(0, SPACE, CHUNK * step):
        yield np.arange(start, min(start + CHUNK * step, SPACE), step, dtype=np.uint64).astype(np.uint32)


def boundaries(word: Word) -> list[int]:
    """Words in which one field is at zero, one, the middle, the top less one or the top, the others all 0 or all 1."""
    full = (1 << word.bits) - 1
    found: set[int] = set()
    for field in word.fields:
        place = field.mask << field.low
        for count in {0, 1 & field.mask, field.mask >> 1, field.mask - 1, field.mask}:
            found |= {count << field.low, (full & ~place) | (count << field.low)}
    return sorted(found)


def compare_single(job: Job, words: Words) -> None:
    """The single decoder and encoder against the bulk path; ``AssertionError`` at the first word that differs."""
    columns = job.decode(words)
    kinds = columns.pop("kind", None)
    rows = {key: column.tolist() for key, column in columns.items()}
    for at, raw in enumerate(words.tolist()):
        table = job.table_of(raw)
        if kinds is not None:
            assert bulk.KINDS[kinds[at]] == kind_of(raw), f"{job.name} {raw:08X}: kind"
        single = table.decode(raw)
        assert table.encode(single) == raw, f"{job.name} {raw:08X}: does not encode back"
        check_row(f"{job.name} {raw:08X}", table, single, {key: row[at] for key, row in rows.items()})


def check_row(where: str, table: Word, single: Mapping[str, Any], row: Mapping[str, Any]) -> None:
    """One word's fields from both decoders; a column of another kind must be zero."""
    reserved = sum(single.get(field.key, 0) << field.low for field in table.spare)
    assert row[bulk.RESERVED] == reserved, f"{where}: reserved bits"
    for key, value in row.items():
        if key != bulk.RESERVED:
            assert value == single.get(key, 0), f"{where}: {key} is {value} in bulk, {single.get(key, 0)} alone"


def run_job(job: Job, every: int, singles: int) -> tuple[int, float]:
    """Words compared in bulk, and the seconds it took."""
    begun = time.perf_counter()
    done = 0
    for words in chunks(every):
        back = put_together(job.decode(words), job.tables)
        assert np.array_equal(back, words), f"{job.name}: {words[back != words][0]:08X} does not encode back"
        done += words.size
    taken = time.perf_counter() - begun
    tables = {job.table_of(top << 28).name: job.table_of(top << 28) for top in range(16)}
    edges = [raw for table in tables.values() for raw in boundaries(table)]
    # A boundary word of one kind may be of another kind by its top bits; it is compared as what it is.
    compare_single(job, np.array(edges, np.uint32))
    random = np.random.default_rng(SEED).integers(0, SPACE, singles, dtype=np.uint32)
    compare_single(job, random)
    return done, taken


def run_named(name: str, every: int, singles: int) -> tuple[int, float]:
    """As ``run_job``, for the job of that name."""
    return run_job(next(job for job in jobs() if job.name == name), every, singles)


def run_headers() -> int:
    """Every 16-bit word as message header on SOP, on a cable's SOP, and as extended header; the count of words."""
    every = np.arange(1 << 16, dtype=np.uint16)
    for word in (HEADER, HEADER_CABLE, EXTENDED_HEADER):
        columns = bulk.decode_words(every, word)
        assert np.array_equal(put_together(columns, (word,)), every), word.name
        rows = {key: column.tolist() for key, column in columns.items()}
        for raw in range(1 << 16):
            single = word.decode(raw)
            assert word.encode(single) == raw, f"{word.name} {raw:04X}"
            check_row(f"{word.name} {raw:04X}", word, single, {key: row[raw] for key, row in rows.items()})
    return 3 << 16


def main(arguments: list[str] | None = None) -> int:
    """Run and print one line a table; 0 where all agree."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.exhaustive", description=str(__doc__).splitlines()[0])
    parser.add_argument("--slice", type=int, default=1, metavar="N", help="one word of every N (1: all words)")
    parser.add_argument("--singles", type=int, default=1_000_000, help="random words for the single decoder, in all")
    parser.add_argument("--processes", type=int, default=1, metavar="N", help="tables at a time")
    parser.add_argument("--only", metavar="NAME", help="one table")
    given = parser.parse_args(arguments)
    chosen = [job for job in jobs() if given.only in (None, job.name)]
    if not chosen or given.slice < 1:
        parser.error(f"tables: {', '.join(job.name for job in jobs())}; N is 1 or more")
    begun = time.perf_counter()
    singles = given.singles // len(chosen)
    with ProcessPoolExecutor(given.processes) as pool:
        # By name: a job holds functions that cannot be sent to another process.
        runs = [(job.name, pool.submit(run_named, job.name, given.slice, singles)) for job in chosen]
        for name, run in runs:
            done, taken = run.result()
            whole = taken * SPACE / done
            print(f"{name:24} {done:>13,} words {taken:7.1f} s   all 2^32: {whole / 60:5.1f} min", flush=True)
    if given.only is None:
        print(f"{'headers':24} {run_headers():>13,} words, bulk and single")
    print(f"all agree, {time.perf_counter() - begun:.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
