"""A part that is a file of its own: read from TOML, and written to it so that it reads back as itself."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Self, get_origin

from pydantic import ValidationInfo

from pdcheck.errors import InputError
from pdcheck.parts.fields import Part
from pdcheck.parts.toml_places import toml_key, toml_value
from pdcheck.parts.toml_reading import read_part, read_toml_text

WIDEST = 100  # characters; an inline table that takes more is put under a header of its own


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
    def read(cls, path: str | Path) -> Self:
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
