"""What is said of heat: what each part turns into heat, how warm it gets, and the air in the box."""

from __future__ import annotations

from collections.abc import Callable

from pdcheck.facts.heat import AIR, MODULE
from pdcheck.parts.box import assumed_of
from pdcheck.quantities import Triple, format_quantity
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.heat import BoxAir
from pdcheck.verdict.judge import Judgement

HEADERS = ("part", "heat, typ (worst)", "temperature, typ (worst)")
_NEXT_TO_NOTHING_W = 5e-4


def heat_rows(judgement: Judgement) -> list[list[str]]:
    """A row for each part that turns power into heat: its name, the heat, how warm it gets."""
    warm = {each.part: _with_worst(each.temp_c, "{:.0f} °C".format) for each in judgement.temperatures}
    return [
        [
            each.part,
            _with_worst(each.loss_w, lambda watts: format_quantity(watts, "W", 2)),
            warm.get(each.part, "-"),
        ]
        for each in judgement.losses
        if each.loss_w.max > _NEXT_TO_NOTHING_W
    ]


def heat_words(judgement: Judgement) -> list[str]:
    """What to know beside the rows: the box, and what is assumed."""
    if not judgement.temperatures:
        return []
    box, told = judgement.box, []
    if box is not None:
        told.append(box_words(box))
    if not judgement.case.rig.states_heat:
        told.append(
            f"Estimated for an open bench at {format_quantity(AIR.value, 'C')} and bare boards of {MODULE.min:g} to "
            f"{MODULE.max:g} K/W, and not judged. With [box] and the converter's rise in the rig file it is."
        )
        return told
    stated = judgement.case.rig.box
    assumed = ["an open bench at 25 °C"] if stated is None else list(assumed_of(stated))
    assumed += [f"{each.part}: {each.assumed}" for each in judgement.temperatures if each.assumed]
    told.append(f"Assumed: {'; '.join(assumed)}.")
    return told


def box_words(box: BoxAir) -> str:
    """The heat balance of a box, with its figures.

    >>> inside, around, outside, heat, shed = (Triple.exact(each) for each in (39.2, 25.0, 32.1, 4.0, 0.2816))
    >>> air = BoxAir(inside, around, outside, heat, 0.0352, shed, ())
    >>> box_words(air)
    '4 W of heat in the box, which sheds 282 mW per kelvin: its air is 14.2 K warmer than the 25 °C around it, 39.2 °C.'
    """
    rise = box.temp_c.typ - box.around_c.typ
    worst = "" if box.temp_c.max == box.temp_c.typ else f", {format_quantity(box.temp_c.max, 'C', 3)} in the worst case"
    return (
        f"{format_quantity(box.heat_w.typ, 'W', 3)} of heat in the box, which sheds "
        f"{format_quantity(box.shed_w_k.typ, 'W', 3)} per kelvin: its air is {format_quantity(rise, 'K', 3)} "
        f"warmer than the {format_quantity(box.around_c.typ, 'C', 3)} around it, "
        f"{format_quantity(box.temp_c.typ, 'C', 3)}{worst}."
    )


def heat_lines(judgement: Judgement, *, full: bool = False) -> list[str]:
    """The lines of text on heat; none where nothing flows.

    A table where the rig says something of heat, or all is asked for; else the watts and what gets hottest.
    """
    rows = heat_rows(judgement)
    if not rows:
        return []
    if not (full or judgement.case.rig.states_heat):
        return ["", paragraph(_in_short(judgement), indent=2, hang=2)]
    return ["", table(list(HEADERS), rows), *(paragraph(each, indent=2, hang=2) for each in heat_words(judgement))]


def _in_short(judgement: Judgement) -> str:
    listed = [each for each in judgement.losses if each.loss_w.max > _NEXT_TO_NOTHING_W]
    watts = ", ".join(f"{each.part} {format_quantity(each.loss_w.typ, 'W', 2)}" for each in listed)
    words = f"heat: {watts}."
    hottest = max(judgement.temperatures, key=lambda each: each.temp_c.typ, default=None)
    if hottest is None:
        return words
    worst = f", {hottest.temp_c.max:.0f} °C in the worst case" if hottest.temp_c.max > hottest.temp_c.typ + 0.5 else ""
    return (
        f"{words} Hottest: {hottest.part}, about {hottest.temp_c.typ:.0f} °C{worst}, on an open bench; "
        "an estimate, not judged."
    )


def _with_worst(triple: Triple, text: Callable[[float], str]) -> str:
    typical, worst = text(triple.typ), text(triple.max)
    return typical if typical == worst else f"{typical} ({worst})"
