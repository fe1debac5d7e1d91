"""A matplotlib figure as SVG that can stand in a page: ids of its own, colours of the page, names on its points."""

from __future__ import annotations

import io
import re
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK = "#010101"
SOFT = "#020202"
ACCENT = "#030303"
SECOND = "#040404"
PAPER = "#050505"
_NAMES = {INK: "ink", SOFT: "soft", ACCENT: "accent", SECOND: "second", PAPER: "paper"}
# Stand-ins that the page replaces by its own colours, so that one drawing serves light, dark and print.
_ON_PAPER = {INK: "#1b1f24", SOFT: "#5a6472", ACCENT: "#0a5c8a", SECOND: "#8a4b08", PAPER: "#ffffff"}


def inline_svg(figure: Figure, prefix: str, label: str, names: dict[str, str] | None = None) -> str:
    """The figure as an ``svg`` element with text alternative ``label``; ``names`` puts a title on artists by their gid.

    Colours are custom properties of the page; every id starts with ``prefix``, so that many drawings share a page.
    """
    text = _svg(figure)
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r'(\bid=")', rf"\1{prefix}-", text)
    text = re.sub(r"(url\(#)", rf"\1{prefix}-", text)
    text = re.sub(r'(xlink:href="#)', rf"\1{prefix}-", text)
    for gid, title in (names or {}).items():
        text = text.replace(f'<g id="{prefix}-{gid}">', f'<g id="{prefix}-{gid}"><title>{escape(title)}</title>', 1)
    for stand_in, name in _NAMES.items():
        text = text.replace(stand_in, f"var(--{name})")
    text = re.sub(
        r'<svg [^>]*viewBox="([^"]*)"[^>]*>',
        rf'<svg viewBox="\1" role="img" aria-label="{escape(label)}">',
        text,
        count=1,
    )
    return text.replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "").replace("xlink:href", "href").strip()


def file_svg(figure: Figure) -> str:
    """The figure as an SVG file of its own, in colours for paper."""
    text = _svg(figure)
    for stand_in, colour in _ON_PAPER.items():
        text = text.replace(stand_in, colour)
    return text


def file_png(figure: Figure) -> bytes:
    """The figure as a PNG of twice its size in pixels, in colours for paper."""
    for artist in figure.findobj():
        for kind in ("color", "facecolor", "edgecolor", "markerfacecolor", "markeredgecolor"):
            getter, setter = getattr(artist, f"get_{kind}", None), getattr(artist, f"set_{kind}", None)
            if getter is None or setter is None:
                continue
            paper = _ON_PAPER.get(_as_hex(getter()))
            if paper is not None:
                setter(paper)
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=200, facecolor="#ffffff")
    return stream.getvalue()


def _as_hex(colour: object) -> str:
    from matplotlib.colors import to_hex

    try:
        return to_hex(colour)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return ""


def _svg(figure: Figure) -> str:
    import matplotlib

    stream = io.StringIO()
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "pdcheck"}):
        figure.savefig(stream, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return stream.getvalue()
