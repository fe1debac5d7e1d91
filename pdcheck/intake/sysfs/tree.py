"""Tree: the attribute files of /sys or of a copy of it, read without leaving it, waiting or raising."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path

from pdcheck.bits.problems import Code, Problem
from pdcheck.errors import InputError

CLASSES = ("usb_power_delivery", "typec")
"""The two classes that tell of USB-C power, as the kernel's ABI documents name them."""

_LONGEST = 4096  # an attribute of the kernel is at most one page
_MOST_ENTRIES = 1000


class Tree:
    """A tree with a ``class`` directory; whatever is missing, empty or unreadable becomes one problem and ``None``.

    Raises ``InputError`` where the path holds neither class. Links are followed inside the tree only.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.problems: list[Problem] = []
        self.given = Path(path)
        self.classes = _classes(self.given)
        # What a class directory links to lies beside it, in the tree's own ``devices``.
        self.root = self.classes.parent if self.classes.name == "class" else self.classes
        self._seen: set[tuple[str, str]] = set()

    def note(self, code: Code, text: str, where: Path) -> None:
        """Add a problem, once for each code and place."""
        place = self.name(where)
        if (code, place) not in self._seen:
            self._seen.add((code, place))
            self.problems.append(Problem(code, text, place))

    def name(self, path: Path) -> str:
        """A path as it is shown: from the tree's top on."""
        try:
            return str(path.relative_to(self.root))
        except ValueError:
            return str(path)

    def real(self, path: Path) -> Path | None:
        """Where a path leads; ``None``, with a problem, for a link that leads out of the tree, nowhere or in a ring."""
        try:
            real = Path(os.path.realpath(path, strict=True))
        except FileNotFoundError:
            if path.is_symlink():
                self.note("link-broken", "is a link to nothing", path)
            return None
        except (OSError, ValueError, RuntimeError) as error:
            self.note("link-ring", _why(error), path)
            return None
        if not real.is_relative_to(self.root):
            self.note("link-outside", "is a link that leads out of the tree: not followed", path)
            return None
        return real

    def names(self, path: Path, *, needed: bool = False) -> list[str]:
        """The sorted names in a directory; none where there is no such directory (a problem if it is ``needed``)."""
        real = self.real(path)
        if real is None:
            if needed:
                self.note("missing", "is missing", path)
            return []
        try:
            with os.scandir(real) as entries:
                found = [entry.name for _, entry in zip(range(_MOST_ENTRIES), entries, strict=False)]
        except OSError as error:
            if needed or not isinstance(error, NotADirectoryError):
                self.note("unreadable", _why(error), path)
            return []
        return sorted(found)

    def holds(self, path: Path) -> bool:
        """Whether there is a directory."""
        real = self.real(path)
        return real is not None and real.is_dir()

    def text(self, path: Path, *, needed: bool = False) -> str | None:
        """The one line of an attribute; ``None`` where it is missing (a problem if it is ``needed``) or unreadable."""
        real = self.real(path)
        if real is None:
            if needed and not path.is_symlink():
                self.note("missing", "is missing", path)
            return None
        try:
            # Opened so that a pipe left in a copied tree cannot hold up the reading.
            handle = os.open(real, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0))
            try:
                if not stat.S_ISREG(os.fstat(handle).st_mode):
                    self.note("unreadable", "is no file", path)
                    return None
                data = os.read(handle, _LONGEST + 1)
            finally:
                os.close(handle)
        except OSError as error:
            self.note("unreadable", _why(error), path)
            return None
        if len(data) > _LONGEST:
            self.note("too-long", f"holds more than {_LONGEST} bytes: not an attribute", path)
            return None
        try:
            # Archivers pad an attribute with zero bytes to the size that the kernel claims for it.
            text = data.rstrip(b"\0").decode("utf-8").strip()
        except UnicodeDecodeError:
            self.note("unreadable", "holds bytes that are no text", path)
            return None
        if not text:
            self.note("empty", "is empty", path)
            return None
        return text


def _why(error: Exception) -> str:
    return (getattr(error, "strerror", None) or "cannot be read").lower()


def is_capabilities(path: str | os.PathLike[str]) -> bool:
    """Whether a directory holds the objects of one list, as in ``1:fixed_supply``."""
    try:
        return any(re.fullmatch(r"1:\w{1,40}", name) for name in map(os.path.basename, Path(path).iterdir()))
    except (OSError, ValueError):
        return False


def _classes(given: Path) -> Path:
    """The directory that holds the classes, for /sys, a copy of it, or a path within."""
    expected = "/sys or a copy of it, with class/usb_power_delivery or class/typec"
    try:
        top = Path(os.path.realpath(given, strict=True))
        if not top.is_dir():
            raise InputError("is no directory", where=str(given), expected=expected)
        if is_capabilities(top):
            return top
        for candidate in (top / "class", top / "sys" / "class", top, top.parent, top.parent.parent):
            if any((candidate / name).is_dir() for name in CLASSES):
                return candidate
    except (OSError, ValueError, RuntimeError) as error:
        raise InputError(_why(error), where=str(given), expected=expected) from None
    raise InputError("tells of no USB-C port", where=str(given), expected=expected)
