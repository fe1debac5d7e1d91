"""Whole readings of objects and blocks compared: kind, word, table, every field, every meaning, and nothing besides."""

import pytest

from pdcheck.bits.block_reading import read_block
from pdcheck.bits.catalogue import BlockReading, data_object_word, read_data_objects
from pdcheck.bits.data_words import ALERT, BIST, BIST_R2
from pdcheck.bits.identity import (
    ACTIVE_CABLE_1,
    ACTIVE_CABLE_2,
    ACTIVE_CABLE_R2,
    DFP,
    ID_HEADER_CABLE,
    ID_HEADER_PORT,
    PASSIVE_CABLE,
    PASSIVE_CABLE_R2,
    UFP,
    VDM_HEADER,
    VDM_HEADER_UNSTRUCTURED,
    VPD,
)
from pdcheck.bits.layout import Field, Word, bit
from pdcheck.bits.objects import (
    Reading,
    cable_words,
    read,
    read_epr_mode,
    read_identity,
    read_request,
    read_sink,
    read_vendor,
)
from pdcheck.bits.offers import Offer, battery, epr_avs, fixed, pps, spr_avs
from pdcheck.bits.power import EPR_MODE, REQUEST_WORDS, REQUEST_WORDS_SHORT, SINK_WORDS
from pdcheck.bits.problems import Problem
from pdcheck.facts.origin import Origin

NEW, PASSIVE, PORT = 0xFF00A841, 0x1800EE01, 0x1000EE01


def shape(readings):
    """Kind, word and table of each."""
    return [(reading.kind, reading.word, reading.layout) for reading in readings]


def told(reading):
    return [(problem.code, problem.where) for problem in reading.problems]


class TestWords:
    def test_a_word_by_its_table(self):
        word = Word("w", "Demo", [Field("mode", 7, 6, "Mode", codes={0: "off", 1: "on"}), bit("b", 0, "B")], bits=8)
        assert read("demo", word, 0x41, "here") == Reading("demo", 0x41, word, {"mode": 1, "b": True})
        assert read("demo", word, 0xCA) == Reading(
            "demo",
            0xCA,
            word,
            {"mode": 3, "b": False, "reserved_5_1": 5},
            (
                Problem("reserved-bits", "reserved bits 5..1 of the Demo are set"),
                Problem("reserved-code", "Mode has the reserved code 3"),
            ),
        )
        assert read("demo", word, 0x41, "here").flags == ["b"]
        assert read("demo", word, 0x41, "here").meanings() == {"mode": "on"}
        bare = Reading("x", 1, None, {"a": True, "b": 1})
        assert (bare.flags, bare.meanings(), bare.marks(), bare.problems) == (["a"], {}, {}, ())

    def test_special_counts_are_no_reserved_codes(self):
        word = Word("w", "Demo", [Field("a", 7, 0, "A", special={0: "none"})], bits=8)
        assert read("demo", word, 7).problems == ()

    def test_marks(self):
        word = Word("w", "Demo", [], Origin("somewhere", "memory"), bits=8)
        assert read("demo", word, 0).marks() == {"layout": "somewhere [memory]"}

    def test_an_active_cable_s_current_counts_with_vbus_only(self):
        assert told(read("active-cable", ACTIVE_CABLE_R2, 0x10083000 | 3 << 5, "there")) == []
        assert told(read("active-cable", ACTIVE_CABLE_R2, 0x10083000 | 3 << 5 | 1 << 4, "here")) == [
            ("reserved-code", "here")
        ]
        for layout, right in ((ACTIVE_CABLE_1, 0x10083000),):
            assert told(read("active-cable", layout, right, "there")) == []
            assert told(read("active-cable", layout, right | 1 << 4, "here")) == [("reserved-code", "here")]
            # Other codes count all the same.
            assert told(read("active-cable", layout, right ^ 1 << 19, "here")) == [("reserved-code", "here")]


