"""One message: header, objects or extended data, CRC; from bytes and back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.bits.crc import CRC_BYTES, crc32, crc_matches, with_crc
from pdcheck.bits.header import (
    CHUNK_BYTES,
    CONTROL,
    DATA,
    EXTENDED,
    EXTENDED_HEADER,
    HEADER,
    HEADER_CABLE,
    MAX_DATA_SIZE,
    REVISION,
    type_name,
)
from pdcheck.bits.line import RESETS
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.named import NamedTuple

HEADER_BYTES = 2
_COUNT = HEADER.field("object_count")
# The bits that say how to read what follows; a wrong one among the others leaves the objects as they are.
_DECIDING = tuple(
    bit
    for name in ("type", "object_count", "extended")
    for bit in range(HEADER.field(name).low, HEADER.field(name).high + 1)
)


class Message(NamedTuple):
    """A message as it stood on the wire.

    ``raw`` is header and payload without the CRC. ``words`` are the data objects, ``data`` the bytes of an extended
    message's block (of this chunk alone). ``crc_given`` is ``None`` where the input carried none.
    """

    raw: bytes
    header: int
    extended_header: int | None
    words: tuple[int, ...]
    data: bytes
    crc_given: int | None
    crc_computed: int
    sop: str = "SOP"
    time_s: float | None = None
    problems: tuple[Problem, ...] = ()

    @property
    def type(self) -> str:
        """The message type by name; the two resets are ordered sets without a header and are named as such."""
        if self.sop in RESETS:
            return self.sop
        return type_name(self.header)

    @property
    def revision(self) -> str:
        """The Specification Revision: ``1.0``, ``2.0``, ``3.x`` or ``reserved``."""
        return HEADER.field("revision").meaning(HEADER.field("revision").take(self.header)) or "reserved"

    @property
    def power_role(self) -> str:
        """``source`` or ``sink``; on SOP' and SOP'' who speaks: ``port`` or ``cable plug``."""
        table = HEADER if self.sop == "SOP" else HEADER_CABLE
        field = table.field("power_role" if table is HEADER else "cable_plug")
        return field.meaning(field.take(self.header)) or ""

    @property
    def data_role(self) -> str | None:
        """``UFP`` or ``DFP``; on SOP' and SOP'' there is none."""
        field = HEADER.field("data_role")
        return field.meaning(field.take(self.header)) if self.sop == "SOP" else None

    @property
    def extended(self) -> bool:
        """Whether an extended header follows the header."""
        return self.extended_header is not None

    @property
    def crc_ok(self) -> bool | None:
        """Whether the CRC fits; ``None`` where there is none to compare."""
        return None if self.crc_given is None else self.crc_given == self.crc_computed

    def header_fields(self) -> dict[str, Any]:
        """The header's fields, unnamed codes and all."""
        return HEADER.decode(self.header)

    def extended_fields(self) -> dict[str, Any]:
        """The extended header's fields; empty for other messages."""
        return {} if self.extended_header is None else EXTENDED_HEADER.decode(self.extended_header)

    def on_wire(self) -> bytes:
        """Header, payload and a right CRC."""
        return with_crc(self.raw)


def payload_bytes(frame: bytes) -> int:
    """Bytes of header and payload that a frame's own headers promise.

    >>> payload_bytes(bytes.fromhex("a161"))
    26
    """
    header = int.from_bytes(frame[:HEADER_BYTES], "little")
    if header >> 15 and len(frame) >= 2 * HEADER_BYTES:
        inner = EXTENDED_HEADER.decode(int.from_bytes(frame[2:4], "little"))
        if not inner["chunked"]:
            return 2 * HEADER_BYTES + int(inner["data_size"])
    return HEADER_BYTES + 4 * _COUNT.take(header)


