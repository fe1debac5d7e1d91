"""Drawn: a judged rig part by part, from the charger to every load, as the pictures of it need it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, TypeVar

from pdcheck.contract.settle import Contract
from pdcheck.marks import UNTOLD, Named, told
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import InSeries, Level
from pdcheck.parts.rig import Branch
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple, format_quantity
from pdcheck.result import Result
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import WORKS, Verdict
from pdcheck.verdict.greatest import Greatest, greatest_load
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.wire import size

_DRAWN_ALONE = ("/wire", "/converter", "/lead")
Kind = Literal["source", InSeries, "bus", "wire", "converter", "lead", "load"]


class DrawnPart(NamedTuple):
    """One part: what it is, what it passes on, and what it loses.

    ``voltage_v`` and ``current_a`` are where the part ends, of a load at its terminals. ``lost_w`` is turned into heat,
    ``takes_w`` is what a load gets. ``allowed_v`` is the range that is allowed there, as far as it is known. ``level``
    is that of the gravest finding about the part; ``limits`` where it is the first to reach a limit when the loads
    grow. ``text`` says which. ``node`` is the one where it ends, empty where nobody looks; ``subjects`` are what
    findings about it are about.
    """

    part: str
    kind: Kind
    title: str
    voltage_v: Triple | None
    current_a: Triple | None
    lost_w: Annotated[Triple | None, Named("loss_w")]
    takes_w: Triple | None
    allowed_v: tuple[float | None, float | None]
    level: Level | None
    limits: bool
    text: str
    node: Annotated[str, UNTOLD] = ""
    subjects: Annotated[tuple[str, ...], UNTOLD] = ()


class DrawnBranch(NamedTuple):
    """The parts of one branch in the order in which current goes through them; ``off`` where it does not run."""

    branch: str
    off: bool
    parts: tuple[DrawnPart, ...]


@dataclass(frozen=True, repr=False)
class Drawn(Result):
    """A rig on one source and cable, from the charger over the bus to every load."""

    SCHEMA: ClassVar[str] = "draw/2"
    TITLE: ClassVar[str] = "A rig on a source and cable, part by part"
    ROWS: ClassVar[tuple[str, ...]] = ("branches", "parts")

    rig: str
    source: str
    cable: str
    verdict: Verdict
    contract: Contract
    source_w: Triple | None
    trunk: tuple[DrawnPart, ...]
    branches: tuple[DrawnBranch, ...]
    judgement: Annotated[Judgement, UNTOLD]

    @property
    def works(self) -> bool:
        """Whether it does its job."""
        return self.verdict in WORKS

    @told
    def title(self) -> str:
        """What is drawn, in one line."""
        return f"{self.rig or 'Rig'} on {self.source} with {self.cable}"

    def answer(self) -> str:
        """Source, cable and verdict."""
        return f"{self.source} with {self.cable}: {self.verdict}"

    @property
    def every_part(self) -> tuple[DrawnPart, ...]:
        """The parts of the trunk, then those of each branch."""
        return (*self.trunk, *(part for branch in self.branches for part in branch.parts))


def drawn(judgement: Judgement, greatest: Greatest | None = None) -> Drawn:
    """A judged rig, part by part; ``greatest`` is the most that its loads can have, where that is known already.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> from pdcheck.verdict.judge import judge
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "wire": "20AWG 0.5m", "load": "5W"}])
    >>> found = drawn(judge(rig, Source(id="s", offers="5V 3A, 9V 2A"), Cable(id="c", kind="C-C", loop="0.1ohm")))
    >>> [part.part for part in found.every_part]
    ['source', 'cable', 'trigger', 'bus', 'fan/wire', 'fan/load']
    """
    case = judgement.case
    parts = _Parts(judgement, greatest or greatest_load(case))
    return Drawn(
        case.rig.title,
        judgement.source,
        judgement.cable,
        judgement.verdict,
        judgement.contract,
        None if case.point is None else case.point.source_w,
        tuple(parts.trunk()),
        tuple(
            DrawnBranch(each.name, each.name in case.off or case.contract.outcome == "off", tuple(parts.branch(each)))
            for each in case.rig.branches
        ),
        judgement,
    )


class _Parts:
    """The parts of one judgement; ``greatest`` says which of them sets the limit when the loads grow."""

    def __init__(self, judgement: Judgement, greatest: Greatest) -> None:
        self._judgement = judgement
        self._case = judgement.case
        self._greatest = greatest

    def trunk(self) -> Iterator[DrawnPart]:
        source = self._case.source
        yield self._part("source", "source", source.id, "source", ("source",))
        for part in self._case.rig.series(self._case.cable):
            about = ("cable", "connector") if part.place == "cable" else (part.place,)
            yield self._part(part.place, part.place, part.drawn_as(), "", about)
        yield self._part("bus", "bus", "", "bus", ("bus",))

    def branch(self, branch: Branch) -> Iterator[DrawnPart]:
        name, converter = branch.name, branch.converter
        if branch.wire is not None:
            end = f"{name}/in" if converter is not None else "" if branch.lead is not None else f"{name}/load"
            yield self._part(f"{name}/wire", "wire", wire_size(branch.wire), end, (f"{name} wire",))
        if converter is not None:
            title = converter.title or f"to {format_quantity(converter.output_v, 'V', 3)}"
            yield self._part(f"{name}/converter", "converter", title, f"{name}/out", (name,))
        if branch.lead is not None:
            yield self._part(f"{name}/lead", "lead", wire_size(branch.lead), f"{name}/load", (f"{name} lead",))
        subjects = () if converter is not None else (name,)
        yield self._part(f"{name}/load", "load", branch.load.title or name, f"{name}/load", subjects)

    def _part(self, part: str, kind: Kind, title: str, node: str, subjects: tuple[str, ...]) -> DrawnPart:
        case, point = self._case, self._case.point
        level, limits, text = self._found(subjects)
        return DrawnPart(
            part,
            kind,
            title,
            case.node_voltage(node),
            case.node_current(node),
            lost_w(case, part, kind),
            point.loads.get(part.partition("/")[0]) if point is not None and kind == "load" else None,
            allowed(case, part.replace("/converter", "/in") if kind == "converter" else node),
            level,
            limits,
            text,
            node,
            subjects,
        )

    def _found(self, subjects: tuple[str, ...]) -> tuple[Level | None, bool, str]:
        findings = (each for each in self._judgement.findings if each.subject in subjects and each.level != "note")
        gravest, first = next(findings, None), self._greatest.first
        if gravest is not None:
            return gravest.level, False, gravest.text
        if first is not None and first.subject in subjects and self._greatest.scale >= 1:
            most = format_quantity(self._greatest.load_w, "W", 3)
            return None, True, f"the first limit, at {most} for all loads together"
        return None, False, ""


def lost_w(case: Case, part: str, kind: Kind) -> Triple | None:
    """What a part turns into heat [W]; of a load what its own resistor or driver does."""
    own = lost_in({} if case.point is None else case.point.losses, part, kind)
    return Triple(*map(sum, zip(*own, strict=True))) if own else None


_Lost = TypeVar("_Lost")


def lost_in(losses: Mapping[str, _Lost], part: str, kind: Kind) -> list[_Lost]:
    """Those of all losses that are a part's own."""
    if kind != "load":
        return [losses[part]] if part in losses else []
    name = part.partition("/")[0]
    return [lost for key, lost in losses.items() if key.startswith(f"{name}/") and not key.endswith(_DRAWN_ALONE)]


def allowed(case: Case, node: str) -> tuple[float | None, float | None]:
    """The least and most voltage [V] that the parts at a node allow, as far as that is known.

    A converter's own input stands at ``NAME/in``.
    """
    held = [each for each in case.limits if each.node == node and each.quantity == "voltage" and each.state != "rating"]
    least, most = (
        [each.limit for each in held if each.sense == sense and each.limit is not None]
        for sense in ("at_least", "at_most")
    )
    return max(least, default=None), min(most, default=None)


def wire_size(wire: Wire) -> str:
    """Size and length of a wire.

    >>> wire_size(Wire("20AWG 0.4m")), wire_size(Wire("0.75mm2 1.2m"))
    ('AWG 20, 0.4 m', '0.75 mm², 1.2 m')
    """
    return f"{size(wire)}, {wire.length_m:g} m"
