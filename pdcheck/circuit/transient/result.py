"""What the solver in time answers: fates, moments, extremes, samples and where the energy went."""

from __future__ import annotations

from typing import Literal

from pdcheck.named import NamedTuple

Fate = Literal["starts", "stays off", "hangs", "repeats", "cuts off", "comes back"]
MomentKind = Literal[
    "plugged in",  # source: it begins to rise to ``voltage_v``
    "unplugged",
    "limits",  # source: it reaches its limit of ``current_a``, the bus at ``voltage_v``
    "regulates",  # source: out of its limit again
    "trips",  # source: it switches off after too long in its limit
    "contract",  # source: it leaves for the contract's ``voltage_v`` and ``current_a``
    "level",  # source: it leaves for another level, by an event or as the trigger forgot its contract
    "arrives",  # source: its own voltage is at its level
    "reset",  # source: a Hard Reset takes VBUS down
    "browns out",  # trigger: the bus fell to ``voltage_v``; a contract that stood is forgotten
    "wakes",  # trigger: the bus rose above its brown-out voltage
    "joined",  # branch: plugged into the bus at ``voltage_v``
    "converter starts",  # branch, its input at ``voltage_v``
    "converter up",  # branch: soft start is over
    "converter stops",  # branch: its input at its cut-off voltage
    "load on",  # branch: switched on
    "load off",  # branch: switched off
    "load starts",  # branch: its own start voltage is there, or it has what it is to work with
    "load stops",  # branch: below its own cut-off voltage, or far below what it is to work with
    "goes on so",  # a cycle that repeats was skipped: it lasts ``lasts_s`` and happens ``times`` times more
]


class Moment(NamedTuple):
    """Something that happened: when [s], to whom (``source``, ``trigger`` or a branch), what, and its figures.

    Which figures a kind has stands beside it in ``MomentKind``; the others are None.
    """

    time_s: float
    subject: str
    what: MomentKind
    voltage_v: float | None = None
    current_a: float | None = None
    lasts_s: float | None = None
    times: int | None = None


class BranchFate(NamedTuple):
    """What became of a branch: its fate, how often it began to run, and how often it stopped by itself."""

    branch: str
    fate: Fate
    starts: int
    stops: int


class Extreme(NamedTuple):
    """Least and greatest voltage [V] and greatest current [A] at a node, from 2 ms after it first passed 4.75 V.

    None where it never passed that. ``peak_v`` is the greatest voltage at any time at all, so that the ring of the very
    first moment is not lost.
    """

    node: str
    min_v: float | None
    max_v: float | None
    max_a: float | None
    peak_v: float
    peak_s: float


class Samples(NamedTuple):
    """Times [s] and the voltage of each node [V] there, thinned so that straight lines between them hold.

    ``gaps``: stretches (from [s], to [s], period [s]) in which a cycle that was seen just before goes on unchanged.
    """

    time_s: tuple[float, ...]
    nodes: dict[str, tuple[float, ...]]
    gaps: tuple[tuple[float, float, float], ...]


class Energies(NamedTuple):
    """Where the source's energy went [J]: ``source`` = ``loads`` + ``losses`` + ``stored``.

    ``losses`` by part: ``cable`` (with trigger and source resistance), ``bulk``, ``NAME/wire`` (with the input
    capacitor's ESR), ``NAME/converter``, ``NAME/lead``. ``stored`` stands in capacitances and inductances at the end.
    """

    source_j: float
    loads_j: dict[str, float]
    losses_j: dict[str, float]
    stored_j: float

    @property
    def missing_j(self) -> float:
        """What the sum misses [J]; a measure of how true the integration is."""
        return self.source_j - sum(self.loads_j.values()) - sum(self.losses_j.values()) - self.stored_j


class Result(NamedTuple):
    """The answer of ``run``: ``end_s`` [s] is how far it went, ``complete`` whether that is as far as was asked."""

    fates: tuple[BranchFate, ...]
    moments: tuple[Moment, ...]
    extremes: tuple[Extreme, ...]
    samples: Samples
    energies: Energies
    end_s: float
    complete: bool
    steps: int


class Recorder:
    """Keeps a sample where a straight line from the one kept before would miss a sample between by too much.

    ``give_v`` [V] is how much is too much. One pass with a cone of admissible slopes for each node (swinging door).

    >>> recorder = Recorder(["bus"], 0.01)
    >>> for step in range(11): recorder.add(step / 10, [max(step - 5, 0) * 1.0])
    >>> recorder.samples().time_s, recorder.samples().nodes["bus"]
    ((0.0, 0.5, 1.0), (0.0, 0.0, 5.0))
    """

    def __init__(self, names: list[str], give_v: float) -> None:
        self._names, self._give = names, give_v
        self._times: list[float] = []
        self._rows: list[list[float]] = []
        self._last: tuple[float, list[float]] | None = None
        self._low: list[float] = []
        self._high: list[float] = []
        self.gaps: list[tuple[float, float, float]] = []

    def add(self, time_s: float, volts: list[float]) -> None:
        """One sample of each node, later than the one before; at the same time again, it is a jump and both stay."""
        if not self._times:
            self._keep(time_s, volts)
            return
        last = self._last
        if last is not None and time_s <= last[0]:
            self._last = (last[0], volts)
            return
        if not self._inside(time_s, volts):
            assert last is not None
            self._keep(*last)
            self._inside(time_s, volts)
        self._last = (time_s, volts)

    def gap(self, from_s: float, to_s: float, period_s: float) -> None:
        """A stretch that is not sampled, as a cycle goes on in it unchanged."""
        if self._last is not None:
            self._keep(*self._last)
        self.gaps.append((from_s, to_s, period_s))

    def _keep(self, time_s: float, volts: list[float]) -> None:
        self._times.append(time_s)
        self._rows.append(volts)
        self._last = None
        self._low = [float("-inf")] * len(volts)
        self._high = [float("inf")] * len(volts)

    def _inside(self, time_s: float, volts: list[float]) -> bool:
        """Whether the sample lies in every cone; the cones are then narrowed to it."""
        span = time_s - self._times[-1]
        if span <= 0.0:
            return True
        kept, give = self._rows[-1], self._give
        lows, highs = [], []
        for now, before, low, high in zip(volts, kept, self._low, self._high, strict=True):
            slope = (now - before) / span
            if not low <= slope <= high:
                return False
            lows.append(max(low, slope - give / span))
            highs.append(min(high, slope + give / span))
        self._low, self._high = lows, highs
        return True

    def samples(self) -> Samples:
        """What was kept, with the last sample of all."""
        times, rows = list(self._times), list(self._rows)
        if self._last is not None:
            times.append(self._last[0])
            rows.append(self._last[1])
        columns = zip(*rows, strict=True) if rows else [()] * len(self._names)
        return Samples(tuple(times), dict(zip(self._names, map(tuple, columns), strict=True)), tuple(self.gaps))
