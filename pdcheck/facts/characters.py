"""Characters that a text from outside may not bring to a terminal or a page: controls, marks of direction, no shape."""

from __future__ import annotations

from collections.abc import Callable

JOINER = "\u200d"
"""Joins emoji to one, and letters of some scripts; it has no width and no direction [UAX 29]."""


def is_hidden(character: str) -> bool:
    """Whether a character acts instead of being seen: all but letters, marks, figures, signs and spaces.

    Source: the general categories of Unicode: Cc, Cf, Co, Cs, Cn, Zl and Zp [standard].

    >>> [is_hidden(each) for each in ("a", "Ω", "\\u00a0", "\\x1b", "\\x9b", "\\u202e", "\\ud800")]
    [False, False, False, True, True, True, True]
    """
    if character.isprintable() or character == JOINER:
        return False
    from unicodedata import category

    return category(character) != "Zs"


NAME_SIGNS = "letters, digits and . _ + -, not beginning with . or -"
"""What a name may be made of, as a person is told."""
# Letters of other scripts that most fonts draw as these Latin ones [common practice, no source; by eye].
_LOOK_ALIKE = str.maketrans(
    "АВЕЅІЈКМНОРСТУХаеоѕіјрсухΑΒΕΖΗΙΚΜΝΟΡΤΥΧοϲԁԛԝһӏ",
    "ABESIJKMHOPCTYXaeosijpcyxABEZHIKMNOPTYXocdqwhl",
)


def is_name(text: str) -> bool:
    """Whether a text can be a name: no shell, path or option takes any of its characters for a sign of its own.

    A colon stands before the name of a charger's port.

    >>> [is_name(each) for each in ("wall-65", "größe_2", "+12V", "$(x)", "-v", "..", "a b", "")]
    [True, True, True, False, False, False, False, False]
    >>> is_name("desk:C2"), is_name("desk:"), is_name("desk:C2:x")
    (True, False, False)
    """
    from unicodedata import category

    owner, colon, port = text.partition(":")
    if colon:
        return ":" not in port and is_name(owner) and is_name(port)
    if not text or not (text[0].isalnum() or text[0] in "_+"):
        return False
    # Marks belong to the letters that they stand on, as in many scripts of India.
    return all(each in "._+-" or (each.isprintable() and category(each)[0] in "LMN") for each in text)


def looks(text: str) -> str:
    """What a name looks like: one for names that are composed in another way, or in letters of another script.

    >>> looks("e\\u0301clair") == looks("\\u00e9clair"), looks("w\\u0430ll") == looks("wall"), looks("a") == looks("b")
    (True, True, False)
    """
    from unicodedata import normalize

    return text if text.isascii() else normalize("NFKC", text).translate(_LOOK_ALIKE)


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
