"""Rows of a log as one row a message: dumps with offsets, a byte a line, bytes of Python, paragraphs, JSON."""

from __future__ import annotations

import ast
import json
import re
import warnings
from collections.abc import Iterable, Iterator, Sequence

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.message import HEADER_BYTES, payload_bytes
from pdcheck.intake.row import LONGEST_ROW

Numbered = tuple[int, str]
"""A row, and the number of its line from 1."""

KINDS = ("indent", "item", "blank", "key")
_ROWS_MOST = 64
LONGEST_BLOCK = 4096
"""Bytes that are put together at most; the longest message has 270."""

_INDENT = re.compile(r"[ \t]{0,400}")
_KEY = re.compile(r"[ \t]{0,40}([A-Za-z_][\w .#-]{0,40}?)[ \t]{0,8}[:=]")
_ITEM = re.compile(r"[ \t]{0,40}(?:- |\* )")
_LITERAL = re.compile(r"\bb'(?:[^'\\\n]|\\.){0,4000}'|\bb\"(?:[^\"\\\n]|\\.){0,4000}\"")
_OFFSET = re.compile(r"\s{0,16}(?:0[xX])?([0-9A-Fa-f]{4,16})(?::\s{0,4}|\s{1,4})(?=[0-9A-Fa-f]{2})")
_END = re.compile(r"\s{0,16}[0-9A-Fa-f]{6,16}\s{0,16}")
_BYTE = re.compile(r"\s{0,16}(?:\d{1,6}[:.)\s]\s{0,4})?(?:0[xX])?([0-9A-Fa-f]{2})[hH]?,?\s{0,16}")
_TIMED_BYTE = re.compile(r"\s{0,16}([^\s,;]{0,24}\d[^\s,;]{0,12})[\s,;]{1,4}(?:0[xX])?([0-9A-Fa-f]{2})\s{0,16}")
_PAIRS = re.compile(r"[0-9A-Fa-f]{2}(?: ?[0-9A-Fa-f]{2}){0,31}(?=\s|$)")
_JSON = re.compile(r"\s{0,200}(?:\[\s{0,200}[\"{\[]|\{\s{0,200}\"|\[\s{0,200}\d{1,3}\s{0,200},)")


def unfoldings(rows: Sequence[str]) -> list[str]:
    """The ways in which the first rows of a log may be unfolded; as they stand is one.

    >>> unfoldings(["a1 61"]), unfoldings(["0.5 SOP", "  41 04"])
    ([''], ['', 'indent'])
    """
    first = unfolding(rows)
    return [*([first] if first else []), "", *paragraphings(rows)]


def unfolding(rows: Sequence[str]) -> str:
    """How the first rows of a log have to be unfolded: ``dump``, ``bytes``, ``timed bytes``, ``python``, or empty.

    >>> unfolding(["00000000  41 04", "", "00000000  41 00"]), unfolding(["b'A\\\\x04'"]), unfolding(["a1 61"])
    ('dump', 'python', '')
    """
    solid = [row[:400] for row in rows if row.strip()]
    if not solid:
        return ""
    starts = [_OFFSET.match(row) for row in solid]
    zeros = sum(found is not None and int(found[1], 16) == 0 for found in starts)
    others = sum(found is None and not _END.fullmatch(row) for found, row in zip(starts, solid, strict=True))
    if zeros > 1 or (zeros == 1 and others):
        dues = [_dump_bytes(row, found) for row, found in zip(solid, starts, strict=True) if found is not None]
        if zeros * 2 >= sum(found is not None for found in starts) or all(len(each) >= 2 for each in dues):
            return "dump"
    if sum(_BYTE.fullmatch(row) is not None for row in solid) > max(5, 0.6 * len(solid)):
        return "bytes"
    if sum(_TIMED_BYTE.fullmatch(row) is not None for row in solid) > max(5, 0.8 * len(solid)):
        return "timed bytes"
    return "python" if any(_LITERAL.search(row) for row in solid) else ""


def unfolded(rows: Iterable[Numbered], how: str) -> Iterator[Numbered]:
    """Rows with what belongs together put into one, and what is several messages put into several."""
    if how == "python":
        for number, row in rows:
            yield from ((number, each) for each in _literals(row))
    elif how == "dump":
        yield from _dumped(rows)
    elif how == "bytes":
        yield from _stacked(rows)
    elif how == "timed bytes":
        yield from _timed_bytes(rows)
    elif how in KINDS:
        yield from paragraphed(rows, how)
    else:
        yield from rows


