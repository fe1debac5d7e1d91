"""The table of planted faults, and the conversation of each by its seed."""

from __future__ import annotations

import random

from tests.contract.written import doings
from tests.contract.written import faults as f
from tests.contract.written import faults_in_course as m
from tests.contract.written import faults_in_epr as fe
from tests.contract.written import faults_in_time as ft
from tests.contract.written import faults_in_words as w
from tests.contract.written.faults import Fault
from tests.contract.written.line import Row, Wire
from tests.contract.written.parties import MS, UNCONSTRAINED, Session, battery, epr_avs, fixed, pps, variable

_ANY = ("plain", "pps", "avs", "dual")
_PPS, _AVS, _EPR = ("pps",), ("avs",), ("epr",)
_SOON = (2 * MS, 9 * MS)


def _fault(
    name: str,
    says: str,
    do: object,
    kinds: tuple[str, ...] = _ANY,
    cables: tuple[str, ...] = ("3A", "none", "unmarked"),
    **more: object,
) -> Fault:
    return Fault(name, says, do, kinds, cables, **more)  # type: ignore[arg-type]


def _of_cable(name: str, says: str, do: object, **more: object) -> Fault:
    return Fault(name, says, do, ("plain", "pps"), ("3A",), attached=False, **more)  # type: ignore[arg-type]


def _of_epr(name: str, says: str, do: object, cables: tuple[str, ...] = ("epr",), **more: object) -> Fault:
    return Fault(name, says, do, _EPR, cables, **more)  # type: ignore[arg-type]


FIVE = fixed(5000, 3000, UNCONSTRAINED)

