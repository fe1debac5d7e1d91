"""Changes in the text of a TOML file that leave everything else as it stands: order, comments, dress.

A tree that is written out again would put the tables of one kind together and move the comments between them; so the
text is cut and joined at the places that ``Places`` finds, and the outcome is read again and compared.
"""

from __future__ import annotations

import copy
import json
import re
from typing import Any

from pdcheck.errors import InputError, Place
from pdcheck.facts.characters import with_hidden
from pdcheck.parts.toml_text import Places, read_toml, reads_as

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_value(value: Any) -> str:
    """A value as TOML has it, tables inline.

    >>> toml_value({"awg": 20, "length": "0.4m"}), toml_value("5V\\n9V")
    ('{ awg = 20, length = "0.4m" }', '"5V\\\\n9V"')
    """
    if isinstance(value, dict):
        inside = ", ".join(f"{toml_key(key)} = {toml_value(each)}" for key, each in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(each) for each in value)}]"
    if not isinstance(value, str):
        return str(value).lower() if isinstance(value, bool) else str(value)
    # A file that is looked at in a terminal shows what it holds; what is no character cannot be written so.
    return with_hidden(json.dumps(value, ensure_ascii=False), _escaped)


def _escaped(character: str) -> str:
    code = ord(character)
    if 0xD800 <= code < 0xE000 or character in "\r\n":
        return character
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def toml_key(key: str) -> str:
    """A key, quoted where it must be.

    >>> toml_key("dew-heater"), toml_key("a.b")
    ('dew-heater', '"a.b"')
    """
    return key if _BARE.fullmatch(key) else toml_value(key)


def toml_table(header: str, table: dict[str, Any], comment: str = "") -> str:
    """A table of a list with its header, and a comment below that where there is one.

    >>> print(toml_table("cable", {"id": "thin", "kind": "C-C"}, "from the drawer"), end="")
    [[cable]]
    # from the drawer
    id = "thin"
    kind = "C-C"
    """
    lines = [f"[[{header}]]", *(f"# {line}" for line in comment.splitlines())]
    lines += [f"{toml_key(key)} = {toml_value(value)}" for key, value in table.items()]
    return "\n".join(lines) + "\n"


def block_of(text: str, path: Place) -> tuple[int, int]:
    """The offsets of a table of a list: from the comment right above its header to where the next one's begins.

    Raises ``InputError`` where the text has no such header, as with ``source = [..]``.
    """
    places = Places(text)
    at = next((index for index, each in enumerate(places.headers) if each.path == path), None)
    if at is None:
        name = ".".join(str(part) for part in path if isinstance(part, str))
        raise InputError(f"{name} is not written as [[{name}]]", expected="tables under headers, to change them here")
    start = _comment_above(text, places.headers[at].start)
    following = (each for each in places.headers[at + 1 :] if each.path[: len(path)] != path)
    after = next(following, None)
    return start, len(text) if after is None else _comment_above(text, after.start)


def _comment_above(text: str, start: int) -> int:
    """Where the comment lines right above a header begin; a comment at the very top is the file's own."""
    at = start
    while at > 0:
        line = text.rfind("\n", 0, at - 1) + 1
        if not text[line:at].lstrip().startswith("#"):
            return at
        at = line
    return start if at == 0 and start else at


def insert_table(text: str, kind: str, written: str, count: int) -> str:
    """The text with a written table behind the last of the ``count`` that it has, else at its end."""
    at = block_of(text, (kind, count - 1))[1] if count else len(text)
    return _joined(text[:at], written, text[at:])


def replace_block(text: str, path: Place, written: str) -> str:
    """The text with a table replaced (or taken away, where ``written`` is empty), its comment kept if it stays."""
    start, end = block_of(text, path)
    header = next(each for each in Places(text).headers if each.path == path)
    if written:
        tail = text[_last_line(text, header.start, end) : end]
        return text[: header.start] + _dressed(text, written) + tail + text[end:]
    before, after = text[:start], text[end:]
    return before if not after else before.rstrip("\r\n") + _gap(text, before) + after


def _last_line(text: str, start: int, end: int) -> int:
    """Where the last key of a block ends, so that blank lines and comments behind it stay."""
    last = max((each.end for each in Places(text).pairs if start <= each.start < end), default=start)
    found = text.find("\n", last, end)
    return end if found < 0 else found + 1


def _gap(text: str, before: str) -> str:
    return _newline(text) * 2 if before.strip() else ""


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _dressed(text: str, written: str) -> str:
    return written.replace("\n", _newline(text))


