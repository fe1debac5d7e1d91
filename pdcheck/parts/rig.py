"""Rig: what is built behind a trigger: branches of wires, converters and loads, and how true the figures are."""

from __future__ import annotations

from typing import Any, ClassVar

from pydantic import Field, model_validator

from pdcheck.facts.copper import REFERENCE_TEMPERATURE
from pdcheck.facts.voltage import NEW_TOLERANCE
from pdcheck.parts.converter import Converter
from pdcheck.parts.fields import CelsiusTriple, Name, Part, Title, Tolerated
from pdcheck.parts.kit import Kit
from pdcheck.parts.loads import Load
from pdcheck.parts.mistakes import mistake
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple, quoted

MOST_BRANCHES = 32
"""A rig of more is no rig of one trigger; what is worked out for it grows with their square."""


class Branch(Part):
    """One path from the bus to a load: wire, converter, lead and load, the first three where there are any.

    >>> Branch(name="mount", load={"power": "24W"}).wire is None
    True
    """

    name: Name
    wire: Wire | None = None
    converter: Converter | None = None
    lead: Wire | None = None
    load: Load


class Tolerance(Part):
    """How far figures may be off, as ratios either way, and the temperature of the copper [degrees C].

    ``efficiency`` is relative: 0.05 on 92 % means 87.4 to 96.6 %.
    """

    source: Tolerated = NEW_TOLERANCE.value
    resistance: Tolerated = 0.0
    efficiency: Tolerated = 0.0
    load: Tolerated = 0.0
    copper: CelsiusTriple = Triple.exact(REFERENCE_TEMPERATURE.value)

    def of_source(self, source: Source) -> float:
        """The tolerance of a source's voltage (a ratio): the rig's where the rig states one, else the source's own."""
        return self.source if "source" in self.model_fields_set else source.tolerance


class Rig(Part):
    """A trigger and its branches, with the kit where the file holds one; ``[[branch]]`` tables of a file.

    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "marker", "load": "5W"}])
    >>> rig.branches[0].load.power_w, rig.tolerance.source
    (5.0, 0.05)
    """

    file_keys: ClassVar[tuple[str, ...]] = ("source", "cable")

    title: Title = ""
    trigger: Trigger
    branches: tuple[Branch, ...] = Field(validation_alias="branch")
    tolerance: Tolerance = Tolerance()
    kit: Kit | None = None

    @model_validator(mode="before")
    @classmethod
    def _kit_at_the_top(cls, data: Any) -> Any:
        """[[source]] and [[cable]] may stand in a rig file as they stand in a kit file."""
        if not isinstance(data, dict) or not {"source", "cable"} & set(data):
            return data
        if "kit" in data:
            key = "source" if "source" in data else "cable"
            raise mistake(
                f"[[{key}]] beside a kit", expected=f"[[kit.{key}]], or all of the kit at the top", key=(key,)
            )
        parts = {key: data[key] for key in ("source", "cable") if key in data}
        return {key: value for key, value in data.items() if key not in parts} | {"kit": parts}

    @model_validator(mode="after")
    def _branches_differ(self) -> Rig:
        if not self.branches:
            raise mistake("there is no branch", expected="at least one [[branch]]", key=("branch",))
        if len(self.branches) > MOST_BRANCHES:
            what = f"{len(self.branches)} branches"
            raise mistake(what, expected=f"at most {MOST_BRANCHES} on one trigger", key=("branch", MOST_BRANCHES))
        seen: set[str] = set()
        for index, branch in enumerate(self.branches):
            if branch.name in seen:
                what = f"{quoted(branch.name)} is the name of another branch already"
                raise mistake(what, expected="a name that is not in use", key=("branch", index, "name"))
            seen.add(branch.name)
        return self
