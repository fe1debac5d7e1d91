"""SchemaResult: the JSON Schemas that ship with the package, and each of them by name."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import ClassVar

from pdcheck.errors import InputError
from pdcheck.named import NamedTuple
from pdcheck.result import Result, shows
from pdcheck.show.columns import table


class ListedSchema(NamedTuple):
    """A schema by name, and what it is the schema of."""

    name: str
    title: str


@dataclass(frozen=True, repr=False)
class SchemaResult(Result):
    """Every schema."""

    SCHEMA: ClassVar[str] = "schema/1"
    TITLE: ClassVar[str] = "The list of schemas"
    ROWS: ClassVar[tuple[str, ...]] = ("schemas",)
    SHOWN: ClassVar[str] = "schemas"

    schemas: tuple[ListedSchema, ...]

    def answer(self) -> str:
        """How many."""
        return f"{len(self.schemas)} schemas"


def shipped() -> dict[str, Traversable]:
    """The file of each schema, by name."""
    found = sorted((files("pdcheck") / "schemas").iterdir(), key=lambda each: each.name)
    return {each.name.removesuffix(".json"): each for each in found if each.name.endswith(".json")}


def schema_list() -> SchemaResult:
    """Every schema with its title.

    >>> [each.title for each in schema_list().schemas if each.name == "wire"]
    ['What a wire drops, or the thinnest that is enough']
    """
    titles = {name: json.loads(path.read_text(encoding="utf-8"))["title"] for name, path in shipped().items()}
    return SchemaResult(tuple(ListedSchema(*each) for each in titles.items()))


def schema_text(name: str) -> str:
    """The schema of a name, with or without ``pdcheck/`` before it and its number behind, as its file has it.

    Raises ``InputError`` with the nearest names for one that does not exist.

    >>> schema_text("pdcheck/drop/1") == schema_text("drop")
    True
    """
    known = shipped()
    plain = name.removeprefix("pdcheck/").partition("/")[0]
    if plain not in known:
        from difflib import get_close_matches

        near = get_close_matches(plain, known, n=3, cutoff=0.4)
        raise InputError(f"no schema {name!r}", expected=" or ".join(near) if near else "a name from 'pdcheck schema'")
    return known[plain].read_text(encoding="utf-8")


@shows(SchemaResult)
def text(result: SchemaResult) -> str:
    return table(["name", "what it is"], [list(each) for each in result.schemas])
