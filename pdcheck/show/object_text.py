"""Texts of objects made from templates: all that the figures do not change is put into words once."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from pdcheck.bits.layout import Word

_MOST = 1 << 12
# No object has a figure this large: what stands in a template's place for the first figure, the second, and so on.
_STAND_IN = 9_000_000_000_000_001
_WORD = "WORDWORD"
_Taken = tuple[int, int, int]
# Shift, mask and scale of the word itself.
_WHOLE = (0, (1 << 32) - 1, 1)


class Table:
    """The templates of one layout: by the bits that are no figures, which ``others`` masks.

    A template is a format for the word and the figures, and how to take each from the word, in order.

    ``text`` turns a record into text and must show figures as their digits.

    >>> from pdcheck.bits.power import FIXED_REQUEST
    >>> table = Table(FIXED_REQUEST, lambda record: f"{record['word']} {record['operating_current_ma']} mA")
    >>> table.learn(0x1304B12C, {"word": "1304B12C", **FIXED_REQUEST.decode(0x1304B12C)})
    '1304B12C 3000 mA'
    >>> table.known(0x130320C8)
    '130320C8 2000 mA'
    """

    __slots__ = ("figures", "others", "templates", "text")

    def __init__(self, layout: Word, text: Callable[[Mapping[str, Any]], str]) -> None:
        plain = [
            field
            for field in layout.named
            if not (field.flag or field.codes or field.special or field.fixed is not None)
        ]
        self.figures: dict[str, _Taken] = {field.key: (field.low, field.mask, field.scale) for field in plain}
        self.others = (1 << layout.bits) - 1 - sum(field.mask << field.low for field in plain)
        self.templates: dict[int, tuple[str, tuple[_Taken, ...]]] = {}
        self.text = text

    def known(self, word: int) -> str | None:
        """The text of a word, ``None`` where none like it but for its figures has been learned."""
        template = self.templates.get(word & self.others)
        if template is None:
            return None
        form, taken = template
        return form % tuple([((word >> low) & mask) * scale for low, mask, scale in taken])

    def learn(self, word: int, record: Mapping[str, Any]) -> str:
        """The text of the record of a word, from which that of every word with other figures follows.

        The record must say nothing that does not follow from the word, and have no problem.
        """
        if len(self.templates) >= _MOST:
            self.templates.clear()
        marked = {**record, "word": _WORD}
        taken: dict[str, _Taken] = {_WORD: _WHOLE}
        for place, (key, how) in enumerate(self.figures.items()):
            if key in record:
                marked[key] = _STAND_IN + place
                taken[str(_STAND_IN + place)] = how
        pieces = re.split(f"({'|'.join(taken)})", self.text(marked).replace("%", "%%"))
        order = tuple(taken[piece] for piece in pieces[1::2])
        pieces[1::2] = ["%08X" if how is _WHOLE else "%d" for how in order]
        self.templates[word & self.others] = "".join(pieces), order
        return self.text(record)