class TestSinks:
    @pytest.mark.parametrize(
        ("word", "position", "kind", "fields"),
        [
            (0x26019096, 1, "fixed", {"dual_role_power": True, "current_ma": 1500, "voltage_mv": 5000}),
            (0x87819064, 2, "variable", {"max_voltage_mv": 6000, "min_voltage_mv": 5000, "current_ma": 1000}),
            (0x47819028, 2, "battery", {"max_voltage_mv": 6000, "min_voltage_mv": 5000, "power_mw": 10000}),
            (0xC0DC213C, 2, "pps", {"max_voltage_mv": 11000, "min_voltage_mv": 3300, "current_ma": 3000}),
            (0xE004B0E1, 2, "spr-avs", {"current_15v_ma": 3000, "current_20v_ma": 2250}),
            (0xD230968C, 8, "epr-avs", {"max_voltage_mv": 28000, "min_voltage_mv": 15000, "pdp_w": 140}),
        ],
    )
    def test_each_kind(self, word, position, kind, fields):
        reading = read_sink(word, position)
        assert shape([reading]) == [(kind, word, SINK_WORDS[kind])]
        assert {key: reading.fields[key] for key in fields} == fields
        assert reading.problems == ()

    def test_equal_bounds_and_an_empty_word(self):
        level = SINK_WORDS["variable"].encode({"min_voltage_mv": 5000, "max_voltage_mv": 5000, "current_ma": 5000})
        assert told(read_sink(level, 2)) == []
        assert told(read_sink(0, 2)) == [("zero-voltage", "object 2")]
        assert told(read_sink(0x80000000, 3)) == [("zero-voltage", "object 3")]
        # Without any voltage in its word, an SPR AVS object has none that is zero.
        assert told(read_sink(0xE0000000, 3)) == []


class TestRequests:
    OFFERS = (fixed(5000, 3000), pps(3300, 11000, 3000, 2), epr_avs(15000, 28000, 140, 8))

    def test_tables_and_kinds(self):
        assert shape([read_request(0x2000003C, self.OFFERS)]) == [("pps", 0x2000003C, REQUEST_WORDS["pps"])]
        for revision in ("1.0", "2.0"):
            reading = read_request(0x2000003C, self.OFFERS, revision=revision)
            # Revision 2.0 has no PPS: the words are those of 3.x, whatever the header says.
            assert shape([reading]) == [("pps", 0x2000003C, REQUEST_WORDS["pps"])]
            plain = read_request(0x1000003C, self.OFFERS, revision=revision)
            assert shape([plain]) == [("fixed", 0x1000003C, REQUEST_WORDS_SHORT["fixed"])]
        assert shape([read_request(0x2000003C, self.OFFERS, form="avs")])[0][2] is REQUEST_WORDS["avs"]

    def test_each_bound_and_just_beyond(self):
        def codes(form, position, offers=self.OFFERS, **values):
            word = REQUEST_WORDS[form].encode({"position": position, **values})
            return [code for code, where in told(read_request(word, offers, epr_message=True))]

        assert codes("fixed", 1, operating_current_ma=3000, max_operating_current_ma=5000) == []
        assert codes("pps", 2, output_voltage_mv=3300, operating_current_ma=3000) == []
        assert codes("pps", 2, output_voltage_mv=11000, operating_current_ma=3000) == []
        assert codes("avs", 8, output_voltage_mv=28000, operating_current_ma=5000) == []
        assert codes("avs", 8, output_voltage_mv=28000, operating_current_ma=5050) == ["over-5a", "over-offer"]
        assert codes("pps", 2, output_voltage_mv=3280) == ["outside-range"]
        assert codes("pps", 2, output_voltage_mv=11020) == ["outside-range"]
        assert codes("pps", 2, output_voltage_mv=9000, operating_current_ma=3050) == ["over-offer"]
        limited = (battery(6000, 12000, 30000),)
        assert codes("battery", 1, limited, operating_power_mw=30000, max_operating_power_mw=60000) == []
        assert codes("battery", 1, limited, operating_power_mw=30250) == ["over-offer"]
        split = (spr_avs(3000, 2250),)
        assert codes("avs", 1, split, output_voltage_mv=15000, operating_current_ma=3000) == []
        assert codes("avs", 1, split, output_voltage_mv=15100, operating_current_ma=3000) == ["over-offer"]
        for off in (25, 50, 75):
            assert codes("avs", 8, output_voltage_mv=20000 + off) == ["off-step"]
        assert codes("pps", 2, output_voltage_mv=9020) == []
        assert codes("fixed", 1, (fixed(5000, 6000),), operating_current_ma=5000) == []
        assert codes("fixed", 1, (fixed(5000, 6000),), operating_current_ma=5010) == ["over-5a"]

    def test_a_gap_is_no_offer(self):
        gap = Offer.from_word(0, 3)
        assert told(read_request(0x30000000, (gap,))) == [("ambiguous", "request"), ("position", "request")]

    def test_the_first_offer_of_a_position_is_asked(self):
        twice = (fixed(5000, 1000, 1), pps(3300, 11000, 3000, 1))
        assert read_request(0x10000000, twice).kind == "fixed"

    def test_in_epr_mode_an_epr_object_is_in_order(self):
        word = REQUEST_WORDS["avs"].encode({"position": 8, "output_voltage_mv": 20000})
        assert told(read_request(word, self.OFFERS, epr_message=True)) == []
        assert told(read_request(word, self.OFFERS)) == [("epr-in-spr", "request")]

    def test_without_offers_only_the_zero_position_is_odd(self):
        assert told(read_request(0, form="fixed")) == [("position", "request")]
        assert told(read_request(0x70000000, form="fixed")) == []
        assert told(read_request(0x70000000, self.OFFERS, form="fixed")) == [("position", "request")]

    def test_a_form_against_the_offer_is_measured_by_what_it_names(self):
        word = REQUEST_WORDS["battery"].encode({"position": 1, "operating_power_mw": 100000})
        assert told(read_request(word, self.OFFERS, form="battery")) == []


