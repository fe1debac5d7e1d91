"""``pdcheck kit``: what one owns, kept in a kit file: add, list, show, remove."""

from __future__ import annotations

from pathlib import Path

import click

from pdcheck.cli.completing import cable_ids, files, part_ids, source_ids
from pdcheck.cli.suggesting import SuggestingGroup
from pdcheck.intake.forms import FORMS


@click.group("kit", cls=SuggestingGroup, short_help="Keep sources and cables in a kit file.")
def command() -> None:
    """Keep a kit file: what you own, with the captures that say so. Comments and order of the file stay.

    \b
    pdcheck kit add kit.toml --source wall-65 "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"
    pdcheck kit list kit.toml
    """


@command.command("list", short_help="One line for each source and cable.")
@click.argument("kit", metavar="KIT", shell_complete=files)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/kit/1.")
def list_(kit: str, as_json: bool) -> int:
    """List what KIT holds.

    \b
    pdcheck kit list kit.toml
    """
    return _show(kit, None, as_json)


@command.command("show", short_help="All about one source or cable.")
@click.argument("kit", metavar="KIT", shell_complete=files)
@click.argument("id_", metavar="ID", shell_complete=part_ids)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/kit/1.")
def show(kit: str, id_: str, as_json: bool) -> int:
    """Tell all about the source or cable ID of KIT.

    \b
    pdcheck kit show kit.toml wall-45
    """
    return _show(kit, id_, as_json)


@command.command("add", short_help="Add a source or a cable, from any input.")
@click.argument("kit", metavar="KIT", shell_complete=files)
@click.argument("input_", metavar="INPUT...", nargs=-1, shell_complete=files)
@click.option("--source", "source_id", metavar="ID", help="Add a source of this id.", shell_complete=source_ids)
@click.option("--cable", "cable_id", metavar="ID", help="Add a cable of this id.", shell_complete=cable_ids)
@click.option("--title", metavar="TEXT", help="One line that says which one it is.")
@click.option(
    "--from", "form", type=click.Choice(tuple(FORMS)), help="What the input is, where its look would mislead."
)
@click.option("--port", metavar="NAME", help="With --from sysfs: the port to read.")
@click.option(
    "--captured-over",
    type=click.Choice(["3A", "5A", "EPR"], case_sensitive=False),
    help="The cable that a source's offers were read over.",
)
@click.option("--pdp", metavar="W", help="The power printed on a source.")
@click.option("--replace", is_flag=True, help="Take the place of the one that has this id.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/kit-change/1.")
def add(
    kit: str,
    input_: tuple[str, ...],
    source_id: str | None,
    cable_id: str | None,
    title: str | None,
    form: str | None,
    port: str | None,
    captured_over: str | None,
    pdp: str | None,
    replace: bool,
    as_json: bool,
) -> int:
    """Add a source or a cable to KIT, which is made if there is none.

    INPUT is what 'decode' and 'cable' take: a label, hex, e-marker words, a description, the path of a capture, or -
    for standard input. A file is kept beside the kit, in captures/.

    \b
    pdcheck kit add kit.toml --source wall-65 "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"
    pdcheck kit add kit.toml --source desk desk.vcd --captured-over 5A
    pdcheck kit add kit.toml --cable thin-2m "C-C 3A 2m loop=240mOhm"
    """
    from pdcheck.parts.kit_entry import cable_entry, source_entry

    kind, id_ = _one_id(source_id, cable_id)
    if not input_ and form != "sysfs":
        raise click.UsageError("Missing argument 'INPUT...'.")
    if kind == "cable" and (captured_over or pdp):
        raise click.UsageError("--captured-over and --pdp are of a source")
    make = source_entry if kind == "source" else cable_entry
    entry = make(id_, " ".join(input_), form, port)
    more = {"title": title, "captured_over": captured_over, "pdp": pdp}
    said = {key: value for key, value in more.items() if value is not None}
    table = {"id": id_, **{key: said[key] for key in ("title",) if key in said}, **entry.table, **said}
    change, capture = _put(Path(kit), kind, entry._replace(table=table), replace)
    return _changed(kit, change, kind, id_, capture, as_json)


