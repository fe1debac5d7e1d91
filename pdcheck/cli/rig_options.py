"""RIG, a file, or the few words that stand for one: the options that every command about one rig has."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, get_args

import click

from pdcheck.cli.options import Decorated
from pdcheck.parts.choices import FALLBACKS, Fallback

_WORDS = {
    "output": ("V@A", "What you want out, as in 12V@2A or '12V 24W'; makes a rig without a file."),
    "load": ("KIND", "What takes it: power (default), motor, stepper, resistance, led, pack, as for 'new'."),
    "voltage": ("V-V", "What it takes straight on the bus, as in 9V-14V; default: 10 % either way of the output."),
    "converter": ("C", "As in buck-boost:6-36V:5A:90%, or none; default: buck-boost, none for what a charger offers."),
    "trigger": ("V", "What the trigger is set to, as in 15V or 'pps 13.2V 3A'; default: what works best here."),
    "fallback": ("RULE", f"Without that voltage: {FALLBACKS}; default: {get_args(Fallback)[0]}."),
    "wire": ("WIRE", "From the trigger on, as in '20AWG 0.3m'; default: not known."),
    "lead": ("WIRE", "From the converter to the load, as in '18AWG 1.5m'; default: not known."),
    "also": ("LOAD", "What else hangs on the bus, as in 'heater 36ohm 12V' or 'strip 12V@1A' (repeatable)."),
}


def rig_argument(*, required: bool = True) -> Callable[[Decorated], Decorated]:
    """``RIG``, the path of a file, or ``--output`` and its companions; the command gets the path, or the rig itself.

    Where nobody says what the trigger is set to, that is chosen, and told on standard error.
    """

    def decorate(function: Decorated) -> Decorated:
        @wraps(function)
        def called(*args: Any, rig: str | None, **options: Any) -> Any:
            said = {key: options.pop(key) for key in _WORDS}
            said = {key: "; ".join(value) if key == "also" else value for key, value in said.items() if value}
            if rig is None and not said and required:
                told = "no rig: give RIG, a file ('pdcheck new' makes one), or say what you want out: --output 12V@2A"
                raise click.UsageError(told)
            if rig is not None and said:
                raise click.UsageError(f"RIG and --{next(iter(said))} exclude each other: the file says it already")
            return function(*args, **_made(said, options) if said else {"rig": rig, **options})

        for key, (metavar, told) in reversed(_WORDS.items()):
            called = click.option(f"--{key}", key, metavar=metavar, help=told, multiple=key == "also")(called)
        return click.argument("rig", metavar="[RIG]", required=False)(called)  # type: ignore[return-value]

    return decorate


def _made(said: dict[str, str], options: dict[str, Any]) -> dict[str, Any]:
    """The options of a command with a rig made of words in the place of its path."""
    from pdcheck.asking.rig_on_line import rig_on_line

    made = rig_on_line(said, *map(options.get, ("kit", "source", "cable")))
    if made.chosen is not None:
        from pdcheck.cli.answering import remark
        from pdcheck.parts.request import request_text

        remark(f"pdcheck: no --trigger given: this is for one set to {request_text(made.chosen)}, the best here")
    if "kit" in options:
        options["kit"] = made.kit
    return {"rig": made.rig, **options}
