"""What several commands take as an option: quantities, a kit, a source, a cable; each text read in one place."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, TypeVar

import click

from pdcheck.cli.completing import cable_ids, files, source_ids
from pdcheck.errors import InputError

if TYPE_CHECKING:
    from pdcheck.parts.cable import Cable

Decorated = TypeVar("Decorated", bound=Callable[..., Any])
MOST = 200
"""Values in one list."""


@contextlib.contextmanager
def told_of(option: str) -> Iterator[None]:
    """Name an option in what is wrong with its text.

    >>> with told_of("--event"):
    ...     raise InputError("no time")
    Traceback (most recent call last):
    pdcheck.errors.InputError: --event: no time
    """
    try:
        yield
    except InputError as error:
        raise error.inside(option) from None


class Typed(click.ParamType):  # type: ignore[type-arg]
    """A type that reads the text of an option; what is wrong is an ``InputError`` that names the option."""

    def read(self, text: str) -> Any:
        """The value that a text stands for."""
        raise NotImplementedError

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The value; nothing is read while the shell asks for completions."""
        if not isinstance(value, str) or (ctx is not None and ctx.resilient_parsing):
            return value
        if param is None:
            return self.read(value)
        with told_of(param.opts[0]):
            return self.read(value)


class Quantity(Typed):
    """One quantity in a unit, above zero unless ``zero`` allows nothing.

    >>> Quantity("A").convert("250mA", None, None)
    0.25
    """

    name = "quantity"

    def __init__(self, unit: str, *, zero: bool = False) -> None:
        self.unit = unit
        self.zero = zero or unit in ("C", "K")

    def read(self, text: str) -> float:
        """The quantity in its unit."""
        from pdcheck.quantities import parse_quantity, quoted

        value = parse_quantity(text, self.unit)
        if value == 0 and not self.zero:
            raise InputError(f"{quoted(text)} is nothing", expected="more than zero")
        return value


class Quantities(Typed):
    """Quantities parted by commas, semicolons or spaces, none of them twice, in the order given.

    >>> Quantities("V").convert("5V, 9V 12", None, None)
    (5.0, 9.0, 12.0)
    """

    name = "quantities"

    def __init__(self, unit: str) -> None:
        self.unit = unit

    def read(self, text: str) -> tuple[float, ...]:
        """The quantities in their unit."""
        from pdcheck.quantities import parse_quantity

        words = [word for word in re.split(r"[;,\s]+", re.sub(r"(?<=\d)\s+(?=[A-Za-zΩµ])", "", text)) if word]
        if not words or len(words) > MOST:
            raise InputError(f"{len(words)} values", expected=f"1 to {MOST}, parted by commas")
        return tuple(dict.fromkeys(parse_quantity(word, self.unit) for word in words))


class Voltages(Typed):
    """Voltages [V] above zero from a list or a range; a range is tried at its ends and some steps between.

    >>> Voltages().convert("9V,12V", None, None), Voltages().convert("5V..9V", None, None)
    ((9.0, 12.0), (5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0))
    """

    name = "voltages"

    def read(self, text: str) -> tuple[float, ...]:
        """The voltages in V."""
        from pdcheck.quantities import parse_range, quoted
        from pdcheck.verdict.envelopes import rungs

        try:
            ends = parse_range(text, "V")
        except InputError:
            if ".." in text or re.search(r"\d\s*[vV]?\s*-", text):
                raise InputError(f"{quoted(text)} is not a range", expected="such as 5V..24V") from None
            found = Quantities("V").read(text)
        else:
            found = rungs(*ends)
        if min(found) <= 0:
            raise InputError(f"{quoted(text)} holds 0 V", expected="voltages above 0 V")
        return found


class CableText(Typed):
    """A cable by its description, or the words of its e-marker."""

    name = "cable"

    def read(self, text: str) -> Cable:
        """The cable."""
        from pdcheck.parts.cable import Cable

        return Cable(text)


def quantity_option(name: str, unit: str, *, zero: bool = False, **more: Any) -> Callable[[Decorated], Decorated]:
    """An option that is one quantity; the command gets a float in ``unit``, or None."""
    metavar = {"ohm": "OHM", "m": "M", "%": "RATIO", "s": "TIME"}.get(unit, unit)
    return click.option(name, type=Quantity(unit, zero=zero), **{"metavar": metavar, **more})


def kit_option(
    help: str = "Kit file; without it the kit inside the rig file is used.",
) -> Callable[[Decorated], Decorated]:
    """``--kit``: the path of a kit file."""
    return click.option("--kit", "kit_path", metavar="KIT", help=help, shell_complete=files)


def pair_options(told: str) -> Callable[[Decorated], Decorated]:
    """``--kit``, and ``--source`` and ``--cable`` by id; ``told`` is the help of both, ``{}`` which it is."""

    def decorate(function: Decorated) -> Decorated:
        source = click.option(
            "--source", "source_id", metavar="ID", help=told.format("source"), shell_complete=source_ids
        )
        cable = click.option("--cable", "cable_id", metavar="ID", help=told.format("cable"), shell_complete=cable_ids)
        return kit_option()(source(cable(function)))

    return decorate


source_option = click.option(
    "--source",
    "source_text",
    metavar="S",
    required=True,
    help="An id of --kit, a label, hex, or a path.",
    shell_complete=source_ids,
)
cable_option = click.option(
    "--cable",
    "cable_text",
    metavar="C",
    help="An id of --kit, or a description as for 'cable'.",
    shell_complete=cable_ids,
)
