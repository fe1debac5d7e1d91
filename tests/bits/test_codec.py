"""The codecs of construct: their own for each word, and a frame that is the one of the reader."""

import construct
import pytest

from pdcheck.bits.codec import FRAME, codec
from pdcheck.bits.layout import Field, Word, bit
from pdcheck.bits.message import build_message


def test_a_codec_is_made_once_and_is_that_word_s():
    first = Word("first", "First", [Field("a", 7, 4, "A")], bits=8)
    second = Word("second", "Second", [Field("b", 5, 0, "B")], bits=8)
    assert codec(first) is codec(first)
    assert codec(first).parse(b"\x35").a == 3
    assert codec(second).parse(b"\x35").b == 0x35


def test_a_word_made_where_another_was_has_its_own_codec():
    for place in range(50):
        word = Word("passing", "Passing", [bit(f"bit_{place}", place % 8, "Bit")], bits=8)
        assert f"bit_{place}" in codec(word).parse(b"\xff")


def test_bytes_go_little_end_first_and_fields_unscaled():
    word = Word("w", "W", [Field("high_mv", 15, 8, "High", 50), Field("low", 7, 0, "Low")], bits=16)
    parsed = codec(word).parse(b"\x01\x02")
    assert (parsed.high_mv, parsed.low) == (2, 1)
    assert codec(word).build({"high_mv": 2, "low": 1}) == b"\x01\x02"


def test_a_frame_is_header_objects_and_crc(anew):
    frame = bytes.fromhex("6111 2c910108 5cb81f2e".replace(" ", ""))
    assert build_message(0x1161, [0x0801912C]) == frame
    assert build_message(0x0041, []) == bytes.fromhex("4100bb6cbba8")
    for made in (FRAME, anew("codec").FRAME):
        parsed = made.parse(frame)
        assert made.build({"covered": {"value": parsed.covered.value}}) == frame
    assert (FRAME.parse(frame).crc, anew("codec").FRAME.parse(frame).crc) == (0x2E1FB85C, 0x2E1FB85C)
    parsed = FRAME.parse(frame)
    assert list(parsed.covered.value.words) == [0x0801912C]
    assert parsed.covered.value.header.object_count == 1
    with pytest.raises(construct.ChecksumError):
        anew("codec").FRAME.parse(frame[:-1] + b"\x2f")