@command.command("remove", short_help="Take a source or a cable out.")
@click.argument("kit", metavar="KIT", shell_complete=files)
@click.argument("id_", metavar="ID", required=False, shell_complete=part_ids)
@click.option("--source", "source_id", metavar="ID", help="The source of this id.", shell_complete=source_ids)
@click.option("--cable", "cable_id", metavar="ID", help="The cable of this id.", shell_complete=cable_ids)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/kit-change/1.")
def remove(kit: str, id_: str | None, source_id: str | None, cable_id: str | None, as_json: bool) -> int:
    """Take ID out of KIT, with the comment right above it. A capture that was kept stays where it is.

    \b
    pdcheck kit remove kit.toml old-18
    """
    from pdcheck.parts.keeping import change, remove_table
    from pdcheck.parts.tomlfile import load_kit
    from pdcheck.show.kept import parts_named

    held = load_kit(kit)
    if id_ is not None and source_id is None and cable_id is None:
        sources, cables = parts_named(held, id_)
        if sources and cables:
            raise click.UsageError(f"a source and a cable are called {id_!r}: say --source or --cable")
        source_id, cable_id = (id_, None) if sources else (None, id_)
    elif id_ is not None:
        raise click.UsageError("give ID, or --source ID, or --cable ID")
    kind, gone = _one_id(source_id, cable_id)
    capture = held.source(gone).capture if kind == "source" else None
    change(kit, lambda text: remove_table(text, kind, gone))
    return _changed(kit, "removed", kind, gone, capture, as_json)


def _one_id(source_id: str | None, cable_id: str | None) -> tuple[str, str]:
    if (source_id is None) == (cable_id is None):
        raise click.UsageError("say which it is: --source ID or --cable ID")
    return ("source", source_id) if source_id is not None else ("cable", cable_id or "")


def _put(path: Path, kind: str, entry: object, replace: bool) -> tuple[str, str | None]:
    """Write an entry into the kit; what changed, and the capture that it keeps. A refused one leaves no trace."""
    from pdcheck.errors import InputError
    from pdcheck.parts.keeping import add_table, change
    from pdcheck.parts.kit_entry import Entry, keep_capture
    from pdcheck.parts.tomlfile import parse_kit

    assert isinstance(entry, Entry)
    new_kit = not path.exists()
    outcome = "added"
    made: Path | None = None
    kept: str | None = None

    def edit(text: str) -> str:
        nonlocal made, outcome, kept
        before = () if new_kit else getattr(parse_kit(text, str(path), folder=path.parent), f"{kind}s")
        if any(part.id == entry.table["id"] for part in before):
            outcome = "replaced"
        # A name in use is refused before anything is kept.
        add_table(text, kind, entry.table, replace=replace)
        whole, made = keep_capture(entry, path, name=str(entry.table["id"]))
        kept = whole.table.get("capture") or (None if whole.capture is None else whole.told.rpartition(" ")[2])
        edited = add_table(text, kind, whole.table, replace=replace, comment=whole.told)
        parse_kit(edited, str(path), folder=path.parent)
        return edited

    try:
        change(path, edit, new="")
    except InputError:
        if made is not None:
            made.unlink(missing_ok=True)
        raise
    return outcome, kept


def _show(kit: str, id_: str | None, as_json: bool) -> int:
    from pdcheck.parts.tomlfile import load_kit
    from pdcheck.show import kept

    held = load_kit(kit)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(kept.document(held, id_))
    else:
        click.echo(kept.text(held, id_))
    return 0


def _changed(kit: str, change: str, kind: str, id_: str, capture: str | None, as_json: bool) -> int:
    if as_json:
        from pdcheck.show import kept
        from pdcheck.show.emit import emit_json

        emit_json(kept.change_json(kit, change, kind, id_, capture))
    else:
        from pdcheck.show.clean import clean

        preposition = "from" if change == "removed" else "in" if change == "replaced" else "to"
        told = f"{change} {kind} {id_} {preposition} {kit}"
        stays = "; its capture stays in" if change == "removed" else "; its capture is kept in"
        click.echo(clean(told + (f"{stays} {capture}" if capture else "")))
    return 0
