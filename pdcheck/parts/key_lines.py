"""Where each key of a TOML text stands, to name the line of a mistake; used only once there is one."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

from pdcheck.parts.toml_text import STRING

Path = tuple[str | int, ...]

_BLANK = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\r\n,]|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(STRING, re.DOTALL)
_SCALAR = re.compile(r"[^,\]}#\n]*")


def key_lines(text: str) -> dict[Path, int]:
    """The line (from 1) of every key, table and list item of a valid TOML text, by its path.

    >>> lines = key_lines('title = "x"\\n[[branch]]\\nload = { power = "5W" }')
    >>> lines[("title",)], lines[("branch", 0)], lines[("branch", 0, "load", "power")]
    (1, 2, 3)
    """
    return _Scanner(text).scan()


class _Scanner:
    """One pass over the text; relies on tomllib having read it without complaint."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.starts = [0, *(found.end() for found in re.finditer(r"\n", text))]
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}

    def scan(self) -> dict[Path, int]:
        table: Path = ()
        while self._skip(_GAP) < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
        return self.lines

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return self.at

    def _note(self, path: Path) -> None:
        self.lines.setdefault(path, bisect_right(self.starts, self.at))

    def _header(self) -> Path:
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        names = self._names()
        path: Path = ()
        for index, name in enumerate(names):
            path += (name,)
            self._note(path)
            if is_list and index == len(names) - 1:
                self.counts[path] = self.counts.get(path, 0) + 1
            if path in self.counts:
                path += (self.counts[path] - 1,)
                self._note(path)
        self._skip(_BLANK)
        self.at += 2 if is_list else 1
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

    def _pair(self, table: Path) -> None:
        start = self.at
        names = self._names()
        end, self.at = self.at, start
        path = table
        for name in names:
            path += (name,)
            self._note(path)
        self.at = end
        self._skip(_BLANK)
        self.at += 1
        self._skip(_BLANK)
        self._value(path)

    def _value(self, path: Path) -> None:
        opening = self.text[self.at : self.at + 1]
        if opening == "[":
            self.at += 1
            index = 0
            while self.text[self._skip(_GAP) : self.at + 1] not in ("]", ""):
                self._note((*path, index))
                self._value((*path, index))
                index += 1
            self.at += 1
        elif opening == "{":
            self.at += 1
            while self.text[self._skip(_GAP) : self.at + 1] not in ("}", ""):
                self._pair(path)
            self.at += 1
        elif opening in ('"', "'"):
            self._skip(_STRING)
        else:
            self._skip(_SCALAR)
