"""The vectors: valid by their schema, consistent in themselves, and true of the bit places typed here a second time."""

import json
import zlib
from pathlib import Path

import jsonschema
import pytest

from pdcheck.bits.offers import fixed
from pdcheck.contract.lowering import left_of
from pdcheck.facts import cable, power_rules
from pdcheck.facts.power_reading import pdp_candidates
from pdcheck.facts.power_rules import OfferedSupply

VECTORS = Path(__file__).parent.parent / "vectors"
FILES = ("words", "messages", "cables", "power_rules")


def load(name):
    return json.loads((VECTORS / f"{name}.json").read_text(encoding="utf-8"))


SCHEMA = load("schema")
DATA = {name: load(name) for name in FILES}


def each(file, part):
    return pytest.mark.parametrize("vector", DATA[file][part], ids=lambda v: v["name"])


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", FILES)
def test_file_follows_the_schema(name):
    jsonschema.Draft202012Validator(SCHEMA).validate(DATA[name])


def test_no_file_lies_beside_the_listed_ones():
    assert {path.stem for path in VECTORS.glob("*.json")} == {*FILES, "schema"}


@pytest.mark.parametrize(
    ("file", "spoil"),
    [
        ("words", lambda d: d["words"][0].pop("origin")),
        ("words", lambda d: d["words"][0].update(word="0801912")),
        ("words", lambda d: d["words"][0]["expected"].update(voltage_mv=5.0e-1)),
        ("messages", lambda d: d["messages"][0].update(colour="red")),
        ("cables", lambda d: d["cables"][0]["expected"].update(current_ma=4000)),
        ("power_rules", lambda d: d["least_sets"][0].update(pdp_mw=250_000)),
    ],
)
def test_the_schema_bites(file, spoil):
    spoilt = json.loads(json.dumps(DATA[file]))
    spoil(spoilt)
    assert not jsonschema.Draft202012Validator(SCHEMA).is_valid(spoilt)


@pytest.mark.parametrize("name", FILES)
def test_names_are_unique(name):
    for part in DATA[name].values():
        if isinstance(part, list):
            names = [vector["name"] for vector in part]
            assert len(names) == len(set(names))


