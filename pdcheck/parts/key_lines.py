"""Where each key of a TOML text stands: to name the line of a mistake, and to change it there and nowhere else."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

from pdcheck.named import NamedTuple
from pdcheck.parts.toml_text import STRING

Path = tuple[str | int, ...]

_BLANK = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\r\n,]|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(STRING, re.DOTALL)
_SCALAR = re.compile(r"[^,\]}#\n]*")


class Header(NamedTuple):
    """A ``[table]`` or ``[[table]]``: its path (an index behind a list), and the offsets of its line."""

    path: Path
    start: int
    end: int


class Pair(NamedTuple):
    """A key with its value: the table whose text it stands in, its whole path, and offsets of key and value."""

    table: Path
    path: Path
    start: int
    value: int
    end: int
    inline: bool


def key_lines(text: str) -> dict[Path, int]:
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
        self.lines: dict[Path, int] = {}
        self.headers: list[Header] = []
        self.pairs: list[Pair] = []
        self._starts = [0, *(found.end() for found in re.finditer(r"\n", text))]
        self._counts: dict[Path, int] = {}
        table: Path = ()
        while self._skip(_GAP) < len(text):
            if text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return self.at

    def _note(self, path: Path, at: int) -> None:
        self.lines.setdefault(path, bisect_right(self._starts, at))

    def _header(self) -> Path:
        line = bisect_right(self._starts, self.at)
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        names = self._names()
        path: Path = ()
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

    def _pair(self, table: Path, *, inline: bool = False) -> None:
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

    def _value(self, path: Path) -> None:
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
