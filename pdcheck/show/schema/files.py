"""The schemas as files of the package, written from what the program itself goes by.

python -m pdcheck.show.schema.files
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pdcheck.contract.trigger_settings import Settings
from pdcheck.parts.file_schema import kit_schema, rig_schema
from pdcheck.result import Result, schema_of
from pdcheck.show.schema.documents import DOCUMENTS
from pdcheck.verdict.bringup.measured import Comparison
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.change.changes import Changed
from pdcheck.verdict.envelopes import Enveloped
from pdcheck.verdict.judge import Checked
from pdcheck.verdict.made import Made
from pdcheck.verdict.matrix.matrix import Matrix
from pdcheck.verdict.need.around import Needs
from pdcheck.verdict.pick import Picked

FOLDER = Path(__file__).parents[2] / "schemas"
FILES = {"kit-file": kit_schema, "rig-file": rig_schema}
RESULTS: tuple[type[Result], ...] = (
    *(Picked, Checked, Matrix, Needs, Enveloped, Settings, Changed, BringUp, Comparison, Made),
)


def schemas() -> dict[str, dict[str, Any]]:
    """Every schema by its name: the two files, then the documents."""
    results = {each.SCHEMA.partition("/")[0]: schema_of(each) for each in RESULTS}
    return {name: make() for name, make in FILES.items()} | DOCUMENTS | results


def file_text(schema: dict[str, Any]) -> str:
    """A schema as its file has it."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def markdown() -> str:
    """The page of schemas for the docs."""
    lines = [
        "# Schemas",
        "",
        "JSON Schemas (draft 2020-12) of everything that `pdcheck` reads as TOML or prints as JSON. They ship in the",
        "package, in `pdcheck/schemas/`; `pdcheck schema NAME` prints one, `pdcheck schema` lists them. Every document",
        "names its own in its key `schema`: `pdcheck/check/1` is `check`. No key is open: one that is missing, or new,",
        "or of another type, does not validate; a document whose keys change gets another number.",
        "",
        "```console",
        "$ pdcheck encode '5V 3A' --json",
        "$ pdcheck schema encode",
        "```",
        "",
        "How an editor uses `kit-file` and `rig-file` for TOML: [files](files.md#in-an-editor).",
        "",
        "| name | what it is |",
        "|---|---|",
    ]
    lines += [f"| [`{name}`](../pdcheck/schemas/{name}.json) | {each['title']} |" for name, each in schemas().items()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, schema in schemas().items():
        (FOLDER / f"{name}.json").write_text(file_text(schema), encoding="utf-8")
