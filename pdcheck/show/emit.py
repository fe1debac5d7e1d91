"""A document to standard output as JSON."""

from __future__ import annotations

import json
from typing import Any

import click

from pdcheck.show.clean import clean_json


def emit_json(document: dict[str, Any]) -> None:
    """Print a document, indented, characters beyond ASCII as they are but for hidden ones; never NaN or infinity."""
    click.echo(clean_json(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)))