# key: (high bit, low bit, step), by role and kind; typed from the layout tables, for the vectors' own sake.
RANGE = {"max_voltage_mv": (29, 20, 50), "min_voltage_mv": (19, 10, 50)}
PPS = {"max_voltage_mv": (24, 17, 100), "min_voltage_mv": (15, 8, 100), "current_ma": (6, 0, 50)}
SPR_AVS = {"current_15v_ma": (19, 10, 10), "current_20v_ma": (9, 0, 10)}
EPR_AVS = {"max_voltage_mv": (25, 17, 100), "min_voltage_mv": (15, 8, 100), "pdp_w": (7, 0, 1)}
FIXED = {"voltage_mv": (19, 10, 50), "current_ma": (9, 0, 10)}
PEAK = {"peak_current": (27, 26, 1)}
POSITION = {"position": (31, 28, 1)}
CURRENTS = {**POSITION, "operating_current_ma": (19, 10, 10), "max_operating_current_ma": (9, 0, 10)}
POWERS = {**POSITION, "operating_power_mw": (19, 10, 250), "max_operating_power_mw": (9, 0, 250)}
PPS_REQUEST = {**POSITION, "output_voltage_mv": (20, 9, 20), "operating_current_ma": (6, 0, 50)}
AVS_REQUEST = {**POSITION, "output_voltage_mv": (20, 9, 25), "operating_current_ma": (6, 0, 50)}
PLACES = {
    ("source-object", "fixed"): {**FIXED, "peak_current": (21, 20, 1)},
    ("source-object", "variable"): {**RANGE, "current_ma": (9, 0, 10)},
    ("source-object", "battery"): {**RANGE, "power_mw": (9, 0, 250)},
    ("source-object", "pps"): PPS,
    ("source-object", "spr-avs"): {**SPR_AVS, **PEAK},
    ("source-object", "epr-avs"): {**EPR_AVS, **PEAK},
    ("sink-object", "fixed"): {**FIXED, "fast_role_swap": (24, 23, 1)},
    ("sink-object", "variable"): {**RANGE, "current_ma": (9, 0, 10)},
    ("sink-object", "battery"): {**RANGE, "power_mw": (9, 0, 250)},
    ("sink-object", "pps"): PPS,
    ("sink-object", "spr-avs"): SPR_AVS,
    ("sink-object", "epr-avs"): EPR_AVS,
    ("request", "fixed"): CURRENTS,
    ("request", "battery"): POWERS,
    ("request", "pps"): PPS_REQUEST,
    ("request", "avs"): AVS_REQUEST,
    ("epr-mode", "epr-mode"): {"action": (31, 24, 1), "data": (23, 16, 1)},
    ("vdm-header", "structured"): {
        "svid": (31, 16, 1),
        "version_major": (14, 13, 1),
        "version_minor": (12, 11, 1),
        "position": (10, 8, 1),
        "command_type": (7, 6, 1),
        "command": (4, 0, 1),
    },
    ("vdm-header", "unstructured"): {"svid": (31, 16, 1), "vendor_use": (14, 0, 1)},
    ("revision", "revision"): {
        "revision_major": (31, 28, 1),
        "revision_minor": (27, 24, 1),
        "version_major": (23, 20, 1),
        "version_minor": (19, 16, 1),
    },
    ("source-info", "source-info"): {
        "port_type": (31, 31, 1),
        "port_maximum_pdp_w": (23, 16, 1),
        "port_present_pdp_w": (15, 8, 1),
        "port_reported_pdp_w": (7, 0, 1),
    },
}
SOURCE_FLAGS = {
    "dual_role_power": 29,
    "usb_suspend_supported": 28,
    "unconstrained_power": 27,
    "usb_communications_capable": 26,
    "dual_role_data": 25,
    "unchunked_supported": 24,
    "epr_capable": 23,
}
SINK_FLAGS = {
    "dual_role_power": 29,
    "higher_capability": 28,
    "unconstrained_power": 27,
    "usb_communications_capable": 26,
    "dual_role_data": 25,
}
REQUEST_FLAGS = {
    "give_back": 27,
    "capability_mismatch": 26,
    "usb_communications_capable": 25,
    "no_usb_suspend": 24,
    "unchunked_supported": 23,
    "epr_capable": 22,
}
FLAG_PLACES = {
    ("source-object", "fixed"): SOURCE_FLAGS,
    ("source-object", "pps"): {"pps_power_limited": 27},
    ("sink-object", "fixed"): SINK_FLAGS,
    ("request", "fixed"): REQUEST_FLAGS,
    ("request", "battery"): REQUEST_FLAGS,
    ("request", "pps"): {k: v for k, v in REQUEST_FLAGS.items() if k != "give_back"},
    ("request", "avs"): {k: v for k, v in REQUEST_FLAGS.items() if k != "give_back"},
}
KIND_BITS = {"fixed": "00", "battery": "01", "variable": "10", "pps": "1100", "epr-avs": "1101", "spr-avs": "1110"}


def take(word, place):
    high, low, step = place
    return ((word >> low) & ((1 << (high - low + 1)) - 1)) * step


def check_fields(word, role, kind, expected, flags):
    places = PLACES[role, kind]
    assert {key: take(word, places[key]) for key in expected} == expected
    assert set(places) == set(expected), "every field of the kind is given"
    found = {flag for flag, bit in FLAG_PLACES.get((role, kind), {}).items() if word >> bit & 1}
    assert found == set(flags)


@each("words", "words")
def test_word(vector):
    expected, flags = vector["expected"], vector["flags"]
    role, kind = vector["role"], vector["kind"]
    if role == "epr-request":
        request, copy = (int(word, 16) for word in vector["words"])
        own = {key: value for key, value in expected.items() if not key.startswith("copy_")}
        check_fields(request, "request", kind, own, flags)
        copied = {key[5:]: value for key, value in expected.items() if key.startswith("copy_")}
        (copy_kind,) = [name for name, bits in KIND_BITS.items() if f"{copy:032b}".startswith(bits)]
        places = PLACES["source-object", copy_kind]
        assert {key: take(copy, places[key]) for key in copied} == copied
        return
    word = int(vector["word"], 16)
    check_fields(word, role, kind, expected, flags)
    if role.endswith("-object"):
        assert f"{word:032b}".startswith(KIND_BITS[kind])


