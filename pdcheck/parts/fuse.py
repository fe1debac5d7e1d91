"""Fuse: its value and its kind, what it carries for hours, and the wires that it must blow before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, Any

from pdcheck.errors import InputError
from pdcheck.facts.fuses import FUSE_SHARE, FUSES, FuseKind
from pdcheck.named import NamedTuple
from pdcheck.parts.fields import NUMBER_OR_TEXT, Reader, read_bounded
from pdcheck.parts.limits import LimitRule, PartLimit
from pdcheck.parts.wire import Wire
from pdcheck.quantities import quantity_text, quoted

_MOST_A = 1000.0
_EXAMPLE = "a fuse such as 2A, 2A IEC, 2A blade or 1.1A resettable"
_CALLED: dict[str, FuseKind] = {
    "": "UL",
    "ul": "UL",
    "ul248": "UL",
    "ul248-14": "UL",
    "iec": "IEC",
    "iec60127": "IEC",
    "blade": "blade",
    "resettable": "resettable",
    "ptc": "resettable",
}


class Fuse(NamedTuple):
    """A fuse of ``value_a`` [A], of a resettable one its hold current; its kind says how much of it flows for hours.

    >>> Fuse(2.0, "IEC") == read_fuse("2A IEC")
    True
    """

    value_a: float
    kind: FuseKind = "UL"


def read_fuse(value: Any) -> Fuse:
    """A fuse as people write it: its value, and after it ``IEC``, ``blade`` or ``resettable`` where it is one.

    Raises InputError for anything else.

    >>> read_fuse("2A"), read_fuse("3.15 A IEC 60127").kind, read_fuse(1.1)
    (Fuse(value_a=2.0, kind='UL'), 'IEC', Fuse(value_a=1.1, kind='UL'))
    """
    if isinstance(value, Fuse):
        return value
    text, kind = value, ""
    if isinstance(value, str) and len(value) <= 100:
        words = value.split()
        # The value ends with its unit, which may stand apart from its number.
        ends = 2 if len(words) > 1 and words[1].lower() in ("a", "ma", "amp", "amps", "ampere", "amperes") else 1
        text, kind = " ".join(words[:ends]), "".join(words[ends:]).lower()
    if kind not in _CALLED:
        raise InputError(f"{quoted(value)} is no kind of fuse", expected=_EXAMPLE)
    return Fuse(read_bounded(text, "A", _MOST_A, zero=False), _CALLED[kind])


def fuse_text(fuse: Fuse) -> str:
    """A fuse as its file has it.

    >>> fuse_text(Fuse(2.0)), fuse_text(Fuse(2.0, "blade"))
    ('2A', '2A blade')
    """
    value = quantity_text(fuse.value_a, "A")
    return value if fuse.kind == "UL" else f"{value} {fuse.kind}"


AnyFuse = Annotated[Fuse, Reader(read_fuse, NUMBER_OR_TEXT, fuse_text)]

CARRIES = LimitRule(
    "fuse-current",
    "fail",
    "Too much current for a fuse",
    FUSE_SHARE.origin,
    "Take a larger fuse, as far as the wire allows: with more than that for hours a fuse ages, and blows some day.",
    "carries {value} in the worst case, more than {share} of its rating, which is {limit}",
)
WIRE = LimitRule(
    "fuse-wire",
    "fail",
    "A fuse that lets a wire burn",
    FUSE_SHARE.origin,
    "Take a smaller fuse or a thicker wire: the wire must not be what melts first.",
    "is rated for {value}, and the wire that it protects stays cool only up to {limit}",
    supply=True,
)
BUS_WIRE = LimitRule(
    "fuse-bus-wire",
    "fail",
    "A bus fuse that lets a branch's wire burn",
    FUSE_SHARE.origin,
    "Give this branch a fuse of its own, or take a smaller bus fuse or a thicker wire.",
    "has no fuse of its own; the bus fuse is rated for {value}, and this wire stays cool only up to {limit}",
    supply=True,
)


class Protected(NamedTuple):
    """A wire behind a fuse: what it is called, the branch it belongs to, itself."""

    called: str
    branch: str
    wire: Wire


def fuse_limits(fuse: Fuse, branch: str, wires: Iterable[Protected]) -> Iterator[PartLimit]:
    """What the fuse in a branch's wire carries, and what the wires behind it do.

    Without a ``branch`` it is the fuse behind the trigger, and the wires are those that no other fuse protects.
    """
    node, subject = (f"{branch}/in", f"{branch} fuse") if branch else ("bus", "bus fuse")
    share = FUSES[fuse.kind].share
    yield PartLimit(CARRIES, node, "current", "at_most", fuse.value_a, subject, "fuse", branch, share=share)
    for each in wires:
        rule, whose, node = WIRE if branch else BUS_WIRE, subject if branch else each.called, f"{each.branch}/in"
        most_a = each.wire.ampacity_a()
        limit = PartLimit(rule, node, "current", "at_most", most_a, whose, "fuse", each.branch, "rating")
        yield limit._replace(rating=fuse.value_a)
