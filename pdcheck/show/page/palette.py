"""The colours of pictures that stand alone: those of the page, in its light and its dark scheme."""

from __future__ import annotations

import re
from pathlib import Path

from pdcheck.named import NamedTuple


class Palette(NamedTuple):
    """What is drawn in which colour; none stands for a voltage. Names are those of the page's custom properties."""

    ink: str
    soft: str
    accent: str
    second: str
    card: str


def on_paper() -> Palette:
    """The colours of the page's light scheme.

    >>> on_paper().card
    '#ffffff'
    """
    return _of(packaged("style.css"))


def in_the_dark() -> Palette:
    """The colours of the page's dark scheme.

    >>> in_the_dark().card == on_paper().card
    False
    """
    css = packaged("style.css")
    return _of(css[css.index("prefers-color-scheme:dark") :])


def _of(css: str) -> Palette:
    found = custom_properties(css)
    return Palette(**{name: found[name] for name in Palette._fields})


def custom_properties(css: str) -> dict[str, str]:
    """The custom properties of the first block of a style sheet.

    >>> custom_properties(":root{--ink:#000;--card:#fff}")
    {'ink': '#000', 'card': '#fff'}
    """
    return dict(re.findall(r"--([a-z]+):(#[0-9a-f]+)", css[: css.index("}")]))


def packaged(name: str) -> str:
    """The text of a file that lies beside this one."""
    return Path(__file__).with_name(name).read_text(encoding="utf-8")