class TestEprMode:
    @pytest.mark.parametrize(
        ("word", "meanings"),
        [
            (0x01640000, {"action": "Enter"}),
            (0x04010000, {"action": "Enter Failed", "data": "cable not EPR capable"}),
            (0x04090000, {"action": "Enter Failed", "data": "reserved"}),
            (0x05000000, {"action": "Exit"}),
        ],
    )
    def test_action_and_cause(self, word, meanings):
        reading = read_epr_mode(word)
        assert shape([reading]) == [("epr-mode", word, EPR_MODE)]
        assert reading.meanings() == meanings
        assert reading.fields == {"action": word >> 24, "data": word >> 16 & 0xFF}


class TestVendor:
    def test_an_identity_of_a_cable(self):
        words = [NEW, PASSIVE, 1, 2, 0x10082040, 9]
        assert shape(read_vendor(words))[:2] == [
            ("vdm-header", NEW, VDM_HEADER),
            ("id-header", PASSIVE, ID_HEADER_CABLE),
        ]
        assert shape(read_vendor(words))[4:] == [("passive-cable", 0x10082040, PASSIVE_CABLE), ("unread", 9, None)]
        assert shape(read_vendor([NEW & ~0x6000, *words[1:]]))[4] == ("passive-cable", 0x10082040, PASSIVE_CABLE_R2)
        assert read_vendor(words)[5] == Reading("unread", 9, None, {})

    def test_an_identity_of_a_port(self):
        readings = read_vendor([NEW, PORT, 1, 2, 0x60000000], "SOP")
        assert shape(readings)[1] == ("id-header", PORT, ID_HEADER_PORT)
        assert shape(readings)[4:] == [("ufp", 0x60000000, UFP)]

    @pytest.mark.parametrize(
        ("identity", "count", "tables"),
        [
            (0x08000000, 1, [UFP]),  # a hub
            (0x10000000, 1, [UFP]),  # a peripheral
            (0x18000000, 1, [UFP]),  # a PSD, and no DFP type
            (0x18800000, 1, [DFP]),
            (0x00800000, 1, [DFP]),
            (0x10800000, 1, [UFP]),
            (0x08800000, 1, [UFP]),
            (0x10800000, 2, [UFP, None]),
            (0x00800000, 2, [DFP, None]),
            (0, 1, [UFP]),
        ],
    )
    def test_what_a_port_s_types_make_of_the_words_after(self, identity, count, tables):
        readings = read_identity([identity, 0, 0, *[0x60000000] * count], "3.x", "SOP")
        assert [reading.layout for reading in readings[3:]] == tables

    def test_both_roles_of_a_port_take_three_words(self):
        readings = read_identity([PORT, 0, 0, 0x60000000, 0, 0x40000000, 7], "3.x", "SOP")
        assert [reading.kind for reading in readings[3:]] == ["ufp", "padding", "dfp", "unread"]
        assert [reading.layout.title for reading in readings[3:6]] == ["UFP VDO", "Padding", "DFP VDO"]
        assert (readings[4].layout.name, readings[4].layout.bits) == ("padding", 32)

    def test_what_follows_a_cable_s_product(self):
        assert cable_words("passive cable", "3.x") == [("passive-cable", PASSIVE_CABLE)]
        assert cable_words("passive cable", "2.0") == [("passive-cable", PASSIVE_CABLE_R2)]
        active = [("active-cable", ACTIVE_CABLE_1), ("active-cable-2", ACTIVE_CABLE_2)]
        assert cable_words("active cable", "3.x") == active
        assert cable_words("active cable", "2.0") == [("active-cable", ACTIVE_CABLE_R2)]
        assert cable_words("VCONN-powered USB device", "3.x") == [("vpd", VPD)]
        assert cable_words("none", "3.x") == cable_words("reserved", "2.0") == []

    def test_other_commands(self):
        assert read_vendor([]) == read_identity([], "3.x") == []
        unstructured = read_vendor([0x12340001, 7])
        assert shape(unstructured) == [
            ("vdm-header-unstructured", 0x12340001, VDM_HEADER_UNSTRUCTURED),
            ("vendor-data", 7, None),
        ]
        assert unstructured[1].fields == {}
        modes = read_vendor([0x8087A043, 5, 6])
        assert modes[1:] == [
            Reading("mode", 5, None, {"position": 1}),
            Reading("mode", 6, None, {"position": 2}),
        ]
        assert read_vendor([0xFF01A003, 5])[1:] == [Reading("vendor-data", 5, None, {})]
        assert read_vendor([0xFF01A044, 5])[1:] == [Reading("vendor-data", 5, None, {})]

    def test_svids(self):
        assert read_vendor([0xFF00A042, 0xFF018087, 0x12340000, 0])[1:] == [
            Reading("svids", 0xFF018087, None, {"svids": [0xFF01, 0x8087]}),
            Reading("svids", 0x12340000, None, {"svids": [0x1234]}),
            Reading("svids", 0, None, {"svids": []}),
        ]
        ended = read_vendor([0xFF00A042, 0x00001234, 0x56780000])[1:]
        assert [reading.fields["svids"] for reading in ended] == [[], []]
        assert [told(reading) for reading in ended] == [[("after-end", "Discover SVIDs")]] * 2


