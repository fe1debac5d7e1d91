"""Text from files and captures made safe for a terminal, for JSON and for a spreadsheet."""

from __future__ import annotations

from pdcheck.facts.characters import escaped, with_hidden

_FORMULA = ("=", "+", "-", "@")
"""What a spreadsheet takes for the beginning of a formula [common practice, no source]."""


def clean(text: str, longest: int = 400) -> str:
    """Control characters and marks of direction as visible escapes, and no more than ``longest`` characters.

    >>> clean("a\\x1b[31mb")
    'a\\\\x1b[31mb'
    """
    shown = with_hidden(text, escaped)
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


def pasted(text: str) -> str:
    """A text as one word of a command to be pasted into a shell: nothing in it acts there, or on the terminal.

    >>> pasted("pier-box.toml"), pasted("a b;touch x")
    ('pier-box.toml', "'a b;touch x'")
    """
    from shlex import quote

    # A path that begins as an option does is one of this folder.
    return quote(with_hidden(f"./{text}" if text.startswith("-") else text, escaped))


def clean_json(text: str) -> str:
    """A JSON document with the same content and no hidden character in it but line ends.

    >>> clean_json('["20\\u202eV"]')
    '["20\\\\u202eV"]'
    """
    return "\n".join(with_hidden(line, _json_escape) for line in text.split("\n"))


def csv_cell(text: str) -> str:
    """A text for a cell of CSV; an apostrophe keeps a spreadsheet from working out what looks like a formula.

    >>> csv_cell("wall-45"), csv_cell("=1+1")
    ('wall-45', "'=1+1")
    """
    shown = with_hidden(text, escaped)
    return f"'{shown}" if shown.startswith(_FORMULA) else shown


def _json_escape(character: str) -> str:
    code = ord(character)
    if code < 0x10000:
        return f"\\u{code:04x}"
    code -= 0x10000
    return f"\\u{0xD800 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"
