"""Text in the cells of a terminal: how many it takes, and lines of no more than there are."""

from __future__ import annotations

import re
from collections.abc import Iterator

ZERO_WIDTH = ("Mn", "Me", "Cf")
"""Categories of what is drawn over the character before it."""
_WORDS = re.compile(r"\s+|\S+")
_AT_HYPHEN = re.compile(r"(?<=\w[^\W\d]-)(?=\w[^\W\d])")
_FIGURE = re.compile(r"(?<!\S)\S*\d (?:[nµmkM]?(?:[VWΩFJsm]|A|Ah|Wh)|mm²|%|°C|K|h|min)(?![A-Za-z²])\S*")
_JOINT = "\x00"
"""Between a figure and its unit, which stay on one line; stands in no text that is shown."""
WIDE_SIGN = "\ufe0f"
"""The variation selector that makes an emoji, two cells wide, of the sign before it [Unicode, TR 51]."""


def shown_width(text: str) -> int:
    """Cells that a text takes: two for a wide letter or an emoji, none for what is drawn over another.

    Source: the East Asian Width of Unicode, UAX 11: W and F are two cells wide [standard].

    >>> shown_width("20 V"), shown_width("\uff15"), shown_width("e\u0301"), shown_width("\u2600\ufe0f")
    (4, 2, 1, 2)
    """
    if text.isascii():
        return len(text)
    return sum(map(_width, text))


def _width(character: str) -> int:
    from unicodedata import category, east_asian_width

    if character == WIDE_SIGN:
        return 1
    if category(character) in ZERO_WIDTH:
        return 0
    return 2 if east_asian_width(character) in "WF" else 1


def wrapped(text: str, width: int, first: str = "", later: str = "", *, hyphens: bool = True) -> list[str]:
    """The lines of a text, none wider than ``width`` cells; at least one. A word that is longer is cut.

    >>> wrapped("one two three", 9, "- ", "  ")
    ['- one two', '  three']
    >>> wrapped("\uff11\uff12\uff13\uff14", 4)
    ['\uff11\uff12', '\uff13\uff14']
    >>> wrapped("it takes 3 A", 10)
    ['it takes', '3 A']
    """
    if len(first) + len(text) <= width and text.isascii() and text.isprintable() and text.strip():
        return [first + text.rstrip()]
    room = width - max(len(first), len(later))
    text = _FIGURE.sub(lambda figure: figure[0].replace(" ", _JOINT) if len(figure[0]) <= room else figure[0], text)
    return [line.replace(_JOINT, " ") for line in _broken(text, width, first, later, hyphens=hyphens)]


def _broken(text: str, width: int, first: str, later: str, *, hyphens: bool) -> list[str]:
    if all(_width(each) == 1 for each in text):
        import textwrap

        plain = textwrap.wrap(text, width, initial_indent=first, subsequent_indent=later, break_on_hyphens=hyphens)
        return plain or [""]
    lines: list[str] = []
    line, begun = first, False
    for word in _WORDS.findall(text):
        for piece in _AT_HYPHEN.split(word) if hyphens else (word,):
            if piece.isspace():
                line += piece if begun else ""
                continue
            if begun and shown_width(line) + shown_width(piece) > width:
                lines.append(line.rstrip())
                line, begun = later, False
            start, *more = _cut(piece, width - shown_width(line), width - shown_width(later))
            line, begun = line + start, True
            for part in more:
                lines.append(line)
                line = later + part
    return [*lines, line.rstrip()]


def _cut(word: str, room: int, more: int) -> Iterator[str]:
    """A word in pieces of at most ``room`` cells, then of ``more``."""
    piece, taken = "", 0
    for character in word:
        size = _width(character)
        if piece and taken + size > max(room, 1):
            yield piece
            piece, taken, room = "", 0, more
        piece, taken = piece + character, taken + size
    yield piece


_SHELL_WORDS = re.compile(r"""(?:--?[\w-]+ )?(?:'[^']*'|"[^"]*"|[^\s'"])+""")
"""A word of a command to paste, an option together with its value."""


def fitted(text: str, width: int) -> str:
    """A text of which every line that is too wide goes on below, set in two more; a command to paste goes on too.

    >>> print(fitted("  one two three", 10))
      one two
        three
    >>> print(fitted("  pdcheck check box.toml --kit kit.toml", 30).replace(chr(92), "(backslash)"))
      pdcheck check box.toml (backslash)
        --kit kit.toml
    """
    return "\n".join(part for line in text.split("\n") for part in _fitted(line, width))


def _fitted(line: str, width: int) -> list[str]:
    if shown_width(line) <= width:
        return [line]
    body = line.lstrip(" ")
    pad = " " * min(len(line) - len(body), width // 2)
    if not body.startswith("pdcheck ") or "\\" in body:
        return wrapped(body, width, pad, f"{pad}  ", hyphens=False)
    lines: list[str] = []
    for word in _SHELL_WORDS.findall(body):
        option, _, value = word.partition(" ") if word.startswith("-") else (word, "", "")
        for part in (option, value) if value and len(pad) + shown_width(word) + 4 > width else (word,):
            if lines and shown_width(lines[-1]) + shown_width(part) + 3 <= width:
                lines[-1] += f" {part}"
            else:
                lines.append(f"{pad}  {part}" if lines else f"{pad}{part}")
    # Where a word of it alone is wider, the terminal itself breaks the line: so it can still be pasted.
    return [f"{each} \\" for each in lines[:-1]] + lines[-1:]
