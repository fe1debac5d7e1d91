"""What a source and a cable are called: by their ids, or in words where they were only described."""

from __future__ import annotations

_DESCRIBED = {"source": "your charger", "cable": "your cable", "unknown": "an unknown cable"}


def pair_named(source: str, cable: str) -> str:
    """A source with its cable, in words.

    >>> pair_named("wall-45", "thin-2m"), pair_named("source", "unknown")
    ('wall-45 with thin-2m', 'your charger with an unknown cable')
    """
    return f"{_DESCRIBED.get(source, source)} with {_DESCRIBED.get(cable, cable)}"