def _timed_bytes(rows: Iterable[Numbered]) -> Iterator[Numbered]:
    """A row for each message of bytes that stand one a line, each with its time; only a CRC tells where one ends."""
    waiting: list[tuple[int, str, int]] = []
    for number, row in rows:
        found = _TIMED_BYTE.fullmatch(row)
        if found is None:
            if row.strip():
                yield number, row
            continue
        waiting.append((number, found[1], int(found[2], 16)))
        while waiting:
            data = bytes(byte for _, _, byte in waiting)
            due = payload_bytes(data) + CRC_BYTES if len(data) >= HEADER_BYTES else HEADER_BYTES + 1
            if len(data) < due:
                break
            if len(data) == due and crc_matches(data):
                yield waiting[0][0], f"{waiting[0][1]} {data.hex()}"
                waiting = []
            else:
                del waiting[0]


def begins_dump(row: str) -> bool:
    """Whether a row begins at an offset of zero.

    >>> begins_dump("0000: 41 00"), begins_dump("0.5 SOP 41 00")
    (True, False)
    """
    found = _OFFSET.match(row[:400])
    return found is not None and int(found[1], 16) == 0


def _literals(row: str) -> Iterator[str]:
    """A row for each bytes literal in it, its bytes as hex behind what stands before it; one as long as it has one."""
    at = 0
    if len(_LITERAL.findall(row)) == 1:
        found = next(_LITERAL.finditer(row))
        data = _evaluated(found[0])
        yield row if data is None else f"{row[: found.start()]} {data.hex()} {row[found.end() :]}"
        return
    for found in _LITERAL.finditer(row):
        data = _evaluated(found[0])
        if data is None:
            continue
        yield f"{row[at : found.start()]} {data.hex()}"
        at = found.end()
    if not at:
        yield row
    elif row[at:].strip(" \t,;()[]{}"):
        yield row[at:]


def _evaluated(literal: str) -> bytes | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            data: bytes = ast.literal_eval(literal)
    except (ValueError, SyntaxError):
        return None
    return data


def _dump_bytes(row: str, start: re.Match[str]) -> str:
    """The digits of a row of a dump: pairs up to the text at the right."""
    body = row[start.end() :].split("|", maxsplit=1)[0]
    digits: list[str] = []
    # Two blanks or more may part the halves of a row, or the text from the bytes: sixteen bytes are the most.
    for word in re.split(r"(\s{3,})", body)[0].split():
        if not _PAIRS.fullmatch(word) or len(word) % 2 or len("".join(digits)) + len(word) > 64:
            break
        digits.append(word)
    return "".join(digits)


def _dumped(rows: Iterable[Numbered]) -> Iterator[Numbered]:
    title: Numbered | None = None
    begun: int | None = None
    head = block = ""
    for number, row in rows:
        found = _OFFSET.match(row)
        if found is None:
            if _END.fullmatch(row) and begun is not None:
                continue
            if begun is not None:
                yield begun, f"{head} {block}"
                begun, block = None, ""
            if title is not None and row.strip():
                yield title
            title = (number, row) if row.strip() else title
            continue
        digits = _dump_bytes(row, found)
        offset = int(found[1], 16)
        if begun is not None and offset and offset * 2 == len(block) and offset < LONGEST_BLOCK:
            block += digits
            continue
        if begun is not None:
            yield begun, f"{head} {block}"
        begun, head, block = number, title[1] if title else "", digits
        title = None
        if offset:
            # A row of which the beginning is missing.
            yield number, row
            begun, block = None, ""
    if begun is not None:
        yield begun, f"{head} {block}"
    elif title is not None:
        yield title


def _stacked(rows: Iterable[Numbered]) -> Iterator[Numbered]:
    begun: int | None = None
    head = block = ""
    for number, row in rows:
        found = _BYTE.fullmatch(row)
        if found is not None and len(block) < 2 * LONGEST_BLOCK:
            begun = number if begun is None else begun
            block += found[1]
            continue
        if block and begun is not None:
            yield begun, f"{head} {block}"
            begun, head, block = None, "", ""
        if row.strip():
            if head:
                yield number - 1, head
            head, begun = row, number
    if begun is not None:
        yield begun, f"{head} {block}"


