"""What ``fuse`` shows: for each place the values that fit, and why no other does."""

from __future__ import annotations

from pdcheck.facts.fuses import FUSES
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.fuses import FusePlace, Fuses, values_text

HEADERS = ["place", *(sort.called for sort in FUSES.values())]
MOST_NAMED = 3
"""More pairs than these are counted, not named."""


SHARES = (
    "For hours a fuse carries {UL} of its value, one made to IEC 60127 {IEC}, a resettable one {resettable} when it is "
    "warm".format(**{sort.kind: format_quantity(sort.share, "%") for sort in FUSES.values()})
)


@shows(Fuses)
def text(found: Fuses) -> str:
    """What a person reads: a table of all places, then each with its reasons, and what holds for all of them."""
    parts = [paragraph(headline(found), hang=2), ""]
    parts.append(table(HEADERS, place_rows(found)))
    every = [each.reasons for each in found.places]
    # Of a rig of one branch each place has all of its own.
    shared = [reason for reason in every[0] if len(every) > 2 and all(reason in reasons for reasons in every)]
    for each in found.places:
        parts += ["", paragraph(f"{each.place}: {proposal(each)}", hang=2)]
        parts += [_point(reason) for reason in each.reasons if reason not in shared]
    parts += ["", "For every place:", *map(_point, shared)]
    parts.append(_point(SHARES[0].lower() + SHARES[1:]))
    parts.append(_point("put it at the start of the wire that it protects, in the positive conductor"))
    return "\n".join(parts)


def place_rows(found: Fuses) -> list[list[str]]:
    """Each place with the values of each kind of fuse that fit."""
    by_kind = [{kind.kind: kind.values_a for kind in each.kinds} for each in found.places]
    return [
        [each.place, *(values_text(fitting.get(kind, ())) for kind in FUSES)]
        for each, fitting in zip(found.places, by_kind, strict=True)
    ]


def headline(found: Fuses) -> str:
    """What was asked, and on which pairs."""
    title = f"{found.rig}: which" if found.rig else "Which"
    if not found.runs:
        return f"{title} fuses fit. The rig does its job on none of these pairs: see 'pdcheck check' first"
    if len(found.on) <= MOST_NAMED:
        return f"{title} fuses fit, on {' and '.join(found.on)}"
    return f"{title} fuses fit, on the {len(found.on)} pairs of charger and cable that work"


def _point(reason: str) -> str:
    return paragraph(f"- {reason}", indent=2, hang=2)


def proposal(each: FusePlace) -> str:
    """The values of a place, in a few words."""
    if each.flows_a is None:
        return "no fuse can be chosen"
    if not each.values_a:
        return "no standard value fits"
    return f"{values_text(each.values_a)}, whatever it is made to; the smallest protects best"
