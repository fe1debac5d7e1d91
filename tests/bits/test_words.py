"""Every table: any raw value decodes and encodes back; codec and decoder agree; reserved bits are kept."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.bits.blocks import BLOCKS, BLOCKS_CABLE
from pdcheck.bits.codec import codec
from pdcheck.bits.data_words import DATA_WORDS
from pdcheck.bits.header import HEADER_WORDS
from pdcheck.bits.identity import IDENTITY_WORDS
from pdcheck.bits.layout import Field, Word, bit
from pdcheck.bits.power import (
    FIXED_SOURCE,
    POWER_WORDS,
    REQUEST_WORDS_SHORT,
    SINK_WORDS,
    SOURCE_WORDS,
    kind_of,
)
from pdcheck.errors import InputError

BLOCK_WORDS = [block.head for block in (*BLOCKS.values(), *BLOCKS_CABLE.values())]
WORDS = [*POWER_WORDS, *REQUEST_WORDS_SHORT.values(), *HEADER_WORDS, *IDENTITY_WORDS, *DATA_WORDS, *BLOCK_WORDS]

each_word = pytest.mark.parametrize("word", WORDS, ids=lambda word: word.name)
few = settings(max_examples=15)


def raws(word):
    """Values of a word: no bit, every bit, and any."""
    full = (1 << word.bits) - 1
    return st.one_of(st.sampled_from([0, full]), st.integers(0, full))


def test_names_are_given_once():
    names = [word.name for word in WORDS]
    assert sorted(set(names)) == sorted(names)


@each_word
def test_every_table_says_where_it_is_from(word):
    assert word.origin is not None
    assert word.origin.mark in ("checked", "memory")


@each_word
def test_fields_cover_every_bit_once(word):
    covered = [place for field in word.fields for place in range(field.low, field.high + 1)]
    assert sorted(covered) == list(range(word.bits))
    assert len({field.key for field in word.fields}) == len(word.fields)


@each_word
@few
@given(data=st.data())
def test_any_raw_value_encodes_back_to_itself(word, data):
    raw = data.draw(raws(word))
    assert word.encode(word.decode(raw)) == raw


@each_word
@few
@given(data=st.data())
def test_the_codec_agrees(word, data):
    raw = data.draw(raws(word))
    if word.bits == 0:
        return
    sent = raw.to_bytes(word.bits // 8, "little")
    parsed = codec(word).parse(sent)
    assert codec(word).build(parsed) == sent
    for field in word.fields:
        assert parsed[field.key] == field.take(raw), field.key


@each_word
@few
@given(data=st.data())
def test_decoded_values_are_counts_times_scale(word, data):
    raw = data.draw(raws(word))
    values = word.decode(raw)
    for field in word.named:
        count = (raw >> field.low) & field.mask
        if field.flag:
            assert values[field.key] is bool(count)
        elif count == field.void:
            assert values[field.key] is None
        else:
            assert values[field.key] == count * field.scale


@each_word
@few
@given(data=st.data())
def test_reserved_bits_are_kept_and_told(word, data):
    raw = data.draw(raws(word))
    values = word.decode(raw)
    told = {field.key for field in word.spare if field.key in values}
    assert told == {field.key for field in word.spare if field.take(raw)}
    assert len(word.reserved_set(raw)) == len(told)
    assert bool(raw & word.reserved_mask) == bool(told)


@given(st.integers(0, 0xFFFFFFFF))
def test_a_word_is_of_one_kind(raw):
    for family in (SOURCE_WORDS, SINK_WORDS):
        fixed = {kind: [field for field in word.named if field.fixed is not None] for kind, word in family.items()}
        of = [kind for kind, fields in fixed.items() if all(field.take(raw) == field.fixed for field in fields)]
        assert of == [kind_of(raw)]


@each_word
@few
@given(data=st.data())
def test_fewer_bytes_leave_out_whole_fields_only(word, data):
    raw = data.draw(raws(word))
    held = data.draw(st.integers(0, word.bits // 8))
    full = word.decode(raw)
    short = word.from_bytes(raw.to_bytes(word.bits // 8, "little")[:held])
    for key, value in short.items():
        assert word.field(key).high < 8 * held
        assert value == full[key]
    assert {field.key for field in word.named if field.high < 8 * held} <= set(short)


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"voltage_mv": 5010}, "off the step of 50 mV"),
        ({"voltage_mv": 51200}, "does not fit its 10 bits"),
        ({"current_ma": -10}, "does not fit"),
        ({"voltage_mv": 5000.5}, "no whole number"),
        ({"voltage_mv": "5 V"}, "no whole number"),
        ({"voltage_mv": None}, "no whole number"),
        ({"colour": 1}, "no field 'colour'"),
    ],
)
def test_what_does_not_fit_is_refused(values, told):
    with pytest.raises(InputError, match=told):
        FIXED_SOURCE.encode(values)


def test_tables_that_contradict_themselves_cannot_be_made():
    with pytest.raises(ValueError, match="overlaps"):
        Word("w", "W", [Field("a", 7, 3, "A"), Field("b", 3, 0, "B")], bits=8)
    with pytest.raises(ValueError, match="does not fit"):
        Word("w", "W", [bit("a", 8, "A")], bits=8)
    with pytest.raises(ValueError, match="overlaps"):
        Word("w", "W", [Field("a", 2, 3, "A")], bits=8)


def test_units_are_read_off_the_key():
    assert Field("voltage_mv", 1, 0, "V").unit == "mV"
    assert Field("power_mw", 1, 0, "P").unit == "mW"
    assert Field("pdp_w", 1, 0, "P").unit == "W"
    assert Field("peak_current", 1, 0, "P").unit == ""
