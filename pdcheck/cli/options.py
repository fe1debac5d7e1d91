"""Options that several commands have, each with its help; what stands in them is read where the question is asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

LOOKED_UP = "Kit file that ids are looked up in; default: none, a label needs no kit."
"""Help of ``--kit`` where no rig is asked about."""
_FORMS = {
    "source": "An id of it, a label as in '5V 3A, 9V 3A', a power as in 65W, hex, or a path.",
    "cable": "An id of it, or a description, as in 'C-C 5A 1m'.",
}
"""What stands after ``--source`` and ``--cable``."""
Decorated = TypeVar("Decorated", bound=Callable[..., Any])

source_option = click.option(
    "--source",
    metavar="S",
    required=True,
    help="An id of --kit, a label as in '5V 3A, 9V 3A', a power as in 65W, hex, or a path.",
)
cable_option = click.option(
    "--cable",
    metavar="C",
    help="An id of --kit, or a description, as in 'C-C 5A 1m'; default: nothing is known of it.",
)


def kit_option(
    help: str = "Kit file; without it the kit inside the rig file, else kit.toml beside it or above it.",
) -> Callable[[Decorated], Decorated]:
    """``--kit``: the path of a kit file."""
    return click.option("--kit", metavar="KIT", help=help)


def id_options(told: str, *, forms: bool = False) -> Callable[[Decorated], Decorated]:
    """``--source`` and ``--cable`` by id; ``told`` is the help of both, ``{}`` which it is."""

    def decorate(function: Decorated) -> Decorated:
        for kind in ("cable", "source"):
            metavar = kind[0].upper() if forms else "ID"
            more = f" {_FORMS[kind]}" if forms else ""
            function = click.option(f"--{kind}", metavar=metavar, help=told.format(kind) + more)(function)
        return function

    return decorate


def pair_options(told: str = "Only this {}.") -> Callable[[Decorated], Decorated]:
    """``--kit``, ``--source`` and ``--cable``; ``told`` as ``id_options`` takes it."""
    return lambda function: kit_option()(id_options(told, forms=True)(function))


THE_PAIR = "This {} of the kit; needed where there are several."


def csv_or_json(as_csv: bool, as_json: bool) -> None:
    """Raise a ``UsageError`` where an answer is asked for in both forms."""
    if as_csv and as_json:
        raise click.UsageError("--csv and --json exclude each other")


def json_option(*schemas: str) -> Callable[[Decorated], Decorated]:
    """``--json``: the document that these schemas describe."""
    named = " or ".join(f"'pdcheck schema {schema}'" for schema in schemas)
    return click.option("--json", "as_json", is_flag=True, help=f"Print the JSON document of {named}.")


def picture_options(told: str) -> Callable[[Decorated], Decorated]:
    """``--svg``, ``--png`` and ``--replace``: the files that a picture is written to; ``told`` is which picture."""

    def decorate(function: Decorated) -> Decorated:
        function = replace_option(function)
        function = click.option("--png", metavar="FILE", help=f"Write {told} as PNG.")(function)
        return click.option("--svg", metavar="FILE", help=f"Write {told} as SVG, or - for stdout.")(function)

    return decorate


replace_option = click.option("--replace", is_flag=True, help="Write over a file of another kind that is there.")


def input_argument(metavar: str, *, required: bool = True) -> Callable[[Decorated], Decorated]:
    """What is to be read: its words as one text, None where none stand there."""
    return click.argument(
        "input",
        metavar=f"{metavar}...",
        nargs=-1,
        required=required,
        callback=lambda ctx, param, words: " ".join(words) if words else None,
    )


def form_option(what: str, forms: tuple[str, ...]) -> Callable[[Decorated], Decorated]:
    """``--from``: the form of an input, by name."""
    return click.option(
        "--from",
        "form",
        type=click.Choice(forms),
        help=f"What the {what} is, where its look misleads; default: what it looks like.",
    )


def waveform_options(function: Decorated) -> Decorated:
    """How a waveform is read: its channel, its sample rate, its threshold."""
    for name, told in (
        (
            "--threshold",
            "Analog waveform: the voltage between low and high, as in 0.55V; default: as the standard has it.",
        ),
        ("--rate", "Waveform without times: the sample rate, as in 10MHz or 2e6."),
        ("--channel", "Waveform: the signal or column that is the CC line; else the one with packets."),
    ):
        function = click.option(name, help=told)(function)
    return function


watch_option = click.option(
    "--watch", is_flag=True, help="Again after each save of a file that it reads; Ctrl-C ends it."
)
judged_option = click.option("--strict", is_flag=True, help="Exit code 1 also where something was not judged.")
strict_option = click.option("--strict", is_flag=True, help="Refuse a log of which a line cannot be read.")
