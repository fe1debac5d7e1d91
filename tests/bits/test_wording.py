"""What is odd about words, messages and blocks, and what is refused, kept as text: code, place and words of each.

That each is told where it is due, and not beside it, other tests hold. ``python -m tests.bits.test_wording`` writes the
present text; read the difference before you keep it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from pdcheck.bits.block_reading import read_block
from pdcheck.bits.cable import read_cable_words
from pdcheck.bits.capabilities import encode_capabilities
from pdcheck.bits.catalogue import read_data_objects
from pdcheck.bits.crc import with_crc
from pdcheck.bits.header import EXTENDED_HEADER, HEADER
from pdcheck.bits.message import build_extended, build_message, make_header, read_message
from pdcheck.bits.objects import (
    read_epr_mode,
    read_identity,
    read_request,
    read_sink,
    read_sources,
    read_vendor,
)
from pdcheck.bits.offers import Offer, battery, fixed, pps, spr_avs, variable
from pdcheck.bits.power import REQUEST_WORDS
from pdcheck.bits.problems import Problem
from pdcheck.bits.sequence import Listener
from pdcheck.errors import InputError

TEXT = Path(__file__).parent / "wording.txt"

FIVE, NINE = fixed(5000, 3000), fixed(9000, 3000)
OFFERS = (
    FIVE,
    fixed(20000, 3000, 2),
    battery(6000, 12000, 30000, 3),
    spr_avs(3000, 2250, 4),
    pps(3300, 11000, 3000, 5),
    Offer.from_word(0xF0000000, 6),
    fixed(28000, 5000, 8),
)


def head(code: int, count: int = 0, **fields: Any) -> int:
    return HEADER.encode({"type": code, "object_count": count, "revision": 2, **fields})


def bare(header: int, body: bytes = b"", sop: str = "SOP") -> Iterable[Problem]:
    return read_message(header.to_bytes(2, "little") + body, sop).problems


def block(inner: dict[str, Any], body: bytes) -> bytes:
    """A Security_Request in one frame, its extended header as given."""
    body = EXTENDED_HEADER.encode(inner).to_bytes(2, "little") + body
    body += bytes(-len(body) % 4) if inner.get("chunked") else b""
    outer = make_header("Security_Request", 0, extended=True) | (len(body) // 4 if inner.get("chunked") else 0) << 12
    return with_crc(outer.to_bytes(2, "little") + body)


def heard(*frames: bytes, offers: tuple[Offer, ...] = ()) -> list[Problem]:
    listener = Listener()
    listener.offers = offers
    problems = [problem for frame in frames for problem in listener.hear(read_message(frame)).problems]
    return problems + listener.unfinished()


def sent(name: str, *words: int) -> bytes:
    return build_message(make_header(name, len(words)), words)


def long(name: str, data: bytes) -> list[bytes]:
    return build_extended(make_header(name, 0, extended=True), data)


def ask(position: int, form: str = "fixed", **values: int) -> Iterable[Problem]:
    return read_request(REQUEST_WORDS[form].encode({"position": position, **values}), OFFERS).problems


def listed(*offers: Offer, epr: bool = False) -> Iterable[Problem]:
    return read_sources([offer.word for offer in offers], epr_message=epr)[1]


def of(readings: Iterable[Any]) -> Iterable[Problem]:
    return [problem for reading in readings for problem in reading.problems]


def cable(*words: int) -> Iterable[Problem]:
    return read_cable_words(words).problems


GAPS = [Offer.from_word(0)] * 6
NEW, OLD, PASSIVE, ACTIVE, DEVICE = 0xFF00A841, 0xFF008041, 0x1800EE01, 0x2000EE01, 0x3000EE01
WRONG_BIT = (0x1041).to_bytes(2, "little") + bytes.fromhex("bb6cbba8")

CASES: dict[str, Callable[[], Any]] = {
    "control message 25": lambda: bare(head(25)),
    "data message 13": lambda: bare(head(13, 1), bytes(4)),
    "extended message 31": lambda: bare(head(31, 1, extended=True), bytes.fromhex("04800000")),
    "revision 3": lambda: bare(head(3, revision=3)),
    "bit 4 in revision 2": lambda: bare(head(0x13, revision=1)),
    "extended in revision 2": lambda: bare(head(2, 1, revision=1, extended=True), bytes.fromhex("02800000")),
    "extended in revision 1": lambda: bare(head(2, 1, revision=0, extended=True), bytes.fromhex("02800000")),
    "a data role on a cable": lambda: bare(head(3, data_role=1), sop="SOP''"),
    "a wrong CRC": lambda: read_message(bytes.fromhex("4100bb6cbba9")).problems,
    "a wrong bit in the header": lambda: read_message(WRONG_BIT).problems,
    "no extended header": lambda: bare(head(2, extended=True)),
    "a data size of 261": lambda: heard(block({"chunked": True, "data_size": 261}, bytes(26)))[:1],
    "reserved bit of the extended header": lambda: heard(
        block({"chunked": True, "data_size": 4, "reserved_9": 1}, b"abcd")
    ),
    "a short chunk": lambda: heard(block({"chunked": True, "data_size": 20}, bytes(6))),
    "padding": lambda: heard(block({"chunked": True, "data_size": 4}, b"abcd\1\2")),
    "no bytes": lambda: read_message(b""),
    "one byte": lambda: read_message(b"\x41"),
    "a length that does not fit": lambda: read_message(bytes.fromhex("a16100")),
    "no such control message": lambda: make_header("Status", 0),
    "no such data message": lambda: make_header("Status", 1),
    "no such extended message": lambda: make_header("Accept", 1, extended=True),
    "no such revision": lambda: make_header("Accept", 0, revision="4.0"),
    "too long a block": lambda: build_extended(make_header("Status", 0, extended=True), bytes(261)),
    "a request of two objects": lambda: heard(sent("Request", 0x1004B12C, 1), offers=OFFERS),
    "an EPR request of one object": lambda: heard(sent("EPR_Request", 0x1004B12C), offers=OFFERS),
    "an EPR request of three objects": lambda: heard(sent("EPR_Request", 0x1004B12C, FIVE.word, 1), offers=OFFERS),
    "a copy that differs": lambda: heard(sent("EPR_Request", 0x1004B12C, FIVE.word | 1), offers=OFFERS),
    "an unchunked block cut short": lambda: (
        Listener().hear(read_message(block({"data_size": 9}, b"abcdefghi"))._replace(data=b"abcdefgh")).problems
    ),
    "objects cut short": lambda: heard(*long("EPR_Source_Capabilities", FIVE.word.to_bytes(4, "little") + b"\1")),
    "a second chunk first": lambda: heard(long("Security_Request", bytes(60))[1]),
    "a third chunk second": lambda: heard(*long("Security_Request", bytes(60))[::2]),
    "a chunk that never came": lambda: heard(*long("Security_Request", bytes(60))[:2]),
    "a sink's EPR object reversed": lambda: heard(
        *long("EPR_Sink_Capabilities", bytes(28) + bytes.fromhex("009678d0"))
    ),
    "a status of another length": lambda: heard(*long("Status", bytes(3))),
    # Objects of sources and their lists.
    "reserved bits of an offer": lambda: listed(FIVE, Offer.from_word(NINE.word | 1 << 22)),
    "an offer of a reserved kind": lambda: listed(FIVE, Offer.from_word(0xF0000000)),
    "an offer of no voltage": lambda: listed(FIVE, battery(0, 9000, 10000)),
    "a reversed range": lambda: listed(FIVE, pps(11000, 3300, 3000)),
    "a wide variable supply": lambda: listed(FIVE, variable(4750, 6000, 1000)),
    "above 48 V": lambda: listed(FIVE, *GAPS, fixed(48050, 5000), epr=True),
    "above 5 A": lambda: listed(FIVE, fixed(20000, 5010)),
    "above 5 A at 20 V": lambda: listed(FIVE, spr_avs(3000, 5250)),
    "5 V without current": lambda: listed(fixed(5000, 0)),
    "9 V without current": lambda: listed(FIVE, fixed(9000, 0)),
    "flags in the second object": lambda: listed(FIVE, fixed(9000, 3000, dual_role_power=True, dual_role_data=True)),
    "EPR among SPR": lambda: listed(FIVE, fixed(28000, 5000)),
    "9 V first": lambda: listed(NINE),
    "eight objects": lambda: listed(FIVE, *(fixed(9000 + 50 * n, 3000) for n in range(7))),
    "out of order": lambda: listed(FIVE, fixed(15000, 3000), NINE),
    "an object twice": lambda: listed(FIVE, NINE, NINE),
    "EPR too low": lambda: listed(FIVE, fixed(28000, 5000), epr=True),
    "SPR too high": lambda: listed(FIVE, *GAPS, NINE, epr=True),
    "EPR offers alone": lambda: encode_capabilities([fixed(28000, 5000)]),
    "eight SPR offers": lambda: encode_capabilities([fixed(5000, 10 * n) for n in range(1, 9)]),
    "five EPR offers": lambda: encode_capabilities([FIVE, *(fixed(28000, 10 * n) for n in range(1, 6))]),
    # Objects of sinks.
    "a sink of no voltage": lambda: read_sink(0x00000064, 1).problems,
    "a sink's reversed range": lambda: read_sink(0xC0426E0A, 2).problems,
    "a sink's current": lambda: read_sink(0x000191F5, 1).problems,
    "a sink's reserved kind": lambda: read_sink(0xF0000001, 3).problems,
    "a sink's reserved bits": lambda: read_sink(0xC8DC3232, 2).problems,
    "a sink's flags": lambda: read_sink(0x3082D064, 2).problems,
    # Requests.
    "no offer known": lambda: read_request(0x1004B12C).problems,
    "an offer that is not there": lambda: ask(7),
    "an offer that cannot be told": lambda: ask(6),
    "position zero": lambda: ask(0),
    "a request above 5 A": lambda: ask(1, operating_current_ma=5010, max_operating_current_ma=5010),
    "off the step": lambda: ask(4, "avs", output_voltage_mv=9025, operating_current_ma=1000),
    "EPR in a Request": lambda: ask(8),
    "outside the range": lambda: ask(5, "pps", output_voltage_mv=11020, operating_current_ma=1000),
    "above the current": lambda: ask(5, "pps", output_voltage_mv=11000, operating_current_ma=3050),
    "above the power": lambda: ask(3, "battery", operating_power_mw=30250),
    "reserved bits of a request": lambda: read_request(0x10300000, OFFERS).problems,
    # Vendor-defined.
    "EPR mode of a reserved action": lambda: read_epr_mode(0x06000001).problems,
    "an SVID after the end": lambda: of(read_vendor([0xFF00A042, 0xFF010000, 0x80870000])),
    "a reserved command": lambda: of(read_vendor([0xFF00A067])),
    "an odd identity of a cable": lambda: of(read_identity([0x3C000000 | 1 << 21, 0, 0, 0], "3.x")),
    "an odd passive cable": lambda: of(read_identity([PASSIVE, 0, 0, 0x00F00000], "3.x")),
    "an odd identity of a port": lambda: of(read_identity([0x38000000, 0, 0, 0, 1, 0x40000020], "3.x", "SOP")),
    # Cables.
    "no words": lambda: read_cable_words([]),
    "no revision of that name": lambda: read_cable_words([PASSIVE], "4"),
    "an answer to another question": lambda: cable(NEW + 1, PASSIVE, 0, 0, 0),
    "an answer to a reserved question": lambda: cable(NEW + 6, PASSIVE, 0, 0, 0),
    "NAK": lambda: cable(NEW + 0x40),
    "BUSY": lambda: cable(NEW + 0x80),
    "a request in place of an answer": lambda: cable(NEW - 0x40),
    "a header alone": lambda: cable(NEW),
    "a product that is no cable": lambda: cable(NEW, 0x0000EE01, 0, 0, 0),
    "a product of a reserved type": lambda: cable(NEW, 0x0800EE01, 0, 0, 0),
    "no cable word": lambda: cable(NEW, PASSIVE, 0, 0),
    "reserved bits of a VDM header": lambda: cable(NEW | 0x20, PASSIVE, 0, 0, 0x10082040),
    "a reserved current": lambda: cable(NEW, PASSIVE, 0, 0, 0x10082060),
    "an active cable without VBUS": lambda: cable(NEW, ACTIVE, 0, 0, 0x10083040, 0),
    "a passive cable without VBUS": lambda: cable(OLD, PASSIVE, 0, 0, 0x10082040),
    "a withdrawn voltage": lambda: cable(NEW, PASSIVE, 0, 0, 0x10082240),
    "50 V without EPR": lambda: cable(NEW, PASSIVE, 0, 0, 0x10082640),
    "50 V without EPR and header": lambda: cable(PASSIVE, 0, 0, 0x10082640),
    "EPR without 50 V": lambda: cable(NEW, PASSIVE, 0, 0, 0x100A2040),
    "EPR without 5 A": lambda: cable(NEW, PASSIVE, 0, 0, 0x100A2620),
    "a VCONN-powered device": lambda: cable(NEW, DEVICE, 0, 0, 0x10000001),
    "a VCONN-powered device that passes nothing on": lambda: cable(NEW, DEVICE, 0, 0, 0x10000000),
    # Other objects and blocks.
    "objects without a table": lambda: of(read_data_objects("reserved data 13", [1, 2])),
    "two revisions": lambda: of(read_data_objects("Revision", [0x32110000, 0])),
    "test data alone": lambda: of(read_data_objects("BIST", [0x80000000])),
    "an alert against itself": lambda: of(read_data_objects("Alert", [0x04000002])),
    "a battery against itself": lambda: of(read_data_objects("Battery_Status", [0x00000400])),
    "a reserved mode": lambda: of(read_data_objects("BIST", [0x40000001])),
    "a block without a table": lambda: read_block("reserved extended 31", b"\1").problems,
    "a short block": lambda: read_block("Status", bytes(4)).problems,
    "a long block": lambda: read_block("Status", bytes(8)).problems,
    "reserved bits of a block": lambda: (
        read_block("Source_Capabilities_Extended", bytes(13) + b"\xf8" + bytes(11)).problems
    ),
    "reserved codes of a block": lambda: (
        read_block("Source_Capabilities_Extended", bytes(10) + b"\3" + bytes(9) + b"\7" + bytes(4)).problems
    ),
    "fewer countries than said": lambda: read_block("Country_Codes", b"\3\0DEFR").problems,
    "countries in small letters": lambda: read_block("Country_Codes", b"\2\0DEfr").problems,
    "a text without an end": lambda: read_block("Manufacturer_Info", b"\1\0\1\0Pier").problems,
    "a text with a tail": lambda: read_block("Manufacturer_Info", b"\1\0\1\0Pier\0\0x").problems,
    "a text that does not print": lambda: read_block("Manufacturer_Info", b"\1\0\1\0Pi\x7f\0").problems,
}


def _told(make: Callable[[], Any]) -> list[str]:
    try:
        problems = make()
    except InputError as refused:
        return [f"refused [{refused.where}] {refused.what} | {refused.expected}"]
    return [f"{problem.code} [{problem.where}] {problem.text}" for problem in problems] or ["nothing odd"]


def text() -> str:
    return "\n".join("\n".join([f"== {name}", *_told(make)]) for name, make in CASES.items()) + "\n"


def test_what_is_told_reads_as_it_did() -> None:
    assert text() == TEXT.read_text(encoding="utf-8"), "where it should: python -m tests.bits.test_wording"


def test_each_case_is_odd() -> None:
    for name, make in CASES.items():
        assert "nothing odd" not in _told(make), name


def test_a_problem_as_one_line() -> None:
    assert str(Problem("code", "text")) == "text"
    assert str(Problem("code", "text", "object 1")) == "object 1: text"


if __name__ == "__main__":
    TEXT.write_text(text(), encoding="utf-8")
