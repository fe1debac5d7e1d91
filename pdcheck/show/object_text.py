"""Texts of objects made from templates: all that the figures do not change is put into words once."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Mapping
from typing import Any, NamedTuple

from pdcheck.bits.layout import Word

_MOST = 1 << 14
# No object has a figure this large: what stands in a template's place for the first figure, the second, and so on.
_STAND_IN = 9_000_000_000_000_001
_WORD = "WORDWORD"
_Taken = tuple[int, int, int]


class _Figures(NamedTuple):
    """The plain numbers of a layout by key, how each is taken from a word, and a mask of all other bits."""

    taken: dict[str, _Taken]
    others: int


class _Template(NamedTuple):
    """A format for the word (where ``None`` stands) and the figures, in the order in which they come."""

    form: str
    taken: tuple[_Taken | None, ...]


class ObjectTexts:
    """Texts of objects by layout; ``text`` turns a record into text and must show figures as their digits.

    >>> from pdcheck.bits.power import FIXED_REQUEST
    >>> texts = ObjectTexts(lambda record: f"{record['word']} {record['operating_current_ma']} mA")
    >>> texts.learn(FIXED_REQUEST, 0x1304B12C, {"word": "1304B12C", **FIXED_REQUEST.decode(0x1304B12C)})
    '1304B12C 3000 mA'
    >>> texts.known(FIXED_REQUEST, 0x130320C8)
    '130320C8 2000 mA'
    """

    def __init__(self, text: Callable[[Mapping[str, Any]], str]) -> None:
        self.text = text
        self._figures: dict[Word, _Figures] = {}
        self._templates: dict[tuple[Word, int, Hashable], _Template] = {}

    def known(self, layout: Word, word: int, variant: Hashable = None) -> str | None:
        """The text of a word, ``None`` where none like it but for its figures has been learned."""
        figures = self._figures.get(layout)
        template = figures and self._templates.get((layout, word & figures.others, variant))
        if not template:
            return None
        return template.form % tuple(
            [word if each is None else ((word >> each[0]) & each[1]) * each[2] for each in template.taken]
        )

    def learn(self, layout: Word, word: int, record: Mapping[str, Any], variant: Hashable = None) -> str:
        """The text of a record that follows from ``layout``, ``word`` and ``variant`` alone, and from which that of
        every word with other figures follows: it must have no problem.
        """
        figures = self._figures.get(layout) or self._figures_of(layout)
        if len(self._templates) >= _MOST:
            self._templates.clear()
        self._templates[layout, word & figures.others, variant] = self._template(record, figures)
        return self.text(record)

    def figures_of(self, layout: Word) -> Mapping[str, _Taken]:
        """Shift, mask and scale of the plain numbers of a layout, by key."""
        return (self._figures.get(layout) or self._figures_of(layout)).taken

    def _figures_of(self, layout: Word) -> _Figures:
        plain = [
            field
            for field in layout.named
            if not (field.flag or field.codes or field.special or field.fixed is not None)
        ]
        taken = {field.key: (field.low, field.mask, field.scale) for field in plain}
        others = (1 << layout.bits) - 1 - sum(field.mask << field.low for field in plain)
        made = self._figures[layout] = _Figures(taken, others)
        return made

    def _template(self, record: Mapping[str, Any], figures: _Figures) -> _Template:
        marked = {**record, "word": _WORD}
        taken: dict[str, _Taken | None] = {_WORD: None}
        for place, (key, how) in enumerate(figures.taken.items()):
            if key in record:
                marked[key] = _STAND_IN + place
                taken[str(_STAND_IN + place)] = how
        pieces = re.split(f"({'|'.join(taken)})", self.text(marked).replace("%", "%%"))
        order = tuple(taken[piece] for piece in pieces[1::2])
        pieces[1::2] = ["%08X" if how is None else "%d" for how in order]
        return _Template("".join(pieces), order)