def test_every_kind_of_source_sink_and_request_has_a_vector():
    seen = {(vector["role"], vector["kind"]) for vector in DATA["words"]["words"]}
    for role in ("source-object", "sink-object"):
        assert {kind for found, kind in seen if found == role} == set(KIND_BITS)
    assert {kind for found, kind in seen if found == "request"} == {"fixed", "battery", "pps", "avs"}
    assert any(found == "epr-request" for found, _ in seen)


@each("messages", "messages")
def test_message_header_objects_and_crc(vector):
    raw = bytes.fromhex(vector["hex"])
    body, given = raw[:-4], int.from_bytes(raw[-4:], "little")
    assert vector["crc"] == {
        "given": f"{given:08X}",
        "computed": f"{zlib.crc32(body):08X}",
        "ok": given == zlib.crc32(body),
    }
    head = int.from_bytes(body[:2], "little")
    header = vector["header"]
    assert header["type_code"] == head & 31
    assert header["object_count"] == head >> 12 & 7
    assert header["id"] == head >> 9 & 7
    assert header["revision"] == ("1.0", "2.0", "3.x")[head >> 6 & 3]
    assert header["extended"] == bool(head >> 15)
    if vector["sop"] == "SOP":
        assert header["power_role"] == ("sink", "source")[head >> 8 & 1]
        assert header["data_role"] == ("UFP", "DFP")[head >> 5 & 1]
    else:
        assert header["power_role"] == ("port", "cable plug")[head >> 8 & 1]
    assert len(body) == 2 + 4 * header["object_count"]
    if "objects" in vector:
        words = [int.from_bytes(body[at : at + 4], "little") for at in range(2, len(body), 4)]
        assert vector["objects"] == [f"{word:08X}" for word in words]
        return
    extended = int.from_bytes(body[2:4], "little")
    given = vector["extended_header"]
    assert given["word"] == f"{extended:04X}"
    assert given["chunked"] == bool(extended >> 15)
    assert given["chunk_number"] == extended >> 11 & 15
    assert given["request_chunk"] == bool(extended >> 10 & 1)
    assert given["data_size"] == extended & 511
    data = bytes.fromhex(vector["data"])
    assert body[4 : 4 + len(data)] == data
    assert not any(body[4 + len(data) :])


@each("messages", "assemblies")
def test_chunks_put_together(vector):
    messages = {message["hex"]: message for message in DATA["messages"]["messages"]}
    chunks = [messages[text] for text in vector["chunks"]]
    whole = "".join(chunk["data"] for chunk in chunks if not chunk["extended_header"]["request_chunk"])
    assert whole == vector["data"]
    data = bytes.fromhex(whole)
    assert len(data) == vector["data_size"]
    assert [f"{int.from_bytes(data[i : i + 4], 'little'):08X}" for i in range(0, len(data), 4)] == vector["objects"]
    assert [offer["position"] for offer in vector["offers"]] == [
        place for place, word in enumerate(vector["objects"], 1) if int(word, 16)
    ]


@each("messages", "crcs")
def test_crc_against_zlib(vector):
    assert f"{zlib.crc32(bytes.fromhex(vector['hex'])):08X}" == vector["crc"]


