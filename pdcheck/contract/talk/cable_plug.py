"""The e-marker in a cable's plug: what it answers to Discover Identity on SOP'."""

from __future__ import annotations

from collections.abc import Mapping

from pdcheck.bits.identity import (
    ACTIVE_CABLE_1,
    ACTIVE_CABLE_2,
    ACTIVE_CABLE_R2,
    CABLE_CURRENT,
    CABLE_VOLTAGE,
    COMMAND,
    COMMAND_TYPE,
    ID_HEADER_CABLE,
    PASSIVE_CABLE,
    PASSIVE_CABLE_R2,
    PD_SID,
    PLUG_TYPE,
    PRODUCT_TYPE_CABLE,
    TERMINATION_ACTIVE,
    VDM_HEADER,
)
from pdcheck.bits.layout import Word
from pdcheck.bits.message import Message, build_message, make_header
from pdcheck.bits.objects import read_vendor
from pdcheck.contract.talk.cc_line import CABLE, Line
from pdcheck.facts.cable import EPR_MARKER_VOLTAGE, MARKED_CURRENT
from pdcheck.parts.cable import Cable


def code_of(codes: Mapping[int, str], meaning: str) -> int:
    """The code of a meaning.

    >>> code_of(CABLE_CURRENT, "5 A")
    2
    """
    return next(code for code, text in codes.items() if text == meaning)


def discover_identity(revision: str, command_type: str = "request") -> int:
    """The VDM header of Discover Identity; the structured version follows the PD revision.

    >>> hex(discover_identity("3.x", "ACK"))
    '0xff00a041'
    """
    return VDM_HEADER.encode(
        {
            "svid": PD_SID,
            "structured": 1,
            "version_major": 0 if revision == "2.0" else 1,
            "command_type": code_of(COMMAND_TYPE, command_type),
            "command": code_of(COMMAND, "Discover Identity"),
        }
    )


def marker_words(cable: Cable, revision: str = "3.x") -> tuple[int, ...]:
    """What the plug of a cable answers, from the VDM header on; nothing where it has no e-marker.

    The words of the cable where they are known, else such as say what is stated of it, with no vendor's ID.

    >>> [hex(word) for word in marker_words(Cable(id="c", kind="C-C", rating="5A"))]
    ['0xff00a041', '0x18600000', '0x0', '0x0', '0x82040']
    """
    if cable.words:
        header = cable.words[0] >> 16 == PD_SID
        return cable.words if header else (discover_identity("3.x", "ACK"), *cable.words)
    if not cable.emarker:
        return ()
    active = cable.construction == "active"
    values = {"product_type": code_of(PRODUCT_TYPE_CABLE, "active cable" if active else "passive cable")}
    if revision != "2.0":
        values["connector_type"] = code_of(ID_HEADER_CABLE.field("connector_type").codes or {}, "plug")
    identity = ID_HEADER_CABLE.encode(values)
    return (discover_identity(revision, "ACK"), identity, 0, 0, *_cable_words(cable, revision, active))


def _cable_words(cable: Cable, revision: str, active: bool) -> tuple[int, ...]:
    values: dict[str, int] = {
        "plug_type": code_of(PLUG_TYPE, "USB Type-C"),
        "latency": 1,
        "current": code_of(CABLE_CURRENT, "5 A" if cable.current_a >= MARKED_CURRENT.value else "3 A"),
    }
    if active:
        values |= {"termination": code_of(TERMINATION_ACTIVE, "both ends active"), "vbus_through": True}
    if revision == "2.0":
        values["vbus_through"] = True
        word: Word = ACTIVE_CABLE_R2 if active else PASSIVE_CABLE_R2
        return (word.encode(values),)
    values["epr_capable"] = cable.epr
    values["max_voltage"] = code_of(CABLE_VOLTAGE, "50 V" if cable.voltage_v >= EPR_MARKER_VOLTAGE.value else "20 V")
    if active:
        return ACTIVE_CABLE_1.encode(values), ACTIVE_CABLE_2.encode({})
    return (PASSIVE_CABLE.encode(values),)


class Plug:
    """The station of an e-marker on the line."""

    name = CABLE

    def __init__(self, line: Line, cable: Cable) -> None:
        self.line = line
        self.cable = cable
        self.revision = "3.x"
        self._next_id = 0

    def hears(self, sop: str) -> bool:
        """Only what is meant for the near plug."""
        return sop == "SOP'"

    def hear_reset(self) -> None:
        """A Hard Reset resets the plug too."""
        self._next_id = 0

    def hear(self, message: Message) -> None:
        """Answer Discover Identity; leave everything else alone."""
        if message.type != "Vendor_Defined":
            return
        header = read_vendor(message.words, message.sop)[0]
        if header.meanings().get("command") != "Discover Identity":
            return
        self.revision = message.revision
        words = marker_words(self.cable, self.revision)
        reply = make_header(
            "Vendor_Defined", len(words), message_id=self._next_id, revision=self.revision, source=True, dfp=False
        )
        self._next_id += 1
        raw = build_message(reply, words)
        clock = self.line.clock
        clock.after(
            self.line.pace.of("tReceiverResponse"),
            # A plug sends nothing twice (nRetryCount of a cable plug is zero).
            lambda: self.line.send(self.name, "SOP'", raw, 1, lambda _: None, lambda: True),
        )
