"""A capture that others published, and a second decoder typed from the standard's tables with plain shifts.

The capture: "All About USB-C: Replying Low-Level PD", hackaday.com, 2023-02-22; a Source_Capabilities of a real
charger, with its CRC. The CRC is checked against zlib's ``crc32`` as well.
"""

import random
import zlib

import pytest

from pdcheck.bits.crc import RESIDUAL_REFLECTED
from pdcheck.bits.identity import (
    ACTIVE_CABLE_1,
    ACTIVE_CABLE_2,
    ACTIVE_CABLE_R2,
    ID_HEADER_CABLE,
    PASSIVE_CABLE,
    PASSIVE_CABLE_R2,
    VDM_HEADER,
    VPD,
)
from pdcheck.bits.message import read_message
from pdcheck.bits.objects import read_request, read_sink
from pdcheck.bits.offers import Offer
from pdcheck.bits.sequence import Listener

CAPTURE = bytes.fromhex(
    "a1 61  2c 91 01 08  2c d1 02 00  13 c1 03 00  dc b0 04 00  a5 40 06 00  3c 21 dc c0  48 c6 e7 c6"
)


class TestCapture:
    def test_header(self):
        message = read_message(CAPTURE)
        assert message.type == "Source_Capabilities"
        assert message.revision == "3.x"
        assert message.header_fields() == {
            "extended": False,
            "object_count": 6,
            "id": 0,
            "power_role": 1,
            "revision": 2,
            "data_role": 1,
            "type": 1,
        }
        assert message.problems == ()

    def test_offers(self):
        heard = Listener().hear(read_message(CAPTURE))
        assert [
            (offer.position, offer.kind, offer.min_mv, offer.max_mv, offer.current_ma) for offer in heard.offers
        ] == [
            (1, "fixed", 5000, 5000, 3000),
            (2, "fixed", 9000, 9000, 3000),
            (3, "fixed", 12000, 12000, 2750),
            (4, "fixed", 15000, 15000, 2200),
            (5, "fixed", 20000, 20000, 1650),
            (6, "pps", 3300, 11000, 3000),
        ]
        assert [offer.flags for offer in heard.offers] == [("unconstrained_power",), (), (), (), (), ()]
        assert heard.problems == ()

    def test_crc_by_zlib(self):
        message = read_message(CAPTURE)
        assert message.crc_given == message.crc_computed == zlib.crc32(CAPTURE[:26]) == 0xC6E7C648
        assert message.crc_ok is True
        assert zlib.crc32(CAPTURE) == RESIDUAL_REFLECTED
        assert message.on_wire() == CAPTURE

    @pytest.mark.parametrize("place", range(16, 8 * 26))
    def test_any_flipped_bit_is_a_bad_crc_and_the_offers_still_read(self, place):
        frame = bytearray(CAPTURE)
        frame[place // 8] ^= 1 << place % 8
        heard = Listener().hear(read_message(bytes(frame)))
        assert heard.message.crc_ok is False
        assert "crc" in [problem.code for problem in heard.problems]
        assert len(heard.offers) == 6


def bits(word, high, low):
    return (word >> low) & ((1 << (high - low + 1)) - 1)


def source(word):
    """Kind and figures of a source's object."""
    top = word >> 30
    if top == 0:
        return "fixed", {
            "dual_role_power": word >> 29 & 1,
            "usb_suspend_supported": word >> 28 & 1,
            "unconstrained_power": word >> 27 & 1,
            "usb_communications_capable": word >> 26 & 1,
            "dual_role_data": word >> 25 & 1,
            "unchunked_supported": word >> 24 & 1,
            "epr_capable": word >> 23 & 1,
            "peak_current": word >> 20 & 3,
            "voltage_mv": (word >> 10 & 0x3FF) * 50,
            "current_ma": (word & 0x3FF) * 10,
        }
    if top == 1:
        return "battery", {
            "max_voltage_mv": (word >> 20 & 0x3FF) * 50,
            "min_voltage_mv": (word >> 10 & 0x3FF) * 50,
            "power_mw": (word & 0x3FF) * 250,
        }
    if top == 2:
        return "variable", {
            "max_voltage_mv": (word >> 20 & 0x3FF) * 50,
            "min_voltage_mv": (word >> 10 & 0x3FF) * 50,
            "current_ma": (word & 0x3FF) * 10,
        }
    return adjustable(word)


def adjustable(word):
    code = word >> 28 & 3
    if code == 0:
        return "pps", {
            "pps_power_limited": word >> 27 & 1,
            "max_voltage_mv": (word >> 17 & 0xFF) * 100,
            "min_voltage_mv": (word >> 8 & 0xFF) * 100,
            "current_ma": (word & 0x7F) * 50,
        }
    if code == 1:
        return "epr-avs", {
            "peak_current": word >> 26 & 3,
            "max_voltage_mv": (word >> 17 & 0x1FF) * 100,
            "min_voltage_mv": (word >> 8 & 0xFF) * 100,
            "pdp_w": word & 0xFF,
        }
    if code == 2:
        return "spr-avs", {
            "peak_current": word >> 26 & 3,
            "current_15v_ma": (word >> 10 & 0x3FF) * 10,
            "current_20v_ma": (word & 0x3FF) * 10,
        }
    return "augmented-reserved", {}


def sink(word):
    kind, figures = source(word)
    if kind == "fixed":
        return kind, {
            "dual_role_power": word >> 29 & 1,
            "higher_capability": word >> 28 & 1,
            "unconstrained_power": word >> 27 & 1,
            "usb_communications_capable": word >> 26 & 1,
            "dual_role_data": word >> 25 & 1,
            "fast_role_swap": word >> 23 & 3,
            "voltage_mv": (word >> 10 & 0x3FF) * 50,
            "current_ma": (word & 0x3FF) * 10,
        }
    for source_only in ("pps_power_limited", "peak_current"):
        figures.pop(source_only, None)
    return kind, figures


def request(word, form):
    figures = {
        "position": word >> 28,
        "capability_mismatch": word >> 26 & 1,
        "usb_communications_capable": word >> 25 & 1,
        "no_usb_suspend": word >> 24 & 1,
        "unchunked_supported": word >> 23 & 1,
        "epr_capable": word >> 22 & 1,
    }
    if form in ("fixed", "battery"):
        figures["give_back"] = word >> 27 & 1
        step, unit = (10, "current_ma") if form == "fixed" else (250, "power_mw")
        figures[f"operating_{unit}"] = (word >> 10 & 0x3FF) * step
        figures[f"max_operating_{unit}"] = (word & 0x3FF) * step
    else:
        figures["output_voltage_mv"] = (word >> 9 & 0xFFF) * (20 if form == "pps" else 25)
        figures["operating_current_ma"] = (word & 0x7F) * 50
    return figures


def passive(word):
    return {
        "hardware_version": word >> 28,
        "firmware_version": bits(word, 27, 24),
        "vdo_version": bits(word, 23, 21),
        "plug_type": bits(word, 19, 18),
        "epr_capable": bits(word, 17, 17),
        "latency": bits(word, 16, 13),
        "termination": bits(word, 12, 11),
        "max_voltage": bits(word, 10, 9),
        "current": bits(word, 6, 5),
        "speed": bits(word, 2, 0),
    }


def active(word):
    more = {"sbu_supported": (8, 8), "sbu_type": (7, 7), "vbus_through": (4, 4), "sop2_present": (3, 3)}
    return passive(word) | {key: bits(word, *place) for key, place in more.items()}


def revision_2(word, read):
    figures = read(word)
    for newer in ("vdo_version", "epr_capable", "max_voltage", "sbu_supported", "sbu_type"):
        figures.pop(newer, None)
    lanes = {"sstx1": 10, "sstx2": 9, "ssrx1": 8, "ssrx2": 7, "vbus_through": 4, "sop2_present": 3}
    return figures | {key: word >> place & 1 for key, place in lanes.items()}


def active_2(word):
    places = {
        "operating_temperature_c": (31, 24),
        "shutdown_temperature_c": (23, 16),
        "u3_power": (14, 12),
        "u3_to_u0": (11, 11),
        "physical": (10, 10),
        "active_element": (9, 9),
        "usb4": (8, 8),
        "usb2_hub_hops": (7, 6),
        "usb2": (5, 5),
        "usb32": (4, 4),
        "lanes": (3, 3),
        "optically_isolated": (2, 2),
        "usb4_asymmetric": (1, 1),
        "generation": (0, 0),
    }
    return {key: bits(word, *place) for key, place in places.items()}


def vpd(word):
    return {
        "hardware_version": word >> 28,
        "firmware_version": bits(word, 27, 24),
        "vdo_version": bits(word, 23, 21),
        "max_voltage": bits(word, 16, 15),
        "charge_through_current": bits(word, 14, 14),
        "vbus_impedance_mohm": bits(word, 12, 7) * 2,
        "ground_impedance_mohm": bits(word, 6, 1),
        "charge_through": word & 1,
    }


def id_header(word):
    return {
        "usb_host": word >> 31,
        "usb_device": bits(word, 30, 30),
        "product_type": bits(word, 29, 27),
        "modal_operation": bits(word, 26, 26),
        "connector_type": bits(word, 22, 21),
        "vendor_id": word & 0xFFFF,
    }


def vdm(word):
    return {
        "svid": word >> 16,
        "structured": bits(word, 15, 15),
        "version_major": bits(word, 14, 13),
        "version_minor": bits(word, 12, 11),
        "position": bits(word, 10, 8),
        "command_type": bits(word, 7, 6),
        "command": bits(word, 4, 0),
    }


RANDOM = random.Random(1903)
WORDS = [RANDOM.getrandbits(32) for _ in range(5000)] + [1 << place for place in range(32)] + [0, 0xFFFFFFFF]
KIND_KEYS = {"supply", "augmented"}


def without_reserved(fields):
    return {key: value for key, value in fields.items() if not key.startswith("reserved") and key not in KIND_KEYS}


def test_source_objects():
    for word in WORDS:
        kind, figures = source(word)
        offer = Offer.from_word(word)
        assert (offer.kind, without_reserved(offer.fields())) == (kind, figures), hex(word)
        assert offer.layout.encode(offer.fields()) == word


def test_sink_objects():
    for word in WORDS:
        kind, figures = sink(word)
        reading = read_sink(word, 1)
        assert (reading.kind, without_reserved(reading.fields)) == (kind, figures), hex(word)


@pytest.mark.parametrize("form", ["fixed", "battery", "pps", "avs"])
def test_requests(form):
    for word in WORDS:
        figures = request(word, form)
        assert without_reserved(read_request(word, form=form).fields) == figures, hex(word)
        short = without_reserved(read_request(word, form=form, revision="2.0").fields)
        # Revision 2.0 has no adjustable offers, so a request for one is read as of a later one.
        bits = 15 if form in ("pps", "avs") else 7
        assert short == figures | {"position": word >> 28 & bits}, hex(word)


@pytest.mark.parametrize(
    ("table", "second"),
    [
        (PASSIVE_CABLE, passive),
        (ACTIVE_CABLE_1, active),
        (PASSIVE_CABLE_R2, lambda word: revision_2(word, passive)),
        (ACTIVE_CABLE_R2, lambda word: revision_2(word, active)),
        (ACTIVE_CABLE_2, active_2),
        (VPD, vpd),
        (ID_HEADER_CABLE, id_header),
        (VDM_HEADER, vdm),
    ],
    ids=lambda value: getattr(value, "name", ""),
)
def test_cable_words(table, second):
    for word in WORDS:
        assert without_reserved(table.decode(word)) == second(word), hex(word)
