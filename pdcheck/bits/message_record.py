"""A message as a document holds it: header, objects, CRC, raw bytes, and what is odd about it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pdcheck.bits.catalogue import BlockReading
from pdcheck.bits.crc import CRC_BYTES
from pdcheck.bits.line import RESETS
from pdcheck.bits.message import Message
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import Offer
from pdcheck.bits.problems import Problem
from pdcheck.bits.sequence import Told
from pdcheck.marks import AS_HEX, IF_KNOWN, UNTOLD, Hex, HexWord, Named, told
from pdcheck.named import NamedTuple
from pdcheck.records import as_dict

LINE = "message/1"
"""Name and number of the schema of a record that is a line of JSON."""


class Gap(NamedTuple):
    """The place of an offer that an EPR list leaves empty."""

    position: int
    kind: Literal["gap"] = "gap"
    word: HexWord = 0
    flags: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


class Crc(NamedTuple):
    """The CRC that a message carries, and the one that its bytes give."""

    given: HexWord
    computed: HexWord
    ok: bool


class Header(NamedTuple):
    """A message header with its codes by name."""

    type: str
    id: int
    revision: str
    power_role: str
    data_role: str | None
    object_count: int
    extended: bool
    word: Annotated[int, Hex(4)]

    @classmethod
    def of(cls, message: Message) -> Header:
        """The header of a message."""
        read = message.header_fields()
        return cls(
            message.type,
            read["id"],
            message.revision,
            message.power_role,
            message.data_role,
            read["object_count"],
            read["extended"],
            message.header,
        )


class MessageRecord(NamedTuple):
    """A message at its place in an input.

    >>> from pdcheck.bits.message import read_message
    >>> record = MessageRecord(Told(read_message(bytes.fromhex("4104163cba93"))), 0)
    >>> record.header.type, record.crc.ok, record.objects
    ('GoodCRC', False, ())
    """

    said: Annotated[Told, UNTOLD]
    number: Annotated[int, Named("index")]

    @told
    def time_s(self) -> float | None:
        """When it came [s], where the input says so."""
        return self.said.message.time_s

    @told
    def sop(self) -> str:
        """The ordered set that it began with."""
        return self.said.message.sop

    @told
    def header(self) -> Header | None:
        """The header; a reset has none."""
        return None if self.sop in RESETS else Header.of(self.said.message)

    @told
    def objects(self) -> tuple[Offer | Gap | Reading, ...]:
        """Its data objects: offers, or whatever they are read as."""
        offered = [offered_or_gap(offer) for offer in self.said.offers]
        return (*offered, *self.said.objects)

    @told
    def crc(self) -> Crc | None:
        """Its CRC, where the input carries one."""
        message = self.said.message
        given = message.crc_given
        return None if given is None else Crc(given, message.crc_computed, bool(message.crc_ok))

    @told
    def raw(self) -> Annotated[bytes, AS_HEX]:
        """All its bytes, the CRC at their end where there is one."""
        message = self.said.message
        return message.raw + (b"" if message.crc_given is None else message.crc_given.to_bytes(CRC_BYTES, "little"))

    @told
    def problems(self) -> tuple[Problem, ...]:
        """What is odd about it."""
        return self.said.problems

    @told
    def extended_header(self) -> Annotated[Mapping[str, int | bool] | None, IF_KNOWN]:
        """The fields of the extended header, where there is one."""
        return self.said.message.extended_fields() if self.said.message.extended else None

    @told
    def block(self) -> Annotated[BlockReading | None, IF_KNOWN]:
        """The data block of an extended message once all its chunks are there."""
        return self.said.block


def offered_or_gap(offer: Offer) -> Offer | Gap:
    """An object of a list of offers: an offer, or the gap that stands in its place."""
    return Gap(offer.position) if offer.is_gap else offer


def message_json(said: Told, index: int) -> dict[str, Any]:
    """What a document holds of a message."""
    return as_dict(MessageRecord(said, index))


def offered_json(offer: Offer) -> dict[str, Any]:
    """What a document holds of an object of a list of offers."""
    return as_dict(offered_or_gap(offer))
