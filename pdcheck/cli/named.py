"""Sources and cables as people name them on a command line: an id of the kit, a text, a path."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pdcheck.errors import InputError

if TYPE_CHECKING:
    from pdcheck.parts.cable import Cable
    from pdcheck.parts.kit import Kit
    from pdcheck.parts.source import Source


def _kit(path: str | None) -> Kit | None:
    if path is None:
        return None
    from pdcheck.parts.tomlfile import load_kit

    return load_kit(path)


def named_source(text: str, kit_path: str | None) -> Source:
    """The source that ``text`` means: an id of the kit, else a label, hex, or a path to either.

    Raises ``InputError`` for what is none of these; with a kit, its ids are named.
    """
    from pdcheck.intake.given import given
    from pdcheck.intake.sniff import read_any
    from pdcheck.parts.source import Source

    kit = _kit(kit_path)
    if kit is not None and any(source.id == text for source in kit.sources):
        return kit.source(text)
    source = given(text)
    try:
        intake = read_any(source.text())
        offers = intake.offers_or_error()
    except InputError as error:
        if kit is not None and not source.name and len(text.split()) == 1:
            return kit.source(text)
        raise source.blame(error).inside("--source") from None
    problems = ("the message that brought these offers has a bad CRC",) if intake.doubtful else ()
    # A label that says 0 W says nothing of its power.
    power_w = intake.power_w or None
    return Source.model_validate({"id": "source", "offers": offers, "pdp_w": power_w, "problems": problems})


def named_cable(text: str, kit_path: str | None) -> Cable:
    """The cable that ``text`` means: an id of the kit, else a description or e-marker words.

    Raises ``InputError`` for what is none of these; with a kit, its ids are named.
    """
    from pdcheck.parts.cable import Cable

    kit = _kit(kit_path)
    if kit is not None:
        known = [*kit.cables, *(source.cable for source in kit.sources if source.cable is not None)]
        found = next((cable for cable in known if cable.id == text), None)
        if found is not None:
            return found
    try:
        return Cable(text)
    except InputError as error:
        if kit is not None and len(text.split()) == 1:
            return kit.cable(text)
        raise error.inside("--cable") from None
