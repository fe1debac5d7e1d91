"""Data blocks from bytes to fields: short ones, long ones, texts and letters included; nothing is lost."""

from __future__ import annotations

from typing import Any

from pdcheck.bits.block_layout import ZERO, Block, at_bytes, byte_place
from pdcheck.bits.blocks import block_of
from pdcheck.bits.catalogue import BlockReading
from pdcheck.bits.layout import Word
from pdcheck.bits.problems import Problem

_TAIL_KEY = {"text": "text", "letters": "countries", "bytes": "payload"}
_END = b"\0"


def read_block(name: str, data: bytes, sop: str = "SOP") -> BlockReading:
    """The data block of an extended message (all its chunks joined); bare bytes where it has no table, and said so.

    A block that is shorter or longer than its table is read as far as it goes, and keeps what no field names.

    >>> read_block("PPS_Status", bytes.fromhex("c2013c02")).fields["output_voltage_mv"]
    9000
    >>> read_block("reserved extended 31", b"ab").problems[0].code
    'no-table'
    """
    block = block_of(name, sop)
    if block is None:
        text = f"the data of {name} has no table here: shown as bytes"
        return BlockReading(name, data, None, {"payload": data.hex()}, (Problem("no-table", text),))
    head = block.head
    size = block.head_bytes
    whole = size if len(data) >= size else _whole_bytes(head, len(data))
    found = _length_problems(name, block, len(data))
    found += _field_problems(head, data[:whole])
    # The table runs from the last byte to the first, as words do; people read a block from its first byte on.
    fields = dict(reversed(head.from_bytes(data[:whole]).items()))
    rest = data[whole:]
    length = None
    if len(data) < size:
        fields["block_bytes"] = len(data)
        length = next((old for old in block.older if old.size == len(data)), None)
    elif block.tail:
        rest = _read_tail(block, fields, rest, found)
    if block.tail != "text" or len(data) < size:
        if rest:
            fields["rest"] = rest.hex()
    elif rest != _END:
        fields["rest"] = rest.hex()
    return BlockReading(name, data, head, fields, tuple(found), length)


def _whole_bytes(head: Word, held: int) -> int:
    """The most bytes, no more than ``held``, that cut no field in two."""
    while any(field.low < 8 * held <= field.high for field in head.fields):
        held -= 1
    return held


def _length_problems(name: str, block: Block, held: int) -> list[Problem]:
    size = block.head_bytes
    least, most = block.least or size, block.most or size
    if held < least and held not in [old.size for old in block.older]:
        return [
            Problem("block-short", f"{held} bytes of {name}, at least {least} are due: read as far as it goes", name)
        ]
    if held > most:
        return [Problem("block-long", f"{held} bytes, {most} are known: the rest is kept unread", name)]
    return []


def _field_problems(head: Word, data: bytes) -> list[Problem]:
    raw = int.from_bytes(data, "little")
    found: list[Problem] = []
    for field in (part for each in reversed(head.fields) for part in at_bytes(each)):
        count = field.take(raw)
        where = f"{head.title}, byte {byte_place(field)}"
        if field.reserved and count:
            found.append(Problem("reserved-bits", "reserved bits are set", where))
        elif field.note == ZERO and count:
            found.append(Problem("reserved-bits", f"{field.title} is {count}, where it is zero", where))
        elif field.codes is not None and count not in field.codes and field.high < 8 * len(data):
            found.append(Problem("reserved-code", f"{field.title} has the reserved code {count}", where))
    return found


def _read_tail(block: Block, fields: dict[str, Any], tail: bytes, found: list[Problem]) -> bytes:
    """Put what follows the fixed part into ``fields``; gives back the bytes that stay unread."""
    where = block.head.title
    key = _TAIL_KEY[block.tail]
    if block.tail == "bytes":
        fields[key] = tail.hex()
        return b""
    if block.tail == "letters":
        whole = len(tail) - len(tail) % 2
        countries = [tail[at : at + 2] for at in range(0, whole, 2)]
        fields[key] = [_shown(country) for country in countries]
        if fields["count"] != len(countries):
            found.append(Problem("count", f"says {fields['count']} country codes, carries {len(countries)}", where))
        if not all(country.isalpha() and country.isupper() for country in countries):
            found.append(Problem("letters", "a country code that is not two capital letters", where))
        return tail[whole:]
    text, end, _ = tail.partition(_END)
    fields[key] = _shown(text)
    if not end:
        found.append(Problem("text-end", "no zero byte ends the text", where))
    elif tail[len(text) :].strip(_END):
        found.append(Problem("text-end", "something follows the zero byte that ends the text", where))
    if not all(_prints(byte) for byte in text):
        found.append(Problem("text", "the text holds bytes that do not print: shown as \\xNN", where))
    return tail[len(text) :]


def _prints(byte: int) -> bool:
    return 0x20 <= byte < 0x7F


def _shown(text: bytes) -> str:
    r"""Bytes as printable ASCII, each other byte as ``\xNN`` and a backslash doubled: safe to print, and no byte lost.

    >>> print(_shown(b"Pier\x1b[2J"))
    Pier\x1b[2J
    """
    plain = (chr(byte) if _prints(byte) else f"\\x{byte:02x}" for byte in text.replace(b"\\", b"\\\\"))
    return "".join(plain)
