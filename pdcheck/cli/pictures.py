"""Answers as files, pages and pictures among them: what is refused before anything is worked out, and the writing."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pdcheck.parts.writing import Kind
    from pdcheck.show.pictures.shapes import Picture

Target = tuple[str | None, "Kind"]
"""The path of a file to be written, ``-`` for standard output, None where it is not asked for; and what it will be."""


def ready(*targets: Target, replace: bool, printed: bool = False, read: tuple[object, ...] = ()) -> None:
    """Raise ``InputError`` where one of these cannot be written, two of them are one, or a PNG cannot be painted.

    ``printed`` says that the answer goes to standard output for a program to read, which then holds nothing else. What
    is going to be ``read``, as far as these are paths of files, is not written over.
    """
    from os.path import isfile

    from pdcheck.intake.read_files import note
    from pdcheck.parts.writing import PNG, outputs_differ, writable

    outputs_differ(*(path for path, _ in targets), "-" if printed else None)
    for each in read:
        if isinstance(each, str) and isfile(each):  # noqa: PTH113 (a label is no path, and may be too long for one)
            note(each, each)
    for path, kind in targets:
        if path is not None and path != "-":
            writable(path, kind=kind, replace=replace)
        if path is not None and kind is PNG:
            from pdcheck.show.pictures.painted import can_paint

            can_paint()


def write_picture(picture: Picture, svg: str | None, png: str | None, replace: bool) -> None:
    """Write a picture to the files that are asked for."""
    from pdcheck.parts.writing import PNG, SVG
    from pdcheck.show.pictures.painted import painted

    write(svg, picture.svg, SVG, replace)
    write(png, partial(painted, picture), PNG, replace)


def write(path: str | None, content: Callable[[], str | bytes], kind: Kind, replace: bool, told: str = "") -> None:
    """Write a file where one is asked for, ``-`` is standard output; what was written goes to standard error."""
    if path is None:
        return
    from pdcheck.cli.answering import remark
    from pdcheck.cli.streams import document
    from pdcheck.parts.writing import write_whole

    if path == "-":
        document(content())
    else:
        write_whole(path, content(), kind=kind, replace=replace)
        remark(f"wrote {path}{told}")
