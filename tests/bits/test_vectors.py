"""The language-neutral vectors, field for field."""

import json
from pathlib import Path

import pytest

from pdcheck.bits.cable import read_cable_words
from pdcheck.bits.catalogue import read_data_objects
from pdcheck.bits.crc import crc32
from pdcheck.bits.header import EXTENDED_HEADER, HEADER
from pdcheck.bits.message import read_message
from pdcheck.bits.objects import Reading, read_epr_mode, read_request, read_sink, read_vendor
from pdcheck.bits.offers import Offer, offer_problems
from pdcheck.bits.power import REQUEST_FORM
from pdcheck.bits.sequence import Listener

VECTORS = Path(__file__).parents[2] / "vectors"


def load(file, part):
    return json.loads((VECTORS / f"{file}.json").read_text(encoding="utf-8"))[part]


def named(vectors):
    return pytest.mark.parametrize("vector", vectors, ids=[vector["name"] for vector in vectors])


def read_source(word, epr_message):
    offer = Offer.from_word(word, 8 if epr_message else 1)
    problems = tuple(offer_problems(offer, epr_message=epr_message))
    return Reading(offer.kind, word, offer.layout, offer.fields(), problems)


def read_word(vector, word):
    role, kind = vector["role"], vector["kind"]
    if role == "source-object":
        return read_source(word, Offer.from_word(word).is_epr)
    if role == "sink-object":
        return read_sink(word, 1)
    if role == "request":
        return read_request(word, form=kind)
    if role == "epr-mode":
        return read_epr_mode(word)
    if role == "vdm-header":
        return read_vendor([word])[0]
    name = {"revision": "Revision", "source-info": "Source_Info"}[role]
    return read_data_objects(name, [word])[0]


SINGLE = [vector for vector in load("words", "words") if "word" in vector]
PAIRS = [vector for vector in load("words", "words") if "words" in vector]


@named(SINGLE)
def test_word(vector):
    word = int(vector["word"], 16)
    reading = read_word(vector, word)
    if vector["role"].endswith("object"):
        assert reading.kind == vector["kind"]
    assert {key: reading.fields[key] for key in vector["expected"]} == vector["expected"]
    if "flags" in vector:
        assert sorted(reading.flags) == sorted(vector["flags"])
    assert len(reading.problems) >= len(vector.get("problems", [])), reading
    assert reading.layout.encode(reading.fields) == word


@named(PAIRS)
def test_epr_request(vector):
    request, copy = (int(word, 16) for word in vector["words"])
    offer = Offer.from_word(copy, request >> 28)
    reading = read_request(request, (offer,), epr_message=True)
    assert reading.kind == vector["kind"] == REQUEST_FORM[offer.kind]
    fields = dict(reading.fields) | {f"copy_{key}": value for key, value in offer.fields().items()}
    assert {key: fields[key] for key in vector["expected"]} == vector["expected"]
    assert sorted(reading.flags) == sorted(vector["flags"])
    assert reading.problems == ()


@named(load("messages", "messages"))
def test_message(vector):
    message = read_message(bytes.fromhex(vector["hex"]), vector["sop"])
    head, fields = vector["header"], message.header_fields()
    assert message.type == head["type"]
    assert fields["type"] == head["type_code"]
    assert (fields["object_count"], fields["id"]) == (head["object_count"], head["id"])
    assert message.revision == head["revision"]
    assert fields["extended"] is head["extended"]
    if vector["sop"] == "SOP":
        names = {key: HEADER.field(key).meaning(fields[key]) for key in ("power_role", "data_role")}
        assert names == {key: head[key] for key in names}
    assert message.crc_ok is vector["crc"]["ok"]
    assert f"{message.crc_computed:08X}" == vector["crc"]["computed"]
    assert [f"{word:08X}" for word in message.words] == vector.get("objects", [])
    if "extended_header" in vector:
        inner = dict(vector["extended_header"])
        assert message.extended_header == int(inner.pop("word"), 16)
        assert EXTENDED_HEADER.decode(message.extended_header) == inner
        assert message.data.hex() == vector["data"]
    check_offers(Listener().hear(message).offers, vector.get("offers", []))


def check_offers(offers, expected):
    for wanted in expected:
        offer = offers[wanted["position"] - 1]
        fields = offer.fields() | {"position": offer.position, "kind": offer.kind}
        assert {key: fields[key] for key in wanted} == wanted


@named(load("messages", "assemblies"))
def test_assembly(vector):
    listener = Listener()
    heard = [listener.hear(read_message(bytes.fromhex(chunk))) for chunk in vector["chunks"]]
    assert b"".join(told.message.data for told in heard).hex() == vector["data"]
    assert [f"{offer.word:08X}" for offer in heard[-1].offers] == vector["objects"]
    check_offers(heard[-1].offers, vector["offers"])
    assert [told.problems for told in heard] == [()] * len(heard)


@named(load("messages", "crcs"))
def test_crc(vector):
    assert f"{crc32(bytes.fromhex(vector['hex'])):08X}" == vector["crc"]


@named(load("cables", "cables"))
def test_cable(vector):
    words = [int(word, 16) for word in vector["words"]]
    cable = read_cable_words(words)
    expected = vector["expected"]
    for key in ("construction", "emarker", "current_ma", "voltage_mv", "epr", "vendor_id"):
        assert getattr(cable, key) == expected[key], key
    assert bool(cable.problems) >= bool(vector.get("problems"))
    fields: dict[str, object] = {}
    for reading in cable.readings:
        fields |= reading.fields
        assert reading.layout.encode(reading.fields) == reading.word
    pairs = {
        "speed_code": "speed",
        "latency_code": "latency",
        "operating_temperature_c": "operating_temperature_c",
        "shutdown_temperature_c": "shutdown_temperature_c",
        "vbus_through": "vbus_through",
        "second_controller": "sop2_present",
    }
    for theirs, ours in pairs.items():
        if theirs in expected:
            assert fields[ours] == expected[theirs], theirs
    assert cable.plug_type == {"type-c": "USB Type-C", "captive": "captive"}[expected["plug"]]
    if "newer_reading_voltage_mv" in expected:
        newer = read_cable_words(words, "3.x")
        assert newer.voltage_mv == expected["newer_reading_voltage_mv"]
