"""Fields, words and blocks as values: what is made of what is given, each figure compared."""

import numpy as np
import pytest

from pdcheck.bits.block_layout import BLOCKS_ORIGIN, Block, Length, byte, byte_place, checked, flag, maker, part
from pdcheck.bits.layout import UNITS, Field, Word, bit, place
from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin

MEMORY = Origin("somewhere", "memory")


def demo():
    """A word with a gap above, within and below its fields, one field of every sort."""
    return Word(
        "demo",
        "Demo word",
        [
            bit("on", 2, "On", "a note"),
            Field("voltage_mv", 7, 4, "Voltage", 50, void=15, special={15: "unknown", 1: "least"}),
            Field("mode", 10, 9, "Mode", codes={0: "off", 1: "slow", 2: "fast"}),
            Field("kind", 14, 13, "Kind", fixed=2),
        ],
        MEMORY,
        16,
    )


def refusal(call):
    with pytest.raises(InputError) as refused:
        call()
    return refused.value.what, refused.value.where, refused.value.expected


class TestField:
    @pytest.mark.parametrize(
        ("field", "width", "mask", "flag"),
        [
            (Field("a", 3, 3, "A"), 1, 1, True),
            (Field("a", 4, 3, "A"), 2, 3, False),
            (Field("a", 31, 0, "A"), 32, 0xFFFFFFFF, False),
            (Field("a", 3, 3, "A", codes={0: "no"}), 1, 1, False),
            (Field("a", 3, 3, "A", fixed=0), 1, 1, False),
            (Field("a", 3, 3, "A", reserved=True), 1, 1, False),
        ],
    )
    def test_width_mask_and_flag(self, field, width, mask, flag):
        assert (field.width, field.mask, field.flag) == (width, mask, flag)

    def test_a_unit_is_the_ending_and_only_that(self):
        for ending, unit in UNITS.items():
            assert Field(f"x{ending}", 0, 0, "X").unit == unit
            assert Field(f"x{ending}y", 0, 0, "X").unit == ""

    def test_counts_are_cut_out_of_their_neighbours(self):
        assert Field("a", 6, 3, "A").take(0b1_1010_111) == 0b1010
        assert Field("a", 0, 0, "A").take(0b10) == 0

    def test_meanings(self):
        assert Field("a", 1, 0, "A").meaning(1) is None
        assert Field("a", 1, 0, "A", special={0: "none"}).meaning(0) == "none"
        assert Field("a", 1, 0, "A", special={0: "none"}).meaning(1) is None
        assert Field("a", 1, 0, "A", codes={0: "off"}).meaning(0) == "off"
        assert Field("a", 1, 0, "A", codes={0: "off"}).meaning(1) == "reserved"

    def test_a_flag_and_its_place(self):
        assert bit("on", 5, "On", "a note") == Field("on", 5, 5, "On", note="a note")
        assert bit("on", 5, "On").note == ""
        assert (place(Field("a", 5, 5, "A")), place(Field("a", 5, 4, "A"))) == ("5", "5..4")


