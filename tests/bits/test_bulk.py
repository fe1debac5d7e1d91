"""The bulk path: agrees with the single decoder on any words, loses no bit, refuses what does not fit."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pdcheck.bits import bulk
from pdcheck.bits.data_words import DATA_WORDS
from pdcheck.bits.header import EXTENDED_HEADER, HEADER, HEADER_CABLE
from pdcheck.bits.identity import IDENTITY_WORDS
from pdcheck.bits.layout import Field, Word
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
from tests.bench.exhaustive import put_together

WORDS = [*POWER_WORDS, *REQUEST_WORDS_SHORT.values(), *IDENTITY_WORDS, *DATA_WORDS]
FAMILIES = {
    "source": (bulk.decode_sources, SOURCE_WORDS),
    "sink": (bulk.decode_sinks, SINK_WORDS),
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
    assert put_together(columns, (word,)).tolist() == raws


@given(st.sampled_from(sorted(FAMILIES)), many)
def test_all_kinds_mixed(family, raws):
    decode, tables = FAMILIES[family]
    columns = decode(np.array(raws, np.uint32))
    for raw, row in zip(raws, rows(columns), strict=True):
        assert bulk.KINDS[row.pop("kind")] == kind_of(raw)
        expected = single(tables[kind_of(raw)], raw)
        assert row == {key: expected.get(key, 0) for key in row}
        assert set(expected) <= {*row, "supply", "augmented"}
    assert put_together(columns, tuple(tables.values())).tolist() == raws


@given(st.sampled_from([HEADER, HEADER_CABLE, EXTENDED_HEADER]), st.lists(st.integers(0, 0xFFFF), max_size=40))
def test_headers(word, raws):
    columns = bulk.decode_words(np.array(raws, np.uint16), word)
    assert rows(columns) == [single(word, raw) for raw in raws]
    assert put_together(columns, (word,)).tolist() == raws


def test_more_words_than_are_taken_at_a_time():
    random = np.random.default_rng(7).integers(0, 1 << 32, 200_001, dtype=np.uint32)
    for decode, tables in FAMILIES.values():
        assert np.array_equal(put_together(decode(random), tuple(tables.values())), random)
    for word in (FIXED_SOURCE, REQUEST_WORDS["avs"]):
        columns = bulk.decode_words(random, word)
        assert np.array_equal(put_together(columns, (word,)), random)
        assert all(column.size == random.size for column in columns.values())


def test_the_ways_in():
    assert bulk.decode_words([0x61A1], HEADER)["power_role"].tolist() == [1]
    assert bulk.decode_words([0x0100], HEADER_CABLE)["cable_plug"].tolist() == [1]
    assert bulk.decode_words([0x802C], EXTENDED_HEADER)["data_size"].tolist() == [44]
    assert bulk.decode_objects([0x6003843C], request_as="pps")["output_voltage_mv"].tolist() == [9000]
    with pytest.raises(InputError, match="no form"):
        bulk.decode_objects([0], request_as="cable")


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
        bulk.decode_words([0x10000], HEADER)


def complaint(call):
    with pytest.raises(InputError) as refused:
        call()
    return refused.value.what, refused.value.where, refused.value.expected


@pytest.mark.parametrize(
    ("call", "what", "expected"),
    [
        (lambda: bulk.decode_words([1.5], FIXED_SOURCE), "words of type float64", "an array of integers"),
        (lambda: bulk.decode_words([-1], FIXED_SOURCE), "a word that does not fit 32 bits", ""),
        (lambda: bulk.decode_words([1 << 32], FIXED_SOURCE), "a word that does not fit 32 bits", ""),
        (lambda: bulk.decode_sources([1 << 32]), "a word that does not fit 32 bits", ""),
        (lambda: bulk.decode_words([1 << 16], HEADER), "a word that does not fit 16 bits", ""),
        (
            lambda: bulk.decode_objects([0], request_as="cable"),
            "no form of request 'cable'",
            "fixed, battery, pps, avs",
        ),
    ],
)
def test_a_complaint_says_what_and_what_was_expected(call, what, expected):
    assert complaint(call) == (what, "", expected)


def test_the_greatest_values_fit():
    assert bulk.decode_words([0xFFFFFFFF], FIXED_SOURCE)["voltage_mv"].tolist() == [51150]
    assert bulk.decode_words([0xFFFF], HEADER)["object_count"].tolist() == [7]


@pytest.mark.parametrize("make", [np.uint8, np.int64, np.uint64, np.uint32])
def test_integers_of_any_width_go_in(make):
    words = np.array([1, 2, 200], make)
    columns = bulk.decode_words(words, FIXED_SOURCE)
    assert columns["current_ma"].tolist() == [10, 20, 2000]
    assert columns["current_ma"].dtype == columns["reserved"].dtype == np.uint32


def test_nothing_goes_in_and_comes_out():
    for empty in ([], np.array([], np.float64), np.zeros((0, 3), np.uint32)):
        columns = bulk.decode_words(empty, FIXED_SOURCE)
        assert {column.size for column in columns.values()} == {0}
        assert bulk.decode_sources(empty)["kind"].dtype == np.uint8


def test_tables_of_words_come_out_flat():
    words = np.array([[0x0801912C, 0x0002D12C], [0x0004B12C, 0x000641F4]], np.uint32)
    voltages = [5000, 9000, 15000, 20000]
    for columns in (bulk.decode_words(words, FIXED_SOURCE), bulk.decode_sources(words)):
        assert columns["voltage_mv"].tolist() == voltages
    assert bulk.decode_words(words.T, FIXED_SOURCE)["voltage_mv"].tolist() == [5000, 15000, 9000, 20000]


def test_the_words_given_stay_as_they_are():
    words = np.array([0x0801912C, 0xC0DC213C], np.uint32)
    bulk.decode_sources(words)
    assert words.tolist() == [0x0801912C, 0xC0DC213C]
    whole = Word("whole", "Whole", [Field("all", 31, 0, "All")])
    bulk.decode_words(words, whole)["all"][0] = 0
    assert words[0] == 0x0801912C


def test_columns_of_a_family_are_those_of_its_tables(anew):
    for module in (bulk, anew("bulk")):
        for decode, tables in ((module.decode_sources, SOURCE_WORDS), (module.decode_sinks, SINK_WORDS)):
            keys = {field.key for word in tables.values() for field in word.named} - {"supply", "augmented"}
            assert set(decode([0])) == keys | {"kind", "reserved"}


@pytest.mark.parametrize("tables", [SOURCE_WORDS, SINK_WORDS], ids=["source", "sink"])
def test_a_family_laid_side_by_side_again(tables):
    family = bulk._Family(tables)
    raws = [top << 28 | low for top in range(16) for low in (0, 0x0FFFFFFF, 0x05A5A5A5, *(1 << at for at in range(28)))]
    columns = family.decode(raws)
    for raw, row in zip(raws, rows(columns), strict=True):
        assert bulk.KINDS[row.pop("kind")] == kind_of(raw)
        expected = single(tables[kind_of(raw)], raw)
        assert row == {key: expected.get(key, 0) for key in row}


def test_one_more_than_is_taken_at_a_time(monkeypatch):
    monkeypatch.setattr(bulk, "_STRIDE", 4)
    raws = [0x0801912C, 0xC0DC213C, 0x87819064, 0x47819028, 0xE004B0E1, 0xD230968C, 0xFFFFFFFF, 0x0002D12C, 0x000641F4]
    for count in (3, 4, 5, 8, 9):
        columns = bulk.decode_sources(raws[:count])
        assert [bulk.KINDS[kind] for kind in columns["kind"]] == [kind_of(raw) for raw in raws[:count]]
        assert put_together(columns, tuple(SOURCE_WORDS.values())).tolist() == raws[:count]
        whole = bulk.decode_words(raws[:count], FIXED_SOURCE)
        assert rows(whole) == [single(FIXED_SOURCE, raw) for raw in raws[:count]]


def test_headers_on_the_cable_name_the_plug():
    assert "data_role" in bulk.decode_words([0], HEADER)
    columns = bulk.decode_words([0x0120], HEADER_CABLE)
    assert (columns["cable_plug"].tolist(), columns["reserved"].tolist()) == ([1], [0x20])


@given(many, st.sampled_from([list, iter, tuple, np.array, lambda raws: " ".join(f"0x{raw:08X}" for raw in raws)]))
@pytest.mark.parametrize("sink", [False, True])
def test_records_are_those_of_the_single_decoder(sink, raws, given_as):
    columns = bulk.decode_objects(given_as(raws), sink=sink)
    assert columns["word"].tolist() == raws
    found = bulk.object_rows(columns)
    tables = SINK_WORDS if sink else SOURCE_WORDS
    assert len(found) == len(raws)
    for record, raw in zip(found, raws, strict=True):
        kind = kind_of(raw)
        expected = single(tables[kind], raw)
        assert record == {"word": raw, "kind": kind} | {
            key: value for key, value in expected.items() if key not in ("supply", "augmented")
        }
        assert all(type(value) in (int, bool, str) for value in record.values())


@given(many, st.sampled_from(sorted(REQUEST_WORDS)))
def test_records_of_requests(raws, form):
    found = bulk.object_rows(bulk.decode_objects(raws, request_as=form))
    assert found == [{"word": raw} | single(REQUEST_WORDS[form], raw) for raw in raws]


@pytest.mark.parametrize(
    "words",
    [[1 << 32], [-1], [1.5], ["x"], "0801912C zz", [1 << 70], iter([1 << 70]), iter("ab"), None, 5.5, [[1], [2, 3]]],
)
def test_what_is_no_object_is_refused(words):
    with pytest.raises(InputError):
        bulk.decode_objects(words)
