"""What two ports may do in a contract, one function each: questions, swaps, resets, vendor messages, EPR mode."""

from __future__ import annotations

import struct
from collections.abc import Callable

from tests.contract.written.parties import MS, Session, fixed

Doing = Callable[[Session], None]


def answered(
    asks: str, answer: str, words: tuple[int, ...] = (), data: bytes | None = None, *, by: str = "either"
) -> Doing:
    """A question and its answer, now and then Not_Supported."""

    def do(talk: Session) -> None:
        who = talk.either() if by == "either" else talk.sink if by == "sink" else talk.source
        talk.say(who, asks)
        talk.answer()
        old = talk.wire.agreed == "2.0"
        if talk.chance.random() < 0.25 or (old and asks != "Get_Sink_Cap"):
            talk.say(talk.other(who), "Reject" if old else "Not_Supported")
        elif data is None:
            talk.say(talk.other(who), answer, *words)
        else:
            talk.tell(talk.other(who), answer, data)

    return do


def extended_question(
    asks: str, question: bytes, answer: str, data: bytes | None, words: tuple[int, ...] = ()
) -> Doing:
    """A question that is an extended message itself."""

    def do(talk: Session) -> None:
        who = talk.either()
        talk.tell(who, asks, question)
        talk.answer()
        if talk.chance.random() < 0.2:
            talk.say(talk.other(who), "Not_Supported")
        elif data is None:
            talk.say(talk.other(who), answer, *words)
        else:
            talk.tell(talk.other(who), answer, data)

    return do


def sink_caps(talk: Session) -> None:
    talk.say(talk.source, "Get_Sink_Cap")
    talk.answer()
    talk.say(talk.sink, "Sink_Capabilities", fixed(5000, 900), fixed(15000, 2000))


def source_caps(talk: Session) -> None:
    """In SPR mode a new contract follows, in EPR mode it is for information."""
    talk.say(talk.sink, "Get_Source_Cap")
    talk.answer()
    kept = list(talk.list)
    talk.offer()
    if talk.epr:
        talk.list = kept
        return
    talk.negotiate()


def ask_again(talk: Session) -> None:
    talk.ask()


def ask_refused(talk: Session) -> None:
    talk.ask(outcome=talk.chance.choice(("Reject", "Wait")))


def new_offer(talk: Session) -> None:
    """The source has less, or as much as before."""
    if talk.epr:
        talk.make_epr_list()
        talk.tell(talk.source, "EPR_Source_Capabilities", words(talk.list))
    else:
        talk.offer(talk.chance.choice((1.0, 0.5, 0.4)))
    talk.negotiate()


def words(objects: list[int]) -> bytes:
    return b"".join(struct.pack("<I", word) for word in objects)


def alert(talk: Session) -> None:
    """Over-temperature told of; the other side asks for the status."""
    who = talk.either()
    talk.say(who, "Alert", 1 << 27)
    if talk.chance.random() < 0.6:
        talk.answer()
        talk.say(talk.other(who), "Get_Status")
        talk.answer()
        talk.tell(who, "Status", bytes((40, 2, 0, 4, 4, 0, 0)))


def pps_status(talk: Session) -> None:
    talk.say(talk.sink, "Get_PPS_Status")
    talk.answer()
    if talk.chance.random() < 0.3:
        talk.say(talk.source, "Not_Supported")
    else:
        talk.tell(talk.source, "PPS_Status", struct.pack("<HBB", 450, 30, 2))


def data_swap(talk: Session) -> None:
    who = talk.either()
    talk.say(who, "DR_Swap")
    talk.answer()
    outcome = talk.chance.choice(("Accept", "Accept", "Reject", "Wait", no(talk)))
    talk.say(talk.other(who), outcome)
    if outcome == "Accept":
        talk.source.dfp, talk.sink.dfp = talk.sink.dfp, talk.source.dfp


def no(talk: Session) -> str:
    return "Reject" if talk.wire.agreed == "2.0" else "Not_Supported"


def vconn_swap(talk: Session) -> None:
    who = talk.either()
    talk.say(who, "VCONN_Swap")
    talk.answer()
    if talk.chance.random() < 0.25:
        talk.say(talk.other(who), talk.chance.choice(("Reject", "Wait", no(talk))))
        return
    talk.say(talk.other(who), "Accept")
    talk.wire.wait(2 * MS, 48 * MS)
    new = talk.other(talk.vconn)
    talk.say(new, "PS_RDY")
    talk.vconn = new
    # A new VCONN source counts on its own; it resets the plug's count before it asks.
    for number in ("SOP'", "SOP''"):
        new.ids.pop(number, None)
    if talk.cable_kind in ("3A", "5A", "active") and talk.chance.random() < 0.6:
        talk.idle(5 * MS, 60 * MS)
        plug_reset(talk)


