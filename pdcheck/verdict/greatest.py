"""Greatest: how many watts a rig's loads can have on one contract before anything fails, and what fails first.

The loads are scaled until a rule says ``stop`` or ``fail`` at some corner. The rules themselves are asked, so that a
figure found here and a verdict of ``judge`` never contradict each other.
"""

from __future__ import annotations

from functools import cached_property

from pdcheck.circuit.corners import EXACT, NetworkSpec, corners
from pdcheck.circuit.plug_in import Start
from pdcheck.errors import InputError
from pdcheck.named import NamedTuple
from pdcheck.quantities import Triple, quoted
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE, Finding
from pdcheck.verdict.gravest import does_its_job, fails, graded
from pdcheck.verdict.rules.every import RIG_RULES

_GRAVE_RULES = tuple(rule for rule in RIG_RULES if rule.level in GRAVE)
# A share of the stated load that draws next to nothing: what fails even here, fails at any load.
_NEXT_TO_NOTHING = 1e-6
_RESOLUTION = 1e-7
# So much beyond it what fails is told: a figure of the search itself differs from the limit in its seventh digit.
_PLAINLY = 1.001
# Where no limit at all is met the search ends here, as a multiple of the stated load.
_FAR = 1e9


class Greatest(NamedTuple):
    """The most that the loads can have.

    ``load_w`` [W] is what the scaled loads take at their own terminals, the least over the corners, with loads as
    stated (their tolerance is in the limits, not in this figure). ``scale`` is the factor on the stated loads; below 1
    the rig fails. ``first`` is what fails beyond it; ``None`` where nothing does.
    """

    load_w: float
    scale: float
    first: Finding | None


class ScaledCase(Case):
    """A case whose loads demand that many times as much; all else shared."""

    def __init__(self, case: Case, factor: float, branch: str | None = None, spec: NetworkSpec | None = None) -> None:
        super().__init__(case.rig, case.source, case.cable, case.contract)
        self._of = case
        self._unscaled = case.spec if spec is None else spec
        self._factor = factor
        self._branch = branch
        self.seen = case.seen
        self.off = case.off
        self.limits = tuple(limit for limit in case.limits if not limit.rule.as_stated)

    def taken_a(self) -> None:
        """Not asked: what lets a power bank sleep is the load that is there, and not another in its place."""

    @property
    def starts(self) -> tuple[Start, ...]:
        """How each branch starts: as in the case that is scaled."""
        return self._of.starts

    @cached_property
    def spec(self) -> NetworkSpec:
        """The circuit of the case with its loads scaled."""
        branches = [
            each.demanding(self._factor) if self._branch in (None, each.name) else each
            for each in self._unscaled.branches
        ]
        return self._unscaled._replace(branches=tuple(branches))


def first_failure(case: Case) -> Finding | None:
    """The first finding of a case that keeps it from doing the job; ``None`` where there is none."""
    return next((found for rule in _GRAVE_RULES for found in rule.findings(case) if found.level in GRAVE), None)


def greatest_load(case: Case, branch: str | None = None) -> Greatest:
    """The most that the loads of a case can have, all scaled alike, or one branch's with the others as stated.

    Zero where something fails at any load: no contract, a voltage that some part does not stand or does not start on.
    The figure is exact to 1e-7 of the load; it takes some thirty judgements of the case.

    Raises ``InputError`` for a branch that is not in the rig.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger={"request": "20V"}, branch=[{"name": "lamp", "load": "10W"}])
    >>> cable = Cable(id="c", kind="C-C", rating="5A", loop="200mOhm")
    >>> found = greatest_load(Case(rig, Source(id="s", offers="5V 3A, 20V 3A", tolerance=0), cable))
    >>> round(found.load_w, 2), round(found.scale, 3), found.first.rule
    (58.2, 5.82, 'source-current')
    """
    if branch is not None and all(each.name != branch for each in case.rig.branches):
        known = ", ".join(each.name for each in case.rig.branches)
        raise InputError(f"no branch named {quoted(branch)}", expected=f"one of {known}")
    first = first_failure(ScaledCase(case, _NEXT_TO_NOTHING, branch))
    if first is not None:
        return Greatest(0.0, 0.0, first)
    # One corner is the worst for most rigs, and quick to search; the others then have to agree with what it gives.
    worst = _Search(case, branch, worst_spec(case.spec))
    low, high = worst.narrowed(*worst.bracket())
    search = worst
    if first_failure(ScaledCase(case, low, branch)) is not None:
        search = _Search(case, branch, case.spec)
        low, high = search.narrowed(_NEXT_TO_NOTHING, low)
    return Greatest(_load_w(case, low, branch), low, None if high is None else search.failure(high))


