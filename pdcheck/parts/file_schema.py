"""JSON Schemas of the kit and rig files, from the models that read them, with the keys that a file has."""

from __future__ import annotations

from typing import Any

from pdcheck.marks import Schema
from pdcheck.parts.cable_face import KINDS, Statement
from pdcheck.parts.fields import Part
from pdcheck.parts.file_words import describe
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.result import DIALECT


def kit_schema() -> Schema:
    """The schema of a kit file.

    >>> sorted(kit_schema()["properties"])
    ['cable', 'source', 'title']
    """
    return _whole(Kit, "kit", "A kit: the sources and cables that one owns")


def rig_schema() -> Schema:
    """The schema of a rig file; a kit may stand in it.

    >>> sorted(rig_schema()["properties"])
    ['box', 'branch', 'cable', 'kit', 'source', 'title', 'tolerance', 'trigger']
    """
    made = _whole(Rig, "rig", "A rig: a trigger, its branches and their loads")
    defs = made["$defs"]
    for key in ("source", "cable"):
        made["properties"][key] = defs["Kit"]["properties"][key]
    return made


def _whole(model: type[Part], name: str, title: str) -> Schema:
    made = model.model_json_schema(by_alias=True, mode="validation")
    defs = made.setdefault("$defs", {})
    face = Statement.model_json_schema(by_alias=True, mode="validation")
    # What a cable was told in is a field of it in Python, and its very keys in a file.
    for each in ("Statement", *face["$defs"]):
        defs.pop(each, None)
    defs |= face.pop("$defs")
    defs["Cable"] = _cable(defs["Cable"], face)
    # A cable that is fixed to its source takes its id from it.
    fixed = [{**way, "required": [key for key in way["required"] if key != "id"]} for way in defs["Cable"]["anyOf"]]
    defs["FixedCable"] = {"anyOf": fixed}
    source = defs["Source"]
    source["properties"]["cable"] = {"$ref": "#/$defs/FixedCable"}
    source["properties"]["hex"] = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "integer"}}]}
    source["anyOf"] = [{"required": [key]} for key in ("offers", "hex", "capture", "typec_current", "ports")]
    if "Wire" in defs:
        defs["Wire"]["oneOf"] = [{"required": ["awg"]}, {"required": ["mm2"]}]
    for part in ("Wire", "Trigger", "Source", "Cable", "FixedCable"):
        if part in defs:
            texts = [{"type": "number"}, {"type": "string"}] if part == "Trigger" else [{"type": "string"}]
            ways = defs[part]["anyOf"] if part.endswith("Cable") else [defs[part]]
            defs[part] = {"anyOf": [*ways, *texts]}
    plain: Schema = _plain(made)
    plain.pop("title", None)
    plain.pop("description", None)
    describe(plain)
    head = {"$schema": DIALECT, "$id": f"urn:pdcheck:{name}-file:1", "title": title}
    return head | plain


def _cable(model: Schema, face: Schema) -> Schema:
    """A cable as a file has it: id and title with what is said of it, or with its figures as a program writes them."""
    own = {key: model["properties"][key] for key in ("id", "title")}
    properties = own | face["properties"]
    properties["words"] = {"type": "string"}
    properties["kind"] = {"anyOf": [{"enum": list(KINDS)}, {"type": "string"}]}
    figures = {key: value for key, value in model["properties"].items() if key != "said"}
    said = {"type": "object", "properties": properties, "required": ["id"], "additionalProperties": False}
    return {"anyOf": [said, {**said, "properties": figures, "required": ["id", "construction"]}]}


def _plain(value: Any) -> Any:
    """A schema for people's editors: no null, which TOML has not; no titles; of a docstring its first sentence."""
    if isinstance(value, list):
        return [_plain(each) for each in value]
    if not isinstance(value, dict):
        return value
    out: Schema = {}
    for key, inner in value.items():
        if key == "title" and isinstance(inner, str):
            continue
        if key == "default" and not _of_toml(inner):
            continue
        if key == "description" and isinstance(inner, str):
            out[key] = inner.split("\n\n", maxsplit=1)[0].replace("``", "").replace("\n", " ")
        elif key == "properties":
            out[key] = {name: _plain(each) for name, each in inner.items()}
        else:
            out[key] = _plain(inner)
    if len(out.get("allOf", ())) == 1:
        # So older versions of pydantic write a reference with something beside it.
        out = out.pop("allOf")[0] | out
    if "anyOf" in out:
        kept = [each for each in out["anyOf"] if each != {"type": "null"}]
        if len(kept) == 1 and len(out["anyOf"]) > 1:
            del out["anyOf"]
            out = kept[0] | out
        else:
            out["anyOf"] = kept
    return out


def _of_toml(value: Any) -> bool:
    """Whether a default is one that a file could hold and that tells its reader something."""
    return isinstance(value, bool | int | float | str) and value != ""
