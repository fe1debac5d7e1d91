"""What is heard of whole messages, compared whole: words, data, roles, chunks joined, offers remembered."""

import pytest

from pdcheck.bits import line
from pdcheck.bits.crc import crc32, crc_matches, with_crc
from pdcheck.bits.header import EXTENDED_HEADER, HEADER, HEADER_CABLE
from pdcheck.bits.message import (
    Message,
    build_extended,
    build_message,
    make_header,
    mended_header,
    payload_bytes,
    read_message,
    reset_message,
)
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import Offer, epr_avs, fixed, pps
from pdcheck.bits.power import FIXED_REQUEST
from pdcheck.bits.sequence import Listener, Told, asked_position

FIVE, NINE = fixed(5000, 3000), fixed(9000, 3000, 2)


def head(code, count=0, **fields):
    return HEADER.encode({"type": code, "object_count": count, "revision": 2, **fields})


def frame(header, body=b""):
    return header.to_bytes(2, "little") + body


def inner(size, number=0, *, chunked=True, request=False):
    fields = {"data_size": size, "chunk_number": number, "chunked": chunked, "request_chunk": request}
    return EXTENDED_HEADER.encode(fields).to_bytes(2, "little")


def codes(problems):
    return [problem.code for problem in problems]


class TestReading:
    def test_every_part_of_a_data_message(self):
        raw = bytes.fromhex("6111 2c910108".replace(" ", ""))
        crc = crc32(raw)
        expected = Message(raw, 0x1161, None, (0x0801912C,), b"", crc, crc, "SOP'", 1.5)
        expected = expected._replace(problems=read_message(with_crc(raw), "SOP'", 1.5).problems)
        assert read_message(with_crc(raw), "SOP'", 1.5) == expected
        assert codes(expected.problems) == ["reserved-bits"]
        plain = read_message(raw)
        assert plain == Message(raw, 0x1161, None, (0x0801912C,), b"", None, crc)
        assert (plain.sop, plain.time_s, plain.problems, plain.extended, plain.crc_ok) == ("SOP", None, (), False, None)
        assert plain.on_wire() == with_crc(raw)
        assert plain.extended_fields() == {}

    def test_every_part_of_an_extended_message(self):
        raw = frame(head(8, 2, extended=True), inner(4) + b"abcd" + bytes(2))
        message = read_message(raw)
        assert (message.extended_header, message.data, message.words) == (0x8004, b"abcd", ())
        assert message.problems == ()
        assert message.extended_fields() == {
            "chunked": True,
            "chunk_number": 0,
            "request_chunk": False,
            "data_size": 4,
        }

    def test_a_reset_has_no_bytes(self):
        for which in ("Hard_Reset", "Cable_Reset"):
            assert reset_message(which, 2.0) == Message(b"", 0, None, (), b"", None, crc32(b""), which, 2.0)
            assert reset_message(which).time_s is None
            assert reset_message(which).type == which
            assert Listener().hear(reset_message(which)) == Told(reset_message(which))

    @pytest.mark.parametrize(
        ("headers", "size"),
        [
            (frame(head(1, 6)), 26),
            (frame(head(1, 7)), 30),
            (frame(head(3)), 2),
            (frame(head(8, 3, extended=True), inner(9)), 14),
            (frame(head(8, 3, extended=True), inner(9, chunked=False)), 13),
            (frame(head(8, 3, extended=True)), 14),
            (frame(head(8, 3, extended=True), b"\x09"), 14),
            (frame(head(8, 0, extended=True), inner(260, chunked=False)), 264),
            # Without the bit, the first object is no extended header.
            (frame(head(1, 1), b"\x09\0\0\0"), 6),
        ],
    )
    def test_what_the_headers_promise(self, headers, size):
        assert payload_bytes(headers) == size

    def test_lengths_that_fit_and_do_not(self):
        whole = build_message(head(1, 2), [1, 2])
        for size in (10, 14):
            assert read_message(whole[:size]).words == (1, 2)
        for size in (2, 9, 11, 13):
            with pytest.raises(Exception, match="do not fit the header 0x2081"):
                read_message(whole[:size])

    @pytest.mark.parametrize(
        ("number", "size", "body", "data", "told"),
        [
            (0, 26, bytes(26), bytes(26), []),
            (0, 27, bytes(26), bytes(26), []),
            (1, 27, b"x" + bytes(1), b"x", []),
            (1, 26, bytes(2), b"", []),
            (1, 25, bytes(2), b"", []),
            (1, 25, b"\0\1", b"", ["padding"]),
            (0, 5, b"abcde\0", b"abcde", []),
            (0, 5, b"abcdef", b"abcde", ["padding"]),
            (0, 7, b"abcdef", b"abcdef", ["chunk-short"]),
            (0, 260, bytes(26), bytes(26), []),
            (0, 261, bytes(26), bytes(26), ["data-size"]),
        ],
    )
    def test_chunks_are_cut_to_what_they_hold(self, number, size, body, data, told):
        count = (2 + len(body)) // 4
        message = read_message(frame(head(8, count, extended=True), inner(size, number) + body))
        assert (message.data, codes(message.problems)) == (data, told)

    def test_a_request_for_a_chunk_holds_none(self):
        message = read_message(frame(head(8, 1, extended=True), inner(0, 1, request=True) + b"\1\2"))
        assert (message.data, message.problems) == (b"", ())
        assert Listener().hear(message) == Told(message)

    def test_unchunked_data_is_all_that_is_there(self):
        message = read_message(frame(head(8, 0, extended=True), inner(3, chunked=False) + b"abc"))
        assert (message.data, message.problems) == (b"abc", ())

    def test_an_extended_header_of_which_one_byte_came(self):
        message = Message(b"", head(2, extended=True), None, (), b"", None, 0)
        assert Listener().hear(message).problems == ()
        short = read_message(frame(head(2, 0, extended=True)))
        assert (short.extended_header, short.data, codes(short.problems)) == (None, b"", ["no-extended-header"])

    @pytest.mark.parametrize("revision", [0, 1])
    def test_before_revision_3(self, revision):
        odd = read_message(frame(head(0x13, revision=revision)))
        assert (odd.type, codes(odd.problems)) == ("Accept", ["reserved-bits"])
        assert codes(read_message(frame(head(3, revision=revision))).problems) == []
        assert codes(read_message(frame(head(3, revision=2) | 1 << 15)).problems) == ["no-extended-header"]

    def test_a_data_role_on_the_cable(self):
        for sop in ("SOP'", "SOP''", "SOP'_Debug"):
            assert codes(read_message(frame(head(3, data_role=1)), sop).problems) == ["reserved-bits"]
            assert codes(read_message(frame(head(3, power_role=1)), sop).problems) == []