def paragraphings(rows: Sequence[str]) -> list[str]:
    """The kinds of paragraphs that rows may be in.

    >>> paragraphings(["0.5 SOP", "    41 04", "0.6 SOP", "    41 00"])
    ['indent']
    """
    solid = [row for row in rows if row.strip()]
    indents = [_indent(row) for row in solid]
    least = min(indents, default=0)
    found = []
    if any(indent > least for indent in indents):
        found.append("indent")
    if any(map(_ITEM.match, solid)):
        found.append("item")
    if any(not row.strip() for row in rows[1:-1]):
        found.append("blank")
    keys = [key[1] for key in map(_KEY.match, solid) if key]
    if len(keys) > 0.9 * len(solid) and any(keys.count(key) > 1 for key in keys[:3]):
        found.append("key")
    return found


def paragraphed(rows: Iterable[Numbered], kind: str) -> Iterator[Numbered]:
    """A row for each paragraph, its lines one behind the other.

    >>> list(paragraphed(enumerate(["0.5 SOP", "    41 04", "0.6 SOP", "    41 00"], 1), "indent"))
    [(1, '0.5 SOP ; 41 04'), (3, '0.6 SOP ; 41 00')]
    """
    begins = _Beginning(kind)
    number, some, size = 0, [], 0  # type: int, list[str], int
    for at, row in rows:
        if some and (begins(row) or len(some) >= _ROWS_MOST or size + len(row) > LONGEST_ROW):
            yield number, " ; ".join(some)
            some, size = [], 0
        elif not some:
            begins(row)
        if row.strip():
            number = number if some else at
            some.append(row.strip().removeprefix("- "))
            size += len(row)
    if some:
        yield number, " ; ".join(some)


class _Beginning:
    """Whether a row begins a paragraph."""

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self._least = 400
        self._key = ""

    def __call__(self, row: str) -> bool:
        if not row.strip():
            return self._kind == "blank"
        if self._kind == "indent":
            self._least = min(self._least, _indent(row))
            return _indent(row) <= self._least
        if self._kind == "item":
            return _ITEM.match(row) is not None
        if self._kind == "key":
            key = _KEY.match(row)
            self._key = self._key or (key[1] if key else "")
            return key is not None and key[1] == self._key
        return False


def _indent(row: str) -> int:
    found = _INDENT.match(row)
    return len(found[0].expandtabs(8)) if found else 0


def looks_like_json(head: str) -> bool:
    """Whether a text begins as an array or an object of JSON that goes over several rows or holds several messages.

    >>> looks_like_json('[{"data": "a161"}]'), looks_like_json("[0.5] SOP 41 00")
    (True, False)
    """
    if not _JSON.match(head):
        return False
    first, _, rest = head.lstrip().partition("\n")
    if first.rstrip()[-1:] == "}" and rest.lstrip()[:1] in ("{", "") and "[{" not in first.replace(" ", ""):
        # An object a line.
        return rest.strip() == "" and '": [' in first.replace('":[', '": [')
    return True


def json_items(text: str) -> Iterator[tuple[int, object]]:
    """The elements of the first array of a JSON text with their lines, as far as it is whole; then what is wrong.

    Raises ``ValueError`` with the line where it is cut short or torn.

    >>> list(json_items('{"n": 1, "packets": [\\n{"data": "4104"}]}'))
    [(2, {'data': '4104'})]
    """
    decoder = json.JSONDecoder()
    at = _array_at(text)
    line, counted = 1, 0
    while True:
        while at < len(text) and text[at] in " \t\r\n,":
            at += 1
        line, counted = line + text.count("\n", counted, at), at
        if at >= len(text):
            raise ValueError(f"line {line}")
        if text[at] == "]":
            return
        try:
            item, at = decoder.raw_decode(text, at)
        except (ValueError, RecursionError):
            raise ValueError(f"line {line}") from None
        yield line, item


def _array_at(text: str) -> int:
    """Behind the bracket of the array that holds the messages: the first with an object in it, else the first."""
    first = text.lstrip()[:1]
    if first == "[":
        return text.index("[") + 1
    for found in re.finditer(r'"\s{0,20}:\s{0,20}\[\s{0,200}\{', text):
        return text.index("[", found.start()) + 1
    place = text.find("[")
    return place + 1 if place >= 0 else len(text)
