"""How warm a judged build gets: a temperature for each part, and the air in its box."""

from __future__ import annotations

from pdcheck.facts.heat import CABLE_RISE, MODULE
from pdcheck.named import NamedTuple
from pdcheck.parts.box import assumed_of
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case

AS_MODULE = f"taken as a bare board, {MODULE.min:g} to {MODULE.max:g} K/W"
AS_CABLE = f"plugs may rise by {CABLE_RISE.value:g} K at the rated current, half of it is typical"
_DEGREES = ":c"


class Temperature(NamedTuple):
    """How warm a part gets [degrees C], over all corners, once it has warmed up; and what is assumed for it."""

    part: str
    temp_c: Triple
    assumed: str = ""


class BoxAir(NamedTuple):
    """The air in a box and around it, and the outside of the box [degrees C]; the heat in it [W]; its surface [m2].

    ``shed_w_k`` [W/K] is what leaves it for each kelvin between the air in it and around it.
    """

    temp_c: Triple
    around_c: Triple
    surface_c: Triple
    heat_w: Triple
    area_m2: float
    shed_w_k: Triple
    assumed: tuple[str, ...]


def temperatures(case: Case) -> tuple[Temperature, ...]:
    """A temperature for each part that has one; none where the circuit has no operating point.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "wire": "22AWG 1m", "load": "2A"}])
    >>> found = temperatures(Case(rig, Source("5V 3A, 9V 3A"), Cable("C-C 3A loop=100mOhm")))
    >>> [(each.part, round(each.temp_c.typ, 1)) for each in found]
    [('cable', 31.7), ('trigger', 25.0), ('fan/wire', 36.1)]
    """
    nodes = {} if case.warm is None else case.warm.nodes
    bare = {part.place for part in case.rig.series(None)} | {
        f"{branch.name}/converter" for branch in case.rig.branches if branch.converter and not branch.converter.rise_k_w
    }
    found = []
    for node, (temp_c, _) in nodes.items():
        part, branch = node.removesuffix(_DEGREES), node.rpartition("/")[0]
        if not node.endswith(_DEGREES) or part in ("air", "box") or branch in case.off:
            continue
        assumed = AS_CABLE if part == "cable" else AS_MODULE if part in bare else ""
        found.append(Temperature(part, temp_c, assumed))
    return tuple(found)


def box_air(case: Case) -> BoxAir | None:
    """The air in the box; ``None`` without a box, or an operating point."""
    box, warm = case.rig.box, case.warm
    if box is None or box.size_m is None or warm is None or warm.typical is None:
        return None
    return BoxAir(
        warm.nodes["air:c"].voltage_v,
        box.around_c,
        warm.nodes["box:c"].voltage_v,
        warm.nodes["box:w"].voltage_v,
        box.area_m2,
        box.shed_w_k(),
        assumed_of(box),
    )
