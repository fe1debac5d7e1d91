"""Extended messages: any block in chunks or in one piece comes out whole; what is missing is told, and only that."""

from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.crc import with_crc
from pdcheck.bits.header import EXTENDED_HEADER, HEADER
from pdcheck.bits.message import build_extended, make_header, read_message
from pdcheck.bits.sequence import Listener

NAME = "Security_Request"
blocks = st.binary(min_size=4, max_size=260)


def frames(data, name=NAME, *, source=True, message_id=0):
    return build_extended(make_header(name, 0, extended=True, source=source), data, message_id=message_id)


def extended(name, inner, body=b"", *, source=True, count=None):
    """A frame with an extended header of these fields."""
    body = EXTENDED_HEADER.encode(inner).to_bytes(2, "little") + body
    if inner.get("chunked"):
        body += bytes(-len(body) % 4)
    outer = make_header(name, 0, extended=True, source=source)
    outer |= (len(body) // 4 if count is None else count) << HEADER.field("object_count").low
    return with_crc(outer.to_bytes(2, "little") + body)


def request_of(number, name=NAME):
    return extended(name, {"chunked": True, "request_chunk": True, "chunk_number": number}, source=False)


def hear(sequence, listener=None):
    listener = listener or Listener()
    return [listener.hear(read_message(frame)) for frame in sequence]


def codes(heard):
    return [problem.code for told in heard for problem in told.problems]


@given(blocks)
def test_any_block_comes_out_of_its_chunks(data):
    heard = hear(frames(data))
    assert len(heard) == -(-len(data) // 26)
    assert [told.block is not None for told in heard] == [False] * (len(heard) - 1) + [True]
    assert heard[-1].block.data == data
    assert codes(heard) == []


@given(blocks, st.data())
def test_repeated_chunks_and_requests_between_change_nothing(data, draw):
    sequence = []
    for number, frame in enumerate(frames(data)):
        if number:
            sequence.append(request_of(number))
        sequence += [frame] * draw.draw(st.integers(1, 3) if number else st.just(1))
    heard = hear(sequence)
    whole = [told.block.data for told in heard if told.block is not None]
    assert whole == [data]
    assert codes(heard) == []


@given(st.binary(min_size=27, max_size=260), st.data())
def test_a_missing_chunk_is_told_and_no_block_is_invented(data, draw):
    sequence = frames(data)
    missing = draw.draw(st.integers(0, len(sequence) - 1))
    listener = Listener()
    heard = hear(sequence[:missing] + sequence[missing + 1 :], listener)
    assert all(told.block is None for told in heard)
    if missing == len(sequence) - 1:
        assert codes(heard) == []
        assert [problem.code for problem in listener.unfinished()] == ["block-unfinished"]
    else:
        assert set(codes(heard)) == {"chunk-missing"}
        assert listener.unfinished() == []


def test_a_finished_block_is_not_unfinished():
    listener = Listener()
    hear(frames(bytes(44)), listener)
    assert listener.unfinished() == []


@given(blocks, blocks)
def test_blocks_of_both_sides_may_be_mixed(one, other):
    left, right = frames(one), frames(other, source=False)
    mixed = [frame for pair in zip(left, right, strict=False) for frame in pair]
    mixed += left[len(right) :] + right[len(left) :]
    whole = sorted(told.block.data for told in hear(mixed) if told.block is not None)
    assert whole == sorted([one, other])


@given(blocks, blocks)
def test_the_next_block_starts_anew(one, other):
    heard = hear([*frames(one)[:1], *frames(other), *frames(one)])
    whole = [told.block.data for told in heard if told.block is not None]
    assert whole[-2:] == [other, one]


@given(blocks)
def test_an_unchunked_block_comes_in_one_piece(data):
    heard = hear([extended(NAME, {"data_size": len(data)}, data, count=0)])
    assert heard[0].block.data == data
    assert codes(heard) == []


class TestOddChunks:
    def test_a_chunk_that_is_too_short(self):
        inner = {"chunked": True, "data_size": 20}
        heard = hear([extended(NAME, inner, bytes(6))])
        assert "chunk-short" in codes(heard)

    def test_padding_that_is_not_zero(self):
        frame = extended(NAME, {"chunked": True, "data_size": 4}, b"abcd" + b"\x01\x02")
        assert "padding" in codes(hear([frame]))
        frame = extended(NAME, {"chunked": True, "data_size": 4}, b"abcd")
        assert codes(hear([frame])) == []

    def test_a_size_beyond_the_most(self):
        assert "data-size" in codes(hear([extended(NAME, {"chunked": True, "data_size": 261}, bytes(26))]))
        assert "data-size" not in codes(hear([extended(NAME, {"chunked": True, "data_size": 260}, bytes(26))]))

    def test_the_reserved_bit(self):
        inner = {"chunked": True, "data_size": 4, "reserved_9": 1}
        assert "reserved-bits" in codes(hear([extended(NAME, inner, b"abcd")]))

    def test_no_extended_header_at_all(self):
        frame = make_header(NAME, 0, extended=True).to_bytes(2, "little")
        assert codes(hear([frame])) == ["no-extended-header"]

    def test_a_size_that_changes_under_way(self):
        first, second = frames(bytes(44))
        other = frames(bytes(40))[1]
        assert codes(hear([first, other])) == ["chunk-missing"]
        assert codes(hear([first, second])) == []


class TestEprCapabilities:
    WORDS = (0x0881912C, 0x0002D12C, 0x0004B12C, 0x000641F4, 0, 0, 0, 0x0008C1F4, 0x000B41F4, 0x000F01F4, 0xD3C096F0)

    def data(self, words):
        return b"".join(word.to_bytes(4, "little") for word in words)

    def test_eleven_objects_in_two_chunks(self):
        sequence = frames(self.data(self.WORDS), "EPR_Source_Capabilities")
        assert [len(frame) for frame in sequence] == [2 + 28 + 4, 2 + 20 + 4]
        heard = hear(sequence)
        assert [offer.word for offer in heard[1].offers] == list(self.WORDS)
        assert codes(heard) == []

    def test_bytes_that_are_no_whole_objects(self):
        heard = hear(frames(self.data(self.WORDS)[:43], "EPR_Source_Capabilities"))
        assert "block-length" in codes(heard)
        assert len(heard[-1].offers) == 10

    def test_those_of_a_sink_keep_their_positions(self):
        heard = hear(frames(self.data([0x00019064, 0, 0, 0, 0, 0, 0, 0xD2309664]), "EPR_Sink_Capabilities"))
        assert [reading.kind for reading in heard[-1].objects] == ["fixed", "epr-avs"]
        assert codes(heard) == []
