"""VBUS at the source's receptacle over time: held or moving, with what the standard lets it be at each moment."""

from __future__ import annotations

from collections.abc import Callable

from pdcheck.bits.offers import Offer
from pdcheck.contract.talk.clock import Clock, Due
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE, UNREGULATED
from pdcheck.facts.voltage import (
    AVS_VALID_MARGIN,
    PPS_VALID_MARGIN,
    PROGRAMMED_TOLERANCE,
    SAFE_0V,
    SAFE_5V,
    VALID_MARGIN,
    fixed_band,
)
from pdcheck.named import NamedTuple


class Level(NamedTuple):
    """A voltage that is held: nominal, least and greatest [V]; what may be drawn [A], None where it is not known."""

    voltage_v: float
    min_v: float
    max_v: float
    current_a: float | None
    limits_current: bool
    text: str


class Segment(NamedTuple):
    """A stretch of time [s] with its nominal voltage at both ends and its limits [V].

    ``steady`` is false while VBUS moves. What may be drawn [A] is that of the level held, None while it moves or is
    off. ``text`` says what the stretch is.
    """

    start_s: float
    end_s: float
    from_v: float
    to_v: float
    min_v: float
    max_v: float
    steady: bool
    current_a: float | None
    limits_current: bool
    text: str

    def at(self, time_s: float) -> float:
        """The nominal voltage at a moment within [V]; a move is taken as even."""
        if self.end_s <= self.start_s or self.steady:
            return self.to_v
        share = min(max((time_s - self.start_s) / (self.end_s - self.start_s), 0.0), 1.0)
        return self.from_v + (self.to_v - self.from_v) * share


OFF = Level(0.0, SAFE_0V.require_min(), SAFE_0V.require_max(), None, False, "off (vSafe0V)")


def plain_level(current_a: float | None) -> Level:
    """vSafe5V before and without a contract."""
    least, greatest = SAFE_5V.require_min(), SAFE_5V.require_max()
    return Level(FIRST_OBJECT_VOLTAGE.value, least, greatest, current_a, False, "5 V, no contract (vSafe5V)")


def contract_level(offer: Offer, voltage_mv: int, current_ma: int) -> Level:
    """The level of a granted request.

    >>> from pdcheck.bits.offers import fixed
    >>> contract_level(fixed(20000, 3000), 20000, 2250)[:4]
    (20.0, 19.0, 21.0, 2.25)
    """
    volts = voltage_mv / 1000
    if offer.kind in UNREGULATED:
        least, greatest = offer.min_mv / 1000, offer.max_mv / 1000
        band = "the object's own ends"
    elif offer.is_adjustable:
        give = volts * PROGRAMMED_TOLERANCE.value
        least, greatest, band = volts - give, volts + give, PROGRAMMED_TOLERANCE.name
    else:
        least, greatest = fixed_band(volts)
        band = SAFE_5V.name if volts == SAFE_5V.typ else "vSrcNew"
    text = f"{offer.kind.replace('-', ' ')} {volts:g} V, {current_ma / 1000:g} A ({band})"
    return Level(volts, round(least, 6), round(greatest, 6), current_ma / 1000, offer.kind == "pps", text)


def margin_of(offer: Offer | None) -> float:
    """What a transition may add on either side of the levels that it joins [V]."""
    if offer is not None and offer.kind == "pps":
        return PPS_VALID_MARGIN.value
    if offer is not None and offer.is_adjustable:
        return AVS_VALID_MARGIN.value
    return VALID_MARGIN.value


class BusVoltage:
    """Keeps the segments of VBUS while the time goes on."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._done: Due | None = None
        self.level = OFF
        self.segments: list[Segment] = []
        self._start_s = 0.0
        self._moving: tuple[float, Level, float, float] | None = None

    @property
    def present(self) -> bool:
        """Whether there is a voltage that is held."""
        return self._moving is None and self.level.voltage_v > OFF.max_v

    def hold(self, level: Level) -> None:
        """VBUS is at a level from now on."""
        if self._moving is None and level == self.level:
            return
        self._close()
        self.level = level

    def move(self, level: Level, seconds: float, margin_v: float, done: Callable[[], None]) -> None:
        """VBUS goes to a level; it is held there after ``seconds``, and then ``done`` is called."""
        start = self._now_v()
        self._close()
        if self._done is not None:
            self._done.cancel()
        if seconds > 0 and level.voltage_v != start:
            self._moving = (start, level, margin_v, seconds)
        elif level.voltage_v == start:
            self.level = level

        def arrive() -> None:
            self.hold(level)
            done()

        self._done = self._clock.after(seconds, arrive)

    def _now_v(self) -> float:
        if self._moving is None:
            return self.level.voltage_v
        start, level, _, seconds = self._moving
        share = min((self._clock.now_s - self._start_s) / seconds, 1.0)
        return start + (level.voltage_v - start) * share

    def _close(self) -> None:
        """End the segment that runs now."""
        running = self._running()
        if running is not None:
            self.segments.append(running)
        self._start_s = self._clock.now_s
        self._moving = None

    def _running(self) -> Segment | None:
        """The segment up to now; None where it has no length yet."""
        start_s, end_s, level = self._start_s, self._clock.now_s, self.level
        if end_s <= start_s:
            return None
        if self._moving is None:
            volts = level.voltage_v
            return Segment(start_s, end_s, volts, volts, level.min_v, level.max_v, True, *level[3:])
        from_v, target, margin, _ = self._moving
        low = round(max(min(level.min_v, target.min_v, from_v) - margin, 0.0), 6)
        high = round(max(level.max_v, target.max_v, from_v) + margin, 6)
        text = f"to {target.voltage_v:g} V"
        return Segment(start_s, end_s, from_v, round(self._now_v(), 6), low, high, False, None, False, text)

    def so_far(self) -> list[Segment]:
        """Every segment up to now; equal neighbours are one."""
        running = self._running()
        joined: list[Segment] = []
        for segment in [*self.segments, *([] if running is None else [running])]:
            last = joined[-1] if joined else None
            if last is not None and last.steady and last[2:] == segment[2:]:
                joined[-1] = last._replace(end_s=segment.end_s)
            else:
                joined.append(segment)
        return joined
