"""Limit of a part: a node, a quantity, a figure that it must keep, and what is wrong where it does not.

Every part yields its limits once, by a method ``limits``. Whether a build works, what it can deliver, what the least is
to buy and when to stop are all questions to that one list.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import ClassVar, Literal, NamedTuple

from pdcheck.facts.origin import Limit, Origin
from pdcheck.facts.trade import CURRENT_IN_HAND
from pdcheck.quantities import format_quantity, over, under

Quantity = Literal["voltage", "current", "power"]
Sense = Literal["at_most", "at_least"]
State = Literal["loaded", "unloaded", "starting", "nominal"]
"""When a limit counts: with the loads running, with none of them (a source at its highest), while the branch is still
to start, or for the contract's nominal voltage."""

UNITS: dict[Quantity, str] = {"voltage": "V", "current": "A", "power": "W"}
ABOUT = ("cable", "contract", "converter", "load", "source")
"""What rules are about, causes before what follows from them: a cable bounds the offer, the offer the load."""


class LimitRule(NamedTuple):
    """What is wrong where a limit is broken, and what to do.

    ``words`` are filled in with ``value``, ``limit`` and ``volts`` (the contract's), each with its unit; ``off_words``
    where the branch therefore does not run at all. ``supply`` says that nothing that flows is looked at. ``near`` is a
    rule of its own for a value within the limit that leaves less than ``spare`` of it.
    """

    id: str
    level: str
    title: str
    origin: Origin
    advice: str
    words: str
    about: str
    off_words: str = ""
    spare: Limit | None = None
    near: LimitRule | None = None
    supply: bool = False


class Catalogue:
    """Every limit rule there is, in the order in which they were made: none can be written and forgotten."""

    rules: ClassVar[list[LimitRule]] = []


def limit_rule(
    id: str,
    level: str,
    title: str,
    origin: Origin,
    advice: str,
    words: str,
    *,
    about: str,
    off_words: str = "",
    near: LimitRule | None = None,
    spare: Limit | None = None,
    supply: bool = False,
) -> LimitRule:
    """A limit rule, entered in the catalogue.

    >>> made = limit_rule("x", "fail", "Too hot", Origin("", "rig"), "Cool it.", "at {value} of {limit}", about="load")
    >>> made is Catalogue.rules.pop()
    True
    """
    made = LimitRule(id, level, title, origin, advice, words, about, off_words, spare, near, supply)
    Catalogue.rules.append(made)
    return made


class PartLimit(NamedTuple):
    """One limit: at a node, of a quantity, at most or at least ``limit`` [V, A or W].

    ``subject`` is who is told about, ``part`` what sets the end of an envelope, ``branch`` the branch it belongs to
    (empty for what all share). ``limit`` is None where the figure is not known: then ``key`` names what is missing,
    ``settle_by`` where a maker finds it, and ``plausible`` is the worst figure that the part may have.
    """

    rule: LimitRule
    node: str
    quantity: Quantity
    sense: Sense
    limit: float | None
    subject: str
    part: str
    branch: str = ""
    state: State = "loaded"
    key: str = ""
    settle_by: str = ""
    plausible: float | None = None

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

    def broken(self, value: float) -> bool:
        """Whether a value is past the limit; on it is not past it, and an unknown one is never past."""
        if self.limit is None:
            return False
        return over(value, self.limit) if self.sense == "at_most" else under(value, self.limit)

    def near(self, value: float) -> bool:
        """Whether a value keeps the limit but leaves less to spare than it should."""
        if self.limit is None or self.rule.near is None or self.rule.spare is None or self.broken(value):
            return False
        return over(value, self.limit * (1 - self.rule.spare.value))

    def told(self, value: float, volts: float, words: str | None = None) -> str:
        """The sentence for a value: enough digits that it and the limit differ where they do."""
        limit = 0.0 if self.limit is None else self.limit
        spare = 1 - value / limit if limit else 0.0
        return (self.rule.words if words is None else words).format(
            value=format_quantity(value, self.unit, 3, beside=limit),
            limit=format_quantity(limit, self.unit, 3, beside=value),
            volts=format_quantity(volts, "V", 3),
            spare=format_quantity(spare, "%", 2),
        )


COMFORTABLE = format_quantity(CURRENT_IN_HAND.value, "%")
"""How much of a current should be to spare, as people read it."""


def near_rule(id: str, title: str, advice: str, whose: str, about: str) -> LimitRule:
    """The rule of a current that keeps its limit with too little to spare."""
    words = f"{{value}} of {whose} {{limit}} in the worst case: {{spare}} to spare; {COMFORTABLE} is comfortable"
    return limit_rule(id, "warn", title, CURRENT_IN_HAND.origin, advice, words, about=about)


def known(limits: Iterable[PartLimit]) -> Iterator[PartLimit]:
    """Those of which the figure is known."""
    return (limit for limit in limits if limit.limit is not None)
