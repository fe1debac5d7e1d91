"""Several files changed together: a journal beside them, which the next reader completes where a writer was killed.

The journal holds the new texts and marks of the old ones. It is on the disk before the first file is touched and goes
when the last one is done. Found by a reader, nobody is writing any more: where some files are new already and the
others still old, the others follow; where all are old, nothing was begun, and nothing is done. A file that is neither
was changed by hand since: then all stay as they are.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from pdcheck.errors import InputError
from pdcheck.parts.writing import alone, cannot, put, staged, sync_folder

JOURNAL = ".pdcheck-journal"
_LARGEST_BYTES = 20_000_000  # some kits and rigs of the largest size that is read


def put_together(texts: Mapping[Path, str]) -> None:
    """Write all files whole, or none of them; the caller holds their folders. Raises ``InputError`` where none is."""
    if len(texts) < 2:
        for target, text in texts.items():
            put(target, text)
        return
    folders = sorted({target.parent for target in texts})
    parts: dict[Path, Path] = {}
    try:
        for target, text in texts.items():
            parts[target] = staged(target, text)
        written = json.dumps(
            [{"path": str(target), "old": _mark(target.read_bytes()), "text": text} for target, text in texts.items()]
        )
        for folder in folders:
            put(folder / JOURNAL, written)
    except BaseException:
        _away(folders, parts)
        raise
    # From here on a reader completes what is cut short: in place first, on the disk after.
    try:
        for target, part in parts.items():
            part.replace(target)
    except OSError as error:
        raise cannot(error, target) from None
    for folder in folders:
        sync_folder(folder)
    _away(folders, {})


def settle(folder: Path) -> None:
    """Complete what a killed writer left half done in a folder, if there is anything and the system lets us.

    A folder that somebody holds is left alone: a writer at work completes its own. Files of another folder are written
    only where the same journal lies there too: one that came with a stranger's files changes nothing elsewhere.
    """
    # A journal is a text from outside: whatever is odd about it, the file that was asked for can still be read.
    with contextlib.suppress(OSError, InputError, ValueError):
        journal, listed = _listed(folder)
        folders = sorted({folder, *(path.parent for path, _, _ in listed)})
        with alone(*folders, wait=False):
            # Once more, now that nobody else can touch any of them.
            if any(_bytes(each / JOURNAL) != journal for each in folders):
                folders, listed = [folder], [each for each in listed if each[0].parent == folder]
            _complete(listed)
            _away(folders, {})


def _complete(listed: list[tuple[Path, str, bytes]]) -> None:
    now = {path: _mark(each) for path, _, _ in listed if (each := _bytes(path)) is not None}
    if len(now) < len(listed):
        return
    new = [path for path, _, data in listed if now[path] == _mark(data)]
    old = [path for path, mark, _ in listed if now[path] == mark]
    if new and set(new) | set(old) == set(now):
        for path, _, data in listed:
            if path not in new:
                put(path, data)


def _listed(folder: Path) -> tuple[bytes | None, list[tuple[Path, str, bytes]]]:
    """A folder's journal, and each file in it: path, mark of the old text, new text. ``ValueError``: none of ours."""
    journal = _bytes(folder / JOURNAL)
    try:
        data = json.loads(journal or b"")
        return journal, [(Path(each["path"]), str(each["old"]), str(each["text"]).encode("utf-8")) for each in data]
    except (TypeError, KeyError, RecursionError) as error:
        raise ValueError(journal) from error


def _bytes(path: Path) -> bytes | None:
    """The bytes of a plain file of reasonable size; ``None`` for any other: nobody waits for a pipe here."""
    return path.read_bytes() if path.is_file() and path.stat().st_size <= _LARGEST_BYTES else None


def _away(folders: list[Path], parts: Mapping[Path, Path]) -> None:
    for part in parts.values():
        part.unlink(missing_ok=True)
    for folder in folders:
        (folder / JOURNAL).unlink(missing_ok=True)


def _mark(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
