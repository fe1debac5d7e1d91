"""The one exception that means "the input could not be read", told in one line."""

from __future__ import annotations


class InputError(Exception):
    """Input that cannot be read: what is wrong, where it stands, what was expected.

    The command line prints ``str(error)`` on standard error and ends with exit code 2.

    >>> print(InputError("odd number of hex digits", where="line 3, byte 12", expected="two digits a byte"))
    line 3, byte 12: odd number of hex digits; expected two digits a byte
    """

    def __init__(self, what: str, *, where: str = "", expected: str = "", argument: str = "") -> None:
        self.what = what
        self.where = where
        self.expected = expected
        self.argument = argument
        super().__init__(what)

    def __str__(self) -> str:
        return self.told()

    def told(self, dashes: str = "") -> str:
        """The one line; on a command line ``dashes`` stand before the argument that it is about.

        >>> InputError("no unit", argument="also_at").told("--")
        '--also-at: no unit'
        """
        argument = f"{dashes}{self.argument.replace('_', '-') if dashes else self.argument}" if self.argument else ""
        place = ", ".join(filter(None, (argument, self.where)))
        line = f"{place}: {self.what}" if place else self.what
        if self.expected:
            line += f"; expected {self.expected}"
        return " ".join(line.split())

    def inside(self, outer: str) -> InputError:
        """The same error with an outer place put before its own, as in ``kit.toml, line 4``.

        >>> print(InputError("no unit", where="line 4").inside("kit.toml"))
        kit.toml, line 4: no unit
        """
        where = f"{outer}, {self.where}" if self.where else outer
        return InputError(self.what, where=where, expected=self.expected, argument=self.argument)

    def of(self, argument: str) -> InputError:
        """The same error about an argument of the question, or the option of that name."""
        return InputError(self.what, where=self.where, expected=self.expected, argument=argument)
