"""The one exception that means "the input could not be read", told in one line."""

from __future__ import annotations

from typing import Any

Place = tuple[str | int, ...]
"""The path of keys to a value: names, and the index within a list."""


class InputError(ValueError):
    """Input that cannot be read: what is wrong, where it stands, what was expected.

    ``argument`` is what was asked with, ``where`` a file with its line, ``key`` the path of keys within that.
    The command line prints it on standard error and ends with exit code 2.

    >>> print(InputError("odd number of hex digits", where="line 3, byte 12", expected="two digits a byte"))
    line 3, byte 12: odd number of hex digits; expected two digits a byte
    >>> print(InputError("'5V' is a voltage, not a power", key=("branch", 0, "load", "power")))
    branch[0].load.power: '5V' is a voltage, not a power
    """

    def __init__(self, what: str, *, where: str = "", expected: str = "", key: Place = (), argument: str = "") -> None:
        self.what = what
        self.where = where
        self.expected = expected
        self.key = key
        self.argument = argument
        super().__init__(what)

    def __str__(self) -> str:
        return self.told()

    def told(self, dashes: str = "") -> str:
        """The one line; on a command line ``dashes`` stand before the names of arguments.

        >>> InputError("no unit", argument="also_at").told("--")
        '--also-at: no unit'
        >>> error = InputError("which?", expected="--source wall, or a look with 'pdcheck matrix --kit KIT'")
        >>> print(error.told("--"), error, sep="\\n")
        which?; expected --source wall, or a look with 'pdcheck matrix --kit KIT'
        which?; expected source wall, or a look with 'pdcheck matrix --kit KIT'
        """
        argument = f"{dashes}{self.argument.replace('_', '-') if dashes else self.argument}" if self.argument else ""
        path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in self.key).lstrip(".")
        place = ", ".join(filter(None, (argument, self.where)))
        line = ": ".join(part for part in (place, path, self.what) if part)
        if self.expected:
            line += f"; expected {self.expected if dashes else _without_dashes(self.expected)}"
        return " ".join(line.split())

    def inside(self, outer: str) -> InputError:
        """The same error with an outer place put before its own, as in ``kit.toml, line 4``.

        >>> print(InputError("no unit", where="line 4").inside("kit.toml"))
        kit.toml, line 4: no unit
        """
        return self._with(where=f"{outer}, {self.where}" if self.where else outer)

    def below(self, *outer: str | int) -> InputError:
        """The same error of a part that stands below these keys in another one.

        >>> print(InputError("no unit", key=("length",)).below("branch", 0, "wire"))
        branch[0].wire.length: no unit
        """
        return self._with(key=(*outer, *self.key))

    def of(self, argument: str) -> InputError:
        """The same error about an argument of the question, or the option of that name."""
        return self._with(argument=argument)

    def _with(self, **changed: Any) -> InputError:
        return InputError(**(vars(self) | changed))


def _without_dashes(expected: str) -> str:
    """Options as the arguments that they are in Python; what stands in a command stays."""
    if "--" not in expected:
        return expected
    import re

    return re.sub(r"('pdcheck [^']*')|--(?=[a-z])", lambda found: found[1] or "", expected)
