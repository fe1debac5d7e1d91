"""Rows that belong together: a heading and what is indented below it, what stands between blank rows, repeated keys."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from pdcheck.intake.row import LONGEST_ROW

Numbered = tuple[int, str]
"""A row, and the number of its line from 1."""

KINDS = ("indent", "item", "blank", "key")
_ROWS_MOST = 64
_INDENT = re.compile(r"[ \t]{0,400}")
_KEY = re.compile(r"[ \t]{0,40}([A-Za-z_][\w .#-]{0,40}?)[ \t]{0,8}[:=]")
_ITEM = re.compile(r"[ \t]{0,40}(?:- |\* )")


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
