"""A matplotlib figure as SVG that can stand in a page: ids of its own, colours of the page, names on its points."""

from __future__ import annotations

import io
import re
from html import escape
from typing import TYPE_CHECKING

from pdcheck.show.clean import clean
from pdcheck.show.page.palette import PAGE

if TYPE_CHECKING:
    from pdcheck.show.page.plot import Plot


def inline_svg(plot: Plot, prefix: str) -> str:
    """The plot as an ``svg`` element with its text alternative, and a title on each point that has a name.

    Colours are custom properties of the page; every id starts with ``prefix``, so that many drawings share a page.
    """
    text = _svg(plot)
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>|<style[^>]*>.*?</style>|<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r'(\bid=")', rf"\1{prefix}-", text)
    text = re.sub(r"(url\(#)", rf"\1{prefix}-", text)
    text = re.sub(r'(xlink:href="#)', rf"\1{prefix}-", text)
    for gid, title in plot.names.items():
        named = f'<g id="{prefix}-{gid}"><title>{escape(clean(title))}</title>'
        text = text.replace(f'<g id="{prefix}-{gid}">', named, 1)
    for name, stand_in in PAGE._asdict().items():
        text = text.replace(stand_in, f"var(--{name})")
    text = re.sub(
        r'<svg [^>]*viewBox="([^"]*)"[^>]*>',
        lambda found: f'<svg viewBox="{found[1]}" role="img" aria-label="{escape(clean(plot.label, 4000))}">',
        text,
        count=1,
    )
    text = text.replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "").replace("xlink:href", "href")
    return re.sub(r"\n\s*", "\n", text).strip()


def file_svg(plot: Plot) -> str:
    """A plot as an SVG file of its own."""
    return _svg(plot)


def file_png(plot: Plot) -> bytes:
    """A plot as a PNG, 200 pixels to the inch."""
    stream = io.BytesIO()
    plot.figure.savefig(stream, format="png", dpi=200, facecolor="#ffffff")
    return stream.getvalue()


def _svg(plot: Plot) -> str:
    import matplotlib as mpl

    stream = io.StringIO()
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "pdcheck"}):
        plot.figure.savefig(stream, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return stream.getvalue()