def plug_reset(talk: Session) -> None:
    talk.vconn.ids["SOP'"] = talk.plug.ids["SOP'"] = 0
    talk.wire.say(talk.vconn, talk.plug, "Soft_Reset", (), "SOP'")
    talk.answer()
    talk.wire.say(talk.plug, talk.vconn, "Accept", (), "SOP'")
    talk.wire.wait(5 * MS, 40 * MS)
    talk.discover()


def power_swap(talk: Session, *, fast: bool = False) -> None:
    """The two change power roles; both count from 0 afterwards."""
    who = talk.sink if fast else talk.either()
    talk.say(who, "FR_Swap" if fast else "PR_Swap")
    talk.answer()
    if not fast and talk.chance.random() < 0.3:
        talk.say(talk.other(who), talk.chance.choice(("Reject", "Wait", no(talk))))
        return
    old, new = talk.source, talk.sink
    talk.say(talk.other(who), "Accept")
    talk.wire.wait(30 * MS, 600 * MS)
    old.source = False
    talk.wire.say(old, new, "PS_RDY")
    talk.wire.wait(10 * MS, 300 * MS)
    new.source = True
    talk.wire.say(new, old, "PS_RDY")
    talk.source, talk.sink = new, old
    for port in (old, new):
        port.ids.pop("SOP", None)
    talk.contract = None
    talk.wire.wait(21 * MS, 150 * MS)
    talk.begin(anew=talk.chance.random() < 0.5)


def fast_swap(talk: Session) -> None:
    power_swap(talk, fast=True)


def soft_reset(talk: Session) -> None:
    who = talk.either()
    for port in (talk.source, talk.sink):
        port.ids["SOP"] = 0
    talk.say(who, "Soft_Reset")
    talk.answer()
    talk.say(talk.other(who), "Accept")
    talk.wire.wait(1 * MS, 80 * MS)
    talk.offer() if not talk.epr else epr_offer(talk)
    talk.negotiate()


def hard_reset(talk: Session) -> None:
    """VBUS goes and comes; everyone begins anew."""
    epr = talk.epr
    talk.wire.put(talk.source, "Hard_Reset", b"")
    for port in (talk.source, talk.sink, talk.plug, talk.far):
        port.ids.clear()
    talk.contract, talk.epr = None, False
    # tPSHardReset, tSrcRecover, tSrcTurnOn, tFirstSourceCap.
    talk.wire.wait(1.15 if epr else 0.70, 2.5 if epr else 1.9)
    talk.wire.plug_revision = "3.x" if talk.source.revision == "3.x" else "2.0"
    talk.vconn = talk.source
    talk.source.dfp, talk.sink.dfp = True, False
    if talk.cable_kind not in ("none", "captive") and talk.chance.random() < 0.5:
        talk.known = False
        talk.discover()
        talk.wire.wait(1 * MS, 50 * MS)
    talk.begin()


def vendor(talk: Session) -> None:
    """Identity, SVIDs, modes; DisplayPort entered or not. The DFP asks."""
    dfp = talk.source if talk.source.dfp else talk.sink
    other = talk.other(dfp)
    talk.say(dfp, "Vendor_Defined", talk.vdm(dfp, 1))
    talk.answer()
    refusal = talk.chance.random()
    if refusal < 0.2:
        if talk.wire.agreed == "3.x":
            talk.say(other, "Not_Supported")
        else:
            talk.wire.wait(20 * MS, 40 * MS)  # a port without vendor messages ignores them in Revision 2.0
        return
    if refusal < 0.4:
        talk.say(other, "Vendor_Defined", talk.vdm(other, 1, 2))
        return
    if talk.wire.agreed == "3.x":
        talk.say(
            other,
            "Vendor_Defined",
            talk.vdm(other, 1, 1),
            2 << 27 | 1 << 26 | 2 << 21 | 0x1234,
            0,
            0x00010002,
            3 << 29 | 1 << 24,
        )
    else:
        talk.say(other, "Vendor_Defined", talk.vdm(other, 1, 1), 2 << 27 | 1 << 26 | 0x1234, 0, 0x00010002)
    talk.wire.wait(2 * MS, 40 * MS)
    talk.say(dfp, "Vendor_Defined", talk.vdm(dfp, 2))
    talk.answer()
    talk.say(other, "Vendor_Defined", talk.vdm(other, 2, 1), 0xFF01 << 16)
    talk.wire.wait(2 * MS, 40 * MS)
    talk.say(dfp, "Vendor_Defined", talk.vdm(dfp, 3, svid=0xFF01))
    talk.answer()
    talk.say(other, "Vendor_Defined", talk.vdm(other, 3, 1, svid=0xFF01), 0x00000C05)
    if talk.chance.random() < 0.5:
        return
    talk.wire.wait(2 * MS, 40 * MS)
    talk.say(dfp, "Vendor_Defined", talk.vdm(dfp, 4, svid=0xFF01, position=1))
    talk.wire.wait(1 * MS, 20 * MS)
    talk.say(other, "Vendor_Defined", talk.vdm(other, 4, 1, svid=0xFF01, position=1))
    talk.wire.wait(2 * MS, 40 * MS)
    talk.say(dfp, "Vendor_Defined", talk.vdm(dfp, 16, svid=0xFF01, position=1), 1)
    talk.answer()
    talk.say(other, "Vendor_Defined", talk.vdm(other, 16, 1, svid=0xFF01, position=1), 0x1A)
    talk.wire.wait(2 * MS, 40 * MS)
    talk.say(other, "Vendor_Defined", talk.vdm(other, 6, svid=0xFF01, position=1), 0x9A)