class _Search:
    """The search for the greatest factor on the loads of a case, on a circuit of its own."""

    def __init__(self, case: Case, branch: str | None, spec: NetworkSpec) -> None:
        self._case, self._branch, self._spec = case, branch, spec
        self._limits = graded("circuit", [limit for limit in case.known_limits if not limit.rule.as_stated])

    def scaled(self, factor: float) -> ScaledCase:
        """The case at a factor."""
        return ScaledCase(self._case, factor, self._branch, self._spec)

    def failure(self, factor: float) -> Finding | None:
        """What fails first at a factor that does not pass, with the figures of a load that is plainly too great."""
        first = first_failure(self.scaled(factor))
        if first is None:
            return None
        greater = self.scaled(factor * _PLAINLY)
        of = (rule for rule in _GRAVE_RULES if rule.id == first.rule)
        same = (
            found
            for rule in of
            for found in rule.findings(greater)
            if (found.subject, found.level) == (first.subject, first.level)
        )
        return next(same, first)

    def bracket(self) -> tuple[float, float | None]:
        """A factor that passes, and a greater one that does not; None for that where none fails."""
        low, high = _NEXT_TO_NOTHING, 1.0
        while not fails(self.scaled(high), self._limits):
            low, high = high, 2.0 * high
            if high > _FAR:
                return low, None
        return low, high

    def narrowed(self, low: float, high: float | None) -> tuple[float, float | None]:
        """The same as near to each other as matters."""
        while high is not None and high - low > _RESOLUTION * high:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if fails(self.scaled(middle), self._limits) else (middle, high)
        return low, high


def worst_spec(spec: NetworkSpec) -> NetworkSpec:
    """The corner that asks the most of the least source, as a circuit without tolerances.

    >>> worst_spec(NetworkSpec(Triple(19.0, 20.0, 21.0), (), series=(("cable", Triple(0.0, 0.1, 0.2)),))).series
    (('cable', Triple(min=0.2, typ=0.2, max=0.2)),)
    """

    def most(part: Triple) -> Triple:
        # A part that is known as a range is not multiplied with the tolerance of resistances; one without a range is.
        return Triple.exact(part.max / spec.resistance.max if part.max > part.min else part.typ)

    return spec._replace(
        source_v=Triple.exact(spec.source_v.min),
        series=tuple((name, most(ohm)) for name, ohm in spec.series),
        resistance=Triple.exact(spec.resistance.max),
        efficiency=Triple.exact(spec.efficiency.min),
        load=Triple.exact(spec.load.max),
        copper=Triple.exact(spec.copper.max),
        heat=None if spec.heat is None else spec.heat.hottest(),
        branches=tuple(each._replace(rise_k_w=Triple.exact(each.rise_k_w.max)) for each in spec.branches),
    )


def fails_at_worst(case: Case) -> bool:
    """Whether a case fails at the corner that asks the most alone; if so it fails, and is quicker to judge."""
    return not does_its_job(ScaledCase(case, 1.0, spec=worst_spec(case.spec)))


def _load_w(case: Case, factor: float, branch: str | None) -> float:
    """Watts at the terminals of the loads that are scaled, the least over the corners of everything but the load."""
    scaled = ScaledCase(case, factor, branch)
    points = corners(scaled.spec._replace(load=EXACT), scaled.off).points.values()
    names = [each.name for each in case.rig.branches if branch in (None, each.name)]
    return min(
        sum(point.nodes[f"{name}/load"].voltage_v * point.nodes[f"{name}/load"].current_a for name in names)
        for point in points
    )
