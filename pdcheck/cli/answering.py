"""The answer of a command: a result as people read it or as JSON, and its exit code."""

from __future__ import annotations

import click

from pdcheck.cli.streams import document
from pdcheck.result import Result
from pdcheck.show.clean import clean_json


def answer(result: Result, as_json: bool) -> int:
    """Print a result; 0 where it works, else 1. Hidden characters are escaped in the JSON document."""
    if as_json:
        document(clean_json(result.to_json()) + "\n")
    else:
        click.echo(str(result))
    return 0 if result else 1
