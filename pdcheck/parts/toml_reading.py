"""A part that is a file of its own: its TOML read, each mistake with file, line and key; written to read back as it."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from io import RawIOBase
from pathlib import Path
from time import monotonic, sleep
from typing import Any, Self, TypeVar, get_origin

from pydantic import ValidationError, ValidationInfo

from pdcheck.errors import InputError, Place
from pdcheck.intake.given import in_utf8
from pdcheck.intake.read_files import note, note_path
from pdcheck.parts.fields import Part, file_key
from pdcheck.parts.journal import JOURNAL, settle
from pdcheck.parts.mistakes import Mistake, meant, mistakes_in, models_in, said_first
from pdcheck.parts.toml_places import toml_key, toml_value
from pdcheck.parts.toml_text import TOO_DEEP, key_lines, read_toml
from pdcheck.quantities import quoted

LARGEST_BYTES = 1_000_000  # a kit of a thousand sources is smaller; the reader must give up on noise within a second
WIDEST = 100  # characters; an inline table that takes more is put under a header of its own
LONGEST_LIST = 20_000
"""So many entries one list or table may have: a file of noise can be a few bytes, and a mistake, for each."""
_GIVEN_UP_AFTER_S = 5.0  # whoever writes to a pipe begins within a moment
_BARE_QUANTITY = re.compile(r"""(?<![\w-])([\w-]++)\s*+=\s*+([0-9][0-9.,-]*[A-Za-z%Ωµ/][\w%Ωµ@./-]*)""")
_AT_LINE = re.compile(r" \(at line (\d+), column \d+\)$")

_KINDS = {
    "Rig": "a rig file, with [trigger] and [[branch]]; a kit goes to --kit",
    "Kit": "a kit file, with [[source]] and [[cable]]; a rig goes before the options",
}

AnyPart = TypeVar("AnyPart", bound=Part)


def read_toml_text(path: str | os.PathLike[str], *, settled: bool = True) -> str:
    """The text of a TOML file; InputError for what is no file, is too large, or is not UTF-8.

    ``settled``: what a killed writer left half done in the file's folder is completed first.
    """
    name = str(path)
    note_path(name)
    try:
        folder = Path(os.path.realpath(path)).parent
        if settled and (folder / JOURNAL).exists():
            settle(folder)
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb", buffering=0) as stream:
            note(handle, name)
            data = _read(stream, name, pipe=stat.S_ISFIFO(os.fstat(handle).st_mode))
    except IsADirectoryError:
        raise InputError("is a directory", where=name, expected="a TOML file") from None
    except InputError:
        raise
    except (OSError, ValueError) as error:
        what = (getattr(error, "strerror", None) or "cannot be read").lower()
        raise InputError(what, where=name, expected="a TOML file that can be read") from None
    if len(data) > LARGEST_BYTES:
        raise InputError("is too large", where=name, expected=f"a TOML file of at most {LARGEST_BYTES} bytes")
    data = in_utf8(data)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"byte {error.start} (0x{data[error.start]:02X}) is not UTF-8"
        raise InputError(what, where=f"{name}, line {line}", expected="a TOML file, which is UTF-8 text") from None


def _read(stream: RawIOBase, name: str, *, pipe: bool) -> bytes:
    """All bytes of a file or, waiting for its writer some seconds and no longer, of a pipe."""
    data = bytearray()
    begun = monotonic()
    while len(data) <= LARGEST_BYTES:
        piece = stream.read(LARGEST_BYTES + 1 - len(data))
        if piece:
            data += piece
            begun = monotonic()
        elif piece is not None and (data or not pipe):
            break
        elif monotonic() - begun > _GIVEN_UP_AFTER_S:
            what = f"a pipe that nothing came through for {_GIVEN_UP_AFTER_S:g} s"
            raise InputError(what, where=name, expected="a TOML file, or a pipe that somebody writes to")
        else:
            sleep(0.02)
    return bytes(data)


def read_part(model: type[AnyPart], text: str, name: str, folder: Path) -> AnyPart:
    """A part that is a file of its own, from the text of it; captures are sought in ``folder``.

    Raises ``InputError`` with the file's name, the line and the key.
    """
    data = _toml(text, name)
    _not_too_long(data, name)
    try:
        made: AnyPart = model.__pydantic_validator__.validate_python(data, context={"folder": folder})
    except ValidationError as error:
        raise _located(model, error, data, text, name) from None
    return made


def _not_too_long(data: dict[str, Any], name: str) -> None:
    held: list[tuple[str, Any]] = [("", data)]
    while held:
        key, inner = held.pop()
        if isinstance(inner, dict | list) and len(inner) > LONGEST_LIST:
            where = f"{name}: {quoted(key)}" if key else name
            most = f"at most {LONGEST_LIST} entries in a list or table"
            raise InputError(f"has {len(inner)} entries", where=where, expected=most)
        if isinstance(inner, dict):
            held += inner.items()
        elif isinstance(inner, list):
            held += ((key, each) for each in inner)


def _toml(text: str, name: str) -> dict[str, Any]:
    try:
        return read_toml(text)
    except tomllib.TOMLDecodeError as error:
        what = str(error).replace(" (at end of document)", "")
        found = _AT_LINE.search(what)
        line = int(found[1]) if found else text.count("\n") + 1
        what = _AT_LINE.sub("", what)
        if what == TOO_DEEP:
            raise InputError(what, where=f"{name}, line {line}", expected="a kit or rig file") from None
        bare = _BARE_QUANTITY.search(text.split("\n")[line - 1]) if line <= text.count("\n") + 1 else None
        if bare is not None:
            what, expected = f"{quoted(bare[2])} without quotes", f'{bare[1]} = "{bare[2]}"'
            raise InputError(what, where=f"{name}, line {line}", expected=expected) from None
        raise InputError(f"{what[:1].lower()}{what[1:]}", where=f"{name}, line {line}", expected="TOML") from None
    except RecursionError:
        raise InputError("tables or lists are nested too deep", where=name, expected="a kit or rig file") from None
    except ValueError:  # Python refuses to convert whole numbers of thousands of digits
        digits = re.search(r"[0-9_]{1000}", text)
        line = text.count("\n", 0, digits.start() if digits else 0) + 1
        what = "a number of thousands of digits"
        raise InputError(what, where=f"{name}, line {line}", expected="a quantity such as 20V") from None


def _located(model: type[Part], error: ValidationError, data: dict[str, Any], text: str, name: str) -> InputError:
    """The first mistake of a file by line, and how many more there are."""
    lines = key_lines(text)
    other = _other_kind(model, data)
    if other:
        return InputError(f"is a {other} file", where=f"{name}, line 1", expected=_KINDS[model.__name__])
    placed: list[tuple[int, Place, Mistake]] = []
    for found in said_first(mistakes_in(model, error)):
        place = _in_file(found.place, data)
        placed.append((_line(place, lines), place, found))
    line, place, first = min(placed, key=lambda each: each[0])
    first = meant(model, first)._replace(place=place)
    expected = first.expected or (_missing(model, first.place) if first.what == "is missing" else "")
    more = f" (and {len(placed) - 1} more)" if len(placed) > 1 else ""
    key = ".".join(
        str(part) if re.fullmatch(r"[\w-]{1,64}", str(part)) else quoted(part) for part in _names(first.place)
    )
    where = f"{name}, line {line}"
    return InputError(first.what + more, where=f"{where}: {key}" if key else where, expected=expected)


def _other_kind(model: type[Part], data: dict[str, Any]) -> str:
    """Which kind of file the data are of, where they hold nothing of the kind that was asked for."""
    built, owned = {"trigger", "branch"} & set(data), {"source", "cable"} & set(data)
    if model.__name__ == "Rig" and owned and not built:
        return "kit"
    return "rig" if model.__name__ == "Kit" and built and not owned else ""


def _names(place: Place) -> list[str]:
    return [part for part in place if isinstance(part, str)]


def _in_file(place: Place, data: Any) -> Place:
    """The path of a mistake as the file has it: without the marks that pydantic adds, and without an implied kit."""
    if place[:1] == ("kit",) and "kit" not in data:
        place = place[1:]
    kept: list[str | int] = []
    for index, alias in enumerate(place):
        part = _as_written(alias, data)
        inside = isinstance(data, dict) and part in data
        inside = inside or (isinstance(data, list) and isinstance(part, int) and part < len(data))
        if inside:
            data = data[part]
            kept.append(part)
        elif index == len(place) - 1 and isinstance(data, dict):
            kept.append(part)  # a key that is missing
    return tuple(kept)


def _as_written(part: str | int, data: Any) -> str | int:
    """A key as the file has it, where it uses the longer name that Python has for it (``length_m``, ``branches``)."""
    if isinstance(data, dict) and part not in data:
        longer = {"sources": "source", "cables": "cable", "branches": "branch"}
        return next((key for key in data if longer.get(key, file_key(key)) == part), part)
    return part


def _line(place: Place, lines: dict[Place, int]) -> int:
    """The line of a path, or of the nearest table around it."""
    while place and place not in lines:
        place = place[:-1]
    return lines.get(place, 1)


def _missing(model: type[Part], place: Place) -> str:
    """How a key that is missing would be written."""
    key = str(place[-1])
    field = model.model_fields.get({"branch": "branches"}.get(key, key)) if len(place) == 1 else None
    if field is None or not any(models_in(field.annotation)):
        return f"a line that starts {key} = "
    return f"[{key}]" if isinstance(field.annotation, type) else f"[[{key}]]"


def _lines(header: str, table: dict[str, Any], listed: bool = False) -> list[str]:
    """The lines of a table: its header, its own keys, then the tables below it with headers of their own."""
    lines = [] if not header else ["", f"[[{header}]]" if listed else f"[{header}]"]
    below: list[str] = []
    for key, value in table.items():
        line = f"{toml_key(key)} = {toml_value(value)}"
        name = f"{header}.{key}" if header else key
        tables = isinstance(value, list) and value != [] and all(isinstance(each, dict) for each in value)
        long = len(line) > WIDEST or header in ("", "kit")
        if isinstance(value, dict) and long:
            below += _lines(name, value)
        elif tables and long:
            below += [line for each in value for line in _lines(name, each, True)]
        else:
            lines.append(line)
    return lines + below


class Filed(Part, init=False):
    """A part with a file: a kit, a rig."""

    @classmethod
    def _stated(cls, data: dict[str, Any], info: ValidationInfo) -> dict[str, Any]:
        """One branch, source or cable alone stands for a list of it."""
        lists = {
            name
            for key, field in cls.model_fields.items()
            if get_origin(field.annotation) is tuple
            for name in (key, field.validation_alias)
        }
        return {key: (value,) if key in lists and isinstance(value, Part) else value for key, value in data.items()}

    @classmethod
    def read(cls, path: str | os.PathLike[str]) -> Self:
        """Read a file. Raises InputError naming file, line and key."""
        return read_part(cls, read_toml_text(path), str(path), Path(path).parent)

    @classmethod
    def from_toml(cls, text: str, name: str = "", *, folder: Path | None = None) -> Self:
        """As ``read``, from the text; ``name`` stands for the file in messages, captures are sought in ``folder``."""
        return read_part(cls, text, name or cls.__name__.lower(), folder or Path())

    def to_toml(self) -> str:
        """The text of its file: quantities in people's units, nothing that is a default, the same text each time.

        Raises InputError for what no file can say.

        >>> from pdcheck.parts.rig import Rig
        >>> print(Rig(trigger="15V", branch=[{"name": "mount", "load": "24W"}]).to_toml(), end="")
        [trigger]
        request = "15V"
        <BLANKLINE>
        [[branch]]
        name = "mount"
        load = { power = "24W" }
        """
        text = "\n".join(_lines("", self.to_dict())).lstrip("\n") + "\n"
        if type(self).from_toml(text) != self:
            raise InputError(f"this {type(self).__name__.lower()} does not read back from a file as it is")
        return text

    def write(self, path: str | Path, *, overwrite: bool = False) -> None:
        """Write its file whole or not at all; one that is there is left alone unless ``overwrite``.

        Raises InputError where there is a file already, and where none can be written.
        """
        from pdcheck.parts.writing import write_whole

        write_whole(path, self.to_toml(), new=not overwrite)
