"""The schemas as files of the package, written from the classes of the results, and the ledger of their numbers.

python -m pdcheck.show.schema_files

The ledger holds the shape of each document under its name and number. A document whose keys or types change gets
another number, in ``SCHEMA`` of its class; the command refuses to write another shape under a number that is taken.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping
from hashlib import sha256
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import Any

import pdcheck
from pdcheck.marks import Schema
from pdcheck.parts.file_schema import kit_schema, rig_schema
from pdcheck.result import RESULTS, Result, schema_of
from pdcheck.show.closed_words import close

FOLDER = Path(pdcheck.__path__[0]) / "schemas"
LEDGER = FOLDER / "ledger.txt"
FILES = {"kit-file": kit_schema, "rig-file": rig_schema}
_NOT_ITS_SHAPE = ("$schema", "$id", "$defs", "title", "description")
_RUN = ("__main__", "cli")


def results() -> list[type[Result]]:
    """Every class of result of the package, by the name of its document."""
    for module in walk_packages(pdcheck.__path__, "pdcheck."):
        if module.name.split(".")[1] not in _RUN:
            import_module(module.name)
    return sorted((each for each in RESULTS if each.__module__.startswith("pdcheck.")), key=lambda each: each.SCHEMA)


def schemas() -> dict[str, Schema]:
    """Every schema by its name: the two files, then the documents."""
    documents = {each.SCHEMA.partition("/")[0]: close(schema_of(each), each.__name__) for each in results()}
    return {name: make() for name, make in FILES.items()} | dict(sorted(documents.items()))


def file_text(schema: Schema) -> str:
    """A schema as its file has it."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def fingerprint(schema: Schema) -> str:
    """What two schemas have in common that take the same documents: keys, types and words, in whatever order.

    >>> fingerprint({"required": ["a", "b"], "title": "x"}) == fingerprint({"title": "y", "required": ["b", "a"]})
    True
    """
    shape = _shape(schema, schema.get("$defs", {}))
    shape.get("properties", {}).pop("schema", None)
    return sha256(json.dumps(shape, sort_keys=True).encode()).hexdigest()[:16]


def _shape(value: Any, shared: Mapping[str, Any], *, named: bool = False) -> Any:
    """A schema without what is no part of its shape; ``named`` says that the keys are those of a document."""
    if isinstance(value, dict):
        if not named and "$ref" in value:
            return _shape(shared[value["$ref"].rpartition("/")[2]], shared)
        if not named and "type" in value:
            # The words that a text can have, told beside its type: the document is the same with them.
            value = {key: inner for key, inner in value.items() if key != "enum"}
        kept = value if named else {key: inner for key, inner in value.items() if key not in _NOT_ITS_SHAPE}
        return {
            key: _shape(inner, shared, named=not named and key in ("properties", "patternProperties"))
            for key, inner in kept.items()
        }
    if isinstance(value, list):
        return sorted((_shape(inner, shared) for inner in value), key=lambda inner: json.dumps(inner, sort_keys=True))
    return value


def read_ledger() -> dict[str, str]:
    """The fingerprint of every document that has ever been shipped, by its name and number."""
    lines = LEDGER.read_text(encoding="utf-8").splitlines() if LEDGER.exists() else []
    return dict(line.split() for line in lines)


def entered(ledger: Mapping[str, str], classes: Iterable[type[Result]]) -> tuple[dict[str, str], list[str]]:
    """The ledger with these documents in it, and a complaint for each that needs another number."""
    out, complaints = dict(ledger), []
    for each in classes:
        print_ = fingerprint(schema_of(each))
        if out.setdefault(each.SCHEMA, print_) != print_:
            name, _, number = each.SCHEMA.partition("/")
            where = f"{each.__module__}.{each.__name__}"
            complaints.append(
                f"the keys of {each.SCHEMA} have changed: SCHEMA of {where} is to be {name}/{int(number) + 1}"
            )
    return dict(sorted(out.items())), complaints


def markdown() -> str:
    """The page of schemas for the docs."""
    lines = [
        "# Schemas",
        "",
        "JSON Schemas (draft 2020-12) of everything that `pdcheck` reads as TOML or prints as JSON. They ship in the",
        "package, in `pdcheck/schemas/`; `pdcheck schema NAME` prints one, `pdcheck schema` lists them. Every document",
        "names its own in its key `schema`: `pdcheck/check/3` is `check`. No key is open: one that is missing, or new,",
        "or of another type, does not validate; a document whose keys change gets another number.",
        "",
        "```console",
        "$ pdcheck encode '5V 3A' --json",
        "$ pdcheck schema encode | head -24",
        "```",
        "",
        "How an editor uses `kit-file` and `rig-file` for TOML: [files](files.md#in-an-editor).",
        "",
        "| name | what it is |",
        "|---|---|",
    ]
    lines += [f"| [`{name}`](../pdcheck/schemas/{name}.json) | {each['title']} |" for name, each in schemas().items()]
    return "\n".join(lines) + "\n"


def write() -> list[str]:
    """Write every file and the ledger; or nothing, and the complaints."""
    ledger, complaints = entered(read_ledger(), results())
    if complaints:
        return complaints
    FOLDER.mkdir(exist_ok=True)
    for name, schema in schemas().items():
        (FOLDER / f"{name}.json").write_text(file_text(schema), encoding="utf-8")
    LEDGER.write_text("".join(f"{name} {print_}\n" for name, print_ in ledger.items()), encoding="utf-8")
    return []


if __name__ == "__main__":
    sys.exit("\n".join(write()) or None)
