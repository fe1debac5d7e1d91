"""Objects of sinks, of EPR mode and of vendors; cable words in the layouts of both revisions."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.cable import read_cable_words
from pdcheck.bits.identity import PASSIVE_CABLE, PASSIVE_CABLE_R2
from pdcheck.bits.objects import read_epr_mode, read_identity, read_sink, read_vendor
from pdcheck.bits.power import SINK_WORDS
from pdcheck.errors import InputError

words32 = st.integers(0, 0xFFFFFFFF)
PASSIVE_ID, ACTIVE_ID, VPD_ID, PORT_ID = 0x18000000, 0x20000000, 0x30000000, 0x10000000
ACK_NEW, ACK_OLD, NAK = 0xFF00A041, 0xFF008041, 0xFF00A081


def told(reading):
    return [problem.code for problem in reading.problems]


def kinds(readings):
    return [reading.kind for reading in readings]


class TestSink:
    def test_fixed(self):
        reading = read_sink(
            SINK_WORDS["fixed"].encode({"voltage_mv": 5000, "current_ma": 1500, "fast_role_swap": 2}), 1
        )
        assert reading.fields["current_ma"] == 1500
        assert reading.meanings()["fast_role_swap"] == "1.5 A at 5 V"
        assert told(reading) == []

    @pytest.mark.parametrize(
        ("code", "odd", "right"),
        [
            ("zero-voltage", read_sink(0x00000064, 1), read_sink(0x00019064, 1)),
            ("range-reversed", read_sink(0xC0426E0A, 2), read_sink(0xC0DC210A, 2)),
            ("over-5a", read_sink(0x000191F5, 1), read_sink(0x000191F4, 1)),
            ("reserved-bits", read_sink(0x00719064, 1), read_sink(0x01819064, 1)),
            ("reserved-bits", read_sink(0xC8DC3232, 2), read_sink(0xC0DC3232, 2)),
            ("reserved-bits", read_sink(0xE4032096, 2), read_sink(0xE0032096, 2)),
            ("reserved-bits", read_sink(0xD6309664, 2), read_sink(0xD2309664, 2)),
            ("reserved-kind", read_sink(0xF0000000, 2), read_sink(0xE0032096, 2)),
            ("flags-not-first", read_sink(0x2002D064, 2), read_sink(0x20019064, 1)),
            ("flags-not-first", read_sink(0x0082D064, 2), read_sink(0x0002D064, 2)),
        ],
    )
    def test_each_oddity_is_told_and_its_neighbour_is_not(self, code, odd, right):
        assert code in told(odd)
        assert code not in told(right)

    @given(words32, st.integers(1, 11))
    def test_any_word_reads_and_encodes_back(self, word, position):
        reading = read_sink(word, position)
        assert reading.layout.encode(reading.fields) == word


class TestEprMode:
    def test_entry_and_failure(self):
        entered = read_epr_mode(0x01640000)
        assert (entered.meanings()["action"], entered.fields["data"]) == ("Enter", 100)
        assert told(read_epr_mode(0x06000000)) == ["reserved-code"]
        assert told(read_epr_mode(0x01640001)) == ["reserved-bits"]


class TestVendor:
    @pytest.mark.parametrize(
        ("head", "found"),
        [
            (ACK_NEW, ["vdm-header", "id-header", "cert-stat", "product", "passive-cable"]),
            (NAK, ["vdm-header"] + ["vendor-data"] * 4),
            (0xFF00A001, ["vdm-header"] + ["vendor-data"] * 4),
            (0xFF01A041, ["vdm-header"] + ["vendor-data"] * 4),
            (0x12340041, ["vdm-header-unstructured"] + ["vendor-data"] * 4),
        ],
    )
    def test_only_an_acknowledged_identity_is_an_identity(self, head, found):
        assert kinds(read_vendor([head, PASSIVE_ID, 0, 0, 0x11082032])) == found

    @pytest.mark.parametrize(
        ("head", "product", "found"),
        [
            (ACK_NEW, PASSIVE_ID, ["passive-cable", "unread"]),
            (ACK_NEW, ACTIVE_ID, ["active-cable", "active-cable-2"]),
            (ACK_OLD, ACTIVE_ID, ["active-cable", "unread"]),
            (ACK_NEW, VPD_ID, ["vpd", "unread"]),
            (ACK_NEW, 0, ["unread", "unread"]),
        ],
    )
    def test_the_product_type_decides_what_follows(self, head, product, found):
        assert kinds(read_vendor([head, product, 0, 0, 0x11082052, 0x11111111]))[4:] == found

    def test_the_words_of_a_port(self):
        both = [PORT_ID, 0, 0, 0x60000000, 0, 0x40000000]
        assert kinds(read_identity(both, "3.x", "SOP"))[3:] == ["ufp", "padding", "dfp"]
        assert kinds(read_identity(both[:4], "3.x", "SOP"))[3:] == ["ufp"]
        assert kinds(read_identity([0x01800000, 0, 0, 0x40000000], "3.x", "SOP"))[3:] == ["dfp"]

    def test_svids_end_at_zero(self):
        read = read_vendor([0xFF00A042, 0xFF018087, 0x00000000])
        assert [reading.fields["svids"] for reading in read[1:]] == [[0xFF01, 0x8087], []]
        assert all(not reading.problems for reading in read)
        odd = read_vendor([0xFF00A042, 0xFF010000, 0x80870000])
        assert [reading.fields["svids"] for reading in odd[1:]] == [[0xFF01], []]
        assert told(odd[2]) == ["after-end"]
        assert read_vendor([0xFF00A002, 0xFF018087])[1].kind == "vendor-data"

    def test_modes_are_words_with_their_position(self):
        read = read_vendor([0x8087A043, 0x00001C46, 0x00000001])
        assert [(reading.kind, reading.fields["position"]) for reading in read[1:]] == [("mode", 1), ("mode", 2)]

    def test_displayport_has_words_of_its_own(self):
        [_, mode] = read_vendor([0xFF01A043, 0x00001C46])
        # Pin assignments C, D and E as a DFP_D's receptacle, DisplayPort rates, UFP_D or DFP_D as bits 1..0 say.
        assert (mode.kind, mode.fields["dfp_d_pins"], mode.meanings()["capability"]) == (
            "displayport-mode",
            0x1C,
            "DFP_D",
        )
        [_, status] = read_vendor([0xFF01A050, 0x0000009A])
        assert (status.kind, status.meanings()["hpd"], status.meanings()["connected"]) == (
            "displayport-status",
            "high",
            "UFP_D",
        )
        [_, configured] = read_vendor([0xFF01A011, 0x00000406])
        assert (configured.kind, configured.fields["pins"]) == ("displayport-configure", 4)

    def test_an_alternate_mode_adapter_is_no_ufp(self):
        # The layout of PD R2.0, from memory: VCONN power in bits 7..5, required in 4, VBUS in 3, speed in 2..0.
        for header, name in ((0xFF008041, "ama-r2"), (0xFF00A041, "ama")):
            adapter = read_vendor([header, 0x6C000000, 0, 0, 0x11000033], "SOP")[4]
            assert (adapter.kind, adapter.layout.name) == ("ama", name)
            assert adapter.meanings()["vconn_power"] == "1.5 W"
            assert adapter.fields["vconn_required"]
            assert not adapter.fields["vbus_required"]

    @given(st.lists(words32, max_size=7), st.sampled_from(["SOP", "SOP'", "SOP''"]))
    def test_any_words_read_and_encode_back(self, words, sop):
        readings = read_vendor(words, sop)
        assert [reading.word for reading in readings] == words
        for reading in readings:
            if reading.layout is not None:
                assert reading.layout.encode(reading.fields) == reading.word
                assert "layout" in reading.marks() or reading.kind == "padding"


class TestRevisions:
    """One word, two layouts: bits 10..7, 4 and 3 mean lanes, VBUS and a second controller in Revision 2.0."""

    WORD = 0x000827B1

    def test_the_same_word_read_both_ways(self):
        new, old = PASSIVE_CABLE.decode(self.WORD), PASSIVE_CABLE_R2.decode(self.WORD)
        assert new["max_voltage"] == 3
        assert "max_voltage" not in old
        assert (old["sstx1"], old["sstx2"], old["ssrx1"], old["ssrx2"]) == (1, 1, 1, 1)
        assert (old["vbus_through"], old["sop2_present"]) == (True, False)
        assert old["current"] == new["current"] == 1

    def test_the_structured_version_decides(self):
        old = read_cable_words([ACK_OLD, PASSIVE_ID, 0, 0, self.WORD])
        assert (old.revision, old.current_ma, old.voltage_mv) == ("2.0", 3000, 20000)
        new = read_cable_words([ACK_NEW, PASSIVE_ID, 0, 0, self.WORD])
        assert (new.revision, new.voltage_mv, new.epr) == ("3.x", 50000, False)

    def test_without_the_header_50_v_is_believed_with_epr_only(self):
        bare = read_cable_words([PASSIVE_ID, 0, 0, self.WORD])
        assert (bare.voltage_mv, bare.decided_by) == (20000, "assumed, no VDM header")
        assert "50v-not-epr" in [problem.code for problem in bare.problems]
        assert read_cable_words([PASSIVE_ID, 0, 0, 0x000A2640]).voltage_mv == 50000

    @given(st.lists(words32, min_size=1, max_size=7), st.sampled_from([None, "2.0", "3.x"]))
    def test_any_words_make_a_cable(self, words, revision):
        cable = read_cable_words(words, revision)
        assert cable.current_ma in (0, 1500, 3000, 5000)
        assert cable.voltage_mv in (20000, 50000)
        assert not cable.epr or (cable.current_ma, cable.voltage_mv) == (5000, 50000)

    def test_what_is_no_revision_is_refused(self):
        with pytest.raises(InputError, match="revision"):
            read_cable_words([PASSIVE_ID], "4")
        with pytest.raises(InputError, match="no words"):
            read_cable_words([])