def unstructured(talk: Session) -> None:
    who = talk.either()
    talk.say(who, "Vendor_Defined", 0x1234 << 16 | 0x21, 7)
    talk.answer()
    if talk.wire.agreed == "3.x" and talk.chance.random() < 0.5:
        talk.say(talk.other(who), "Not_Supported")


def enter_usb(talk: Session) -> None:
    dfp = talk.source if talk.source.dfp else talk.sink
    talk.say(dfp, "Enter_USB", 2 << 28 | 1 << 26 | 1 << 25 | 2 << 17 | 1 << 13)
    talk.answer()
    talk.say(talk.other(dfp), talk.chance.choice(("Accept", "Reject", "Not_Supported")))


def goto_min(talk: Session) -> None:
    """Revision 2.0 alone, to a sink that gives back."""
    if talk.wire.agreed != "2.0" or not talk.give_back or talk.contract is None or talk.contract[2] >> 30:
        return
    talk.say(talk.source, "GotoMin")
    talk.wire.wait(30 * MS, 300 * MS)
    talk.say(talk.source, "PS_RDY")


def ping(talk: Session) -> None:
    if talk.wire.agreed == "2.0":
        talk.say(talk.source, "Ping")


def data_reset(talk: Session) -> None:
    """The DFP supplies VCONN: it alone brings it to an end."""
    dfp = talk.source if talk.source.dfp else talk.sink
    if talk.vconn is not dfp:
        return
    who = talk.either()
    talk.say(who, "Data_Reset")
    talk.answer()
    if talk.chance.random() < 0.3:
        talk.say(talk.other(who), talk.chance.choice(("Reject", "Not_Supported")))
        return
    talk.say(talk.other(who), "Accept")
    talk.wire.wait(0.02, 0.2)
    talk.say(dfp, "Data_Reset_Complete")


def crossing(talk: Session) -> None:
    """The sink asks for what it has just as the source tells of less: it asks again by the new list."""
    if talk.contract is None or talk.epr or talk.on_pps:
        return
    talk.offer(0.5)
    talk.wire.wait(0.3 * MS, 2 * MS)
    talk.ask()


def epr_offer(talk: Session) -> None:
    talk.make_epr_list()
    talk.tell(talk.source, "EPR_Source_Capabilities", words(talk.list))


def epr_enter(talk: Session) -> None:
    """The entry step by step, or a refusal."""
    if talk.kind != "epr" or talk.epr or talk.epr_withdrawn:
        return
    wire = talk.wire
    talk.say(talk.sink, "EPR_Mode", 1 << 24 | 140 << 16)
    talk.answer()
    if talk.cable_kind != "epr":
        talk.say(talk.source, "EPR_Mode", 4 << 24 | 1 << 16)
        talk.epr_withdrawn = True
        return
    if talk.chance.random() < 0.15:
        talk.say(talk.source, "EPR_Mode", 4 << 24 | 4 << 16)
        return
    talk.say(talk.source, "EPR_Mode", 2 << 24)
    wire.wait(1 * MS, 20 * MS)
    if talk.vconn is not talk.source:
        talk.say(talk.source, "VCONN_Swap")
        talk.answer()
        talk.say(talk.sink, "Accept")
        wire.wait(2 * MS, 45 * MS)
        talk.say(talk.source, "PS_RDY")
        talk.vconn = talk.source
        for number in ("SOP'", "SOP''"):
            talk.source.ids.pop(number, None)
        wire.wait(1 * MS, 10 * MS)
        plug_reset(talk)
    elif talk.chance.random() < 0.6 or not talk.known:
        talk.discover()
    wire.wait(1 * MS, 40 * MS)
    talk.say(talk.source, "EPR_Mode", 3 << 24)
    talk.epr = True
    wire.wait(1 * MS, 15 * MS)
    epr_offer(talk)
    talk.negotiate()


