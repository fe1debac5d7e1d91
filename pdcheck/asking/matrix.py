"""Matrix: every source x cable x rig, one cell each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from pdcheck.asking.given import AnyKit, AnyRig, named_rigs
from pdcheck.errors import InputError
from pdcheck.quantities import quoted
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import BEST_FIRST as VERDICT_WORDS
from pdcheck.verdict.matrix.matrix import Matrix, build, judge_matrix, sort_cells
from pdcheck.verdict.matrix.sorting import SORT_KEYS
from pdcheck.verdict.power_bank import hours_of

Names = str | Sequence[str]


def matrix(
    rigs: AnyRig | Iterable[AnyRig] | Mapping[str, AnyRig],
    kit: AnyKit | None = None,
    *,
    rig: Names = (),
    source: Names = (),
    cable: Names = (),
    only: Names = (),
    sort: str | None = None,
    reverse: bool = False,
    hours: bool = False,
    progress: Callable[[int, int], object] | None = None,
    processes: int | None = 1,
) -> Matrix:
    """Judge rigs on every source and cable of a kit: verdict, the rule that decides, and the greatest load [W].

    Args:
        rigs: a Rig or the path of its file, several of them, or a mapping from names to them.
        kit: a Kit, or the path of its file; without it the kit inside each rig.
        rig: only rigs of these names.
        source: only sources of these ids.
        cable: only cables of these ids.
        only: only cells of these verdicts.
        sort: ``verdict``, ``max_w`` or ``hours``, the best first; ``rule``, ``source``, ``cable`` or ``rig``, by name.
        reverse: the other way round.
        hours: also how long each power bank lasts [h], where it says what it holds.
        progress: told after each share of the work how many cells are judged, and of how many.
        processes: how many share the work; None for one on each core where there are many cells. A script that asks
            for more than one needs ``if __name__ == "__main__"``.

    Raises:
        InputError: what cannot be read, a name or an id that there is not.

    >>> from pdcheck.parts.kit import Kit
    >>> from pdcheck.parts.rig import Rig
    >>> owned = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C"}])
    >>> box = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> found = matrix({"fan": box}, owned)
    >>> found, found.rows()[0]["verdict"]
    (<Matrix: 1 cell: 1 runs>, 'runs')
    """
    _among(_listed(only), VERDICT_WORDS, "only")
    _among(() if sort is None else (sort,), tuple(SORT_KEYS), "sort")
    loaded = named_rigs(rigs, kit)
    names = [name for name, _, _ in loaded]
    wanted = _listed(rig)
    for name in wanted:
        if name not in names:
            raise InputError(f"no rig named {name!r}", argument="rig", expected=f"one of {', '.join(names)}")
    sources, cables = _listed(source), _listed(cable)
    builds = [
        build(name, built, owned, sources, cables) for name, built, owned in loaded if not wanted or name in wanted
    ]
    total = sum(len(each.pairs) for each in builds)
    if not total:
        expected = "a kit with a source and a cable that goes with it"
        raise InputError("no pair of source and cable is left to judge", expected=expected)
    done = 0

    def advance(count: int) -> None:
        nonlocal done
        done += count
        if progress is not None:
            progress(done, total)

    cells = judge_matrix(builds, processes=processes, advance=advance)
    if hours or sort == "hours":
        pairs = ((each.rig, *pair) for each in builds for pair in each.pairs)
        cells = [cell._replace(hours=hours_of(Case(*of))) for cell, of in zip(cells, pairs, strict=True)]
    if only:
        cells = [cell for cell in cells if cell.verdict in _listed(only)]
    if sort is not None:
        cells = sort_cells(cells, sort)
    return Matrix(tuple(reversed(cells) if reverse else cells))


def _among(words: Sequence[str], known: Sequence[str], argument: str) -> None:
    """Raises ``InputError`` for a word that there is not."""
    for word in words:
        if word not in known:
            raise InputError(f"{quoted(word)} is none", argument=argument, expected=f"one of {', '.join(known)}")


def _listed(names: Names) -> Sequence[str]:
    return (names,) if isinstance(names, str) else names
