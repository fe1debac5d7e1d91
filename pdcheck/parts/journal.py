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
from pdcheck.parts.whole_file import alone, cannot, put, staged, sync_folder

JOURNAL = ".pdcheck-journal"


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

    A folder that somebody holds is left alone: a writer at work completes its own.
    """
    folders = {folder}
    with contextlib.suppress(OSError, InputError):
        folders = {folder, *(path.parent for path, _, _ in _listed(folder) or ())}
    with contextlib.suppress(OSError, InputError), alone(*folders, wait=False):
        listed = _listed(folder)  # once more, now that nobody else can touch any of them
        if listed is None:
            return
        now = {path: _mark(path.read_bytes()) for path, _, _ in listed}
        new = [path for path, _, text in listed if now[path] == _mark(text.encode("utf-8"))]
        old = [path for path, mark, _ in listed if now[path] == mark]
        if new and set(new) | set(old) == set(now):
            for path, _, text in listed:
                if path not in new:
                    put(path, text)
        _away(sorted(folders), {})


def _listed(folder: Path) -> list[tuple[Path, str, str]] | None:
    try:
        data = json.loads((folder / JOURNAL).read_text("utf-8"))
        return [(Path(each["path"]), str(each["old"]), str(each["text"])) for each in data]
    except FileNotFoundError:
        return None
    except (ValueError, TypeError, KeyError):  # not ours: leave it
        return None


def _away(folders: list[Path], parts: Mapping[Path, Path]) -> None:
    for part in parts.values():
        part.unlink(missing_ok=True)
    for folder in folders:
        (folder / JOURNAL).unlink(missing_ok=True)


def _mark(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
