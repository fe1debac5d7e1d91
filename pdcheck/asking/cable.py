"""Cable: what a cable may carry, and what it costs at a current."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.asking.values import quantity
from pdcheck.bits.cable import read_cable_words
from pdcheck.errors import InputError
from pdcheck.intake.given import Given, given
from pdcheck.parts.cable import Cable
from pdcheck.parts.cable_description import described
from pdcheck.parts.cable_face import looks_like_words, words_in
from pdcheck.verdict.cable import CableResult


def cable(
    input: str | Sequence[int] | Cable, at: str | float | None = None, revision: str | None = None
) -> CableResult:
    """Tell what a cable may carry, and with ``at`` [A] what it costs.

    ``input`` is a description, an e-marker's words (as numbers or in hex), the whole message, a path to either, or
    ``-`` for standard input. ``revision`` (``2.0`` or ``3.x``) overrules what the VDM header says of its words.
    Raises ``InputError``.

    >>> cable("C-C 3A loop=180mOhm", at="2A").cost.drop_v.typ
    0.36
    >>> cable([0x18000000, 0, 0, 0x000A2640])
    <CableResult: passive, 5 A, 50 V, EPR>
    """
    amps = None if at is None else quantity(at, "A", "at", zero=True)
    if isinstance(input, Cable):
        return CableResult(input, None, amps)
    if not isinstance(input, str):
        return _marked(input, revision, amps)
    source = Given("", input.encode("utf-8", "surrogateescape")) if described(input) else given(input)
    try:
        text = source.text().strip()
        if looks_like_words(text) or "\n" in text:
            return _marked(words_in(text), revision, amps)
        return CableResult(Cable(text), None, amps)
    except InputError as error:
        raise source.blame(error) from None


def _marked(words: Sequence[int], revision: str | None, amps: float | None) -> CableResult:
    read = read_cable_words(words, revision)
    stated = {
        "id": "cable",
        "construction": read.construction,
        "emarker": read.emarker,
        "pd": True,
        "current_a": read.current_ma / 1000,
        "voltage_v": read.voltage_mv / 1000,
        "epr": read.epr,
    }
    return CableResult(Cable.model_validate(stated), read, amps)