def _joined(before: str, written: str, after: str) -> str:
    whole = before + after
    head = before.rstrip("\r\n \t")
    gap = _newline(whole) * 2 if head else ""
    tail = _newline(whole) + after if after else ""
    return head + gap + _dressed(whole, written) + tail


def set_value(text: str, table: Place, key: str, value: Any) -> str:
    """The text with one key of a table set, wherever that table stands: under a header, inline, or as dotted keys.

    >>> set_value('[[branch]]\\nwire = { awg = 20 } # thin\\n', ("branch", 0, "wire"), "contacts", "9mOhm")
    '[[branch]]\\nwire = { awg = 20, contacts = "9mOhm" } # thin\\n'
    """
    places = Places(text)
    written = toml_value(value)
    there = next((each for each in places.pairs if each.path == (*table, key)), None)
    last = max((each for each in places.pairs if each.path[:-1] == table), key=lambda each: each.end, default=None)
    header = next((each for each in places.headers if each.path == table), None)
    if there is not None:
        new = text[: there.value] + written + text[there.end :]
    elif last is not None:
        name = ".".join(toml_key(str(part)) for part in (*last.path[len(last.table) : -1], key))
        if last.inline:
            new = f"{text[: last.end]}, {name} = {written}{text[last.end :]}"
        else:
            new = _line_after(text, last.end, f"{name} = {written}")
    elif header is not None:
        new = _line_after(text, header.end - 1, f"{toml_key(key)} = {written}")
    elif len(table) > 1 and isinstance(table[-1], str):
        return set_value(text, table[:-1], table[-1], {key: value})
    else:
        raise _unsafe(table, key)
    return _checked(text, new, table, key, value)


def _line_after(text: str, at: int, line: str) -> str:
    end = text.find("\n", at)
    if end < 0:
        return f"{text}{_newline(text)}{line}{_newline(text)}"
    return f"{text[: end + 1]}{line}{_newline(text)}{text[end + 1 :]}"


def comment_above(text: str, table: Place, key: str, comment: str, replaces: str = "") -> str:
    """The text with a comment line above the line of a key; one there that begins with ``replaces`` makes room.

    >>> comment_above('[trigger]\\nresistance = "50mOhm"\\n', ("trigger",), "resistance", "measured")
    '[trigger]\\n# measured\\nresistance = "50mOhm"\\n'
    """
    places = Places(text)
    there = next((each for each in places.pairs if each.path == (*table, key)), None)
    if there is None:
        return text
    outer = next(each for each in places.pairs if not each.inline and each.start <= there.start < max(each.end, 1))
    start = text.rfind("\n", 0, outer.start) + 1
    above = text.rfind("\n", 0, start - 1) + 1 if start else 0
    indent = text[start : outer.start]
    before = text[:above] if replaces and text[above:start].strip().startswith(f"# {replaces}") else text[:start]
    return f"{before}{indent}# {comment}{_newline(text)}{text[start:]}"


def remove_key(text: str, table: Place, key: str) -> str:
    """The text without one key of a table; as it is where the table has no such key.

    >>> remove_key('cable = { rating = "3A", awg = 22, length = "1m" }\\n', ("cable",), "awg")
    'cable = { rating = "3A", length = "1m" }\\n'
    """
    there = next((each for each in Places(text).pairs if each.path == (*table, key)), None)
    if there is None:
        return text
    if there.inline:
        behind = re.compile(r"\s*,[ \t]*").match(text, there.end)
        if behind is not None:
            new = text[: there.start] + text[behind.end() :]
        else:
            new = text[: there.start].rstrip().removesuffix(",") + text[there.end :]
    else:
        start = text.rfind("\n", 0, there.start) + 1
        end = text.find("\n", there.end)
        new = text[:start] + ("" if end < 0 else text[end + 1 :])
    return _checked(text, new, table, key, None)


def _checked(text: str, new: str, table: Place, key: str, value: Any) -> str:
    """The new text, once it reads as the old one with that one change."""
    wanted = copy.deepcopy(read_toml(text))
    inner: Any = wanted
    for part in table:
        inner = inner.setdefault(part, {}) if isinstance(inner, dict) else inner[int(part)]
    if value is None:
        inner.pop(key, None)
    else:
        inner[key] = value
    if not reads_as(new, wanted):
        raise _unsafe(table, key)
    return new


def _unsafe(table: Place, key: str) -> InputError:
    name = ".".join(str(part) for part in (*table, key))
    return InputError(f"{name} is written where it cannot be changed safely", expected="the change made by hand")
