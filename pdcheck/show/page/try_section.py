"""Trying on the page: every position worked out beforehand, as a table for the script, and the controls."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from math import isnan, nan
from typing import Any

from pdcheck.named import NamedTuple
from pdcheck.parts.kit import Kit
from pdcheck.parts.request import request_text
from pdcheck.quantities import format_quantity
from pdcheck.show.check import HEADLINES, contract_line
from pdcheck.show.page.section import MARKS
from pdcheck.show.pictures.parts_picture import granted, live_picture
from pdcheck.show.pictures.try_picture import heat_picture, volts_picture
from pdcheck.verdict.case import Case
from pdcheck.verdict.drawn import Drawn, drawn, lost_in
from pdcheck.verdict.finding import LEVELS, VERDICTS, Finding
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.matrix.cell_case import SolvedTogether
from pdcheck.verdict.position import Position
from pdcheck.verdict.trying import Found, Grid, Loads, Pair, Trying, found_on

GAP = "\u0001"
"""Where a number stands in a sentence of the table."""
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_DIGITS = {"V": 3, "A": 3, "W": 3, "lost": 2}


class _Texts:
    """Texts by their place in one list; the first is the empty one."""

    def __init__(self) -> None:
        self.listed: list[str] = [""]
        self._places: dict[str, int] = {"": 0}
        self._figures: dict[str, dict[str, int]] = {}

    def place(self, text: str) -> int:
        known = self._places.setdefault(text, len(self.listed))
        if known == len(self.listed):
            self.listed.append(text)
        return known

    def figures(self, values: Sequence[float], unit: str) -> list[int]:
        """Figures as they are shown, NaN as nothing; each printed once for all that look alike."""
        known = self._figures.setdefault(unit, {})
        # In their own order: that of a set hangs on where each NaN lies in memory.
        places = {value: self._figure(value, unit, known) for value in dict.fromkeys(values)}
        return [places[value] for value in values]

    def _figure(self, value: float, unit: str, known: dict[str, int]) -> int:
        if isnan(value):
            return 0
        digits = _DIGITS[unit]
        # What a load of next to nothing takes is no figure.
        key = f"{value:.{digits - 1}e}" if abs(value) >= _NO_FIGURE else "0"
        if key not in known:
            known[key] = self.place(format_quantity(float(key), unit.replace("lost", "W"), digits))
        return known[key]


_NO_FIGURE = 1e-5


class _Findings:
    """Findings as numbers: their sentence once, with gaps for the figures in it, and then what fills the gaps."""

    def __init__(self, texts: _Texts) -> None:
        self._texts = texts
        self.kinds: dict[tuple[int, int, str, str, str, str, str], int] = {}
        self._known: dict[Hashable, list[int]] = {}

    def coded(self, found: Found) -> list[list[int]]:
        return [self._coded(*each) for each in found]

    def _coded(self, at: int, finding: Finding) -> list[int]:
        key = at, finding.level, finding.subject, finding.text, finding.advice, finding.origin
        if key not in self._known:
            level = LEVELS.index(finding.level)
            kind = (
                level, at, finding.subject, _NUMBER.sub(GAP, finding.text), finding.advice, finding.rule,
                str(finding.origin),
            )  # fmt: skip
            place = self.kinds.setdefault(kind, len(self.kinds))
            self._known[key] = [place, *map(self._texts.place, _NUMBER.findall(finding.text))]
        return self._known[key]


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
    states = worked.states()
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
        "given": worked.given,
        "states": states,
    }
    return TrySection(
        list(sources.items()), list(cables.items()), [request_text(each) for each in grid.requests],
        [
            Control(branch.name, [branch.load.sized(at / 100).words() if at else "nothing" for at in grid.steps])
            for branch in trying.rig.branches
        ],
        grid.steps, [*_said(grid, own), *([_UNSTATED] if judgement.not_judged else [])],
        {
            "wide": live_picture(build), "narrow": live_picture(build, narrow=True),
            "volts": volts_picture(build, worked.most_v),
            "watts": heat_picture(build, worked.most_w),
        },
        document,
    )  # fmt: skip


_UNSTATED = (
    "Figures that nobody has stated are not held against it here: they are listed below the verdict of this page."
)


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
        self._asked: list[tuple[Case, Loads]] = []
        self.slots: list[str] = [slot for part in self.parts for slot in _slots(part)]
        self.contracts: dict[tuple[str, str], int] = {}
        self.most_v, self.most_w = 5.0, 1.0
        self.given: list[list[list[list[int]]]] = []
        self._blocks: dict[Hashable, int] = {}
        self._given: dict[Hashable, int] = {}

    def row(self, pair: Pair) -> list[list[int]]:
        """For each setting on a pair: its contract, the place of what is found on it, and where its states begin."""
        found = []
        for request in self.grid.requests:
            supply = self.trying.supply(pair, request)
            told = (contract_line(supply.contract), granted(supply.contract))
            contract = self.contracts.setdefault(told, len(self.contracts))
            same, flow = self.trying.same(supply), self.trying.same_flow(supply)
            if same not in self._given:
                self._given[same] = len(self.given)
                self.given.append(self._on_supply(supply))
            if flow not in self._blocks:
                self._blocks[flow] = len(self._asked)
                self._asked += [(supply, loads) for loads in self.grid.loads]
            found.append([contract, self._given[same], self._blocks[flow]])
        return found

    def _on_supply(self, supply: Case) -> list[Any]:
        """What is found on a supply with each of the loads: the place of an earlier one where it says the same."""
        found: dict[Hashable, int] = {}
        listed: list[Any] = []
        for loads in self.grid.loads:
            looks = self.trying.looks(supply, loads)
            if looks in found:
                listed.append(found[looks])
            else:
                found[looks] = len(listed)
                listed.append(self.findings.coded(found_on("supply", self.trying.case(supply, loads))))
        return listed

    def states(self) -> list[list[Any]]:
        """What flows, as figures in the order of the slots, then which branches are off, then the findings."""
        cases = self.trying.cases(self._asked)
        solved = {id(case.solved): case.solved for case in cases if isinstance(case, Position)}
        shown = {key: self._figures(each, len(each.collapsed)) for key, each in solved.items()}
        return [
            [
                shown[id(case.solved)][case.at] if isinstance(case, Position) else self._figures(_alone(case), 1)[0],
                [
                    at
                    for at, branch in enumerate(self.trying.rig.branches)
                    if case.contract.outcome == "off" or branch.name in case.off
                ],
                self.findings.coded(found_on("circuit", case)),
            ]
            for case in cases
        ]

    def _figures(self, flows: _Flows | SolvedTogether, count: int) -> list[tuple[int, ...]]:
        """Of each of so many circuits the figures in the order of the slots."""
        return list(zip(*self._columns(flows, [nan] * count), strict=True))

    def _columns(self, flows: _Flows | SolvedTogether, nothing: list[float]) -> Iterator[list[int]]:
        for part in self.parts:
            if part.node:
                least, typ, most = flows.voltage_v.get(part.node, (nothing,) * 3)
                self.most_v = _most(self.most_v, most)
                yield from (self.texts.figures(each, "V") for each in (typ, least, most))
                yield self.texts.figures(flows.current_a.get(part.node, (nothing,) * 3)[1], "A")
            if part.kind not in ("source", "bus"):
                own = lost_in(flows.losses, part.part, part.kind)
                yield self._watts([*map(sum, zip(*own, strict=True))] if own else nothing, "lost")
            if part.kind == "load":
                yield self._watts(flows.loads.get(part.part.rpartition("/")[0], nothing), "W")

    def _watts(self, watts: list[float], unit: str) -> list[int]:
        self.most_w = _most(self.most_w, watts)
        return self.texts.figures(watts, unit)

    def alone(self) -> list[list[list[int]]]:
        """For each pair the findings on its charger and on its cable alone."""
        sources, cables = self.trying.alone
        return [self.findings.coded((*sources[source.id], *cables[id(cable)])) for source, cable in self.grid.pairs]


def _most(known: float, values: Iterable[float]) -> float:
    return max([known, *(each for each in values if not isnan(each))])


class _Flows(NamedTuple):
    """What flows in some circuits: volts and amperes (least, typical, most) by node, watts lost by part and of use by
    branch; lists of one figure for each circuit, NaN where it has none."""

    voltage_v: Mapping[str, tuple[list[float], ...]]
    current_a: Mapping[str, tuple[list[float], ...]]
    losses: Mapping[str, list[float]]
    loads: Mapping[str, list[float]]


def _alone(case: Case) -> _Flows:
    point = case.point
    if point is None:
        return _Flows({}, {}, {}, {})
    volts, amps = ({name: tuple([end] for end in node[at]) for name, node in point.nodes.items()} for at in range(2))
    losses, loads = ({name: [watts.typ] for name, watts in each.items()} for each in (point.losses, point.loads))
    return _Flows(volts, amps, losses, loads)


def _slots(part: Any) -> Iterator[str]:
    if part.node:
        yield from (f"{part.part}.{ending}" for ending in ("v", "v-", "v+", "a"))
    if part.kind not in ("source", "bus"):
        yield f"{part.part}.w"
    if part.kind == "load":
        yield f"{part.part}.takes"
