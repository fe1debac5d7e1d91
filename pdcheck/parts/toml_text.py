"""TOML text as the reader of this Python takes it: inline tables over several lines (TOML 1.1) put on one line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any

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