class TestWord:
    def test_gaps_become_reserved_fields(self):
        word = demo()
        spare = [(15, 15), (12, 11), (8, 8), (3, 3), (1, 0)]
        keys = ["reserved_15", "reserved_12_11", "reserved_8", "reserved_3", "reserved_1_0"]
        assert word.spare == tuple(
            Field(key, high, low, "Reserved", reserved=True) for key, (high, low) in zip(keys, spare, strict=True)
        )
        assert [field.key for field in word.named] == ["kind", "mode", "voltage_mv", "on"]
        assert [field.key for field in word.fields] == [
            "reserved_15",
            "kind",
            "reserved_12_11",
            "mode",
            "reserved_8",
            "voltage_mv",
            "reserved_3",
            "on",
            "reserved_1_0",
        ]
        assert word.reserved_mask == 0b1001_1001_0000_1011
        assert (word.name, word.title, word.bits, word.origin) == ("demo", "Demo word", 16, MEMORY)
        assert repr(word) == "<Word demo, 16 bits>"

    def test_a_word_without_fields_or_without_gaps(self):
        bare = Word("bare", "Bare", [], bits=8)
        assert [(field.key, field.high, field.low) for field in bare.fields] == [("reserved_7_0", 7, 0)]
        assert (bare.reserved_mask, bare.origin, Word("none", "None", [], bits=0).fields) == (0xFF, None, ())
        full = Word("full", "Full", [Field("a", 7, 4, "A"), Field("b", 3, 0, "B")], bits=8)
        assert (full.spare, full.reserved_mask, full.reserved_set(0xFF)) == ((), 0, [])

    @pytest.mark.parametrize(
        ("fields", "at"),
        [
            ([Field("a", 7, 3, "A"), Field("b", 3, 0, "B")], 3),
            ([Field("a", 8, 8, "A")], 8),
            ([Field("a", 2, 3, "A")], 2),
            ([Field("a", 5, 5, "A"), Field("b", 5, 5, "B")], 5),
        ],
    )
    def test_fields_that_do_not_fit(self, fields, at):
        with pytest.raises(ValueError, match=rf"^w: field at bit {at} overlaps another or does not fit$"):
            Word("w", "W", fields, bits=8)

    def test_fields_by_key(self):
        word = demo()
        assert word.field("on") == Field("on", 2, 2, "On", note="a note")
        assert word.field("reserved_8").reserved
        with pytest.raises(KeyError, match=r"^'off'$"):
            word.field("off")

    def test_every_value_both_ways(self):
        word = demo()
        raw = 0b1_10_01_10_1_0011_1_1_10
        values = {
            "kind": 2,
            "mode": 2,
            "voltage_mv": 150,
            "on": True,
            "reserved_15": 1,
            "reserved_12_11": 1,
            "reserved_8": 1,
            "reserved_3": 1,
            "reserved_1_0": 2,
        }
        assert word.decode(raw) == word.decode(raw) == values
        assert word.encode(values) == raw
        assert word.reserved_set(raw) == ["15", "12..11", "8", "3", "1..0"]
        assert word.decode(0b0_10_00_00_0_1111_0_0_00) == {"kind": 2, "mode": 0, "voltage_mv": None, "on": False}
        assert word.decode(0)["on"] is False
        assert word.reserved_set(0b100) == []
        assert word.reserved_set(0b1000) == ["3"]

    def test_what_is_left_out_is_zero_or_what_makes_the_kind(self):
        word = demo()
        assert word.encode({}) == 2 << 13
        assert word.encode({"voltage_mv": None}) == 2 << 13 | 15 << 4
        assert word.encode({"kind": 1, "on": True}) == 1 << 13 | 1 << 2
        scaled = Word("scaled", "Scaled", [Field("width_mv", 7, 4, "Width", 25, fixed=3)], bits=8)
        assert scaled.encode({}) == 0x30

    def test_numbers_of_any_make_that_are_whole(self):
        word = demo()
        for value in (150, 150.0, np.uint16(150)):
            assert word.encode({"voltage_mv": value, "kind": 0}) == 3 << 4

    @pytest.mark.parametrize(
        ("values", "what", "expected"),
        [
            ({"voltage_mv": 120}, "voltage_mv = 120 is off the step of 50 mV", ""),
            ({"voltage_mv": 800}, "voltage_mv = 800 does not fit its 4 bits", "0 to 750"),
            ({"voltage_mv": -50}, "voltage_mv = -50 does not fit its 4 bits", "0 to 750"),
            ({"mode": 4}, "mode = 4 does not fit its 2 bits", "0 to 3"),
            ({"mode": None}, "mode = None is no whole number", ""),
            ({"mode": "1"}, "mode = '1' is no whole number", ""),
            ({"mode": 1.5}, "mode = 1.5 is no whole number", ""),
            ({"speed": 1, "pace": 1}, "Demo word has no field 'pace'", ""),
        ],
    )
    def test_what_cannot_be_encoded(self, values, what, expected):
        assert refusal(lambda: demo().encode(values)) == (what, "", expected)

    def test_a_step_without_a_unit(self):
        word = Word("w", "W", [Field("ratio", 7, 0, "Ratio", 5)], bits=8)
        assert refusal(lambda: word.encode({"ratio": 7})) == ("ratio = 7 is off the step of 5", "", "")

    def test_the_greatest_and_the_least_fit(self):
        assert demo().encode({"voltage_mv": 750, "kind": 0}) == 15 << 4
        assert demo().encode({"voltage_mv": 0, "kind": 0}) == 0

    def test_codes_and_special_counts_have_names(self):
        word = demo()
        assert word.coded() == word.coded() == [word.field("mode"), word.field("voltage_mv")]
        assert word.meanings(1 << 9 | 15 << 4) == {"mode": "slow", "voltage_mv": "unknown"}
        assert word.meanings(3 << 9 | 2 << 4) == {"mode": "reserved"}

    def test_bytes_that_are_fewer_or_more(self):
        word = demo()
        assert word.from_bytes(b"\xf4\x5f\xff") == word.from_bytes(b"\xf4\x5f") == word.decode(0x5FF4)
        assert word.from_bytes(b"\xff") == {"voltage_mv": None, "on": True, "reserved_3": 1, "reserved_1_0": 3}
        assert word.from_bytes(b"") == {}
        assert word.to_bytes({"voltage_mv": 750, "mode": 1}) == b"\xf0\x42"

    def test_marks(self):
        own = bit("on", 0, "On")._replace(origin=Origin("elsewhere", "checked"))
        assert demo().marks() == {"layout": "somewhere [memory]"}
        assert Word("w", "W", [own, bit("b", 1, "B")], MEMORY, bits=8).marks() == {
            "layout": "somewhere [memory]",
            "on": "elsewhere [checked]",
        }
        assert Word("w", "W", [bit("b", 1, "B")], bits=8).marks() == {}

    def test_a_word_like_another(self):
        changes = [Field("pace", 9, 7, "Pace")]
        other = demo().varied("other", "Other word", changes, drop=("on",))
        # Mode ends in bit 9 and voltage in bit 7: both make room.
        assert [(field.key, field.high, field.low) for field in other.named] == [("kind", 14, 13), ("pace", 9, 7)]
        assert (other.name, other.title, other.bits, other.origin) == ("other", "Other word", 16, MEMORY)
        beside = demo().varied("beside", "Beside", [bit("new", 8, "New"), bit("newer", 11, "Newer")])
        assert [field.key for field in beside.named] == ["kind", "newer", "mode", "new", "voltage_mv", "on"]


