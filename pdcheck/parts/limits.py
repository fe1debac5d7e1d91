"""Limit of a part: a node, a quantity, a figure that it must keep, and what is wrong where it does not.

Every part yields its limits once, by a method ``limits``. Whether a build works, what it can deliver, what the least is
to buy and when to stop are all questions to that one list.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil, floor, isfinite, log10
from typing import ClassVar, Literal

from pdcheck.facts.origin import Origin
from pdcheck.facts.trade import CURRENT_IN_HAND
from pdcheck.named import NamedTuple
from pdcheck.quantities import SLACK, format_quantity, over, under

Quantity = Literal["voltage", "current", "power", "temperature", "heat", "derated"]
"""``heat`` is the power that a part loses, ``derated`` an output current as it would weigh in cool air."""
Sense = Literal["at_most", "at_least"]
State = Literal["loaded", "unloaded", "starting", "nominal", "rating"]
"""When a limit counts: with the loads running, with none of them (a source at its highest), while the branch is still
to start, for the contract's nominal voltage, or for the rating of another part."""

Level = Literal["stop", "fail", "warn", "note"]
InSeries = Literal["cable", "trigger"]
"""What all the current goes through between source and bus."""
LimitingPart = Literal[
    "source",
    InSeries,
    "box",
    "fuse",
    "wire",
    "lead",
    "converter",
    "converter input",
    "converter output",
    "load",
]
"""What sets a limit."""
SettleBy = Literal["sheet", "print", "meter", "look"]
"""Where a maker finds a figure: a data sheet, what is printed on the part, a meter, a look at it."""

UNITS: dict[Quantity, str] = {
    "voltage": "V",
    "current": "A",
    "power": "W",
    "temperature": "C",
    "heat": "W",
    "derated": "A",
}
ABOUT = ("cable", "trigger", "contract", "converter", "wire", "box", "fuse", "load", "source")
"""What rules are about, causes before what follows from them: a cable bounds the offer, the offer the load. What is
about one thing is made in one file, so that the order of the rules is not that in which files happen to be read."""


class Catalogue:
    """Every limit rule there is, in the order in which they were made: none can be written and forgotten."""

    rules: ClassVar[list[LimitRule]] = []


@dataclass(frozen=True)
class LimitRule:
    """What is wrong where a limit is broken, and what to do; it enters itself in the catalogue.

    ``words`` are filled in with ``value``, ``limit``, ``share`` and ``volts`` (the contract's), each with its unit;
    ``off_words`` where the branch therefore does not run at all, ``if_words`` (with ``needs`` and ``branch``) say what
    must be true of a part of which the figure is not known; ``short`` is a word or two for a table. ``supply`` says
    that nothing that flows is looked at. ``near`` is a rule of its own for a value that keeps the limit, but only just.
    ``as_stated``: it is about the load that is there, and not about another that could be in its place. ``about``, one
    of ABOUT, is the first word of its id where nothing else is said.

    >>> made = LimitRule("load-hot", "fail", "Too hot", Origin("", "rig"), "Cool it.", "at {value} of {limit}")
    >>> made is Catalogue.rules.pop()
    True
    """

    id: str
    level: Level
    title: str
    origin: Origin
    advice: str
    words: str
    about: str = ""
    off_words: str = ""
    if_words: str = ""
    short: str = ""
    near: LimitRule | None = None
    supply: bool = False
    as_stated: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "about", self.about or self.id.partition("-")[0])
        Catalogue.rules.append(self)