def mended_header(frame: bytes) -> int | None:
    """The header with which the last four bytes of a frame are its CRC, where one bit of type, count or extended is
    all that differs from the frame's own; ``None`` where the CRC fits as it is, or no such header makes it fit.

    A frame of 40 bytes without CRC passes for a damaged one once in 2^32 / 9.

    >>> mended_header(bytes.fromhex("4110bb6cbba8"))
    65
    >>> mended_header(bytes.fromhex("4100bb6cbba8")) is None
    True
    """
    if len(frame) < HEADER_BYTES + CRC_BYTES or crc_matches(frame):
        return None
    own = int.from_bytes(frame[:HEADER_BYTES], "little")
    rest = frame[HEADER_BYTES:]
    for bit in _DECIDING:
        header = own ^ (1 << bit)
        if crc_matches(header.to_bytes(HEADER_BYTES, "little") + rest):
            return header
    return None


def read_message(frame: bytes, sop: str = "SOP", time_s: float | None = None) -> Message:
    """Read one message, with its CRC or without.

    Raises ``InputError`` where the length fits neither; a CRC that does not fit is no error but is kept. Where one
    flipped bit of the header would change how the rest is read, and the CRC tells which, the header is read without it.

    >>> message = read_message(bytes.fromhex("410416 1cba93".replace(" ", "")))
    >>> message.type, message.crc_ok
    ('GoodCRC', False)
    """
    if len(frame) < HEADER_BYTES:
        raise InputError(f"{len(frame)} byte is no message", expected="a header of 2 bytes at least")
    mended = mended_header(frame)
    promised = payload_bytes(frame) if mended is None else len(frame) - CRC_BYTES
    if len(frame) not in (promised, promised + CRC_BYTES):
        header = int.from_bytes(frame[:HEADER_BYTES], "little")
        raise InputError(
            f"{len(frame)} bytes do not fit the header 0x{header:04X} ({type_name(header)})",
            expected=f"{promised} bytes, or {promised + CRC_BYTES} with the CRC",
        )
    # The frame codec of bits.codec says the same; importing construct would cost a third of a whole ``decode``.
    raw = frame[:promised]
    own = int.from_bytes(raw[:HEADER_BYTES], "little")
    header = own if mended is None else mended
    body = raw[HEADER_BYTES:]
    crc_given = int.from_bytes(frame[promised:], "little") if len(frame) > promised else None
    words: tuple[int, ...] = ()
    data = b""
    inner: int | None = None
    problems: list[Problem] = []
    if header >> 15:
        inner, data = _split_extended(body, problems)
    else:
        words = tuple(int.from_bytes(body[at : at + 4], "little") for at in range(0, len(body), 4))
    problems += _header_problems(header, sop)
    crc = crc32(raw)
    if crc_given is not None and crc_given != crc:
        problems.append(Problem("crc", f"CRC is {crc_given:08X}, the bytes give {crc:08X}: read with doubt"))
    if mended is not None:
        bit = (own ^ mended).bit_length() - 1
        text = f"bit {bit} came over wrong: the CRC fits {mended:04X}, {type_name(mended)}, and so it is read"
        problems.append(Problem("header-bit", text, "header"))
    return Message(raw, header, inner, words, data, crc_given, crc, sop, time_s, tuple(problems))


def reset_message(which: str, time_s: float | None = None) -> Message:
    """A Hard Reset or a Cable Reset: an ordered set alone, without bytes.

    >>> reset_message("Hard_Reset").type
    'Hard_Reset'
    """
    return Message(b"", 0, None, (), b"", None, crc32(b""), which, time_s)


def _split_extended(body: bytes, problems: list[Problem]) -> tuple[int | None, bytes]:
    if len(body) < HEADER_BYTES:
        problems.append(Problem("no-extended-header", "says Extended but carries no extended header"))
        return None, b""
    inner = int.from_bytes(body[:HEADER_BYTES], "little")
    fields = EXTENDED_HEADER.decode(inner)
    rest = body[HEADER_BYTES:]
    size = int(fields["data_size"])
    if size > MAX_DATA_SIZE:
        problems.append(Problem("data-size", f"Data Size {size} is more than {MAX_DATA_SIZE}"))
    if EXTENDED_HEADER.reserved_set(inner):
        problems.append(Problem("reserved-bits", "reserved bit 9 is set", "extended header"))
    if not fields["chunked"]:
        return inner, rest
    if fields["request_chunk"]:
        return inner, b""
    held = min(CHUNK_BYTES, max(0, size - CHUNK_BYTES * int(fields["chunk_number"])))
    if len(rest) < held:
        problems.append(Problem("chunk-short", f"the chunk holds {len(rest)} of {held} bytes"))
    if any(rest[held:]):
        problems.append(Problem("padding", "the padding after the chunk is not zero"))
    return inner, rest[:held]