PLANTED: tuple[Fault, ...] = (
    # the line
    _fault("wrong CRC", "CRC", f.bad_crc),
    _fault("count goes wrong", "MessageID", f.counts_on),
    _fault("no GoodCRC", "no GoodCRC", f.no_acknowledgement),
    _fault("GoodCRC of another message", "GoodCRC.*MessageID", f.wrong_acknowledgement),
    _fault("GoodCRC late", "GoodCRC began", f.acknowledged_late),
    _fault("too many tries", "sent again", f.tries),
    _fault("tried again late", "sent again", f.tried_at(4 * MS, 7 * MS)),
    _fault("tried again soon", "sent again", f.tried_at(0.2 * MS, 0.5 * MS)),
    # the header
    *(
        _fault(f"role of {which}", "Port Power Role", f.role_of(which))
        for which in ("list", "request", "accept", "ready", "GoodCRC")
    ),
    _fault("role of a question", "Port Power Role", f.role_of_question),
    _fault("role of an answer", "Port Power Role", f.role_of_answer),
    _fault("plug bit of the question", "Cable Plug", f.plug_bit(False), ("plain",), ("3A",)),
    _fault("plug bit of the answer", "Cable Plug", f.plug_bit(True), ("plain",), ("3A",)),
    _fault("both DFP", "DFP.*already|UFP.*already", f.both_dfp, ("plain",), ("none",)),
    _fault("data role flips", "no DR_Swap", f.role_flips),
    _fault("data swap not carried out", "DFP|UFP", f.swap_undone),
    _fault("source stays at 3.x", "Revision 3.x|Revision", f.stays_modern, sink="2.0"),
    _fault("sink changes revision", "Revision 2.0", f.changes_revision("sink")),
    _fault("source changes revision", "Revision 2.0", f.changes_revision("source")),
    # words of lists
    _fault("28 V among SPR", "28 V", f.listing(fixed(28000, 3000))),
    _fault("48 V among SPR", "48 V", f.listing(fixed(20000, 3000), fixed(48000, 3000))),
    _fault("50 V", "50 V", f.listing(fixed(20000, 3000), fixed(50000, 3000))),
    _fault("PPS to 25 V", "25 V", f.listing(pps(5000, 25000, 3000))),
    _fault("PPS reversed", "above", f.listing(pps(11000, 5000, 3000))),
    _fault("variable reversed", "above", f.listing(variable(12000, 9000, 2000))),
    _fault("battery reversed", "above", f.listing(battery(12000, 9000, 18000))),
    _fault("reserved kind", "reserved", f.listing(0xF0000123)),
    _fault("reserved bit of fixed", "reserved", f.listing(fixed(9000, 3000), first=FIVE | 1 << 22)),
    _fault("reserved bit of PPS", "reserved", f.listing(pps(5000, 11000, 3000) | 1 << 25)),
    _fault("flag in a later object", "29|bits|first", f.listing(fixed(9000, 3000) | 1 << 29)),
    _fault("object twice", "repeat", f.listing(fixed(9000, 3000), fixed(9000, 3000))),
    _fault("out of order", "order|belongs", f.listing(fixed(15000, 3000), fixed(9000, 3000))),
    _fault("more than 5 A", "5 A", f.listing(fixed(20000, 6000)), cables=("none",)),
    _fault("EPR AVS among SPR", "EPR|epr", f.listing(epr_avs(15000, 28000, 140))),
    _fault("empty object", "zero|no power|empty|0 V", f.listing(0, fixed(9000, 3000))),
    # messages that have no such place or sense
    _fault("unknown EPR_Mode action", "action|reserved code 9", f.mode_word(9 << 24), ends=True),
    _fault("reserved control message", "no such message|reserved", f.reserved_type(27), ends=True),
    _fault("reserved data message", "no such message|reserved", f.reserved_type(14, 1), ends=True),
    _fault("reserved extended message", "no such message|reserved", f.reserved_type(25, extended=True), ends=True),
    _fault("sink sends GotoMin", "GotoMin", f.sends("sink", "GotoMin")),
    _fault("source sends GotoMin", "GiveBack", f.sends("source", "GotoMin", answer="Not_Supported")),
    _fault("Accept to nothing", "Accept", f.sends("source", "Accept")),
    _fault("Reject to nothing", "Reject", f.sends("sink", "Reject")),
    _fault("PS_RDY to nothing", "PS_RDY", f.sends("source", "PS_RDY")),
    _fault("Sink_Capabilities unasked", "Sink_Capabilities", f.sends("sink", "Sink_Capabilities", fixed(5000, 1000))),
    _fault("status unasked", "Status", f.tells("source", "Status", bytes((40, 2, 0, 4, 2, 0, 0)))),
    _fault("keep-alive in SPR mode", "KeepAlive", f.tells("sink", "Extended_Control", b"\x03\0", "Not_Supported")),
    _fault("unknown Extended_Control", "reserved", f.tells("sink", "Extended_Control", b"\x09\0", "Not_Supported")),
    _fault("source asks PPS status", "Get_PPS_Status", f.sends("source", "Get_PPS_Status", answer="Not_Supported")),
    _fault("sink sends EPR ack", "KeepAlive|Ack", f.tells("sink", "Extended_Control", b"\x04\0")),
    _fault("BIST of a reserved mode", "reserved", f.sends("sink", "BIST", 2 << 28)),
    _fault("Alert with reserved bits", "reserved", f.sends("source", "Alert", 1 << 27 | 1 << 24)),
    # requests
    _fault("more current than offered", "asks for", f.requests(lambda t: (f.asked(2, 3500, 3500),))),
    _fault("maximum above the offer", "Capability Mismatch", f.requests(lambda t: (f.asked(2, 3000, 4000),))),
    _fault(
        "maximum above, granted",
        "Capability Mismatch",
        f.requests(lambda t: (f.asked(2, 2000, 3250),), outcome="Accept"),
    ),
    _fault("maximum below operating", "below", f.requests(lambda t: (f.asked(2, 3000, 1000),))),
    _fault("no such object", "object 7", f.requests(lambda t: (f.asked(7, 1000, 1000),))),
    _fault("object 0", "object 0|position 0", f.requests(lambda t: (f.asked(0, 1000, 1000),))),
    _fault(
        "reserved bits of a request",
        "reserved",
        f.requests(lambda t: (f.asked(2, 1000, 1000, 1 << 20),), outcome="Accept"),
    ),
    _fault("two objects", "2 objects|one object", f.requests(lambda t: (f.asked(2, 1000, 1000), fixed(9000, 3000)))),
    _fault(
        "PPS above its range",
        "which gives|range",
        f.requests(lambda t: (f.of_kind(t, 0) << 28 | 23000 // 20 << 9 | 40,)),
        _PPS,
    ),
    _fault(
        "PPS below its range",
        "which gives|range",
        f.requests(lambda t: (f.of_kind(t, 0) << 28 | 3000 // 20 << 9 | 40,)),
        _PPS,
    ),
    _fault(
        "PPS too much current", "asks for", f.requests(lambda t: (f.of_kind(t, 0) << 28 | 9000 // 20 << 9 | 80,)), _PPS
    ),
    _fault(
        "PPS reserved bits",
        "reserved",
        f.requests(lambda t: (f.of_kind(t, 0) << 28 | 9000 // 20 << 9 | 40 | 1 << 7,)),
        _PPS,
    ),
    _fault(
        "AVS out of range",
        "which gives|range",
        f.requests(lambda t: (f.of_kind(t, 2) << 28 | 22000 // 25 << 9 | 60,)),
        _AVS,
    ),
    _fault(
        "AVS off its step", "step", f.requests(lambda t: (f.of_kind(t, 2) << 28 | (12000 // 25 + 1) << 9 | 60,)), _AVS
    ),
    _fault(
        "AVS too much current", "asks for", f.requests(lambda t: (f.of_kind(t, 2) << 28 | 12000 // 25 << 9 | 80,)), _AVS
    ),
    _fault(
        "EPR form in SPR mode",
        "SPR mode",
        f.requests(lambda t: (f.asked(2, 1000, 1000), t.list[1]), name="EPR_Request"),
    ),
    # answers and times
    _fault("request late", "Request came", ft.late_request),
    _fault("Accept late", "Accept came", ft.late_accept),
    _fault(
        "sink's list late", "Sink_Capabilities came", ft.late("Get_Sink_Cap", "Sink_Capabilities", fixed(5000, 1000))
    ),
    _fault("refusal late", "Not_Supported came", ft.late("Get_Source_Info", "Not_Supported", who="sink")),
    _fault("PS_RDY late", "PS_RDY came", ft.ready_after(0.36, 0.44)),
    _fault("PS_RDY soon", "PS_RDY came", ft.ready_after(1 * MS, 15 * MS), ("plain",)),
    _fault("no PS_RDY", "no PS_RDY", ft.no_ready),
    _fault("no Accept", "PS_RDY came where|no Accept", ft.no_accept),
    _fault("request unanswered", "Request", ft.no_answer),
    _fault("list unanswered", "no Request", ft.no_request),
    _fault("accepted twice", "Accept", ft.twice_accepted),
    _fault("asks again soon after Wait", "after Wait", ft.asks_again_soon),
    _fault("a question for an answer", "Get_Source_Cap_Extended came where|Get_Sink_Cap", ft.other_answer),
    _fault("PPS silent", "PPS", ft.pps_silent, _PPS),
    _fault("PPS silent to the reset", "PPS", ft.pps_dead, _PPS),
    _fault(
        "refused for ever", "finds nothing else|rejects", ft.refused_for_ever, ("plain",), ("none",), attached=False
    ),
    _fault("reset for nothing", "Hard Reset", ft.reset_for_nothing),
    _fault("back soon after a reset", "after the Hard Reset", ft.back_soon),
    _fault("lists too soon", "Source_Capabilities again", ft.lists_soon, cables=("none",), attached=False),
    # chunks
    _fault("chunk unasked", "not asked for", m.chunked("01c2")),
    _fault("wrong chunk asked for", "asks for chunk 2|asks for chunk", m.chunked("0c2")),
    _fault("first chunk missing", "chunk 0 did not come", m.chunked("1c2")),
    _fault("wrong chunk sent", "chunk 2", m.chunked("0b2")),
    _fault("chunk never sent", "did not come", m.chunked("0b")),
    _fault("chunk never asked for", "did not ask", m.chunked("0")),
    _fault("chunk late", "tChunkReceiverResponse", m.chunked("0b!1c2", late_s=(18 * MS, 23 * MS))),
    _fault("chunk asked for late", "tChunkReceiverRequest", m.chunked("0!b1c2", late_s=(18 * MS, 23 * MS))),
    _fault("sizes differ", "Data Size", m.chunked("0b*1")),
    _fault("unchunked", "unchunked", m.without_leave),
    # the cable
    _of_cable("cable late", "Discover Identity came", m.cable_says((18 * MS, 23 * MS), *m.PASSIVE)),
    _of_cable("cable answers another", "Discover", m.cable_says((2 * MS, 9 * MS), kind=2, command=2)),
    _of_cable("BUSY asked again soon", "after BUSY", m.busy_cable((8 * MS, 40 * MS))),
    _of_cable("BUSY for ever", "BUSY", m.busy_cable((55 * MS, 80 * MS), times=6)),
    _of_cable("cable mute", "no answer to Discover Identity", m.mute_cable),
    _of_cable("cable asked again soon", "sent again", m.hasty(2, (8 * MS, 30 * MS))),
    _of_cable("cable asked for ever", "21st|21th|Discover Identity", m.hasty(22, (43 * MS, 50 * MS))),
    _of_cable("5 A over a 3 A cable", "marker says 3 A", m.too_strong),
    _of_cable(
        "cable's VDO with a reserved current",
        "current|VBUS",
        m.cable_says((2 * MS, 9 * MS), *m.PASSIVE[:3], m.PASSIVE[3] & ~0x60),
    ),
    _fault("port late to a vendor message", "Discover Identity came", m.sop_late),
    _fault("another command answered", "answers Discover", m.other_command),
    _fault("vendor answer to nothing", "was not asked", m.unasked_answer),
    # words beside, and who says them
    _fault("source sends Request", "only the sink", f.sends("source", "Request", 2 << 28 | 100 << 10 | 100)),
    _fault("sink sends a list", "Source_Capabilities", f.sends("sink", "Source_Capabilities", FIVE), ("plain",)),
    _fault("sink is ready", "PS_RDY", f.sends("sink", "PS_RDY")),
    _fault("source keeps alive", "only the sink", f.tells("source", "Extended_Control", b"\x03\0")),
    _fault("ready twice", "PS_RDY", w.ready_again),
    _fault("sink does not wait", "without waiting for PS_RDY", w.does_not_wait),
    _fault("source asks amid the transition", "no PS_RDY", w.asks_amid),
    _fault("small PPS step late", "tPpsSrcTransSmall", w.small_step_late, _PPS),
    _fault("sink's list of a reserved kind", "reserved kind", w.sink_says(fixed(5000, 1000), 0xF0000000)),
    _fault("sink's list reversed", "above", w.sink_says(fixed(5000, 1000), pps(11000, 5000, 3000))),
    _fault("sink's reserved bits", "reserved", w.sink_says(fixed(5000, 1000) | 1 << 22)),
    _fault("status reserved", "reserved", w.block("Get_Status", "Status", bytes((40, 2, 0, 1, 2, 0, 0)))),
    _fault("status short", "2 bytes", w.block("Get_Status", "Status", bytes((40, 2)))),
    _fault("status too long", "Data Size 400", w.too_long),
    _fault("countries miscounted", "3 country codes", w.block("Get_Country_Codes", "Country_Codes", b"\x03\0DEFR")),
    _fault("text without end", "zero byte", w.endless_text),
    _fault(
        "another block",
        "Status came where Source_Capabilities_Extended",
        w.block("Get_Source_Cap_Extended", "Status", bytes((40, 2, 0, 4, 2, 0, 0))),
    ),
    _fault(
        "Source_Info reserved", "reserved", w.word("Get_Source_Info", "Source_Info", 1 << 24 | 45 << 16 | 45 << 8 | 45)
    ),
    _fault("Revision reserved", "reserved", w.word("Get_Revision", "Revision", 0x32110001)),
    _fault("vendor header reserved", "reserved", w.vendor_bit, ("plain",)),
    _fault("Soft_Reset answered with another count", "MessageID", w.soft_reset_answered_on),
    _fault("stray GoodCRC", "GoodCRC", w.stray_acknowledgement),
    _fault("reserved revision", "Specification Revision", w.reserved_revision),
    _fault("5 A offered without a marker", "5 A", w.strong_list, ("plain",), ("unmarked",)),
    _fault("asks by the old list", "was not offered", w.by_the_old_list, ("plain",)),
    _fault("data roles change after Reject", "no DR_Swap", w.swaps_though_refused),
    _fault("asked-for list late", "Source_Capabilities came", w.list_late),
    _fault("asked-for list never", "no Source_Capabilities", w.list_never),
    _of_cable("plug above the question", "Revision 3.x", w.plug_above),
    _of_cable("plug type reserved", "Plug type", m.cable_says(_SOON, *m.PASSIVE[:3], m.PASSIVE[3] & ~(3 << 18))),
    _of_cable("latency reserved", "latency", m.cable_says(_SOON, *m.PASSIVE[:3], m.PASSIVE[3] | 0xF << 13)),
    _of_cable("identity short", "identity of 3 objects", m.cable_says(_SOON, *m.PASSIVE[:3])),
    _of_cable("identity empty", "identity of 0 objects", m.cable_says(_SOON)),
    _of_cable("ID Header reserved", "reserved", m.cable_says(_SOON, m.PASSIVE[0] | 1 << 16, *m.PASSIVE[1:])),
    _fault("lone chunk", "chunk 0 did not come", m.chunked("2")),
    _fault("lone request for a chunk", "chunk 0 did not come", m.chunked("c")),
    # swaps
    _fault("swap off late", "tPSSourceOff", m.power_swap(off=(1.0, 1.2)), ("dual",)),
    _fault("swap on late", "tPSSourceOn", m.power_swap(on=(0.53, 0.7)), ("dual",)),
    _fault("swap starts soon", "after the swap", m.power_swap(start=(2 * MS, 15 * MS)), ("dual",)),
    _fault("fast swap starts soon", "after the swap", m.power_swap("FR_Swap", start=(2 * MS, 15 * MS)), ("dual",)),
    _fault("swap half done", "second PS_RDY", m.power_swap(on=(0.49, 0.52), half=True), ("dual",)),
    _fault("VCONN late", "tVCONNSourceOn", m.vconn_swap((0.12, 0.3))),
    _fault("VCONN swap unfinished", "VCONN_Swap did not come", m.vconn_swap(None)),
    _fault("Data_Reset unfinished", "Data_Reset", m.data_reset_unfinished),
    _fault("Soft_Reset counts on", "Soft_Reset has MessageID", m.soft_reset_counts),
    _fault("Soft_Reset unanswered", "Soft_Reset", m.soft_reset_unanswered),
    # EPR mode
    _of_epr("no acknowledgement of the entry", "Acknowledged", fe.entry(acknowledge=False)),
    _of_epr("entry slow", "after EPR_Mode Enter", fe.entry(takes=(0.6, 0.8))),
    _of_epr("no list after the entry", "EPR_Source_Capabilities were due", fe.entry_without_list),
    _of_epr("SPR list in EPR mode", "in EPR mode", fe.in_epr(fe.plain_list)),
    _of_epr("SPR list in EPR mode, taken", "in EPR mode", fe.in_epr(fe.plain_list_taken)),
    _of_epr("Request in EPR mode", "in EPR mode", fe.in_epr(fe.plain_request)),
    _of_epr("copy differs", "copy", fe.in_epr(fe.epr_request(1 << 10))),
    _of_epr("copy missing", "1 object", fe.in_epr(fe.epr_request(count=1))),
    _of_epr("silent", "EPR mode", fe.in_epr(fe.falls_silent)),
    _of_epr("silent to the reset", "EPR mode", fe.in_epr(fe.dies)),
    _of_epr("keep-alive unanswered", "KeepAlive", fe.in_epr(fe.keep_alive_unanswered)),
    _of_epr("exit at 28 V", "Exit", fe.in_epr(fe.exit_from_high)),
    _of_epr("enters in EPR mode", "Enter in EPR mode", fe.in_epr(fe.enters_twice)),
    _of_epr("no list after the exit", "Source_Capabilities were due", fe.in_epr(fe.exit_without_list)),
    _of_epr("28 V goes away", "28 V", fe.in_epr(fe.withdrawn), note=True),
    _of_epr("PS_RDY late in EPR mode", "PS_RDY came", fe.in_epr(fe.late_epr_ready)),
    _of_epr("28 V in a low place", "EPR object in positions", fe.in_epr(fe.high_in_low)),
    _of_epr("ack of no keep-alive", "KeepAlive_Ack", fe.in_epr(fe.ack_for_nothing)),
    _of_epr("source enters", "Enter", fe.from_source(1 << 24 | 140 << 16), ends=True),
    _of_epr("success of no entry", "without EPR_Mode Enter", fe.from_source(3 << 24), ends=True),
    _of_epr("failure of no entry", "Enter", fe.from_source(4 << 24), ends=True),
    _of_epr("entry over a 3 A cable", "cable is not EPR", fe.enters_unmarked, cables=("3A", "5A")),
    _of_epr("entry not asked for by the request", "EPR Capable", fe.enters_unasked),
    _of_epr("refused and again", "refused for good", fe.refused_then_again),
    _of_epr("EPR list unasked", "EPR_Source_Capabilities", fe.list_unasked),
)


def planted(fault: Fault, seed: int) -> list[Row]:
    """The rows of a conversation with that one fault in it."""
    chance = random.Random(f"{fault.name} {seed}")
    wire = Wire(chance)
    talk = Session(wire, kind=chance.choice(fault.kinds), cable=chance.choice(fault.cables), sink_revision=fault.sink)
    wire.agreed = "3.x"
    if fault.attached:
        if talk.cable_kind not in ("none", "captive"):
            talk.discover()
            wire.wait(20 * MS, 60 * MS)
        talk.begin()
        for _ in range(chance.randint(0, 2)):
            talk.idle(60 * MS, 0.5)
            chance.choice((doings.ask_again, doings.sink_caps, doings.source_caps))(talk)
        talk.idle(60 * MS, 0.5)
    fault.do(talk)
    if not fault.ends:
        talk.idle(0.1, 0.4)
        doings.sink_caps(talk)
    return wire.rows