class PartLimit(NamedTuple):
    """One limit: at a node, of a quantity, at most or at least a share of the part's ``figure`` [V, A or W].

    From ``near_share`` of the figure on the rule's ``near`` rule holds. ``subject`` is who is told about, ``part`` what
    sets the end of an envelope, ``branch`` the branch it belongs to (empty for what all share). ``figure`` is None
    where nobody states it: then ``key`` names what is missing, ``settle_by`` where a maker finds it, and
    ``plausible`` is the worst figure that the part may have. ``rating``: in that state, what is held against it,
    and nothing that flows.
    """

    rule: LimitRule
    node: str
    quantity: Quantity
    sense: Sense
    figure: float | None
    subject: str
    part: LimitingPart
    branch: str = ""
    state: State = "loaded"
    key: str = ""
    settle_by: SettleBy = "sheet"
    plausible: float | None = None
    share: float = 1.0
    near_share: float | None = None
    rating: float | None = None

    @property
    def limit(self) -> float | None:
        """What must be kept [V, A or W]; None where the figure is not known."""
        return None if self.figure is None else self.figure * self.share

    @property
    def near(self) -> float | None:
        """What should be kept [V, A or W], so that enough is to spare; None where there is no such."""
        return None if self.figure is None or self.near_share is None else self.figure * self.near_share

    def needs(self, value: float, *, comfortable: bool) -> float:
        """The figure of the part on which a value just keeps the limit, or has enough to spare as well.

        Rounded to four digits, to the safe side.
        """
        share = self.near_share if comfortable and self.near_share is not None else self.share
        return rounded(value / share, up=self.sense == "at_most")

    @property
    def unit(self) -> str:
        """The unit of its figure.

        >>> UNITS["power"]
        'W'
        """
        return UNITS[self.quantity]

    @property
    def stops(self) -> bool:
        """Whether a branch does not run at all where it is not kept."""
        return bool(self.rule.off_words)

    def past(self, value: float, figure: float | None) -> bool:
        """Whether a value is past a figure on the limit's side; on it is not past it, and past none is nothing."""
        if figure is None:
            return False
        return over(value, figure) if self.sense == "at_most" else under(value, figure)

    def broken(self, value: float) -> bool:
        """Whether a value is past the limit; an unknown one is never past."""
        return self.past(value, self.limit)

    def close(self, value: float) -> bool:
        """Whether a value keeps the limit, but only just."""
        return self.rule.near is not None and self.past(value, self.near) and not self.broken(value)

    def told(self, value: float, volts: float, words: str | None = None) -> str:
        """The sentence for a value: enough digits that it and the limit differ where they do."""
        limit = 0.0 if self.limit is None else self.limit
        spare = 1 - value / limit if limit else 0.0
        said = self.rule.words if words is None else words
        figures: tuple[tuple[str, float, str, int, float | None], ...] = (
            ("value", value, self.unit, 3, limit),
            ("limit", limit, self.unit, 3, value),
            ("volts", volts, "V", 3, None),
            ("spare", spare, "%", 2, None),
            ("share", self.share, "%", 4, None),
        )
        # Only those that are said: to print a figure takes longer than to look for it.
        printed = {
            name: format_quantity(figure, unit, digits, beside=beside)
            for name, figure, unit, digits, beside in figures
            if f"{{{name}}}" in said
        }
        return said.format(**printed)


COMFORTABLE = format_quantity(CURRENT_IN_HAND.value, "%")
"""How much of a current should be to spare, as people read it."""


def rounded(value: float, *, up: bool, digits: int = 4) -> float:
    """A figure of so many digits on the safe side of a value.

    >>> rounded(2.10004, up=True), rounded(2.10004, up=False), rounded(2.10004, up=True, digits=3)
    (2.101, 2.1, 2.11)
    """
    if value <= 0.0 or not isfinite(value):
        return value
    step = 10.0 ** (floor(log10(value)) + 1 - digits)
    # What is on a step but for the last bits of a float stays there.
    steps = value / step * (1 - SLACK if up else 1 + SLACK)
    return float(f"{(ceil(steps) if up else floor(steps)) * step:.{digits}g}")


ENOUGH = 1 - CURRENT_IN_HAND.value
"""The share of a current up to which enough is to spare."""


def near_rule(id: str, title: str, advice: str, whose: str, about: str = "") -> LimitRule:
    """The rule of a current that keeps its limit with too little to spare."""
    words = f"{{value}} of {whose} {{limit}} in the worst case: {{spare}} to spare; {COMFORTABLE} is comfortable"
    return LimitRule(id, "warn", title, CURRENT_IN_HAND.origin, advice, words, about=about)


def known(limits: Iterable[PartLimit]) -> Iterator[PartLimit]:
    """Those of which the figure is known."""
    return (limit for limit in limits if limit.limit is not None)