class TestDamaged:
    RIGHT = build_message(head(1, 2), [0x0001912C, 0x0002D12C])

    @pytest.mark.parametrize("bit", [*range(5), 12, 13, 14, 15])
    def test_one_wrong_bit_that_decides_is_mended(self, bit):
        wrong = bytearray(self.RIGHT)
        wrong[bit // 8] ^= 1 << bit % 8
        assert mended_header(bytes(wrong)) == head(1, 2)
        message = read_message(bytes(wrong))
        assert message.header == head(1, 2)
        assert message.words == (0x0001912C, 0x0002D12C)
        assert (message.raw, message.crc_ok) == (bytes(wrong[:-4]), False)
        assert codes(message.problems) == ["crc", "header-bit"]
        assert message.problems[1].text.startswith(f"bit {bit} came over wrong: the CRC fits 2081, Source_Capabilities")

    @pytest.mark.parametrize("bit", range(5, 12))
    def test_other_bits_are_left_alone(self, bit):
        wrong = bytearray(self.RIGHT)
        wrong[bit // 8] ^= 1 << bit % 8
        assert mended_header(bytes(wrong)) is None

    def test_what_cannot_be_mended(self):
        assert mended_header(self.RIGHT) is None
        assert mended_header(self.RIGHT[:-1]) is None
        wrong = bytearray(self.RIGHT)
        wrong[0] ^= 3
        assert mended_header(bytes(wrong)) is None
        assert mended_header(b"") is mended_header(bytes(5)) is None
        # The shortest that can be: header and CRC.
        assert mended_header(bytes.fromhex("4000bb6cbba8")) == 0x41

    def test_a_crc_alone_is_none(self):
        assert crc_matches(with_crc(b"x"))
        assert not crc_matches(with_crc(b""))


class TestMaking:
    def test_every_part_of_a_header(self):
        assert make_header("Accept", 0) == head(3, power_role=1, data_role=1)
        assert make_header("Accept", 0, source=False) == head(3)
        assert make_header("Accept", 0, dfp=False) == head(3, power_role=1)
        assert make_header("Accept", 0, source=False, dfp=True) == head(3, data_role=1)
        assert make_header("Request", 1, message_id=9, source=False) == head(2, 1, id=1)
        assert make_header("Request", 7, message_id=7, revision="2.0", source=False) == head(2, 7, id=7, revision=1)
        assert make_header("Status", 0, extended=True, source=False) == head(2, extended=True)
        assert make_header("Accept", 0, revision="1.0", source=False) == head(3, revision=0)

    @pytest.mark.parametrize("size", [0, 1, 4, 25, 26, 27, 52, 260])
    def test_chunks(self, size):
        data = bytes(range(1, 256))[:size] + bytes(max(0, size - 255))
        chunks = build_extended(make_header("Status", 0, extended=True), data, message_id=6)
        messages = [read_message(chunk) for chunk in chunks]
        assert len(chunks) == max(1, -(-size // 26))
        assert b"".join(message.data for message in messages) == data
        for number, message in enumerate(messages):
            assert message.crc_ok and message.problems == ()
            assert message.header_fields()["id"] == (6 + number) % 8
            assert message.header_fields()["object_count"] == (len(message.raw) - 2) // 4
            assert len(message.raw) % 4 == 2
            assert message.extended_fields() == {
                "chunked": True,
                "chunk_number": number,
                "request_chunk": False,
                "data_size": size,
            }
        again = build_extended(make_header("Status", 0, extended=True), data)
        assert read_message(again[0]).header_fields()["id"] == 0

    def test_a_message_without_objects(self):
        assert build_message(0x0041) == build_message(0x0041, []) == bytes.fromhex("4100bb6cbba8")

    def test_the_header_of_a_cable_plug_names_it(self):
        assert HEADER_CABLE.decode(0x0100)["cable_plug"] == 1


def sent(name, *words, **how):
    return read_message(build_message(make_header(name, len(words), **how), list(words)))


def chunks(data, name="Security_Request", *, sop="SOP", **how):
    header = make_header(name, 0, extended=True, **how)
    return [read_message(chunk, sop) for chunk in build_extended(header, data)]


class TestListening:
    def test_capabilities_are_kept_until_the_next(self):
        listener = Listener()
        message = sent("Source_Capabilities", FIVE.word, NINE.word)
        assert listener.hear(message) == Told(message, (FIVE, NINE))
        assert listener.offers == (FIVE, NINE)
        odd = sent("Source_Capabilities", NINE.word)
        assert codes(listener.hear(odd).problems) == ["first-not-5v"]
        assert listener.offers == (NINE._replace(position=1),)

    def test_a_control_message_says_its_name_alone(self):
        message = sent("Accept")
        assert Listener().hear(message) == Told(message)

    @pytest.mark.parametrize(
        ("name", "words", "kinds", "told"),
        [
            ("Sink_Capabilities", (0x00019064, 0), ["fixed", "fixed"], ["zero-voltage"]),
            ("Request", (0x1004B12C,), ["fixed"], []),
            ("Request", (0x1004B12C, 5), ["fixed", "unread"], ["object-count"]),
            ("EPR_Request", (0x1004B12C, FIVE.word), ["fixed", "fixed"], []),
            ("EPR_Request", (0x1004B12C,), ["fixed"], ["object-count"]),
            ("EPR_Request", (0x1004B12C, FIVE.word, 5), ["fixed", "fixed", "unread"], ["object-count"]),
            ("EPR_Mode", (0x01640000, 0x06000000), ["epr-mode", "epr-mode"], ["reserved-code"]),
            ("Vendor_Defined", (0x12340001, 5), ["vdm-header-unstructured", "vendor-data"], []),
            ("Alert", (0x02000000,), ["alert"], []),
            ("Alert", (0x01000000,), ["alert"], ["reserved-bits"]),
        ],
    )
    def test_objects_by_the_name(self, name, words, kinds, told):
        listener = Listener()
        listener.offers = (FIVE,)
        heard = listener.hear(sent(name, *words))
        assert [reading.kind for reading in heard.objects] == kinds
        assert [reading.word for reading in heard.objects] == list(words)
        assert all(
            reading.layout is not None for reading in heard.objects if reading.kind not in ("unread", "vendor-data")
        )
        assert codes(heard.problems) == told
        assert (heard.offers, heard.block) == ((), None)
        if "unread" in kinds:
            assert heard.objects[-1] == Reading("unread", 5, None, {})

    def test_positions_of_a_sink_s_objects(self):
        heard = Listener().hear(sent("Sink_Capabilities", 0x20019064, 0x2002D064))
        assert [(problem.code, problem.where) for problem in heard.problems] == [("flags-not-first", "object 2")]

    def test_odd_messages_keep_what_is_odd_about_them(self):
        raw = bytearray(build_message(make_header("Request", 1), [0]))
        raw[-1] ^= 1
        assert codes(Listener().hear(read_message(bytes(raw))).problems) == ["crc", "ambiguous", "position"]
        raw = bytearray(build_message(make_header("Source_Capabilities", 1), [NINE.word]))
        raw[-1] ^= 1
        assert codes(Listener().hear(read_message(bytes(raw))).problems) == ["crc", "first-not-5v"]

    def test_identities_go_by_the_ordered_set(self):
        words = [0xFF00A841, 0x1000EE01, 0, 0, 0x60000000]
        for sop, kind in (("SOP", "ufp"), ("SOP'", "unread")):
            message = read_message(build_message(make_header("Vendor_Defined", 5, dfp=False), words), sop)
            assert Listener().hear(message).objects[4].kind == kind

    def test_the_form_that_was_asked_for(self):
        message = sent("Request", 0x1004B12C)
        assert [Listener("pps").hear(message).objects[0].kind for _ in range(2)] == ["pps", "pps"]
        assert Listener().hear(message).objects[0].kind == "fixed"
        assert Listener("avs").hear(sent("EPR_Request", 0x8004B12C)).objects[0].kind == "avs"
        heard = Listener("pps").hear(sent("EPR_Request", 0x1004B12C, FIVE.word))
        assert [reading.kind for reading in heard.objects] == ["pps", "fixed"]

    def test_the_revision_decides_the_position_s_bits(self):
        listener = Listener()
        listener.offers = (FIVE,)
        for revision, told in (("3.x", ["ambiguous", "position"]), ("2.0", ["reserved-bits"])):
            heard = listener.hear(sent("Request", 0x9004B12C, revision=revision))
            assert codes(heard.problems) == told

    def test_an_epr_request_may_ask_for_what_a_request_may_not(self):
        listener = Listener()
        listener.offers = (FIVE, fixed(28000, 5000, 8))
        assert codes(listener.hear(sent("EPR_Request", 0x8007D1F4)).problems) == ["object-count"]
        assert codes(listener.hear(sent("Request", 0x8007D1F4)).problems) == ["epr-in-spr"]
        assert asked_position(0x8007D1F4) == FIXED_REQUEST.decode(0x8007D1F4)["position"] == 8

    def test_the_copy_is_read_as_what_it_is(self):
        copy = epr_avs(15000, 28000, 140)
        request = 8 << 28 | 20000 // 25 << 9 | 40
        heard = Listener().hear(sent("EPR_Request", request, copy.word))
        assert heard.objects[1] == Reading("epr-avs", copy.word, copy.layout, copy.fields())
        assert heard.problems == ()


class TestJoining:
    def test_a_block_comes_with_its_last_chunk(self):
        listener = Listener()
        data = bytes(range(60))
        first, second, third = chunks(data)
        assert listener.hear(first) == Told(first)
        assert listener.hear(second) == Told(second)
        told = listener.hear(third)
        assert (told.block.data, told.block.kind, told.problems) == (data, "Security_Request", ())
        assert listener.hear(third) == Told(third)
        assert listener.unfinished() == []

    def test_sides_names_and_ordered_sets_are_kept_apart(self):
        ways = [
            {},
            {"source": False},
            {"name": "Security_Response"},
            {"sop": "SOP'", "dfp": False},
            {"sop": "SOP''", "dfp": False},
        ]
        listener = Listener()
        blocks = [bytes([at]) * 40 for at in range(len(ways))]
        pairs = [chunks(data, **way) for data, way in zip(blocks, ways, strict=True)]
        assert all(listener.hear(first).problems == () for first, _ in pairs)
        assert len(listener.unfinished()) == len(ways)
        assert [listener.hear(second).block.data for _, second in pairs] == blocks

    def test_a_chunk_out_of_turn_ends_the_block(self):
        listener = Listener()
        first, second, third = chunks(bytes(60))
        listener.hear(first)
        assert [problem.text for problem in listener.hear(third).problems] == ["chunk 2 came where chunk 1 was due"]
        assert [problem.text for problem in listener.hear(second).problems] == ["chunk 1 came where chunk 0 was due"]
        listener.hear(first)
        again = listener.hear(second)
        assert (again.block, again.problems) == (None, ())
        assert [problem.text for problem in listener.unfinished()] == ["52 of 60 bytes of an extended message came"]

    def test_a_short_last_chunk_still_ends_the_block(self):
        listener = Listener()
        first = chunks(bytes(40))[0]
        second = read_message(frame(head(8, 1, extended=True, power_role=1), inner(40, 1) + b"\1\2"))
        listener.hear(first)
        told = listener.hear(second)
        assert (told.block.data, codes(told.problems)) == (bytes(26) + b"\1\2", ["chunk-short"])
        assert listener.unfinished() == []

    def test_an_unchunked_block_that_is_short_is_told(self):
        whole = read_message(frame(head(8, 0, extended=True), inner(6, chunked=False) + b"abcdef"))
        assert Listener().hear(whole).problems == ()
        assert codes(Listener().hear(whole._replace(data=b"abcde")).problems) == ["block-short"]

    def test_blocks_are_read_by_their_ordered_set(self):
        message = read_message(frame(head(2, 1, extended=True), inner(2) + b"\x37\x01"), "SOP'")
        heard = Listener().hear(message)
        assert heard.block.fields == {"temperature_c": 55, "thermal_shutdown": True}
        assert (heard.problems, heard.objects, heard.offers) == ((), (), ())
        odd = read_message(frame(head(2, 1, extended=True), inner(2) + b"\x37\x03"), "SOP'")
        assert codes(Listener().hear(odd).problems) == ["reserved-bits"]

    @pytest.mark.parametrize(
        ("size", "count", "told"), [(8, 2, []), (7, 1, ["block-length"]), (9, 2, ["block-length"])]
    )
    def test_epr_capabilities(self, size, count, told):
        data = (FIVE.word.to_bytes(4, "little") + NINE.word.to_bytes(4, "little") + b"\1")[:size]
        listener = Listener()
        (message,) = chunks(data, "EPR_Source_Capabilities")
        heard = listener.hear(message)
        assert heard.offers == (FIVE, NINE)[:count] == listener.offers
        assert codes(heard.problems) == told
        assert (heard.block, heard.objects) == (None, ())

    def test_epr_capabilities_have_gaps_and_epr_objects(self):
        words = [FIVE.word, *[0] * 6, fixed(28000, 5000).word]
        data = b"".join(word.to_bytes(4, "little") for word in words)
        for name in ("EPR_Source_Capabilities", "EPR_Sink_Capabilities"):
            listener = Listener()
            heard = [listener.hear(message) for message in chunks(data, name)]
            assert all(told.problems == () for told in heard)
            if name == "EPR_Source_Capabilities":
                assert [offer.position for offer in heard[1].offers] == list(range(1, 9))
            else:
                assert [reading.word for reading in heard[1].objects] == [words[0], words[7]]
                assert listener.offers == ()

    def test_what_is_odd_about_a_sink_s_epr_objects(self):
        words = [0x2002D064, 0x2002D064]
        (message,) = chunks(b"".join(word.to_bytes(4, "little") for word in words), "EPR_Sink_Capabilities")
        heard = Listener().hear(message)
        assert [(problem.code, problem.where) for problem in heard.problems] == [("flags-not-first", "object 2")]
        assert [reading.kind for reading in heard.objects] == ["fixed", "fixed"]

    def test_a_known_offer_that_the_copy_repeats(self):
        listener = Listener()
        listener.offers = (FIVE, Offer.from_word(pps(3300, 11000, 3000).word, 2))
        told = listener.hear(sent("EPR_Request", 0x1004B12C, FIVE.word ^ 1))
        assert codes(told.problems) == ["copy-differs"]
        assert told.problems[0].where == "object 1"
        assert codes(listener.hear(sent("EPR_Request", 0x3004B12C, FIVE.word)).problems) == []


class TestLine:
    def test_resets_have_no_payload_and_no_end(self):
        for sop in line.RESETS:
            assert len(line.packet_bits(b"", sop)) == 64 + 20
        assert len(line.packet_bits(b"", "SOP")) == 64 + 20 + 5

    def test_bits_of_symbols(self):
        assert line.symbol_bits(0b10000) == (0, 0, 0, 0, 1)
        assert line.symbols_of(b"\x2e") == [line.DATA_SYMBOLS[14], line.DATA_SYMBOLS[2]]
        assert line.packet_bits(b"", "SOP")[84:] == [1, 0, 1, 1, 0]
        assert all(isinstance(bit, int) for bit in line.packet_bits(b"\xff", "SOP"))

    def test_complaints(self):
        with pytest.raises(ValueError, match=rf"^no ordered set 'SOP3'; there are {', '.join(line.ORDERED_SETS)}$"):
            line.packet_bits(b"", "SOP3")
        with pytest.raises(ValueError, match=r"^Cable_Reset carries no bytes$"):
            line.packet_bits(b"x", "Cable_Reset")
