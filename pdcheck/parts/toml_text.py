"""TOML text as the reader of this Python takes it, and where each key in it stands: to name its line, to change it."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Callable
from typing import Any

from pdcheck.errors import Place
from pdcheck.named import NamedTuple

_BLANK = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\r\n,]|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]*")

STRING = (
    r'"""(?:[^"\\]|\\.|"(?!""))*+(?:"{3,5})?|\'\'\'(?:[^\']|\'(?!\'\'))*+(?:\'{3,5})?'
    r'|"(?:[^"\\\n]|\\.)*+"?|\'[^\'\n]*+\'?'
)
"""A string; one without its end is all that is left of its line or of the text, so that nothing is read twice."""
# The reader takes the square of a dotted key's length; a kit or a rig is five keys deep.
_DEPTH = 40
_PIECE = re.compile(
    rf"""(?P<deep>(?:(?:[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){{{_DEPTH}}})|{STRING}"""
    r"|#[^\n]*+|[\w-]++|[^\w\"'#-]++",
    re.DOTALL,
)
_STRING = re.compile(STRING, re.DOTALL)
TOO_DEEP = "tables are nested too deep"
_TOKEN = re.compile(
    rf"(?P<string>{STRING})|(?P<comment>#[^\n]*)|(?P<mark>[\[\]{{}},\n])|[^\[\]{{}},\n#\"']+|.", re.DOTALL
)


def read_toml(text: str, parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    """The data of a TOML text, inline tables over several lines included.

    Raises ``tomllib.TOMLDecodeError`` for what is no TOML.
    """
    deep = _deep_key(text)
    if deep is not None:
        raise tomllib.TOMLDecodeError(f"{TOO_DEEP} (at line {text.count(chr(10), 0, deep) + 1}, column 1)")
    try:
        return tomllib.loads(text, parse_float=parse_float)
    except tomllib.TOMLDecodeError:
        return tomllib.loads(one_line_tables(text), parse_float=parse_float)


def _deep_key(text: str) -> int | None:
    """Where a key of too many parts stands, if there is one: under a header, before a value, or in a table inline."""
    if all(line.count(".") < _DEPTH for line in text.split("\n")):
        return None
    return next((found.start() for found in _PIECE.finditer(text) if found["deep"]), None)


def reads_as(text: str, wanted: dict[str, Any]) -> bool:
    """Whether a text is TOML and holds those data."""
    try:
        return read_toml(text) == wanted
    except tomllib.TOMLDecodeError:
        return False


def one_line_tables(text: str) -> str:
    """The text with every inline table on the line it starts on; line breaks are kept behind the table.

    Every line after a table keeps its number. Comments and a last comma inside of a table are left out.

    >>> one_line_tables("a = { b = 1, # why\\n  c = 2,\\n}\\nd = 3")
    'a = { b = 1,   c = 2 }\\n\\n\\nd = 3'
    """
    out: list[str] = []
    open_marks: list[str] = []
    held = 0
    # A line may end in CR LF, which TOML takes for LF.
    for found in _TOKEN.finditer(text.replace("\r\n", "\n")):
        piece = found[0]
        inside = "{" in open_marks
        if found["mark"] and piece in "[{":
            open_marks.append(piece)
        elif found["mark"] and piece in "]}" and open_marks:
            open_marks.pop()
            if piece == "}":
                _drop_last_comma(out)
                if "{" not in open_marks:
                    piece += "\n" * held
                    held = 0
        elif inside and found["comment"]:
            piece = ""
        elif inside and piece == "\n" and open_marks[-1] == "{":
            piece = " "
            held += 1
        out.append(piece)
    return "".join(out) + "\n" * held


def _drop_last_comma(out: list[str]) -> None:
    """Take away a comma with nothing but space behind it."""
    for index in range(len(out) - 1, -1, -1):
        if out[index] == ",":
            out[index] = ""
            return
        if out[index].strip():
            return


class Header(NamedTuple):
    """A ``[table]`` or ``[[table]]``: its path (an index behind a list), and the offsets of its line."""

    path: Place
    start: int
    end: int


class Pair(NamedTuple):
    """A key with its value: the table whose text it stands in, its whole path, and offsets of key and value."""

    table: Place
    path: Place
    start: int
    value: int
    end: int
    inline: bool


def key_lines(text: str) -> dict[Place, int]:
    """The line (from 1) of every key, table and list item of a valid TOML text, by its path.

    >>> lines = key_lines('title = "x"\\n[[branch]]\\nload = { power = "5W" }')
    >>> lines[("title",)], lines[("branch", 0)], lines[("branch", 0, "load", "power")]
    (1, 2, 3)
    """
    return Places(text).lines


class Places:
    """Lines and offsets in a TOML text, in one pass over it; relies on tomllib having read it without complaint."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Place, int] = {}
        self.headers: list[Header] = []
        self.pairs: list[Pair] = []
        self._starts = [0, *(found.end() for found in re.finditer(r"\n", text))]
        self._counts: dict[Place, int] = {}
        table: Place = ()
        while self._skip(_GAP) < len(text):
            if text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return self.at

    def _note(self, path: Place, at: int) -> None:
        self.lines.setdefault(path, bisect_right(self._starts, at))

    def _header(self) -> Place:
        line = bisect_right(self._starts, self.at)
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        names = self._names()
        path: Place = ()
        for index, name in enumerate(names):
            path += (name,)
            self._note(path, self.at)
            if is_list and index == len(names) - 1:
                self._counts[path] = self._counts.get(path, 0) + 1
            if path in self._counts:
                path += (self._counts[path] - 1,)
                self._note(path, self.at)
        self._skip(_BLANK)
        self.at += 2 if is_list else 1
        self.headers.append(Header(path, self._starts[line - 1], (*self._starts[line : line + 1], len(self.text))[0]))
        return path

    def _names(self) -> list[str]:
        names: list[str] = []
        while True:
            self._skip(_BLANK)
            names.append(self._name())
            if self.text[self._skip(_BLANK) : self.at + 1] != ".":
                return names
            self.at += 1

    def _name(self) -> str:
        quoted = _STRING.match(self.text, self.at)
        found = quoted or _BARE.match(self.text, self.at)
        if found is None:  # not reached with a text that tomllib has read
            self.at = len(self.text)
            return ""
        self.at = found.end()
        return str(tomllib.loads(f"x = {found[0]}")["x"]) if quoted else found[0]

    def _pair(self, table: Place, *, inline: bool = False) -> None:
        start, path = self.at, table
        for name in self._names():
            path += (name,)
            self._note(path, start)
        self._skip(_BLANK)
        self.at += 1
        value = self._skip(_BLANK)
        self._value(path)
        end = value + len(self.text[value : self.at].rstrip())
        self.pairs.append(Pair(table, path, start, value, end, inline))

    def _value(self, path: Place) -> None:
        opening = self.text[self.at : self.at + 1]
        if opening == "[":
            self.at += 1
            index = 0
            while self.text[self._skip(_GAP) : self.at + 1] not in ("]", ""):
                self._note((*path, index), self.at)
                self._value((*path, index))
                index += 1
            self.at += 1
        elif opening == "{":
            self.at += 1
            while self.text[self._skip(_GAP) : self.at + 1] not in ("}", ""):
                self._pair(path, inline=True)
            self.at += 1
        elif opening in ('"', "'"):
            self._skip(_STRING)
        else:
            self._skip(_SCALAR)
