"""Box: what a build is housed in, how much heat it sheds, and the air around it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Any, Literal, get_args

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.facts import heat
from pdcheck.parts.fields import CelsiusTriple, Part, Reader, one_of, read_bounded
from pdcheck.parts.limits import LimitRule, PartLimit
from pdcheck.quantities import Triple, format_quantity, quantity_text, quoted

Material = Literal["plastic", "painted metal", "bare metal"]
SURFACE = "box:c"
"""The node of the temperature of a box's outside."""
_LONGEST_M = 10.0
_SIZE = "three lengths such as 120mm x 80mm x 40mm"

TOUCH = LimitRule(
    "box-touch",
    "warn",
    "A box too hot to touch",
    heat.TOUCH,
    "Use a larger box, vents, a better converter, or put it where nobody touches it.",
    "its outside may get {value} warm; a hand holds {limit} for a moment",
)


def _read_size(value: Any) -> tuple[float, float, float]:
    parts = re.split(r"\s*[x×*]\s*", value.strip()) if isinstance(value, str) and len(value) <= 100 else value
    if not isinstance(parts, list | tuple) or len(parts) != 3:
        raise InputError(f"{quoted(value)} is not the size of a box", expected=_SIZE)
    unit = re.search(r"[A-Za-z]+$", parts[-1].strip()) if isinstance(parts[-1], str) else None
    bare = [isinstance(each, str) and re.fullmatch(r"[0-9.,]+", each.strip()) is not None for each in parts[:2]]
    if isinstance(value, str) and unit is not None:
        # "120 x 80 x 40 mm": the last unit is that of all three.
        parts = [f"{each}{unit[0]}" if alone else each for each, alone in zip(parts, (*bare, False), strict=True)]
    elif isinstance(value, str):
        raise InputError(f"{quoted(value)} has no unit", expected=_SIZE)
    a, b, c = (read_bounded(each, "m", _LONGEST_M, zero=False) for each in parts)
    return a, b, c


_SIZED = Reader(
    _read_size,
    {"anyOf": [{"type": "string"}, {"type": "array", "minItems": 3, "maxItems": 3}]},
    lambda size: " x ".join(quantity_text(each, "m") for each in size),
)
_MATERIAL = one_of(
    "a material of a box",
    "plastic",
    "painted-metal",
    "bare-metal",
    painted="painted-metal",
    metal="bare-metal",
    wood="plastic",
)


def _read_material(value: Any) -> str:
    return str(_MATERIAL.read(value)).replace("-", " ")


class Box(Part, init=False):
    """What a build is housed in: ``size_m`` outside, ``material``, ``vents``; ``air_c`` is the air around it.

    Without a size it is an open bench in that air. As text the size.

    >>> box = Box("120mm x 80mm x 40mm", air="25C")
    >>> round(box.area_m2, 4), round(box.shed_w_k().typ, 4)
    (0.0352, 0.2816)
    """

    size_m: Annotated[tuple[float, float, float], _SIZED] | None = None
    material: Annotated[Material, Reader(_read_material, {"enum": list(get_args(Material))})] | None = None
    vents: bool = False
    air_c: CelsiusTriple | None = None

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        return {"size": said}

    @model_validator(mode="after")
    def _a_box(self) -> Box:
        for key, given in (("material", self.material is not None), ("vents", self.vents)):
            if given and self.size_m is None:
                raise InputError(f"{key} of a box without a size", expected=f"size beside {key}", key=(key,))
        return self

    @property
    def around_c(self) -> Triple:
        """The air around it [degrees C]: as stated, else 25 degrees C."""
        return Triple.exact(heat.AIR.value) if self.air_c is None else self.air_c

    @property
    def area_m2(self) -> float:
        """Its outer surface [m2]; 0 without a size."""
        if self.size_m is None:
            return 0.0
        a, b, c = self.size_m
        return 2.0 * (a * b + b * c + c * a)

    def shed_w_k(self) -> Triple:
        """Heat that leaves it [W] for each kelvin between the air in it and around it.

        Source: h A, h = 6 to 10 W/(m2 K) plastic or painted [common practice; any heat transfer text].
        """
        h = {None: heat.UNKNOWN_MATERIAL, "bare metal": heat.BARE_METAL}.get(self.material, heat.PAINTED)
        times = (heat.VENTED.value if self.vents else 1.0) * self.area_m2
        return Triple(h.min * times, h.typ * times, h.max * times)

    def limits(self) -> Iterator[PartLimit]:
        """What a hand may touch."""
        if self.size_m is not None:
            most = heat.TOUCH_PLASTIC if self.material == "plastic" else heat.TOUCH_METAL
            yield PartLimit(TOUCH, SURFACE, "temperature", "at_most", most.value, "box", "box")


def assumed_of(box: Box | None) -> tuple[str, ...]:
    """What is assumed of the box and the air around a build.

    >>> assumed_of(None)
    ('no box stated: an open bench', 'air around it not stated: taken as 25 °C')
    """
    told = []
    if box is None or box.size_m is None:
        told.append("no box stated: an open bench")
    elif box.material is None:
        told.append("material not stated: taken as plastic, at worst as bare metal")
    if box is None or box.air_c is None:
        told.append(f"air around it not stated: taken as {format_quantity(heat.AIR.value, 'C')}")
    return tuple(told)
