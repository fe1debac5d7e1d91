"""The less common data objects: named fields, codes, oddities, and the layouts that changed with the revision."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.catalogue import data_object_word, read_data_objects
from pdcheck.bits.data_words import DATA_OBJECTS
from pdcheck.bits.header import DATA
from pdcheck.bits.message import build_message, make_header, read_message
from pdcheck.bits.sequence import Listener

ELSEWHERE = {
    "Source_Capabilities",
    "Request",
    "Sink_Capabilities",
    "EPR_Request",
    "EPR_Mode",
    "Vendor_Defined",
}


def told(readings):
    return [problem.code for reading in readings for problem in reading.problems]


def first(name, word, revision="3.x"):
    return read_data_objects(name, [word], revision)[0]


def test_every_data_message_has_a_table():
    assert set(DATA.values()) == ELSEWHERE | set(DATA_OBJECTS)


@pytest.mark.parametrize(
    ("name", "word", "expected"),
    [
        ("BIST", 0x50000000, {"mode": 5}),
        (
            "Battery_Status",
            0x01F40600,
            {
                "present_capacity_mwh": 50000,
                "charging_status": 1,
                "battery_present": True,
                "invalid_reference": False,
            },
        ),
        ("Battery_Status", 0xFFFF0100, {"present_capacity_mwh": None, "invalid_reference": True}),
        (
            "Alert",
            0x84100002,
            {
                "extended_alert": True,
                "over_current": True,
                "fixed_battery_0": True,
                "swappable_battery_7": False,
                "extended_event": 2,
            },
        ),
        (
            "Alert",
            0x7A890000,
            {
                "over_voltage": True,
                "source_input_change": True,
                "operating_condition_change": True,
                "over_temperature": True,
                "over_current": False,
                "battery_status_change": True,
                "fixed_battery_3": True,
                "swappable_battery_7": True,
                "swappable_battery_4": True,
                "swappable_battery_5": False,
            },
        ),
        ("Get_Country_Info", 0x44450000, {"letter_1": 0x44, "letter_2": 0x45}),
        (
            "Enter_USB",
            0x2666A000,
            {
                "mode": 2,
                "usb4_capable": True,
                "usb32_capable": True,
                "cable_speed": 3,
                "cable_type": 0,
                "cable_current": 3,
                "pcie_tunnelled": False,
                "dp_tunnelled": True,
                "thunderbolt_tunnelled": False,
                "host_present": True,
            },
        ),
        (
            "Source_Info",
            0x80412D3C,
            {"port_type": 1, "port_maximum_pdp_w": 65, "port_present_pdp_w": 45, "port_reported_pdp_w": 60},
        ),
        (
            "Revision",
            0x32110000,
            {"revision_major": 3, "revision_minor": 2, "version_major": 1, "version_minor": 1},
        ),
    ],
)
def test_fields(name, word, expected):
    fields = first(name, word).fields
    assert {key: fields[key] for key in expected} == expected


@pytest.mark.parametrize(
    ("name", "word", "key", "meaning"),
    [
        ("BIST", 0x80000000, "mode", "Test Data"),
        ("Battery_Status", 0xFFFF0200, "present_capacity_mwh", "unknown"),
        ("Battery_Status", 0x00000A00, "charging_status", "idle"),
        ("Get_Country_Info", 0x44450000, "letter_2", "E"),
        ("Enter_USB", 0x00040000, "cable_current", "3 A"),
        ("Enter_USB", 0x00100000, "cable_type", "redriver"),
        ("Source_Info", 0x80000000, "port_type", "guaranteed capability"),
        ("Alert", 0x80000004, "extended_event", "controller initiated wake"),
    ],
)
def test_codes_are_named(name, word, key, meaning):
    assert first(name, word).meanings()[key] == meaning


@pytest.mark.parametrize(
    ("code", "name", "odd", "right"),
    [
        ("reserved-code", "BIST", 0x40000000, 0x50000000),
        ("reserved-bits", "BIST", 0x50000001, 0x50000000),
        ("reserved-bits", "Battery_Status", 0x00001200, 0x00000200),
        ("reserved-code", "Battery_Status", 0x00000E00, 0x00000A00),
        ("contradiction", "Battery_Status", 0x00000400, 0x00000600),
        ("reserved-bits", "Alert", 0x01000000, 0x02000000),
        ("contradiction", "Alert", 0x04000002, 0x84000002),
        ("reserved-code", "Alert", 0x80000005, 0x80000004),
        ("reserved-code", "Get_Country_Info", 0x64650000, 0x44450000),
        ("reserved-bits", "Get_Country_Info", 0x44450001, 0x44450000),
        ("reserved-bits", "Enter_USB", 0x80000000, 0x20000000),
        ("reserved-bits", "Enter_USB", 0x08000000, 0x20000000),
        ("reserved-bits", "Enter_USB", 0x01000000, 0x20000000),
        ("reserved-code", "Enter_USB", 0x30000000, 0x20000000),
        ("reserved-code", "Enter_USB", 0x00020000, 0x00040000),
        ("reserved-bits", "Source_Info", 0x40412D3C, 0x80412D3C),
        ("reserved-bits", "Revision", 0x32110001, 0x32110000),
    ],
)
def test_each_oddity_is_told_and_its_neighbour_is_not(code, name, odd, right):
    assert code in told([first(name, odd)])
    assert told([first(name, right)]) == []


class TestBist:
    def test_test_data_carries_six_words_more(self):
        readings = read_data_objects("BIST", [0x80000000, *range(6)])
        assert [reading.kind for reading in readings] == ["bist"] + ["test-data"] * 6
        assert told(readings) == []
        assert told(read_data_objects("BIST", [0x80000000])) == ["object-count"]
        assert told(read_data_objects("BIST", [0x50000000, 0])) == ["object-count"]

    def test_revision_2_had_other_modes_and_they_are_from_memory(self):
        old = first("BIST", 0x20000005, "2.0")
        assert old.meanings()["mode"] == "Returned BIST Counters"
        assert old.fields["error_counters"] == 5
        assert old.marks()["layout"].endswith("[memory]")
        assert told([old]) == []
        assert first("BIST", 0x50000000).marks()["layout"].endswith("[checked]")

    def test_a_listener_takes_the_revision_from_the_header(self):
        for revision, kind in (("2.0", "bist-r2"), ("3.x", "bist")):
            frame = build_message(make_header("BIST", 1, revision=revision), [0x50000000])
            assert Listener().hear(read_message(frame)).objects[0].kind == kind


@pytest.mark.parametrize("name", sorted(DATA_OBJECTS))
def test_more_objects_than_the_message_has_are_told_and_kept(name):
    readings = read_data_objects(name, [0, 0xABCDEF])
    assert "object-count" in told(readings)
    assert readings[1].word == 0xABCDEF


@given(st.sampled_from(sorted(DATA_OBJECTS)), st.integers(0, 0xFFFFFFFF), st.sampled_from(["1.0", "2.0", "3.x"]))
def test_any_word_reads_and_encodes_back(name, word, revision):
    layout = data_object_word(name, revision)
    reading = first(name, word, revision)
    assert reading.layout is layout
    assert layout.encode(reading.fields) == word


def test_reserved_messages_show_their_words_and_say_so():
    readings = read_data_objects("reserved data 13", [1, 2])
    assert [(reading.kind, reading.word) for reading in readings] == [("unread", 1), ("unread", 2)]
    assert told(readings) == ["no-table"]
    assert read_data_objects("Alert", []) == []
