"""Characters that a text from outside may not bring to a terminal or a page: controls, marks of direction, no shape."""

from __future__ import annotations

from collections.abc import Callable


def is_hidden(character: str) -> bool:
    """Whether a character acts instead of being seen: all but letters, marks, figures, signs and spaces.

    Source: the general categories of Unicode: Cc, Cf, Co, Cs, Cn, Zl and Zp [standard].

    >>> [is_hidden(each) for each in ("a", "Ω", "\\u00a0", "\\x1b", "\\x9b", "\\u202e", "\\ud800")]
    [False, False, False, True, True, True, True]
    """
    if character.isprintable():
        return False
    from unicodedata import category

    return category(character) != "Zs"


def with_hidden(text: str, shown: Callable[[str], str]) -> str:
    """The text with ``shown`` in place of each hidden character.

    >>> with_hidden("a\\x07b", lambda character: f"<{ord(character):02X}>")
    'a<07>b'
    """
    if text.isprintable():
        return text
    return "".join(shown(each) if is_hidden(each) else each for each in text)


def escaped(character: str) -> str:
    """A character as an escape that any reader of code knows.

    >>> escaped("\\x1b"), escaped("\\u202e")
    ('\\\\x1b', '\\\\u202e')
    """
    return character.encode("unicode_escape").decode("ascii")