class TestDataObjects:
    def test_the_table_by_revision(self):
        assert data_object_word("BIST") is data_object_word("BIST", "3.x") is BIST
        assert data_object_word("BIST", "1.0") is data_object_word("BIST", "2.0") is BIST_R2
        assert data_object_word("Alert", "2.0") is ALERT
        assert data_object_word("Accept") is data_object_word("Accept", "2.0") is None

    def test_bare_words(self):
        text = "objects of Accept have no table here: shown as bare words"
        assert read_data_objects("Accept", [1, 2]) == [
            Reading("unread", 1, None, {}, (Problem("no-table", text),)),
            Reading("unread", 2, None, {}),
        ]
        assert read_data_objects("Accept", []) == []

    def test_the_first_object_and_those_after(self):
        first, second = read_data_objects("Alert", [0x02000000, 5])
        assert (first.kind, first.word, first.layout) == ("alert", 0x02000000, ALERT)
        assert second == Reading("unread", 5, None, {})
        test = read_data_objects("BIST", [0x80000000, *range(6)])
        assert shape(test)[:2] == [("bist", 0x80000000, BIST), ("test-data", 0, None)]
        assert test[6] == Reading("test-data", 5, None, {})

    def test_test_data_in_either_revision(self):
        assert read_data_objects("BIST", [0x80000000, *range(6)], "2.0")[0].problems == ()
        assert told(read_data_objects("BIST", [0x80000000, *range(5)])[0]) == [("object-count", "BIST data object")]
        assert told(read_data_objects("BIST", [0x80000000, *range(7)])[0]) == [("object-count", "BIST data object")]

    def test_what_contradicts_itself_and_what_does_not(self):
        for name, odd, *right in (
            ("Alert", 0x04000001, 0x84000001, 0x84000000, 0x04000000),
            ("Battery_Status", 0x00000400, 0x00000600, 0x00000200, 0x00000000),
        ):
            assert [code for code, _ in told(read_data_objects(name, [odd])[0])] == ["contradiction"]
            for word in right:
                assert read_data_objects(name, [word])[0].problems == ()


