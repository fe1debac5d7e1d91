"""Dressing: words that loggers and programs put around hex and that say nothing; blanked so that offsets stay."""

from __future__ import annotations

import re

from pdcheck.bits.header import CONTROL, DATA, EXTENDED

# An array or a bytes literal in a program, up to where its values begin.
_DECLARED = re.compile(
    r"^\s*(?:[A-Za-z_][\w \t*]*(?:\[\s*\w*\s*\])?\s*=\s*)?(?:(?:bytes|bytearray)(?:\.fromhex)?\s*\(\s*)?"
    r"(?:b(?=[\"'])|(?=[\[{(\"'])|(?=0[xX])|$)"
)
_CALLED = re.compile(
    r"\b(?:(?:src|snk|source|sink)[ _-]?)?"
    r"(?:a?pdo|rdo|vdo|obj(?:ect)?|word|header|hdr|data|raw|hex|payload|msg|message|bytes|frame|packet|pkt|crc(?:-?32)?)s?"
    r"\s*(?:#?\d{1,2}|\[\s*\d{1,2}\s*\]|\(\s*\d{1,2}\s*\))?\s*(?:[:=]|(?=\s*(?:0[xX]|[0-9A-Fa-f]{2})))",
    re.IGNORECASE,
)
_INDEX = re.compile(
    r"^\s*(?:(?:\[\s*\d{1,2}\s*\]|\(\s*\d{1,2}\s*\)|\d{1,2}\s*[:.)=])\s*(?=0[xX]|[0-9A-Fa-f]{8}\b)"
    r"|\d{1,2}\)\s+(?=[0-9A-Fa-f]{2}))"
)
_LETTERS = re.compile(r"[^\W\d_]++")
_NO_HEX = re.compile(r"[^\W\dA-Fa-f_]")
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]")
_QUOTE = re.compile(r"(?<![^\s,;\t])\"|\"(?=\s*(?:[,;\t]|$))")
_TITLES = re.compile(r"^[^\d,;\t]*[^\W\dA-Fa-f_][^\d,;\t]*(?:[,;\t][^\d,;\t]*)+$")


def undressed(body: str, *, first: bool = False) -> str:
    """A line without what dresses it, at the same offsets; ``first`` where it may be the titles of a table.

    >>> undressed("PDO[1]: 0x0801912C").strip()
    '0x0801912C'
    >>> undressed('"0.5","SOP","a1 61"').split()
    ['0.5', ',', 'SOP', ',', 'a1', '61']
    """
    if first and _TITLES.match(body):
        return ""
    body = _without_remark(body)
    for pattern in (_DECLARED, _INDEX, _CALLED, *([_QUOTE] if '"' in body else []), _message_names()):
        body = pattern.sub(_blank, body)
    return body


def _without_remark(body: str) -> str:
    """A line without what stands behind its last semicolon, where that has a word in it that is no hex."""
    at = body.rfind(";")
    if at < 0 or not any(_is_word(body, found) for found in _LETTERS.finditer(body, at + 1)):
        return body
    return body[:at] + " " * (len(body) - at)


def _is_word(body: str, found: re.Match[str]) -> bool:
    """Whether letters that no digit touches are no hex; a letter beyond ASCII parts them from a digit beside."""
    start, end = found.span()
    if body[start - 1] in "0123456789":
        beyond = _BEYOND_ASCII.search(body, start, end)
        start = end if beyond is None else beyond.end()
    if body[end : end + 1] in tuple("0123456789"):
        end = next((at for at in range(end - 1, start - 1, -1) if not body[at].isascii()), start)
    return _NO_HEX.search(body, start, end) is not None


def _blank(found: re.Match[str]) -> str:
    return " " * len(found[0])


def _message_names() -> re.Pattern[str]:
    """The names of messages, which many loggers print beside the bytes."""
    names = {name for table in (CONTROL, DATA, EXTENDED) for name in table.values()}
    either = "|".join(sorted((name.replace("_", "[ _]?") for name in names), key=len, reverse=True))
    return re.compile(rf"(?<![0-9A-Za-z])(?:{either})(?![0-9A-Za-z_])\s*[:=]?", re.IGNORECASE)
