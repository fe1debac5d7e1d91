"""A result to standard output, as text or as JSON."""

from __future__ import annotations

from typing import Any

import click

from pdcheck.result import Result


def emit(result: Result, as_json: bool) -> int:
    """Print a result; the exit code: 0 where it works, 1 where it was found wanting."""
    if as_json:
        emit_json(result)
    else:
        click.echo(str(result))
    return 0 if result else 1


def emit_json(document: Result | dict[str, Any]) -> None:
    """Print a document, indented, characters beyond ASCII as they are but for hidden ones; never NaN or infinity."""
    import json

    from pdcheck.show.clean import clean_json

    plain = document.to_dict() if isinstance(document, Result) else document
    click.echo(clean_json(json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False)))
