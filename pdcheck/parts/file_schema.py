"""JSON Schemas of the kit and rig files, from the models that read them, with the keys that a file has."""

from __future__ import annotations

from typing import Any

from pdcheck.key_words import TEXTS as IN_DOCUMENTS
from pdcheck.marks import Schema
from pdcheck.parts.cable_face import KINDS, Statement
from pdcheck.parts.fields import Part
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.result import DIALECT

_TEXTS = """
air: the air around it, a temperature
assumed: what was assumed about it
at: the current at which it was read
awg: gauge of the conductor, one AWG number
average: the average power, for how long a power bank lasts
behaviour: how it talks, where it is not by the book
box: the box that all stands in, for its heat
branch: a path from the bus to a load
brown_out: the bus voltage below which the trigger forgets its contract
bulk: capacitors at the input
by_rules: whether nobody read these offers and they are those that the standard asks of its power
cable: a cable: what it is, or what its e-marker says
capacity: charge that the cells hold, as in 20000mAh
captive: whether the cable is fixed to the charger
capture: path of a capture with its offers, beside this file or below
captured_over: the cable that the capture was made over: 3A, 5A or EPR
cells: cells in series
contacts: resistance of the contacts, both together
converter: the converter between bus and load
copper: tolerance of copper's resistance
count: LEDs in series
current: the current that it carries or takes
derate: air temperatures and the output that it still gives there
driver: resistor, or a driver that keeps the current
dropout: how far the input must be above the output
duty: share of the time that it is on
efficiency: share of the energy that comes out, 0.92 or 92%
emarker: whether the cable has an e-marker
end: voltage of a full cell
energy: energy that it holds, as in 74Wh
epr: whether the cable is made for extended power range
epr_entry: whether it lets a sink into EPR mode
esr: series resistance of the capacitors
fuse: a fuse in this branch, or in the bus
goto_min: whether it sends GotoMin
guess: whether the figure is a guess
hard_reset: when it resets hard
headroom: voltage that the driver needs for itself
heat_limit: heat that it may lose
hex: its Source_Capabilities in hex, or as numbers
id: a name to call it by
idle: what it draws with nothing at its output
inductance: inductance of the loop
input: the least and the greatest input voltage, as in 6V-36V
input_limit: the greatest input current
input_power: the greatest input power
insulation: the wire's insulation, for the heat that it bears
kit: the kit, where it stands in this file
lead: the wire from the converter to the load
led: a string of LEDs
length: length, one way
live: whether it may be plugged in while the bus is up
load: what the power is for
loop: loop resistance, there and back
marker: what the e-marker says
material: what the box is made of
max: at most
min: at least
mm2: cross-section of the conductor in square millimetres
name: a name to call it by
offers: what is printed on it, as in 5V 3A, 9V 3A
order: the order in which it answers
output: the output voltage, or the output that still comes
output_bulk: capacitors at the output
output_limit: the greatest output current
output_range: the output voltages that it can be set to
over_current: what the source does on too much current: hold, hiccup or latch
pack: a battery pack that is charged
pdp: rated power of the source
peak: the greatest power for a moment
port: the port of the charger that it is
ports: the ports of a charger with several, each alone and together
power: the power that it takes
power_limit: the greatest output power
ps_rdy: when it says that the voltage is there
rated_output: charge that it is rated to give, as in 12000mAh at 5V
rating: the current that it is made for
readings: voltmeter readings that give its loop resistance
reject: what it rejects
request: the voltage that the trigger asks for
resistance: its resistance
resistor: the resistor in series
restart: how long the trigger waits before it starts anew
retry: how long the source waits after an over-current
rise: how much warmer it gets for each watt lost
second_port: what another port's use does to it
silent: what it does not answer
sink: voltage read at the far end
size: length, width and height of the box
skip_accept: whether it leaves out Accept
sleeps_below: the current below which the power bank switches off
soft_start: how long the output takes to rise
source: a charger or power bank; or a tolerance or reading of it
start: input voltage at which the converter starts
start_factor: how many times its power it takes while starting
start_time: how long starting takes
steps_down: how it lowers what it offers
stop: input voltage at which the converter stops
stranded: whether the wire is stranded
tells: what it tells of itself
temperature: the wire's temperature
to: to how much it steps down
tolerance: tolerances of all that is not measured
trigger: the board that asks for a voltage
typ: typically
typec_current: the current at 5 V without Power Delivery
values: efficiencies, a row for each input
vents: whether the box has vents
vf: forward voltage of one LED
voltage: the voltage that it is made for or takes
voltage_rating: the greatest voltage that the trigger bears
wait: how long it makes others wait
wire: the wire from the bus to the converter or load
words: the e-marker's words in hex
"""
_WORDS: dict[str, str] = dict(line.split(": ", 1) for line in _TEXTS.strip().splitlines())
"""What a key of a file means where a document's does not say it too; figures are texts with their unit."""


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
    _describe(plain)
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


def _describe(schema: object) -> None:
    """Say what each key means, in place, where its model does not."""
    if isinstance(schema, list):
        for each in schema:
            _describe(each)
    if not isinstance(schema, dict):
        return
    properties = schema.get("properties") or {}
    for key, known in properties.items():
        if text := _WORDS.get(key) or IN_DOCUMENTS.get(key):
            properties[key] = {"description": text[0].upper() + text[1:], **known}
    for each in schema.values():
        _describe(each)