@each("cables", "cables")
def test_cable_words(vector):
    words = [int(word, 16) for word in vector["words"]]
    expected = vector["expected"]
    major, minor = words[0] >> 13 & 3, words[0] >> 11 & 3
    assert words[0] >> 16 == 0xFF00
    assert words[0] & 0xFF == 0x41
    assert expected["structured_version"] == ("1.0" if major == 0 else f"2.{minor}")
    assert expected["construction"] == {3: "passive", 4: "active"}[words[1] >> 27 & 7]
    assert len(words) == {"passive": 5, "active": 6}[expected["construction"]]
    assert expected["vendor_id"] == words[1] & 0xFFFF
    vdo = words[4]
    assert expected["plug"] == {2: "type-c", 3: "captive"}[vdo >> 18 & 3]
    assert expected["latency_code"] == vdo >> 13 & 15
    assert expected["speed_code"] == vdo & 7
    by_code = (20_000, 20_000, 20_000, 50_000)[vdo >> 9 & 3]
    older = expected["structured_version"] == "1.0"
    assert expected["newer_reading_voltage_mv" if older else "voltage_mv"] == by_code
    if older:
        assert expected["voltage_mv"] == 20_000
    through = expected.get("vbus_through", True)
    assert expected["current_ma"] == (0 if not through else {1: 3000, 2: 5000, 0: 3000}[vdo >> 5 & 3])
    if "vbus_through" in expected:
        assert (through, expected["second_controller"]) == (bool(vdo >> 4 & 1), bool(vdo >> 3 & 1))
    if "operating_temperature_c" in expected:
        assert (expected["operating_temperature_c"], expected["shutdown_temperature_c"]) == (
            words[5] >> 24,
            words[5] >> 16 & 255,
        )
    bit = bool(vdo >> 17 & 1) and not older
    assert expected["epr"] == cable.is_epr_cable(expected["voltage_mv"] / 1000, expected["current_ma"] / 1000, bit)


@each("cables", "drop_limits")
def test_drop_limits(vector):
    rated = vector["rated_current_ma"] / 1000
    assert vector["vbus_mohm"] == pytest.approx(cable.VBUS_DROP.value / rated * 1000, abs=1e-3)
    assert vector["ground_mohm"] == pytest.approx(cable.GROUND_DROP.value / rated * 1000, abs=1e-3)
    assert vector["loop_mohm"] == pytest.approx(cable.loop_limit_ohm(rated) * 1000)
    assert vector["loop_drop_mv"] == vector["vbus_drop_mv"] + vector["ground_drop_mv"] == cable.LOOP_DROP.value * 1000


def in_ma(offers):
    return [{"voltage_mv": round(volts * 1000), "current_ma": round(amperes * 1000)} for volts, amperes in offers]


@each("power_rules", "least_sets")
def test_least_set(vector):
    pdp = vector["pdp_mw"] / 1000
    assert in_ma(power_rules.fixed_offers_for(pdp)) == vector["fixed"]
    assert [
        {
            "name": due.name,
            "min_voltage_mv": round(supply.min_v * 1000),
            "max_voltage_mv": round(supply.max_v * 1000),
            "current_ma": round(supply.current_a * 1000),
        }
        for due, supply in power_rules.pps_set_for(pdp)
    ] == vector["pps"]
    spr, epr = power_rules.spr_avs_for(pdp), power_rules.epr_avs_for(pdp)
    assert vector["spr_avs"] == (
        spr
        and {
            "min_voltage_mv": round(spr.min_v * 1000),
            "max_voltage_mv": round(spr.max_v * 1000),
            "current_15v_ma": round(spr.current_a * 1000),
            "current_20v_ma": round(spr.current_20v_a * 1000),
        }
    )
    assert vector["epr_avs"] == (
        epr
        and {
            "min_voltage_mv": round(epr.min_v * 1000),
            "max_voltage_mv": round(epr.max_v * 1000),
            "pdp_w": round(epr.power_w),
        }
    )


@each("power_rules", "shared")
def test_shared(vector):
    least = power_rules.fixed_offers_for(vector["full_pdp_mw"] / 1000)
    full = [fixed(round(volts * 1000), round(amperes * 1000), at) for at, (volts, amperes) in enumerate(least, 1)]
    left = left_of(full, vector["present_pdp_mw"] / 1000)
    assert [{"voltage_mv": offer.max_mv, "current_ma": offer.current_ma} for offer in left] == vector["fixed"]


@each("power_rules", "readings")
def test_reading(vector):
    offers = [
        OfferedSupply(
            offer["kind"],
            offer.get("voltage_mv", offer.get("min_voltage_mv")) / 1000,
            offer.get("voltage_mv", offer.get("max_voltage_mv")) / 1000,
            offer["current_ma"] / 1000,
        )
        for offer in vector["offers"]
    ]
    reading = pdp_candidates(offers, captured_over=vector["captured_over"])
    assert (round(reading.pdp_w * 1000), round(reading.most_w * 1000)) == (vector["pdp_mw"], vector["most_mw"])
    assert {remark.code for remark in reading.remarks} == set(vector["remarks"])
