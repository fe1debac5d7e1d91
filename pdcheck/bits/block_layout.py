"""How a data block of an extended message is laid out: byte offsets as bits of one word, and what may follow."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pdcheck.bits.layout import Field, Word, bit, place
from pdcheck.facts.origin import Origin, checked
from pdcheck.named import NamedTuple

ZERO = "zero"
"""Note of a field that is there and means nothing yet."""

BLOCKS_ORIGIN = checked("Tables 6.54 to 6.65")


class Length(NamedTuple):
    """A length that a block is known to have had: bytes, when, and how well that is known."""

    size: int
    when: str
    origin: Origin

    def text(self) -> str:
        """In words.

        >>> Length(24, "before EPR", Origin("PD R3.0", "memory")).text()
        '24 bytes before EPR (PD R3.0 [memory])'
        """
        return f"{self.size} bytes {self.when} ({self.origin})"


class Block(NamedTuple):
    """The data block of one extended message.

    ``head`` is the table of its fixed part. ``tail`` says what follows it: nothing (the block is the head), ``text``
    ended by a zero byte, ``letters`` in pairs, or ``bytes`` of other standards. ``least`` and ``most`` bound the whole
    block in bytes; ``older`` holds the shorter lengths of earlier revisions.
    """

    head: Word
    tail: str = ""
    least: int = 0
    most: int = 0
    older: tuple[Length, ...] = ()
    message: str = ""

    @property
    def head_bytes(self) -> int:
        """Bytes of the fixed part."""
        return self.head.bits // 8


def block(
    message: str,
    size: int,
    fields: Iterable[Field],
    tail: str = "",
    least: int = 0,
    most: int = 0,
    *,
    older: tuple[Length, ...] = (),
    origin: Origin = BLOCKS_ORIGIN,
    where: str = "",
    name: str = "",
) -> Block:
    """The block of a message, called as that is; ``size`` of its fixed part [bytes], ``where`` it has that block.

    >>> block("Get_Battery_Cap", 1, []).head.title
    'Get Battery Cap data block'
    """
    words = message.replace("_", " ")
    head = Word(name or words.lower().replace(" ", "-"), f"{words} data block{where}", fields, origin, 8 * size)
    return Block(head, tail, least, most, older, message)


def byte(key: str, offset: int, title: str, count: int = 1, **more: Any) -> Field:
    """A field of ``count`` whole bytes at a byte offset."""
    return Field(key, 8 * (offset + count) - 1, 8 * offset, title, **more)


def part(key: str, offset: int, high: int, low: int, title: str, **more: Any) -> Field:
    """A field of some bits of the byte (or of the little-endian bytes) at an offset."""
    return Field(key, 8 * offset + high, 8 * offset + low, title, **more)


def flag(key: str, offset: int, place: int, title: str, note: str = "") -> Field:
    """A flag in the byte at an offset."""
    return bit(key, 8 * offset + place, title, note)


def byte_place(field: Field) -> str:
    """Where a field of a block stands, in bytes, and in bits of them where it does not fill them.

    >>> byte_place(byte("a", 4, "A", 4)), byte_place(byte("b", 9, "B")), byte_place(part("c", 18, 10, 5, "C"))
    ('4..7', '9', '18: 10..5')
    """
    first, last = field.low // 8, field.high // 8
    if field.low % 8 == 0 and field.high % 8 == 7:
        return str(first) if first == last else f"{first}..{last}"
    return f"{first}: {place(field._replace(high=field.high - 8 * first, low=field.low - 8 * first))}"


def at_bytes(field: Field) -> list[Field]:
    """A reserved run cut at the borders of the bytes that it only partly fills; any other field as it is.

    >>> [byte_place(each) for each in at_bytes(Field("r", 36, 11, "Reserved", reserved=True))]
    ['1: 7..3', '2..3', '4: 4..0']
    """
    first, last = -(-field.low // 8) * 8, (field.high + 1) // 8 * 8
    if not field.reserved or field.low // 8 == field.high // 8 or first > last:
        return [field]
    runs = [(field.low, first - 1), (first, last - 1), (last, field.high)]
    return [field._replace(low=low, high=high) for low, high in runs if low <= high]


_NO_VENDOR = 0xFFFF


def maker(*, certified: bool = True) -> list[Field]:
    """Vendor and product, and the certification number where the block has one."""
    fields = [
        byte("vendor_id", 0, "USB Vendor ID", 2, special={_NO_VENDOR: "none"}),
        byte("product_id", 2, "USB Product ID", 2),
    ]
    return [*fields, byte("certification", 4, "XID", 4, special={0: "none"})] if certified else fields
