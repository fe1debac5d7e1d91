"""Kit files kept: tables added, replaced and taken away with all else as it stands."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pdcheck.errors import InputError
from pdcheck.parts.cable_face import LOOP_WAYS
from pdcheck.parts.journal import put_together, settle
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.toml_places import insert_table, replace_block, toml_table
from pdcheck.parts.toml_reading import read_toml_text
from pdcheck.parts.toml_text import read_toml, reads_as
from pdcheck.parts.writing import alone, put, target_of, writable
from pdcheck.quantities import quoted


def change(path: str | Path, edit: Callable[[str], str], *, new: str | None = None) -> str:
    """Read a file, edit its text and write it whole, with no other writer of this program in between.

    ``new`` is the text to start from where there is no file; without it that is an ``InputError``. Returns the text.
    """
    target = writable(path, again=True)
    if target.exists() and not target.is_file():
        raise InputError("is no plain file", where=str(path), expected="a file, to change it")
    settle(target.parent)
    with alone(target.parent):
        text = new if new is not None and not target.exists() else read_toml_text(path)
        edited = edit(text)
        if edited != text or not target.exists():
            put(target, edited)
    return edited


def change_together(edits: Mapping[str, Callable[[str], str]]) -> list[str]:
    """Edit several files so that whatever kills the process leaves all of them old or, once one is read again, new.

    Returns the files that were changed. Raises ``InputError``, with nothing written, where one cannot be edited.
    """
    for path in edits:
        settle(writable(path, again=True).parent)
    with alone(*{target_of(path).parent for path in edits}):
        old = {path: read_toml_text(path) for path in edits}
        new = {path: edit(old[path]) for path, edit in edits.items()}
        changed = {path: text for path, text in new.items() if text != old[path]}
        put_together({target_of(path): text for path, text in changed.items()})
    return list(changed)


def add_table(text: str, kind: str, table: dict[str, Any], *, replace: bool = False, comment: str = "") -> str:
    """The text of a kit file with a ``[[source]]`` or ``[[cable]]`` more, comments and order untouched.

    Raises ``InputError`` where its id is in use, unless ``replace``; the new one then takes the place of the old, and
    keeps of it what the new one does not say.

    >>> print(add_table('# mine\\n[[cable]]\\nid = "a"\\n', "cable", {"id": "b", "kind": "C-C"}), end="")
    # mine
    [[cable]]
    id = "a"
    <BLANKLINE>
    [[cable]]
    id = "b"
    kind = "C-C"
    """
    listed = _listed(text, kind)
    ids = [each.get("id") for each in listed]
    written = toml_table(kind, table, comment)
    if table["id"] in ids:
        if not replace:
            what = f"{quoted(table['id'])} is the id of another {kind} already"
            raise InputError(what, expected="--replace, or an id that is not in use")
        at = ids.index(table["id"])
        table = kept_with(listed[at], table)
        written = toml_table(kind, table, comment)
        wanted = [*listed[:at], table, *listed[at + 1 :]]
        return _checked(text, replace_block(text, (kind, at), written), kind, wanted)
    return _checked(text, insert_table(text, kind, written, len(listed)), kind, [*listed, table])


_TOGETHER = (
    ("offers", "hex", "capture", "captured_over", "ports", "port", "by_rules"),
    ("words", "kind", "rating", "voltage", "marker", "revision"),
    LOOP_WAYS,
)
"""Keys of which one, said anew, leaves nothing of the others standing."""


def kept_with(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    """The table of an old part with what is said of it anew.

    >>> kept_with({"id": "a", "title": "White", "offers": "5V 3A"}, {"id": "a", "hex": "0x0801912C"})
    {'id': 'a', 'title': 'White', 'hex': '0x0801912C'}
    """
    gone = {key for keys in _TOGETHER if set(keys) & set(new) for key in keys}
    return {**{key: value for key, value in old.items() if key not in gone}, **new}


def remove_table(text: str, kind: str, id: str) -> str:
    """The text without the table of that id and the comment right above it.

    >>> remove_table('[[cable]]\\nid = "a"\\n\\n# old\\n[[cable]]\\nid = "b"\\n', "cable", "b")
    '[[cable]]\\nid = "a"\\n\\n'
    """
    listed = _listed(text, kind)
    ids = [each.get("id") for each in listed]
    if id not in ids:
        known = [str(each) for each in ids]
        what = f"no {kind} {quoted(id)} in this file"
        raise InputError(what, expected=nearest(id, known) if known else f"a [[{kind}]] in it")
    at = ids.index(id)
    return _checked(text, replace_block(text, (kind, at), ""), kind, [*listed[:at], *listed[at + 1 :]])


def _listed(text: str, kind: str) -> list[dict[str, Any]]:
    try:
        found = read_toml(text).get(kind, [])
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"is no TOML: {error}", expected="a kit file") from None
    if not isinstance(found, list):
        raise InputError(f"{kind} is no list of tables", expected=f"[[{kind}]]")
    return found


def _checked(text: str, new: str, kind: str, wanted: list[dict[str, Any]]) -> str:
    """The new text, once it reads as the old one with the list of that kind changed."""
    expected = {**read_toml(text), kind: wanted}
    if not wanted:
        del expected[kind]
    if not reads_as(new, expected):
        raise InputError("this file is written in a way that cannot be changed safely", expected="the change by hand")
    return new
