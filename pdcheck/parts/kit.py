"""Kit: the sources and cables that somebody owns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from pydantic import Field, model_validator

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.fields import Title
from pdcheck.parts.mistakes import names_differ, nearest
from pdcheck.parts.source import Source
from pdcheck.parts.toml_reading import Filed
from pdcheck.quantities import quoted

Named = TypeVar("Named", Source, Cable)

MOST_PARTS = 2000
"""Sources, or cables, of one kit; with more of both not even the pairs can be listed in seconds."""


class Kit(Filed, init=False):
    """Sources and cables, each with an id of its own; tables ``[[source]]`` and ``[[cable]]`` of a file.

    >>> kit = Kit(source=[Source("5V 3A, 9V 3A", id="wall")], cable=[Cable("C-C", id="thin")])
    >>> [(source.id, cable.id) for source, cable in kit.pairs()]
    [('wall', 'thin')]
    """

    title: Title = ""
    sources: tuple[Source, ...] = Field(default=(), validation_alias="source")
    cables: tuple[Cable, ...] = Field(default=(), validation_alias="cable")

    def __repr__(self) -> str:
        ids = [each.id for each in self.sources] + [each.id for each in self.cables]
        return f"Kit({self.title!r}: {', '.join(ids)})"

    @model_validator(mode="after")
    def _ids_differ(self) -> Kit:
        rows: tuple[tuple[str, Sequence[Source | Cable]], ...] = (("source", self.sources), ("cable", self.cables))
        for key, parts in rows:
            if len(parts) > MOST_PARTS:
                raise InputError(
                    f"{len(parts)} of them", expected=f"at most {MOST_PARTS} in a kit", key=(key, MOST_PARTS)
                )
            names_differ([part.id for part in parts], "id", (key, "id"))
        return self

    def source(self, id: str) -> Source:
        """The source of that id; InputError with the ids there are, if there is none."""
        return _found(self.sources, id, "source")

    def cable(self, id: str) -> Cable:
        """The cable of that id; InputError with the ids there are, if there is none."""
        return _found(self.cables, id, "cable")

    def pairs(self) -> tuple[tuple[Source, Cable], ...]:
        """Every source with every cable that can be plugged into it: with its own alone, where it has one fixed."""
        return tuple(
            (source, cable)
            for source in self.sources
            for cable in ((source.cable,) if source.cable is not None else self.cables)
        )


def _found(parts: tuple[Named, ...], id: str, noun: str) -> Named:
    for part in parts:
        if part.id == id:
            return part
    known = [part.id for part in parts]
    raise InputError(f"the kit has no {noun} {quoted(id)}", expected=nearest(id, known) if known else f"a {noun} in it")