def epr_exit(talk: Session) -> None:
    """Down to an SPR contract first, then out; the source tells its SPR list."""
    if not talk.epr:
        return
    if talk.contract is not None and talk.contract[0] > 7:
        talk.ask(talk.chance.choice([at for at, word in enumerate(talk.list[:7], 1) if word]))
        talk.idle(30 * MS, 100 * MS)
    if talk.chance.random() < 0.3:
        talk.make_epr_list(withdrawn=True)
        talk.tell(talk.source, "EPR_Source_Capabilities", words(talk.list))
        talk.negotiate()
        talk.wire.wait(20 * MS, 60 * MS)
    talk.say(talk.either(), "EPR_Mode", 5 << 24)
    talk.epr = False
    talk.wire.wait(1 * MS, 14 * MS)
    talk.offer()
    talk.negotiate()


def epr_list_asked(talk: Session) -> None:
    """EPR_Get_Source_Cap: for information in SPR mode, a new contract in EPR mode."""
    if talk.kind != "epr":
        return
    talk.tell(talk.sink, "Extended_Control", b"\x01\0")
    talk.answer()
    kept = list(talk.list)
    epr_offer(talk)
    if talk.epr:
        talk.negotiate()
    else:
        talk.list = kept


def epr_sink_asked(talk: Session) -> None:
    if talk.kind != "epr":
        return
    talk.tell(talk.source, "Extended_Control", b"\x02\0")
    talk.answer()
    talk.tell(
        talk.sink,
        "EPR_Sink_Capabilities",
        words([fixed(5000, 900), fixed(20000, 3000), 0, 0, 0, 0, 0, fixed(28000, 5000)]),
    )


def test_mode(talk: Session) -> None:
    who = talk.either()
    if who is talk.source and talk.wire.agreed == "3.x":
        talk.say(talk.other(who), "BIST", 8 << 28, *([0xA5A5A5A5] * 6))


SOURCE_EXT = bytes((0x34, 0x12, 1, 0, 0, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 60, 0))
SINK_EXT = bytes((0x34, 0x12, 1, 0, 0, 0, 0, 0, 1, 1, 1, 0, 0, 0, 0, 0, 0, 2, 15, 30, 45, 0, 0, 0))

# In every contract, and what Revision 3.x alone has.
COMMON: tuple[Doing, ...] = (
    sink_caps, source_caps, ask_again, ask_again, ask_refused, new_offer, data_swap, vconn_swap, soft_reset, vendor,
    unstructured, crossing, ping, goto_min,
)  # fmt: skip
DUAL: tuple[Doing, ...] = (power_swap, power_swap, power_swap)
MODERN: tuple[Doing, ...] = (
    answered("Get_Status", "Status", data=bytes((40, 2, 0, 4, 2, 0, 0))),
    answered("Get_Source_Cap_Extended", "Source_Capabilities_Extended", data=SOURCE_EXT, by="sink"),
    answered("Get_Sink_Cap_Extended", "Sink_Capabilities_Extended", data=SINK_EXT, by="source"),
    answered("Get_Source_Info", "Source_Info", words=(1 << 31 | 45 << 16 | 45 << 8 | 45,), by="sink"),
    answered("Get_Revision", "Revision", words=(0x32110000,)),
    answered("Get_Country_Codes", "Country_Codes", data=bytes((3, 0)) + b"DEFRIT"),
    extended_question("Get_Manufacturer_Info", b"\0\0", "Manufacturer_Info", b"\x34\x12\x01\x00Field maker\0"),
    extended_question("Get_Battery_Cap", b"\0", "Battery_Capabilities", struct.pack("<HHHHB", 0x1234, 1, 500, 450, 0)),
    extended_question("Get_Battery_Status", b"\0", "Battery_Status", None, (450 << 16 | 1 << 9 | 1 << 10,)),
    extended_question("Security_Request", bytes(40), "Security_Response", bytes(range(60))),
    alert, pps_status, enter_usb, data_reset, epr_list_asked, epr_sink_asked,
)  # fmt: skip
