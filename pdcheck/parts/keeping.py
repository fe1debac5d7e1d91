"""Kit files kept: written whole or not at all, tables added, replaced and taken away with all else as it stands."""

from __future__ import annotations

import contextlib
import glob
import os
import stat
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from pdcheck.errors import InputError
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.toml_places import insert_table, read_toml, replace_block, toml_table
from pdcheck.parts.toml_reading import read_toml_text
from pdcheck.quantities import quoted

_PART = ".part"


def write_whole(path: str | Path, text: str | bytes, *, new: bool = False) -> None:
    """Write a file so that whatever kills the process leaves the old one or the new one, never a piece.

    A new file beside it is written, flushed to the disk and put in its place; the mode of an old file stays, a link
    is followed. Raises ``InputError`` where that cannot be done, and with ``new`` where there is a file already.
    """
    target = _target(path)
    with _alone(target):
        if new and target.exists():
            raise InputError("is there already", where=str(path), expected="another name, or to overwrite it")
        _put(target, text)


def change(path: str | Path, edit: Callable[[str], str], *, new: str | None = None) -> str:
    """Read a file, edit its text and write it whole, with no other writer of this program in between.

    ``new`` is the text to start from where there is no file; without it that is an ``InputError``. Returns the text.
    """
    target = _target(path)
    with _alone(target):
        text = new if new is not None and not target.exists() else read_toml_text(path)
        edited = edit(text)
        if edited != text or not target.exists():
            _put(target, edited)
    return edited


def add_table(text: str, kind: str, table: dict[str, Any], *, replace: bool = False, comment: str = "") -> str:
    """The text of a kit file with a ``[[source]]`` or ``[[cable]]`` more, comments and order untouched.

    Raises ``InputError`` where its id is in use, unless ``replace``; the new one then takes the place of the old.

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
        wanted = [*listed[:at], table, *listed[at + 1 :]]
        return _checked(text, replace_block(text, (kind, at), written), kind, wanted)
    return _checked(text, insert_table(text, kind, written, len(listed)), kind, [*listed, table])


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
    try:
        same = read_toml(new) == expected
    except tomllib.TOMLDecodeError:
        same = False
    if not same:
        raise InputError("this file is written in a way that cannot be changed safely", expected="the change by hand")
    return new


def _target(path: str | Path) -> Path:
    return Path(os.path.realpath(path))


@contextlib.contextmanager
def _alone(target: Path) -> Iterator[None]:
    """Hold the folder against other writers, where the system can; a lock that dies with the process."""
    try:
        import fcntl
    except ImportError:  # no such lock on this system: the file is still whole at any moment
        yield
        return
    try:
        folder = os.open(target.parent, os.O_RDONLY)
    except OSError as error:
        raise _cannot(error, target.parent) from None
    try:
        with contextlib.suppress(OSError):  # a file system without locks
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def _put(target: Path, text: str | bytes) -> None:
    try:
        data = text.encode("utf-8") if isinstance(text, str) else text
    except UnicodeEncodeError as error:  # the bytes of a file's name that are no UTF-8
        what = f"would hold {error.object[error.start]!r}, which is no character"
        raise InputError(what, where=str(target), expected="names of files in UTF-8") from None
    folder, name = target.parent, target.name
    try:
        # What a killed writer left: nobody else is writing while the folder is held.
        for old in folder.glob(f".{glob.escape(name)}.*{_PART}"):
            old.unlink(missing_ok=True)
        handle, made = tempfile.mkstemp(prefix=f".{name}.", suffix=_PART, dir=folder)
        part = Path(made)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            part.chmod(_mode(target))
            part.replace(target)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
        _sync_folder(folder)
    except OSError as error:
        raise _cannot(error, target) from None


def _mode(target: Path) -> int:
    """The mode of the old file, else what a new file gets here."""
    if target.exists():
        return stat.S_IMODE(target.stat().st_mode)
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):  # some systems cannot; the file itself is on the disk
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _cannot(error: OSError, path: Path) -> InputError:
    return InputError((error.strerror or "cannot be written").lower(), where=str(path), expected="a place to write to")