def _header_problems(header: int, sop: str) -> list[Problem]:
    found: list[Problem] = []
    fields = HEADER.decode(header)
    revision = REVISION.get(fields["revision"])
    name = type_name(header)
    if name.startswith("reserved"):
        found.append(Problem("reserved-type", f"message type {name}", "header"))
    # A GoodCRC's revision carries no meaning.
    if revision is None and name != "GoodCRC":
        found.append(Problem("reserved-revision", "Specification Revision has the reserved code 3", "header"))
    if revision in ("1.0", "2.0") and fields["type"] & 0x10:
        found.append(Problem("reserved-bits", "bit 4 is reserved before Revision 3.0 and is set", "header"))
    if revision in ("1.0", "2.0") and fields["extended"]:
        found.append(Problem("reserved-bits", "bit 15 (Extended) is reserved before Revision 3.0 and is set", "header"))
    if sop != "SOP" and fields["data_role"]:
        found.append(Problem("reserved-bits", f"bit 5 is reserved on {sop} and is set", "header"))
    return found


def make_header(
    name: str,
    object_count: int,
    *,
    message_id: int = 0,
    revision: str = "3.x",
    source: bool = True,
    dfp: bool | None = None,
    extended: bool = False,
) -> int:
    """A header word for a message of that name.

    Raises ``InputError`` where no message has the name.

    >>> hex(make_header("Source_Capabilities", 6))
    '0x61a1'
    """
    table = EXTENDED if extended else (DATA if object_count else CONTROL)
    codes = {title: code for code, title in table.items()}
    if name not in codes:
        raise InputError(f"no such message: {name!r}", expected=", ".join(sorted(codes)))
    revisions = {title: code for code, title in REVISION.items()}
    if revision not in revisions:
        raise InputError(f"no such revision: {revision!r}", expected=", ".join(revisions))
    return HEADER.encode(
        {
            "extended": extended,
            "object_count": object_count,
            "id": message_id % 8,
            "power_role": source,
            "revision": revisions[revision],
            "data_role": source if dfp is None else dfp,
            "type": codes[name],
        }
    )


def build_message(header: int, words: Sequence[int] = ()) -> bytes:
    """Header, data objects and CRC as bytes.

    >>> build_message(0x0161 | 0x1000, [0x0801912C]).hex(" ")
    '61 11 2c 91 01 08 5c b8 1f 2e'
    """
    # The frame codec of bits.codec builds the same, and is slow to load.
    return with_crc(header.to_bytes(HEADER_BYTES, "little") + b"".join(word.to_bytes(4, "little") for word in words))


def build_extended(header: int, data: bytes, *, message_id: int = 0) -> list[bytes]:
    """An extended message in chunks, CRC included: one entry a chunk, without the requests between them.

    ``header`` gives type, roles and revision; count and MessageID are set here, one ID up each chunk.

    >>> [len(chunk) for chunk in build_extended(make_header("EPR_Source_Capabilities", 0, extended=True), bytes(44))]
    [34, 26]
    """
    if len(data) > MAX_DATA_SIZE:
        raise InputError(f"{len(data)} bytes of data", expected=f"at most {MAX_DATA_SIZE}")
    chunks: list[bytes] = []
    fields = HEADER.decode(header)
    for number, start in enumerate(range(0, max(len(data), 1), CHUNK_BYTES)):
        part = data[start : start + CHUNK_BYTES]
        inner = EXTENDED_HEADER.encode({"chunked": True, "chunk_number": number, "data_size": len(data)})
        body = inner.to_bytes(HEADER_BYTES, "little") + part
        body += bytes(-len(body) % 4)
        outer = HEADER.encode({**fields, "object_count": len(body) // 4, "id": (message_id + number) % 8})
        raw = outer.to_bytes(HEADER_BYTES, "little") + body
        chunks.append(with_crc(raw))
    return chunks
