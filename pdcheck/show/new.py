"""What ``new`` shows: the verdict on every pair of the kit, else what to buy."""

from __future__ import annotations

from pdcheck.result import shows
from pdcheck.show.check import summary
from pdcheck.show.clean import clean
from pdcheck.verdict.made import Made


@shows(Made)
def text(made: Made) -> str:
    """What a person reads."""
    return f"{clean(f'wrote {made.rig}')}\n\n{summary(made.results) if made.needs is None else made.needs}"
