"""Data blocks from bytes to fields and back: short ones, long ones, texts and letters included; nothing is lost."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pdcheck.bits.block_layout import ZERO, Block, at_bytes, byte_place
from pdcheck.bits.blocks import block_of
from pdcheck.bits.catalogue import BlockReading
from pdcheck.bits.header import MAX_DATA_SIZE
from pdcheck.bits.layout import Word
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError

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


def _unshown(key: str, text: object) -> bytes:
    r"""The bytes that ``_shown`` shows so.

    >>> _unshown("text", r"Pier\x1b[2J\\")
    b'Pier\x1b[2J\\'
    """
    if not isinstance(text, str):
        raise InputError(f"{key} = {text!r} is no text")
    if not re.fullmatch(r"(?:[ -\[\]-~]|\\\\|\\x[0-9a-fA-F]{2})*", text):
        raise InputError(f"{key} = {text!r} cannot be sent", expected="printable ASCII, \\xNN for any other byte")
    plain = re.sub(r"\\(\\|x..)", lambda hit: "\\" if hit[1] == "\\" else chr(int(hit[1][1:], 16)), text)
    return plain.encode("latin-1")


def _hex(key: str, value: object) -> bytes:
    try:
        return bytes.fromhex(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise InputError(f"{key} = {value!r} is no hex text", expected="two digits a byte") from None


def encode_block(name: str, fields: Mapping[str, Any], sop: str = "SOP") -> bytes:
    """The bytes of a data block from its fields; what is left out is zero. The way back from ``read_block``.

    Raises ``InputError`` where a value does not fit, a key is not of this block, or the block grows above 260 bytes.

    >>> encode_block("Manufacturer_Info", {"vendor_id": 0xFFFF, "text": "Pier 12 W"}).hex(" ")
    'ff ff 00 00 50 69 65 72 20 31 32 20 57 00'
    """
    given = dict(fields)
    rest = _hex("rest", given.pop("rest")) if "rest" in given else None
    length = given.pop("block_bytes", None)
    block = block_of(name, sop)
    if block is None:
        data = _hex("payload", given.pop("payload", ""))
        if given or rest is not None:
            raise InputError(f"{name} has no table: its fields cannot be written", expected="payload alone, in hex")
        return _bounded(name, data)
    if length is None:
        # First, since it may put what it counts into the head.
        tail = _build_tail(block, given, rest)
        return _bounded(name, block.head.to_bytes(given) + tail + (rest or b""))
    head = block.head.to_bytes(given)
    kept = length - len(rest or b"") if isinstance(length, int) else -1
    if not 0 <= kept <= len(head):
        raise InputError(f"block_bytes = {length!r} does not fit {name}", expected=f"0 to {len(head)}")
    return head[:kept] + (rest or b"")


def _build_tail(block: Block, given: dict[str, Any], rest: bytes | None) -> bytes:
    if not block.tail:
        return b""
    key = _TAIL_KEY[block.tail]
    if block.tail == "bytes":
        return _hex(key, given.pop(key, ""))
    if block.tail == "letters":
        countries = [_unshown(key, country) for country in given.pop(key, [])]
        if any(len(country) != 2 for country in countries):
            raise InputError("a country code has two letters")
        given.setdefault("count", len(countries))
        return b"".join(countries)
    text = _unshown(key, given.pop(key, ""))
    if _END in text:
        raise InputError("a zero byte inside the text would end it")
    return text if rest is not None else text + _END


def _bounded(name: str, data: bytes) -> bytes:
    if len(data) > MAX_DATA_SIZE:
        raise InputError(f"{len(data)} bytes of {name}", expected=f"at most {MAX_DATA_SIZE}")
    return data