class TestBlocks:
    def test_whole_readings(self):
        data = bytes([55, 1])
        reading = read_block("Status", data, "SOP'")
        assert reading == BlockReading(
            "Status", data, reading.layout, {"temperature_c": 55, "thermal_shutdown": True}, (), None
        )
        assert reading.layout.name == "status-cable"
        text = "the data of Accept has no table here: shown as bytes"
        assert read_block("Accept", b"\1\2") == BlockReading(
            "Accept", b"\1\2", None, {"payload": "0102"}, (Problem("no-table", text),)
        )

    def test_fields_stand_first_byte_first(self):
        assert list(read_block("PPS_Status", bytes(4)).fields) == [
            "output_voltage_mv",
            "output_current_ma",
            "temperature_status",
            "current_limit",
        ]
        assert list(read_block("PPS_Status", bytes(4)).meanings()) == ["temperature_status"]

    def test_a_short_block_keeps_its_bytes(self):
        short = read_block("Status", bytes(5))
        assert short.fields["block_bytes"] == 5
        assert short.length.size == 5
        assert "limited_by_cable" not in short.fields
        assert read_block("Status", bytes(7)).length is None
        # A field cut in two is not read: its bytes are kept.
        cut = read_block("PPS_Status", b"\xa4")
        assert cut.fields == {"block_bytes": 1, "rest": "a4"}
        assert [problem.code for problem in cut.problems] == ["block-short"]
        assert cut.length is None
        assert read_block("PPS_Status", b"\xa4\1\x3c").fields == {
            "output_voltage_mv": 8400,
            "output_current_ma": 3000,
            "block_bytes": 3,
        }

    def test_a_short_block_has_no_codes_of_what_is_not_there(self):
        short = read_block("Sink_Capabilities_Extended", bytes(10))
        assert [problem.code for problem in short.problems] == ["block-short"]
        assert set(short.meanings()) <= set(short.fields)
        # Version 0 of the block is a reserved code once its byte is there.
        eleven = read_block("Sink_Capabilities_Extended", bytes(11))
        assert [problem.code for problem in eleven.problems] == ["block-short", "reserved-code"]

    @pytest.mark.parametrize(
        ("name", "size", "code"),
        [
            ("Manufacturer_Info", 26, None),
            ("Manufacturer_Info", 27, "block-long"),
            ("Manufacturer_Info", 5, None),
            ("Manufacturer_Info", 4, "block-short"),
            ("Security_Request", 4, None),
            ("Security_Request", 3, "block-short"),
            ("Security_Request", 260, None),
            ("Country_Info", 26, None),
            ("Country_Info", 27, "block-long"),
            ("Status", 7, None),
            ("Status", 8, "block-long"),
            ("Status", 6, None),
            ("Status", 4, "block-short"),
        ],
    )
    def test_lengths_on_the_limit_and_beyond(self, name, size, code):
        data = b"AB" + bytes(size - 2)
        codes = [problem.code for problem in read_block(name, data).problems if problem.code.startswith("block")]
        assert codes == ([] if code is None else [code])

    @pytest.mark.parametrize(
        ("data", "fields"),
        [
            (b"Pier\0", {"text": "Pier"}),
            (b"Pier", {"text": "Pier", "rest": ""}),
            (b"Pier\0\0", {"text": "Pier", "rest": "0000"}),
            (b"Pier\0x", {"text": "Pier", "rest": "0078"}),
            (b" ~\0", {"text": " ~"}),
            (b"\x1f\x7f\\\0", {"text": "\\x1f\\x7f\\\\"}),
            (b"\0", {"text": ""}),
        ],
    )
    def test_texts(self, data, fields):
        reading = read_block("Manufacturer_Info", b"\1\0\2\0" + data)
        assert reading.fields == {"vendor_id": 1, "product_id": 2, **fields}

    @pytest.mark.parametrize(
        ("data", "fields", "codes"),
        [
            (b"\2\0DEFR", {"count": 2, "countries": ["DE", "FR"]}, []),
            (b"\1\0DEF", {"count": 1, "countries": ["DE"], "rest": "46"}, []),
            (b"\2\0DE\xff\1", {"count": 2, "countries": ["DE", "\\xff\\x01"]}, ["letters"]),
            (b"\2\0DEA1", {"count": 2, "countries": ["DE", "A1"]}, ["letters"]),
            (b"\2\0DEfr", {"count": 2, "countries": ["DE", "fr"]}, ["letters"]),
            (b"\0\0", {"count": 0, "countries": []}, ["block-short"]),
        ],
    )
    def test_countries(self, data, fields, codes):
        reading = read_block("Country_Codes", data)
        assert reading.fields == fields
        assert [problem.code for problem in reading.problems] == codes

    def test_a_long_block_keeps_the_rest(self):
        reading = read_block("Get_Battery_Cap", b"\4\1\2")
        assert reading.fields == {"battery": 4, "rest": "0102"}
