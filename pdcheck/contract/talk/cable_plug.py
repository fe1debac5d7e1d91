"""The e-marker in a cable's plug: what it answers to Discover Identity on SOP'."""

from __future__ import annotations

from collections.abc import Mapping

from pdcheck.bits.identity import (
    ACTIVE_CABLE_1,
    ACTIVE_CABLE_2,
    ACTIVE_CABLE_R2,
    ID_HEADER_CABLE,
    PASSIVE_CABLE,
    PASSIVE_CABLE_R2,
    PD_SID,
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

    >>> code_of({1: "3 A", 2: "5 A"}, "5 A")
    2
    """
    return next(code for code, text in codes.items() if text == meaning)


def codes_of(word: Word, **values: str | int) -> dict[str, int]:
    """The fields of a word, those that are given by their meaning as its codes.

    >>> codes_of(VDM_HEADER, svid=PD_SID, command_type="ACK")
    {'svid': 65280, 'command_type': 1}
    """
    return {
        key: code_of(word.field(key).codes or {}, value) if isinstance(value, str) else value
        for key, value in values.items()
    }


def discover_identity(revision: str, command_type: str = "request") -> int:
    """The VDM header of Discover Identity; the structured version follows the PD revision.

    >>> hex(discover_identity("3.x", "ACK"))
    '0xff00a041'
    """
    said = codes_of(VDM_HEADER, command_type=command_type, command="Discover Identity")
    return VDM_HEADER.encode({"svid": PD_SID, "structured": 1, "version_major": int(revision != "2.0"), **said})


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
    active, older = cable.construction == "active", revision == "2.0"
    plug = {} if older else {"connector_type": "plug"}
    identity = codes_of(ID_HEADER_CABLE, product_type="active cable" if active else "passive cable", **plug)
    values: dict[str, str | int] = {
        "plug_type": "USB Type-C",
        "latency": 1,
        "current": "5 A" if cable.current_a >= MARKED_CURRENT.value else "3 A",
    }
    if active:
        values |= {"termination": "both ends active", "vbus_through": True}
    if older:
        word: Word = ACTIVE_CABLE_R2 if active else PASSIVE_CABLE_R2
        values["vbus_through"] = True
    else:
        word = ACTIVE_CABLE_1 if active else PASSIVE_CABLE
        most = "50 V" if cable.voltage_v >= EPR_MARKER_VOLTAGE.value else "20 V"
        values |= {"epr_capable": cable.epr, "max_voltage": most}
    second = (ACTIVE_CABLE_2.encode({}),) if active and not older else ()
    said = word.encode(codes_of(word, **values))
    return (discover_identity(revision, "ACK"), ID_HEADER_CABLE.encode(identity), 0, 0, said, *second)


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
