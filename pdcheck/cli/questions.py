"""Commands that put one question to the front door and print its answer: a file with its words and its options."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option
from pdcheck.cli.rig_options import rig_argument

Option = Callable[[Callable[..., Any]], Callable[..., Any]]


def question(
    module: str, *options: Option, of_rig: bool = False, fits: Callable[[dict[str, Any]], None] | None = None
) -> click.Command:
    """The command of a file that is named as its question; its help is what stands in the file behind ``Meant by``.

    Options are called as the parameters of the question. ``of_rig``: it is about one rig, and takes what stands for
    one; ``fits`` raises a ``UsageError`` where options do not go together.
    """
    name = module.rpartition(".")[2]

    def asked(as_json: bool, **said: Any) -> int:
        if fits is not None:
            fits(said)
        return answer(getattr(pdcheck, name)(**said), as_json)

    made: Callable[..., Any] = asked
    for option in reversed([*options, json_option(name), *([rig_argument()] if of_rig else [])]):
        made = option(made)
    return click.command(name, help=(sys.modules[module].__doc__ or "").split("\n\n", 2)[-1])(made)
