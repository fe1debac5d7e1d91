"""Trying on the page: every position worked out beforehand, as a table for the script, and the controls."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterator, Sequence
from typing import Any

from pdcheck.named import NamedTuple
from pdcheck.parts.kit import Kit
from pdcheck.parts.request import request_text
from pdcheck.quantities import format_quantity
from pdcheck.show.check import HEADLINES, contract_line
from pdcheck.show.page.drawing import drawing
from pdcheck.show.page.marks import MARKS
from pdcheck.show.pictures.parts_picture import granted, live_picture
from pdcheck.show.pictures.try_picture import heat_picture, volts_picture
from pdcheck.verdict.case import Case
from pdcheck.verdict.drawn import Drawn, drawn, lost_w
from pdcheck.verdict.finding import LEVELS, VERDICTS, Finding
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.trying import Found, Grid, Pair, Trying, flowing

GAP = "\u0001"
"""Where a number stands in a sentence of the table."""
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_DIGITS = {"V": 3, "A": 3, "W": 3, "lost": 2}


class _Texts:
    """Texts by their place in one list; the first is the empty one."""

    def __init__(self) -> None:
        self.listed: list[str] = [""]
        self._places: dict[str, int] = {"": 0}
        self._figures: dict[tuple[str, str], int] = {}

    def place(self, text: str) -> int:
        known = self._places.setdefault(text, len(self.listed))
        if known == len(self.listed):
            self.listed.append(text)
        return known

    def figure(self, value: float, unit: str) -> int:
        """A figure as it is shown; printed once for all that look alike."""
        digits = _DIGITS[unit]
        # What a load of next to nothing takes is no figure.
        key = (f"{value:.{digits - 1}e}" if abs(value) >= _NO_FIGURE else "0", unit)
        known = self._figures.get(key)
        if known is None:
            known = self._figures[key] = self.place(format_quantity(float(key[0]), unit.replace("lost", "W"), digits))
        return known


_NO_FIGURE = 1e-5


class _Findings:
    """Findings as numbers: their sentence once, with gaps for the figures in it, and then what fills the gaps."""

    def __init__(self, texts: _Texts) -> None:
        self._texts = texts
        self.kinds: dict[tuple[int, int, str, str, str, str, str], int] = {}

    def coded(self, found: Found) -> list[list[int]]:
        return [self._coded(*each) for each in found]

    def _coded(self, at: int, finding: Finding) -> list[int]:
        level = LEVELS.index(finding.level)
        kind = (
            level, at, finding.subject, _NUMBER.sub(GAP, finding.text), finding.advice, finding.rule,
            str(finding.origin),
        )  # fmt: skip
        place = self.kinds.setdefault(kind, len(self.kinds))
        return [place, *map(self._texts.place, _NUMBER.findall(finding.text))]


class Control(NamedTuple):
    """A branch that can be switched and moved: its name, and in words what its load is at each step."""

    name: str
    words: Sequence[str]


class TrySection(NamedTuple):
    """What the page needs: the controls, the pictures to be moved, and the table behind them."""

    sources: Sequence[tuple[str, str]]
    cables: Sequence[tuple[str, str]]
    settings: Sequence[str]
    controls: Sequence[Control]
    steps: Sequence[int]
    said: Sequence[str]
    pictures: dict[str, Any]
    document: dict[str, Any]


def try_section(judgement: Judgement, kit: Kit, pairs: Sequence[Pair], own: Pair) -> TrySection:
    """Judge every position around a pair of ``pairs``."""
    trying = Trying(judgement.case.rig, kit, pairs)
    grid = trying.grid(own)
    build = drawn(judgement)
    worked = _Worked(trying, grid, build)
    pair_rows, alone = [worked.row(pair) for pair in grid.pairs], worked.alone()
    sources = {source.id: source.title for source, _ in grid.pairs}
    cables = {cable.id: cable.title for _, cable in grid.pairs}
    source_ids, cable_ids = list(sources), list(cables)
    document = {
        "pairs": [[source_ids.index(source.id), cable_ids.index(cable.id)] for source, cable in grid.pairs],
        "rows": pair_rows,
        "own": grid.pairs.index(own),
        "set": grid.requests.index(trying.rig.trigger.request),
        "loads": [[-1 if share is None else share for share in loads] for loads in grid.loads],
        "each": grid.each,
        "slots": worked.slots,
        "parts": {subject: part.part for part in build.every_part for subject in part.subjects},
        "branches": [branch.name for branch in trying.rig.branches],
        "contracts": [list(each) for each in worked.contracts],
        "verdicts": [[VERDICTS[level], MARKS[VERDICTS[level]], HEADLINES[VERDICTS[level]]] for level in LEVELS],
        "levels": LEVELS,
        "kinds": [list(kind) for kind in worked.findings.kinds],
        "texts": worked.texts.listed,
        "alone": alone,
        "states": worked.states,
    }
    return TrySection(
        list(sources.items()), list(cables.items()), [request_text(each) for each in grid.requests],
        [Control(branch.name, _words(branch.load, grid.steps)) for branch in trying.rig.branches],
        grid.steps, [*_said(grid, own), *([_UNSTATED] if judgement.not_judged else [])],
        {
            "wide": drawing(live_picture(build)), "narrow": drawing(live_picture(build, narrow=True)),
            "volts": drawing(volts_picture(build, worked.most_v)),
            "watts": drawing(heat_picture(build, worked.most_w)),
        },
        document,
    )  # fmt: skip


_UNSTATED = (
    "Figures that nobody has stated are not held against it here: they are listed below the verdict of this page."
)


def _words(load: Any, steps: Sequence[int]) -> list[str]:
    return [load.sized(step / 100).words() if step else "nothing" for step in steps]


def _said(grid: Grid, own: Pair) -> Iterator[str]:
    """What can be chosen, and what not."""
    step = grid.steps[1] - grid.steps[0]
    yield (
        f"Every position is worked out as 'pdcheck check' does it, loads in steps of {step} %. Between two steps volts "
        "and amperes lie between those of both."
    )
    if not grid.each:
        yield "One branch is changed at a time: the others are then as stated."
    if len(grid.pairs) == 1:
        yield "The table of the kit has the other chargers and cables, and every setting."
    elif not grid.every_pair:
        yield (
            f"Other chargers can be tried with {own[1].id}, other cables with {own[0].id}: the table of the kit has "
            "every pair."
        )


class _Worked:
    """Everything that is worked out, shared where it is the same."""

    def __init__(self, trying: Trying, grid: Grid, build: Drawn) -> None:
        self.trying, self.grid = trying, grid
        self.parts = build.every_part
        self.texts = _Texts()
        self.findings = _Findings(self.texts)
        self.states: list[list[Any]] = []
        self.slots: list[str] = [slot for part in self.parts for slot in _slots(part)]
        self.contracts: dict[tuple[str, str], int] = {}
        self.most_v, self.most_w = 5.0, 1.0
        self._blocks: dict[Hashable, int] = {}
        # By the identity of a point, which holds as long as its case is kept beside its figures.
        self._known: dict[int, tuple[Case, list[int]]] = {}

    def row(self, pair: Pair) -> list[list[int]]:
        """For each setting on a pair: its contract, and where its states begin."""
        found = []
        for request in self.grid.requests:
            supply = self.trying.supply(pair, request)
            told = (contract_line(supply.contract), granted(supply.contract))
            contract = self.contracts.setdefault(told, len(self.contracts))
            key = (request, self.trying.same(supply))
            if key not in self._blocks:
                self._blocks[key] = len(self.states)
                for loads in self.grid.loads:
                    self.states.append(self._state(self.trying.case(supply, request, loads)))
            found.append([contract, self._blocks[key]])
        return found

    def _state(self, case: Case) -> list[Any]:
        """What flows, as figures in the order of the slots, then which branches are off, then the findings."""
        # Positions with one circuit share its figures.
        key = id(case.point)
        if key not in self._known:
            self._known[key] = (case, [place for part in self.parts for place in self._figures(case, part)])
        figures = self._known[key][1]
        dark = case.contract.outcome == "off"
        off = [at for at, branch in enumerate(self.trying.rig.branches) if dark or branch.name in case.off]
        return [figures, off, self.findings.coded(flowing(case))]

    def _figures(self, case: Case, part: Any) -> Iterator[int]:
        point = case.point
        if part.node:
            volts, amps = case.node_voltage(part.node), case.node_current(part.node)
            if volts is None or amps is None:
                yield from (0, 0, 0, 0)
            else:
                self.most_v = max(self.most_v, volts.max)
                yield from (self.texts.figure(each, "V") for each in (volts.typ, volts.min, volts.max))
                yield self.texts.figure(amps.typ, "A")
        if part.kind not in ("source", "bus"):
            lost = lost_w(case, part.part, part.kind)
            yield 0 if lost is None else self._watts(lost.typ, "lost")
        if part.kind == "load":
            taken = None if point is None else point.loads.get(part.part.rpartition("/")[0])
            yield 0 if taken is None else self._watts(taken.typ, "W")

    def _watts(self, watts: float, unit: str) -> int:
        self.most_w = max(self.most_w, watts)
        return self.texts.figure(watts, unit)

    def alone(self) -> list[list[list[int]]]:
        """For each pair the findings on its charger and on its cable alone."""
        sources, cables = self.trying.alone
        return [self.findings.coded((*sources[source.id], *cables[id(cable)])) for source, cable in self.grid.pairs]


def _slots(part: Any) -> Iterator[str]:
    if part.node:
        yield from (f"{part.part}.{ending}" for ending in ("v", "v-", "v+", "a"))
    if part.kind not in ("source", "bus"):
        yield f"{part.part}.w"
    if part.kind == "load":
        yield f"{part.part}.takes"
