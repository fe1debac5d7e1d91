"""A captured source put into a kit file, as the words it came in with a comment that says them for people."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.parts.keeping import add_table, change
from pdcheck.parts.offer_text import hex_words, offers_line
from pdcheck.parts.tomlfile import parse_kit
from pdcheck.quantities import quoted

_ID = re.compile(r"[^\x00-\x1f\x7f\s/\\\"'`]{1,64}")


def keep_source(
    path: str | Path,
    id: str,
    offers: Sequence[Offer],
    *,
    captured_over: str | None = None,
    replace: bool = False,
) -> str:
    """Add a source with these offers to the kit file at ``path``; gives back ``added`` or ``replaced``.

    A file that is not there is begun; one that is there keeps every byte but those of the source that is replaced.
    Raises ``InputError`` for an id that is in use (without ``replace``), for a file that is no kit, and for one that
    cannot be written.
    """
    real = [offer for offer in offers if not offer.is_gap]
    if not real:
        raise InputError("there are no offers to keep", expected="a capture with Source_Capabilities in it")
    if not _ID.fullmatch(id):
        raise InputError(f"{quoted(id)} is no id", where="--as", expected="a short name such as wall-45")
    table = {"id": id, "hex": hex_words(offer.word for offer in offers)}
    if captured_over is not None:
        table["captured_over"] = captured_over
    outcome = "added"

    def edit(text: str) -> str:
        nonlocal outcome
        kit = parse_kit(text, str(path), folder=Path(path).parent) if text.strip() else None
        if kit is not None and any(source.id == id for source in kit.sources):
            outcome = "replaced"
        try:
            new = add_table(text, "source", table, replace=replace, comment=offers_line(real))
        except InputError as error:
            raise error.inside(str(path)) from None
        # What is written must read back as the same offers, or it is not written.
        kept = parse_kit(new, str(path), folder=Path(path).parent).source(id)
        if [offer.word for offer in kept.offers if not offer.is_gap] != [offer.word for offer in real]:
            raise InputError("these offers do not read back from a kit file as they are", where=str(path))
        return new

    change(path, edit, new="")
    return outcome
