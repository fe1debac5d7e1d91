"""What ``new`` shows: the verdict on every pair of the kit, else what to buy; what was not judged; what to do next."""

from __future__ import annotations

from pdcheck.result import shows
from pdcheck.show.check import condition_lines
from pdcheck.show.clean import clean, pasted
from pdcheck.show.columns import paragraph
from pdcheck.show.figures import pair_named
from pdcheck.show.on_pairs import on_pairs
from pdcheck.verdict.made import Made
from pdcheck.verdict.settings import PAIRS_TO_TRY, best_of, settings_of, try_on

_LABEL = "5V 3A, 9V 3A, 15V 3A"


@shows(Made)
def text(made: Made) -> str:
    parts = [clean(f"wrote {made.rig}"), ""]
    if made.needs is not None:
        parts.append(str(made.needs))
    else:
        rig = made.results[0].case.rig
        pairs = [(each.case.source, each.case.cable) for each in made.results]
        tried = [] if len(pairs) > PAIRS_TO_TRY else try_on(rig, pairs, settings_of(source for source, _ in pairs))
        parts += on_pairs(rig, made.results, best_of(tried))
        best = next((each for each in made.results if each.works), made.results[0])
        if best.not_judged:
            told = f"Not judged, since nobody stated it; on {pair_named(best.source, best.cable)} it must be true that:"
            parts += ["", paragraph(told, indent=2), *condition_lines(best.not_judged)]
    guesses = [each.question for each in made.answers if each.guessed]
    if guesses:
        parts += ["", paragraph(f"Guessed, and marked so in the file: {', '.join(guesses)}.", indent=2)]
    return "\n".join([*parts, "", "Next", "", f"  {_next(made)}"])


def _next(made: Made) -> str:
    """The command to paste: the rig on the first pair that works, or on the charger whose label is typed."""
    best = next((each for each in made.results if each.works), next(iter(made.results), None))
    if best is None:
        return f'pdcheck check {pasted(made.rig)} --source "{_LABEL}"'
    kit = "" if made.kit is None else f" --kit {pasted(made.kit)}"
    return f"pdcheck check {pasted(made.rig)}{kit} --source {pasted(best.source)} --cable {pasted(best.cable)}"
