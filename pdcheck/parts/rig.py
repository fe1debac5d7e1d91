"""Rig: what is built behind a trigger: branches of wires, converters and loads, and how true the figures are."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import Any, ClassVar

from pydantic import Field, ValidationInfo, model_validator

from pdcheck.errors import InputError
from pdcheck.facts.cautions import Caution
from pdcheck.facts.copper import REFERENCE_TEMPERATURE
from pdcheck.parts.box import Box
from pdcheck.parts.cable import Cable
from pdcheck.parts.converter import Converter
from pdcheck.parts.fields import CelsiusTriple, Name, Part, Title, Tolerated
from pdcheck.parts.fuse import AnyFuse, Protected, fuse_limits
from pdcheck.parts.kit import Kit
from pdcheck.parts.limits import PartLimit
from pdcheck.parts.loads import Load
from pdcheck.parts.mistakes import names_differ
from pdcheck.parts.request import AvsRequest, FixedRequest, PpsRequest
from pdcheck.parts.source import Source
from pdcheck.parts.toml_reading import Filed
from pdcheck.parts.trigger import Trigger
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple

MOST_BRANCHES = 32
"""A rig of more is no rig of one trigger; what is worked out for it grows with their square."""


class Branch(Part, init=False):
    """One path from the bus to a load: wire, converter, lead and load, the first three where there are any.

    ``live``: it may be plugged in while the bus is up; else it counts as soldered. ``fuse``: the one in its wire.

    >>> Branch("mount", wire="20AWG 0.4m", load="24W").load
    PowerLoad(power='24W')
    """

    name: Name
    wire: Wire | None = None
    converter: Converter | None = None
    lead: Wire | None = None
    load: Load
    live: bool = False
    fuse: AnyFuse | None = None

    def limits(self, design_v: float | None = None) -> Iterator[PartLimit]:
        """What all of its parts need, take and carry, on a bus that is built for ``design_v`` [V].

        >>> [limit.rule.id for limit in Branch(name="x", load={"led": {"count": 3, "vf": 3, "current": 0.1}}).limits()]
        ['led-headroom']
        """
        if self.fuse is not None:
            yield from fuse_limits(self.fuse, self.name, self.fused_wires())
        if self.wire is not None:
            yield from self.wire.limits(self.name, "wire")
        if self.converter is not None:
            yield from self.converter.limits(self.name)
        if self.lead is not None:
            yield from self.lead.limits(self.name, "lead")
        yield from self.load.limits(self.name, straight=self.converter is None, design_v=design_v)

    def warm_limits(self) -> Iterator[PartLimit]:
        """How warm its parts may get, and what they may do in warm air."""
        if self.wire is not None:
            yield from self.wire.warm_limits(self.name, "wire")
        if self.converter is not None:
            yield from self.converter.warm_limits(self.name)
        if self.lead is not None:
            yield from self.lead.warm_limits(self.name, "lead")

    def fused_wires(self) -> Iterator[Protected]:
        """The wires that a fuse at its start protects: up to its converter, or up to its load where there is none."""
        if self.wire is not None:
            yield Protected(f"{self.name} wire", self.name, self.wire)
        if self.lead is not None and self.converter is None:
            yield Protected(f"{self.name} lead", self.name, self.lead)

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        return {"name": said}


class Tolerance(Part, init=False):
    """How far figures may be off, as ratios either way, and the temperature of the copper [degrees C].

    ``source`` counts instead of each source's own, where it is stated; ``efficiency`` is relative: 0.05 on 92 % means
    87.4 to 96.6 %.
    """

    source: Tolerated | None = None
    resistance: Tolerated = 0.0
    efficiency: Tolerated = 0.0
    load: Tolerated = 0.0
    copper: CelsiusTriple = Triple.exact(REFERENCE_TEMPERATURE.value)

    def of_source(self, source: Source) -> float:
        """The tolerance of a source's voltage (a ratio): the rig's where the rig states one, else the source's own."""
        return source.tolerance if self.source is None else self.source


