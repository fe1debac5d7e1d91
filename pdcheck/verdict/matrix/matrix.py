"""Matrix: every source x cable x rig, one cell each, on all cores."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Annotated, ClassVar

from pdcheck.errors import InputError
from pdcheck.marks import IF_KNOWN, UNLISTED
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple
from pdcheck.result import Result
from pdcheck.verdict.finding import BEST_FIRST, WORKS, Verdict
from pdcheck.verdict.judge import pairs_of
from pdcheck.verdict.matrix.cells import Outcome, RigCells, Shared
from pdcheck.verdict.matrix.sorting import SORT_KEYS

# Pairs that one process takes at a time: enough for arrays to pay, few enough for a bar to move.
_TOGETHER = 5000


class Cell(NamedTuple):
    """One rig on one source and cable.

    ``rule`` is the one that decides, None where nothing speaks against it. ``max_w`` [W] is what the rig's loads can
    have at the worst corner before anything fails: 0 where it is unsafe or there is nothing. ``not_judged`` counts
    the figures that nobody states and that the verdict depends on: ``check`` lists them. ``hours`` [h] is how long a
    power bank lasts, where that was asked for and it says what it holds.
    """

    rig: str
    source: str
    cable: str
    verdict: Verdict
    rule: str | None
    max_w: float
    not_judged: int = 0
    hours: Annotated[Triple | None, IF_KNOWN] = None


@dataclass(frozen=True, repr=False)
class Matrix(Result):
    """Rigs on sources and cables: how many cells each verdict has, and every cell."""

    SCHEMA: ClassVar[str] = "matrix/3"
    TITLE: ClassVar[str] = "Every rig on every source and cable"
    ROWS: ClassVar[tuple[str, ...]] = ("cells",)

    counts: Annotated[Mapping[Verdict, int], UNLISTED] = field(init=False, compare=False)
    cells: tuple[Cell, ...]

    def __post_init__(self) -> None:
        found = Counter(cell.verdict for cell in self.cells)
        object.__setattr__(self, "counts", {verdict: found[verdict] for verdict in BEST_FIRST})

    @property
    def works(self) -> bool:
        """Whether no cell fails or is unsafe."""
        return all(cell.verdict in WORKS for cell in self.cells)

    def answer(self) -> str:
        """How many cells there are, and of each verdict."""
        total = f"{len(self.cells)} cell{'' if len(self.cells) == 1 else 's'}"
        listed = ", ".join(f"{number} {verdict}" for verdict, number in self.counts.items() if number)
        return f"{total}: {listed}" if self.cells else "no cell is left"


class Build(NamedTuple):
    """A rig under a name, with the pairs of source and cable that it is to be judged on."""

    name: str
    rig: Rig
    pairs: tuple[tuple[Source, Cable], ...]


def build(name: str, rig: Rig, kit: Kit, sources: Sequence[str] = (), cables: Sequence[str] = ()) -> Build:
    """A rig with every pair of a kit, or those of some sources and cables only.

    Raises ``InputError`` for an id that is not in the kit.
    """
    for source_id in sources:
        kit.source(source_id)
    for cable_id in cables:
        next(pairs_of(kit, None, cable_id), None)
    pairs = tuple(
        (source, cable)
        for source, cable in pairs_of(kit)
        if (not sources or source.id in sources) and (not cables or cable.id in cables)
    )
    return Build(name, rig, pairs)


def judge_matrix(
    builds: Sequence[Build], *, processes: int | None = None, advance: Callable[[int], object] = lambda cells: None
) -> list[Cell]:
    """Judge every build on each of its pairs, in their order.

    Args:
        builds: the rigs with their pairs; kits may be shared.
        processes: how many to use; None for one on each core, and only this one for a few cells.
        advance: told after each share of the work how many cells it was.

    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "0.1ohm"}])
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> [(cell.rig, cell.source, cell.cable, cell.verdict) for cell in judge_matrix([build("fan", rig, kit)])]
    [('fan', 's', 'c', 'runs')]
    """
    tasks = [
        (at, start, start + _TOGETHER)
        for at, each in enumerate(builds)
        for start in range(0, len(each.pairs), _TOGETHER)
    ]
    if processes is None:
        processes = 1 if sum(len(each.pairs) for each in builds) <= _TOGETHER else _cores()
    found: list[list[Outcome]] = [[] for _ in tasks]
    for at, outcomes in _outcomes(builds, tasks, min(processes, len(tasks))):
        found[at] = outcomes
        advance(len(outcomes))
    return [
        Cell(builds[at].name, source.id, cable.id, *outcome)
        for (at, start, end), outcomes in zip(tasks, found, strict=True)
        for (source, cable), outcome in zip(builds[at].pairs[start:end], outcomes, strict=True)
    ]


Task = tuple[int, int, int]


def _outcomes(builds: Sequence[Build], tasks: Sequence[Task], processes: int) -> Iterator[tuple[int, list[Outcome]]]:
    """The outcomes of each task with its place, as they come."""
    if processes <= 1:
        judged = _judging(builds)
        yield from ((at, judged(task)) for at, task in enumerate(tasks))
        return
    from concurrent.futures import as_completed

    from pdcheck.intake.several import several

    with several(processes, _begin, builds) as workers:
        for done in as_completed([workers.take(_work, task) for task in enumerate(tasks)]):
            yield done.result()


def _judging(builds: Sequence[Build]) -> Callable[[Task], list[Outcome]]:
    """What one process judges tasks by, one rig after the other; all that rigs share is kept."""
    shared = Shared()
    cells = lru_cache(1)(lambda at: RigCells(builds[at].rig, shared))
    return lambda task: cells(task[0]).outcomes(builds[task[0]].pairs[task[1] : task[2]])


_judged: Callable[[Task], list[Outcome]] | None = None


def _begin(builds: Sequence[Build]) -> None:
    global _judged  # noqa: PLW0603
    _judged = _judging(builds)


def _work(task: tuple[int, Task]) -> tuple[int, list[Outcome]]:
    assert _judged is not None
    return task[0], _judged(task[1])


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


def best_pair(rig: Rig, pairs: Sequence[tuple[Source, Cable]]) -> tuple[Source, Cable]:
    """The pair with the best verdict, then the most watts, then the first.

    Raises ``InputError`` where there is none.

    >>> cable = Cable(id="c", kind="C-C", loop="0.1ohm")
    >>> less, more = Source("5V 3A", id="less"), Source("5V 3A, 9V 3A", id="more")
    >>> best_pair(Rig(trigger="9V", branch=[{"name": "fan", "load": "12W"}]), [(less, cable), (more, cable)])[0].id
    'more'
    """
    if not pairs:
        raise InputError("no charger goes with this cable", expected="a kit with a source and a cable that fit")
    cells = judge_matrix([Build("", rig, tuple(pairs))]) if len(pairs) > 1 else []
    best = min(range(len(cells)), key=lambda at: SORT_KEYS["verdict"](cells[at]), default=0)
    return pairs[best]


def sort_cells(cells: Sequence[Cell], key: str) -> list[Cell]:
    """Cells by one of ``SORT_KEYS``, otherwise in the order they had.

    >>> few, many = Cell("r", "s", "c", "runs", None, 9.0), Cell("r", "s", "d", "runs", None, 24.0)
    >>> [cell.cable for cell in sort_cells([few, many], "max_w")]
    ['d', 'c']
    """
    return sorted(cells, key=SORT_KEYS[key])
