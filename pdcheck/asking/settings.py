"""Settings: what each setting of a trigger would give on a source."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

from pdcheck.asking.given import AnyCable, AnyKit, AnySource, source_and_cable
from pdcheck.contract.trigger_settings import Settings, settings_on, usual_settings
from pdcheck.errors import InputError
from pdcheck.parts.choices import Fallback
from pdcheck.parts.request import parse_request
from pdcheck.quantities import quoted


def settings(
    source: AnySource,
    requests: Iterable[str] = (),
    cable: AnyCable | None = None,
    kit: AnyKit | None = None,
    fallback: Fallback = "next-lower",
) -> Settings:
    """What a trigger would give at each of some settings.

    Args:
        source: a Source, an id of the kit, a label, hex, or a path.
        requests: such as ``12V`` or ``pps 13.2V 3A``; usual voltages, the highest and the most power if none is named.
        cable: a Cable, an id of the kit, a description, or the words of an e-marker.
        kit: a Kit, or the path of its file, that ids are looked up in.
        fallback: what the trigger does without its voltage: ``next-lower``, ``5V`` or ``none``.

    Raises:
        InputError: what cannot be read.

    >>> settings("5V 3A, 9V 3A", ["9V", "12V"])
    <Settings: 9 V: 9 V, 12 V: 9 V>
    """
    if fallback not in get_args(Fallback):
        expected = f"one of {', '.join(get_args(Fallback))}"
        raise InputError(f"{quoted(fallback)} is no fall-back", argument="fallback", expected=expected)
    pair = source_and_cable(source, cable, kit)
    try:
        asked = tuple(parse_request(text) for text in requests)
    except InputError as error:
        raise error.inside("SETTING") from None
    return settings_on(*pair, asked or usual_settings(pair[0]), fallback)
