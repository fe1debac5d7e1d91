"""``pdcheck schema``: Print the JSON Schema of a file or of what a command prints.

Meant by: json format api.
"""

from __future__ import annotations

import click
from click.shell_completion import CompletionItem


def _names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    from pdcheck.show.schemas import shipped

    return [CompletionItem(name) for name in shipped() if name.startswith(incomplete)]


@click.command("schema")
@click.argument("name", required=False, shell_complete=_names)
@click.option("--json", "as_json", is_flag=True, help="A schema is JSON either way; without NAME: the list as JSON.")
def command(name: str | None, as_json: bool) -> int:
    """Print the JSON Schema NAME: of a kit or rig file (kit-file, rig-file), or of what a command prints with --json.

    Without NAME: list them.

    \b
    pdcheck schema rig-file > rig.schema.json
    """
    from pdcheck.cli.answering import answer
    from pdcheck.cli.streams import document
    from pdcheck.show.schemas import schema_list, schema_text

    if name is None:
        return answer(schema_list(), as_json)
    document(schema_text(name))
    return 0