class Rig(Filed, init=False):
    """A trigger and its branches, with the kit where the file holds one; ``[[branch]]`` tables of a file.

    >>> rig = Rig(title="Pier box", trigger="9V", branch=[Branch("marker", load="5W")])
    >>> rig, rig.branches[0].load
    (Rig('Pier box': marker), PowerLoad(power='5W'))
    """

    file_keys: ClassVar[tuple[str, ...]] = ("source", "cable")

    title: Title = ""
    trigger: Trigger
    branches: tuple[Branch, ...] = Field(validation_alias="branch")
    tolerance: Tolerance = Tolerance()
    box: Box | None = None
    kit: Kit | None = None

    def __repr__(self) -> str:
        return f"Rig({self.title!r}: {', '.join(branch.name for branch in self.branches)})"

    def to_dict(self) -> dict[str, Any]:
        """The rig as the data of its file; a kit without a title stands at the top."""
        table = super().to_dict()
        kit = table.pop("kit", None)
        if kit is None:
            return table
        return table | ({"kit": kit} if "title" in kit or not kit else kit)

    @classmethod
    def _stated(cls, data: dict[str, Any], info: ValidationInfo) -> dict[str, Any]:
        """[[source]] and [[cable]] may stand in a rig file as they stand in a kit file."""
        data = super()._stated(data, info)
        if not {"source", "cable"} & set(data):
            return data
        if "kit" in data:
            key = "source" if "source" in data else "cable"
            raise InputError(
                f"[[{key}]] beside a kit", expected=f"[[kit.{key}]], or all of the kit at the top", key=(key,)
            )
        parts = {key: data[key] for key in ("source", "cable") if key in data}
        return {key: value for key, value in data.items() if key not in parts} | {"kit": parts}

    def with_branch(self, branch: Branch, **figures: Any) -> Rig:
        """The rig with some fields of one of its branches changed."""
        new = branch.model_copy(update=figures)
        return self.model_copy(update={"branches": tuple(new if each is branch else each for each in self.branches)})

    def with_trigger(self, **figures: Any) -> Rig:
        """The rig with some fields of its trigger changed; the rig itself where that changes nothing."""
        if all(getattr(self.trigger, key) == value for key, value in figures.items()):
            return self
        return self.model_copy(update={"trigger": self.trigger.model_copy(update=figures)})

    def series(self, cable: Cable | None) -> tuple[Cable | Trigger, ...]:
        """What all the current goes through from the source to the bus, in that order: the cable, then its own parts.

        Each has its name in every answer (``place``), its ``resistance`` [ohm], what a picture says (``drawn_as()``),
        and its ``limits()``, at ``source`` or ``bus``.

        >>> rig = Rig(trigger={"request": "9V", "resistance": "25mOhm"}, branch=[Branch("fan", load="5W")])
        >>> [(part.place, part.resistance.typ) for part in rig.series(Cable("C-C loop=100mOhm"))]
        [('cable', 0.1), ('trigger', 0.025)]
        """
        return tuple([part for part in (cable, self.trigger) if part is not None])

    @property
    def states_heat(self) -> bool:
        """Whether it says anything that temperatures are held against; else they are told, and not judged."""
        return self.box is not None or any(each.converter and each.converter.states_heat for each in self.branches)

    def warm_limits(self) -> Iterator[PartLimit]:
        """How warm its parts may get; nothing where it says nothing about heat."""
        if not self.states_heat:
            return
        for branch in self.branches:
            yield from branch.warm_limits()
        if self.box is not None:
            yield from self.box.limits()

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What its loads ask to be said before anything else, each once.

        >>> pack = {"pack": {"cells": 3, "end": "4.2V", "current": "1A"}}
        >>> {each.heading for each in Rig(trigger="15V", branch=[Branch("cells", load=pack)]).cautions}
        {'Charging a lithium pack'}
        """
        return tuple(dict.fromkeys(caution for branch in self.branches for caution in branch.load.cautions))

    @property
    def design_v(self) -> float | None:
        """The bus voltage [V] that it is built for, where its trigger asks for one.

        >>> Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}]).design_v
        9.0
        """
        request = self.trigger.request
        return request.voltage_v if isinstance(request, FixedRequest | PpsRequest | AvsRequest) else None

    def bus_limits(self) -> Iterator[PartLimit]:
        """What the fuse behind the trigger carries, and the wires that it protects: those that no other fuse does.

        >>> rig = Rig(trigger={"request": "9V", "fuse": "3A"}, branch=[Branch("fan", wire="24AWG 1m", load="5W")])
        >>> [(limit.rule.id, limit.subject) for limit in rig.bus_limits()]
        [('fuse-current', 'bus fuse'), ('fuse-bus-wire', 'fan wire')]
        """
        if self.trigger.fuse is not None:
            unfused = (branch.fused_wires() for branch in self.branches if branch.fuse is None)
            yield from fuse_limits(self.trigger.fuse, "", chain.from_iterable(unfused))

    @model_validator(mode="after")
    def _branches_differ(self) -> Rig:
        if not self.branches:
            raise InputError("there is no branch", expected="at least one [[branch]]", key=("branch",))
        if len(self.branches) > MOST_BRANCHES:
            what = f"{len(self.branches)} branches"
            raise InputError(what, expected=f"at most {MOST_BRANCHES} on one trigger", key=("branch", MOST_BRANCHES))
        names_differ([branch.name for branch in self.branches], "name", ("branch", "name"))
        return self
