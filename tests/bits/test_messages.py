"""Messages: their headers and types, CRC, and every kind of them there and back."""

import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.capabilities import encode_capabilities
from pdcheck.bits.header import CONTROL, DATA, EXTENDED, HEADER, type_name
from pdcheck.bits.message import Message, build_message, make_header, read_message
from pdcheck.bits.offers import epr_avs, fixed, pps, spr_avs
from pdcheck.bits.sequence import Listener
from pdcheck.errors import InputError

words32 = st.integers(0, 0xFFFFFFFF)
headers = st.integers(0, 0x7FFF)


def header(code, count=0, *, extended=False, revision=2):
    return HEADER.encode({"type": code, "object_count": count, "extended": extended, "revision": revision})


def told(message):
    return [problem.code for problem in message.problems]


class TestTypeNames:
    @pytest.mark.parametrize("code", range(32))
    def test_the_three_families(self, code):
        assert type_name(header(code)) == CONTROL.get(code, f"reserved control {code}")
        assert type_name(header(code, 1)) == DATA.get(code, f"reserved data {code}")
        assert type_name(header(code, 1, extended=True)) == EXTENDED.get(code, f"reserved extended {code}")

    def test_the_catalogue_is_as_long_as_the_standard_s(self):
        assert (len(CONTROL), len(DATA), len(EXTENDED)) == (24, 13, 19)

    @pytest.mark.parametrize("revision", [0, 1])
    def test_revision_2_knows_fewer_and_has_four_bits(self, revision):
        assert type_name(header(13, revision=revision)) == "Soft_Reset"
        assert type_name(header(14, revision=revision)) == "reserved control 14"
        assert type_name(header(4, 1, revision=revision)) == "Sink_Capabilities"
        assert type_name(header(5, 1, revision=revision)) == "reserved data 5"
        assert type_name(header(15, 1, revision=revision)) == "Vendor_Defined"
        assert type_name(header(0x13, revision=revision)) == "Accept"

    @pytest.mark.parametrize("revision", range(4))
    def test_a_goodcrc_is_one_in_every_revision(self, revision):
        message = read_message(header(1, revision=revision).to_bytes(2, "little"))
        assert (message.type, told(message)) == ("GoodCRC", [])

    @given(st.integers(0, 0xFFFF))
    def test_every_header_has_a_name(self, raw):
        name = type_name(raw)
        assert name
        assert name.startswith("reserved") or name in (*CONTROL.values(), *DATA.values(), *EXTENDED.values())


class TestHeaderProblems:
    @pytest.mark.parametrize(
        ("code", "odd", "right"),
        [
            ("reserved-type", header(25), header(24)),
            ("reserved-type", header(0), header(3)),
            ("reserved-revision", header(3, revision=3), header(3, revision=2)),
            ("reserved-bits", header(0x13, revision=1), header(0x03, revision=1)),
        ],
    )
    def test_each_oddity_is_told_and_its_neighbour_is_not(self, code, odd, right):
        assert code in told(read_message(odd.to_bytes(2, "little")))
        assert code not in told(read_message(right.to_bytes(2, "little")))

    def test_bit_5_is_a_data_role_on_sop_only(self):
        raw = header(3) | 1 << 5
        assert told(read_message(raw.to_bytes(2, "little"))) == []
        assert told(read_message(raw.to_bytes(2, "little"), "SOP'")) == ["reserved-bits"]


