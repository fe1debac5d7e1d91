"""Data blocks of extended messages: named fields, shorter and longer blocks, texts; any bytes there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.block_reading import read_block
from pdcheck.bits.blocks import BLOCKS, block_of
from pdcheck.bits.header import EXTENDED
from pdcheck.bits.message import build_extended, make_header, read_message
from pdcheck.bits.sequence import Listener

OBJECTS = {"EPR_Source_Capabilities", "EPR_Sink_Capabilities"}
SOURCE = bytes.fromhex("01ee 34f0 78563412 07 03 05 0a 07 05 8f99 0000 1f80 02 05 21 64 8c".replace(" ", ""))
SINK = bytes.fromhex("01ee 34f0 00000000 07 03 01 01 8511 04 02 10 2b 0f 2d 41 00 64 8c".replace(" ", ""))


def told(block):
    return [problem.code for problem in block.problems]


def test_every_extended_message_has_a_table():
    assert set(EXTENDED.values()) == OBJECTS | set(BLOCKS)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("Source_Capabilities_Extended", 25),
        ("Status", 7),
        ("Get_Battery_Cap", 1),
        ("Get_Battery_Status", 1),
        ("Battery_Capabilities", 9),
        ("Get_Manufacturer_Info", 2),
        ("PPS_Status", 4),
        ("Sink_Capabilities_Extended", 24),
        ("Extended_Control", 2),
    ],
)
def test_sizes(name, size):
    assert block_of(name).head_bytes == size
    assert "block-short" in told(read_block(name, bytes(size - 1))) or block_of(name).older
    assert "block-short" not in told(read_block(name, bytes(size)))


class TestSourceCapabilitiesExtended:
    def test_every_byte(self):
        fields = read_block("Source_Capabilities_Extended", SOURCE).fields
        expected = {
            "vendor_id": 0xEE01,
            "product_id": 0xF034,
            "certification": 0x12345678,
            "firmware_version": 7,
            "hardware_version": 3,
            "load_step": 1,
            "load_step_size": 1,
            "holdup_ms": 10,
            "lps": True,
            "ps1": True,
            "ps2": True,
            "low_touch_current": True,
            "ground_pin": False,
            "ground_pin_protective": True,
            "peak_current_1_overload_percent": 150,
            "peak_current_1_period_ms": 240,
            "peak_current_1_duty_percent": 15,
            "peak_current_1_droop": True,
            "peak_current_2_overload_percent": 0,
            "peak_current_3_overload_percent": 310,
            "peak_current_3_droop": True,
            "touch_temperature": 2,
            "external_supply": True,
            "external_unconstrained": False,
            "internal_battery": True,
            "swappable_slots": 2,
            "fixed_batteries": 1,
            "spr_pdp_w": 100,
            "epr_pdp_w": 140,
        }
        assert {key: fields[key] for key in expected} == expected
        assert next(iter(fields)) == "vendor_id"

    def test_codes_are_named(self):
        meanings = read_block("Source_Capabilities_Extended", b"\xff\xff" + SOURCE[2:]).meanings()
        assert meanings["load_step"] == "500 mA/us"
        assert meanings["load_step_size"] == "90 %"
        assert meanings["touch_temperature"] == "IEC 62368-1 TS2"
        assert meanings["vendor_id"] == "none"

    def test_the_length_before_epr_is_from_memory_and_marked_so(self):
        short = read_block("Source_Capabilities_Extended", SOURCE[:24])
        assert told(short) == []
        assert "epr_pdp_w" not in short.fields
        assert short.fields["spr_pdp_w"] == 100
        assert short.marks()["length"] == "24 bytes before EPR (PD R3.0 [memory])"
        whole = read_block("Source_Capabilities_Extended", SOURCE)
        assert set(whole.marks()) == {"layout"}
        assert "[checked]" in whole.marks()["layout"]

    def test_other_lengths_are_told(self):
        assert told(read_block("Source_Capabilities_Extended", SOURCE[:23])) == ["block-short"]
        long = read_block("Source_Capabilities_Extended", SOURCE + b"\x01\x02")
        assert told(long) == ["block-long"]
        assert long.fields["rest"] == "0102"


def test_sink_capabilities_extended():
    block = read_block("Sink_Capabilities_Extended", SINK)
    expected = {
        "vendor_id": 0xEE01,
        "block_version": 1,
        "load_step": 1,
        "load_overload_percent": 50,
        "load_period_ms": 240,
        "load_duty_percent": 10,
        "load_droop": False,
        "lps": False,
        "ps2": True,
        "touch_temperature": 2,
        "swappable_slots": 1,
        "pps_charging": True,
        "vbus_powered": True,
        "ac_powered": False,
        "battery_powered": True,
        "avs_supported": True,
        "spr_minimum_pdp_w": 15,
        "spr_operational_pdp_w": 45,
        "spr_maximum_pdp_w": 65,
        "epr_minimum_pdp_w": 0,
        "epr_operational_pdp_w": 100,
        "epr_maximum_pdp_w": 140,
    }
    assert {key: block.fields[key] for key in expected} == expected
    # One higher than in the source's block: code 2 is TS1 here.
    assert block.meanings()["touch_temperature"] == "IEC 62368-1 TS1"
    assert told(block) == []
    short = read_block("Sink_Capabilities_Extended", SINK[:21])
    assert (told(short), short.marks()["length"]) == ([], "21 bytes before EPR (PD R3.0 [memory])")


class TestStatus:
    def test_on_sop(self):
        block = read_block("Status", bytes([40, 0x06, 0x21, 0x12, 0x04, 0x22, 0x0A]))
        expected = {
            "temperature_c": 40,
            "external_power": True,
            "external_ac": True,
            "internal_battery": False,
            "swappable_batteries": 2,
            "fixed_batteries": 1,
            "over_current": True,
            "pps_current_limit": True,
            "over_voltage": False,
            "temperature_status": 2,
            "limited_by_cable": True,
            "limited_by_temperature": True,
            "limited_by_ports": False,
            "power_state": 2,
            "led": 1,
        }
        assert {key: block.fields[key] for key in expected} == expected
        assert block.meanings()["power_state"] == "modern standby"
        assert told(block) == []

    @pytest.mark.parametrize(("count", "value", "meaning"), [(0, None, "not supported"), (1, 1, "below 2 °C")])
    def test_temperatures_that_are_none(self, count, value, meaning):
        block = read_block("Status", bytes([count, 0, 0, 0, 0, 0, 0]))
        assert block.fields["temperature_c"] == value
        assert block.meanings()["temperature_c"] == meaning

    @pytest.mark.parametrize(("size", "right"), [(4, False), (5, True), (6, True), (7, True)])
    def test_earlier_lengths(self, size, right):
        block = read_block("Status", bytes(size))
        assert (told(block) == []) is right
        assert ("led" in block.fields) is (size == 7)

    def test_on_a_cable_it_has_two_bytes(self):
        block = read_block("Status", bytes([55, 1]), "SOP'")
        assert (block.fields, told(block)) == ({"temperature_c": 55, "thermal_shutdown": True}, [])
        assert told(read_block("Status", bytes([55, 3]), "SOP''")) == ["reserved-bits"]


def test_pps_status():
    block = read_block("PPS_Status", bytes.fromhex("a401 3c 0a"))
    assert block.fields == {
        "output_voltage_mv": 8400,
        "output_current_ma": 3000,
        "temperature_status": 1,
        "current_limit": True,
    }
    none = read_block("PPS_Status", bytes.fromhex("ffff ff 00"))
    assert (none.fields["output_voltage_mv"], none.fields["output_current_ma"]) == (None, None)
    assert none.meanings()["output_current_ma"] == "not supported"


def test_battery_capabilities():
    block = read_block("Battery_Capabilities", bytes.fromhex("01ee 34f0 f401 ffff 00"))
    assert (block.fields["design_capacity_mwh"], block.fields["full_capacity_mwh"]) == (50000, None)
    assert block.meanings()["full_capacity_mwh"] == "unknown"
    assert read_block("Battery_Capabilities", bytes(9)).meanings()["design_capacity_mwh"] == "not present"


def test_small_requests():
    assert read_block("Get_Battery_Cap", b"\x04").fields == {"battery": 4}
    assert read_block("Get_Battery_Status", b"\x01").fields == {"battery": 1}
    info = read_block("Get_Manufacturer_Info", b"\x01\x04")
    assert (info.fields, info.meanings()["target"]) == ({"target": 1, "battery": 4}, "battery")
    alive = read_block("Extended_Control", b"\x03\x00")
    assert (alive.meanings()["type"], told(alive)) == ("EPR_KeepAlive", [])
    assert told(read_block("Extended_Control", b"\x05\x00")) == ["reserved-code"]


class TestManufacturerInfo:
    def read(self, text):
        return read_block("Manufacturer_Info", b"\x01\xee\x34\xf0" + text)

    def test_a_text_that_ends(self):
        block = self.read(b"Pier supply\0")
        assert block.fields == {"vendor_id": 0xEE01, "product_id": 0xF034, "text": "Pier supply"}
        assert told(block) == []

    @pytest.mark.parametrize(
        ("text", "shown", "code"),
        [
            (b"Pier", "Pier", "text-end"),
            (b"Pier\0\xff", "Pier", "text-end"),
            (b"\x1b[2JPier\0", "\\x1b[2JPier", "text"),
            (b"Pi\xc3\xa9\0", "Pi\\xc3\\xa9", "text"),
        ],
    )
    def test_odd_texts_are_safe_to_print_and_told(self, text, shown, code):
        block = self.read(text)
        assert (block.fields["text"], told(block)) == (shown, [code])

    def test_a_backslash_is_doubled_and_nothing_odd(self):
        block = self.read(b"a\\b\0")
        assert (block.fields["text"], told(block)) == ("a\\\\b", [])

    def test_lengths(self):
        assert told(self.read(b"")) == ["block-short", "text-end"]
        assert told(self.read(b"x" * 21 + b"\0")) == []
        assert "block-long" in told(self.read(b"x" * 22 + b"\0"))

    @given(st.binary(max_size=30))
    def test_any_text_prints_and_is_whole(self, text):
        block = self.read(text)
        assert all(" " <= letter <= "~" for letter in block.fields["text"])
        kept = block.fields["text"].encode().decode("unicode_escape").encode("latin-1")
        assert kept + bytes.fromhex(block.fields.get("rest", "00")) == text


class TestCountries:
    def test_codes(self):
        block = read_block("Country_Codes", b"\x02\x00DEFR")
        assert (block.fields, told(block)) == ({"count": 2, "countries": ["DE", "FR"]}, [])

    @pytest.mark.parametrize(
        ("data", "code"),
        [(b"\x01\x00DEFR", "count"), (b"\x01\x00d1", "letters"), (b"\x01\x01DE", "reserved-bits")],
    )
    def test_each_oddity_is_told(self, data, code):
        assert told(read_block("Country_Codes", data)) == [code]

    def test_info(self):
        block = read_block("Country_Info", b"DE\0\0\x01\x02")
        assert (block.meanings()["letter_1"], block.meanings()["letter_2"]) == ("D", "E")
        assert (block.fields["payload"], told(block)) == ("0102", [])


def test_blocks_of_other_standards_show_their_bytes():
    for name in ("Security_Request", "Security_Response", "Firmware_Update_Request", "Firmware_Update_Response"):
        block = read_block(name, b"\x01\x02\x03\x04")
        assert (block.fields, told(block)) == ({"payload": "01020304"}, [])
        assert told(read_block(name, b"abc")) == ["block-short"]
    vendor = read_block("Vendor_Defined_Extended", bytes.fromhex("34125500 0102"))
    assert vendor.fields == {"vendor_use": 0x1234, "structured": 0, "svid": 0x55, "payload": "0102"}


def test_unknown_types_show_their_bytes_and_say_so():
    block = read_block("reserved extended 31", b"\x01\x02")
    assert (block.fields, told(block), block.layout) == ({"payload": "0102"}, ["no-table"], None)
    assert block.meanings() == block.marks() == {}


@given(
    st.sampled_from([*sorted(BLOCKS), "reserved extended 31"]),
    st.binary(max_size=60),
    st.sampled_from(["SOP", "SOP'", "SOP''"]),
)
def test_any_bytes_are_read(name, data, sop):
    block = read_block(name, data, sop)
    assert block.data == data
    assert set(block.meanings()) <= set(block.fields)


@given(st.sampled_from(sorted(BLOCKS)), st.binary(max_size=260))
def test_a_block_goes_through_its_message(name, data):
    frames = build_extended(make_header(name, 0, extended=True), data)
    listener = Listener()
    heard = [listener.hear(read_message(frame)) for frame in frames][-1]
    assert heard.block.data == data