class TestBlocks:
    def test_fields_by_their_byte(self):
        assert byte("a", 4, "A") == Field("a", 39, 32, "A")
        assert byte("a", 4, "A", 2, scale=5, note="n") == Field("a", 47, 32, "A", 5, note="n")
        assert part("a", 2, 10, 5, "A", codes={0: "no"}) == Field("a", 26, 21, "A", codes={0: "no"})
        assert flag("a", 2, 3, "A", "n") == Field("a", 19, 19, "A", note="n")
        assert flag("a", 0, 0, "A") == Field("a", 0, 0, "A")

    @pytest.mark.parametrize(
        ("field", "text"),
        [
            (byte("a", 0, "A"), "0"),
            (byte("a", 3, "A", 2), "3..4"),
            (flag("a", 3, 7, "A"), "3: 7"),
            (part("a", 3, 7, 1, "A"), "3: 7..1"),
            (part("a", 3, 6, 0, "A"), "3: 6..0"),
            (part("a", 3, 15, 11, "A"), "4: 7..3"),
        ],
    )
    def test_where_a_field_stands(self, field, text):
        assert byte_place(field) == text

    def test_vendor_product_and_certification(self):
        vendor = Field("vendor_id", 15, 0, "USB Vendor ID", special={0xFFFF: "none"})
        product = Field("product_id", 31, 16, "USB Product ID")
        certification = Field("certification", 63, 32, "XID", special={0: "none"})
        assert maker() == [vendor, product, certification]
        assert maker(certified=False) == [vendor, product]

    def test_a_block_and_its_lengths(self):
        block = Block(Word("w", "W", [], bits=24), older=(Length(2, "once", MEMORY),))
        assert (block.head_bytes, block.tail, block.least, block.most) == (3, "", 0, 0)
        assert block.older[0].text() == "2 bytes once (somewhere [memory])"
        assert checked("Table 1") == Origin("PD R3.2 V1.1, Table 1", "checked")
        assert Origin("PD R3.2 V1.1, Tables 6.54 to 6.65", "checked") == BLOCKS_ORIGIN
