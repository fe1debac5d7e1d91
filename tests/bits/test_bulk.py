"""The bulk path: agrees with the single decoder on any words, encodes back, refuses what does not fit."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pdcheck.bits import bulk
from pdcheck.bits.data_words import DATA_WORDS
from pdcheck.bits.header import EXTENDED_HEADER, HEADER, HEADER_CABLE
from pdcheck.bits.identity import IDENTITY_WORDS
from pdcheck.bits.power import (
    FIXED_SOURCE,
    POWER_WORDS,
    REQUEST_WORDS,
    REQUEST_WORDS_SHORT,
    SINK_WORDS,
    SOURCE_WORDS,
    kind_of,
)
from pdcheck.errors import InputError

WORDS = [*POWER_WORDS, *REQUEST_WORDS_SHORT.values(), *IDENTITY_WORDS, *DATA_WORDS]
FAMILIES = {
    "source": (bulk.decode_sources, bulk.encode_sources, SOURCE_WORDS),
    "sink": (bulk.decode_sinks, bulk.encode_sinks, SINK_WORDS),
}
many = st.lists(st.integers(0, 0xFFFFFFFF), max_size=40)


def single(word, raw):
    """The single decoder's fields in the bulk path's shape."""
    values = word.decode(raw)
    reserved = sum(values.pop(field.key, 0) << field.low for field in word.spare)
    for field in word.named:
        if values[field.key] is None:
            values[field.key] = field.void * field.scale
    return values | {bulk.RESERVED: reserved}


def rows(columns):
    lists = {key: column.tolist() for key, column in columns.items()}
    return [dict(zip(lists, row, strict=True)) for row in zip(*lists.values(), strict=True)]


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.name)
@settings(max_examples=15)
@example(raws=[0, 0xFFFFFFFF, *(1 << place for place in range(32))])
@given(raws=many)
def test_one_table(word, raws):
    columns = bulk.decode_words(np.array(raws, np.uint32), word)
    assert rows(columns) == [single(word, raw) for raw in raws]
    assert bulk.encode_words(columns, word).tolist() == raws


@given(st.sampled_from(sorted(FAMILIES)), many)
def test_all_kinds_mixed(family, raws):
    decode, encode, tables = FAMILIES[family]
    columns = decode(np.array(raws, np.uint32))
    for raw, row in zip(raws, rows(columns), strict=True):
        assert bulk.KINDS[row.pop("kind")] == kind_of(raw)
        expected = single(tables[kind_of(raw)], raw)
        assert row == {key: expected.get(key, 0) for key in row}
        assert set(expected) <= {*row, "supply", "augmented"}
    assert encode(columns).tolist() == raws


@given(st.sampled_from([HEADER, HEADER_CABLE, EXTENDED_HEADER]), st.lists(st.integers(0, 0xFFFF), max_size=40))
def test_headers(word, raws):
    columns = bulk.decode_words(np.array(raws, np.uint16), word)
    assert rows(columns) == [single(word, raw) for raw in raws]
    assert bulk.encode_words(columns, word).tolist() == raws


def test_more_words_than_are_taken_at_a_time():
    random = np.random.default_rng(7).integers(0, 1 << 32, 200_001, dtype=np.uint32)
    for decode, encode, _ in FAMILIES.values():
        assert np.array_equal(encode(decode(random)), random)
    for word in (FIXED_SOURCE, REQUEST_WORDS["avs"]):
        columns = bulk.decode_words(random, word)
        assert np.array_equal(bulk.encode_words(columns, word), random)
        assert all(column.size == random.size for column in columns.values())


def test_the_ways_in():
    assert bulk.decode_headers([0x61A1])["power_role"].tolist() == [1]
    assert bulk.decode_headers([0x0100], sop="SOP'")["cable_plug"].tolist() == [1]
    assert bulk.decode_extended_headers([0x802C])["data_size"].tolist() == [44]
    assert bulk.decode_requests([0x6003843C], "pps")["output_voltage_mv"].tolist() == [9000]
    with pytest.raises(InputError, match="no form"):
        bulk.decode_requests([0], "cable")


def test_flags_are_bool_and_numbers_are_not():
    columns = bulk.decode_sources([0x0801912C])
    assert columns["unconstrained_power"].dtype == np.bool_
    assert columns["voltage_mv"].dtype == np.uint32


@pytest.mark.parametrize("words", [[-1], [1 << 32], [1.5], ["a"]])
def test_what_is_no_word_is_refused(words):
    with pytest.raises(InputError):
        bulk.decode_words(words, FIXED_SOURCE)
    with pytest.raises(InputError):
        bulk.decode_sources(words)


def test_a_header_has_16_bits():
    with pytest.raises(InputError, match="16 bits"):
        bulk.decode_headers([0x10000])


@pytest.mark.parametrize(
    ("columns", "told"),
    [
        ({"voltage_mv": [5010]}, "off the step"),
        ({"voltage_mv": [51200]}, "above 51150"),
        ({"voltage_mv": [-50]}, "does not fit"),
        ({"voltage_mv": [5000.5]}, "whole numbers"),
        ({"voltage_mv": [5000], "current_ma": [10, 20]}, "one length"),
        ({"colour": [1]}, "no field 'colour'"),
        ({"reserved": [1]}, "not reserved"),
        ({"dual_role_power": [2]}, "above 1"),
    ],
)
def test_what_does_not_fit_is_refused(columns, told):
    with pytest.raises(InputError, match=told):
        bulk.encode_words(columns, FIXED_SOURCE)


@pytest.mark.parametrize(
    ("columns", "told"),
    [
        ({"voltage_mv": [5000]}, "no column 'kind'"),
        ({"kind": [7]}, "kind 7"),
        ({"kind": [0], "colour": [1]}, "has a field 'colour'"),
        ({"kind": [0], "power_mw": [250]}, "no such field"),
        ({"kind": [0], "voltage_mv": [5010]}, "off the step"),
        ({"kind": [0], "reserved": [1]}, "not reserved"),
    ],
)
def test_what_no_object_holds_is_refused(columns, told):
    with pytest.raises(InputError, match=told):
        bulk.encode_sources(columns)


def test_columns_left_out_are_zero():
    kinds = [bulk.KINDS.index(kind) for kind in ("fixed", "pps", "epr-avs")]
    assert bulk.encode_sources({"kind": kinds}).tolist() == [0, 0xC0000000, 0xD0000000]
    assert bulk.encode_words({}, FIXED_SOURCE).tolist() == []