class TestThereAndBack:
    @given(headers, st.lists(words32, max_size=7))
    def test_any_header_and_words(self, raw, words):
        raw = (raw & 0x0FFF) | len(words) << 12
        frame = build_message(raw, words)
        message = read_message(frame)
        assert (message.header, list(message.words), message.crc_ok) == (raw, words, True)
        assert build_message(message.header, message.words) == frame == message.on_wire()
        assert read_message(frame[:-4]).crc_ok is None

    @given(headers, st.lists(words32, max_size=7), st.integers(0, 31))
    def test_any_flipped_bit_of_the_crc_is_found(self, raw, words, place):
        raw = (raw & 0x0FFF) | len(words) << 12
        frame = bytearray(build_message(raw, words))
        frame[-4 + place // 8] ^= 1 << place % 8
        message = read_message(bytes(frame))
        assert message.crc_ok is False
        assert told(message)[-1] == "crc"
        assert list(message.words) == words

    @given(headers, st.lists(words32, max_size=7), st.sampled_from(["SOP", "SOP'", "SOP''"]))
    def test_a_message_is_heard_and_its_objects_encode_back(self, raw, words, sop):
        raw = (raw & 0x0FFF) | len(words) << 12
        heard = Listener().hear(read_message(build_message(raw, words), sop))
        again = [offer.layout.encode(offer.fields()) for offer in heard.offers]
        for reading in heard.objects:
            again.append(reading.word if reading.layout is None else reading.layout.encode(reading.fields))
        assert again == words

    @given(st.binary(max_size=40))
    def test_any_bytes_read_or_are_refused(self, frame):
        try:
            message = read_message(frame)
        except InputError as refused:
            assert "\n" not in str(refused)
        else:
            assert isinstance(message, Message)
            assert frame.startswith(message.raw)
            assert zlib.crc32(message.raw) == message.crc_computed
            Listener().hear(message)

    @given(st.lists(st.tuples(headers, st.lists(words32, max_size=7)), max_size=6))
    def test_any_sequence_is_heard(self, sequence):
        messages = [read_message(build_message((raw & 0x0FFF) | len(words) << 12, words)) for raw, words in sequence]
        listener = Listener()
        assert [listener.hear(message).message for message in messages] == messages


class TestMakeHeader:
    @given(
        st.sampled_from([*CONTROL.values()]),
        st.integers(0, 20),
        st.sampled_from(["1.0", "2.0", "3.x"]),
        st.booleans(),
        st.sampled_from([None, True, False]),
    )
    def test_reads_back(self, name, message_id, revision, source, dfp):
        raw = make_header(name, 0, message_id=message_id, revision=revision, source=source, dfp=dfp)
        fields = HEADER.decode(raw)
        assert CONTROL[fields["type"]] == name
        assert fields["id"] == message_id % 8
        assert fields["power_role"] == source
        assert fields["data_role"] == (source if dfp is None else dfp)

    def test_what_is_no_name_is_refused(self):
        for name, count, extended in [("Accept", 1, False), ("Request", 0, False), ("Status", 1, False), ("", 0, True)]:
            with pytest.raises(InputError, match="no such message"):
                make_header(name, count, extended=extended)
        with pytest.raises(InputError, match="no such revision"):
            make_header("Accept", 0, revision="4.0")


class TestCapabilities:
    LOW = (fixed(5000, 3000), fixed(9000, 3000), fixed(20000, 5000), spr_avs(5000, 5000), pps(5000, 21000, 5000))
    HIGH = (fixed(28000, 5000), fixed(36000, 5000), epr_avs(15000, 36000, 180))

    def test_what_is_encoded_is_heard(self):
        (name, frame), *more = encode_capabilities(self.LOW)
        assert (name, more) == ("Source_Capabilities", [])
        heard = Listener().hear(read_message(frame))
        assert [offer.word for offer in heard.offers] == [offer.word for offer in self.LOW]
        assert heard.problems == ()

    def test_with_epr_offers_the_second_message_comes_in_chunks(self):
        listener = Listener()
        heard = [listener.hear(read_message(frame)) for _, frame in encode_capabilities(self.LOW + self.HIGH)]
        assert [len(told.offers) for told in heard] == [5, 0, 10]
        assert all(told.problems == () for told in heard)
        assert [offer.position for offer in heard[-1].offers if offer.is_epr] == [8, 9, 10]
        assert "epr_capable" in heard[0].offers[0].flags
        assert listener.offers == heard[-1].offers

    def test_what_no_message_holds_is_refused(self):
        with pytest.raises(InputError, match="no offer"):
            encode_capabilities(self.HIGH)
        with pytest.raises(InputError, match="8 SPR"):
            encode_capabilities([fixed(5000, 10 * n) for n in range(1, 9)])
