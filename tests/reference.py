"""The reference out of the docstrings: ``python -m tests.reference FOLDER`` writes it and looks for broken links."""

from __future__ import annotations

import sys
import warnings
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pdcheck
from pdcheck.show.schema_files import results


def modules() -> list[str]:
    """The front door, where its parts and functions stand, and where the results of the commands do."""
    for name in pdcheck.__all__:
        getattr(pdcheck, name)
    places = {*pdcheck._PLACES.values()} | {cls.__module__ for cls in results()}
    parts = {base.__module__ for name in pdcheck.__all__ for base in getattr(getattr(pdcheck, name), "__mro__", ())}
    return ["pdcheck", *sorted(name for name in places | parts if name.startswith("pdcheck."))]


def build(folder: Path) -> list[str]:
    """Write the reference into a folder; the links in it that lead nowhere."""
    import pdoc

    pdoc.render.configure(docformat="google", search=False)
    with warnings.catch_warnings():
        # Names that stand for type checkers alone are shown as they are written.
        warnings.simplefilter("ignore", UserWarning)
        pdoc.pdoc(*modules(), output_directory=folder)
    return broken(folder)


class _Page(HTMLParser):
    """The links and the anchors of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.anchors: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name == "id" or (name == "name" and tag == "a"):
                self.anchors.add(value or "")
            elif name in ("href", "src"):
                self.links.append(value or "")


def broken(folder: Path) -> list[str]:
    """Links of the pages in a folder to a page or an anchor that there is not."""
    pages = {}
    for path in folder.rglob("*.html"):
        pages[path.resolve()] = page = _Page()
        page.feed(path.read_text(encoding="utf-8"))
    found = []
    for path, page in pages.items():
        for link in page.links:
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                continue
            target = (path.parent / unquote(parts.path)).resolve() if parts.path else path
            there = target in pages if target.suffix == ".html" else target.exists()
            if not there or (parts.fragment and unquote(parts.fragment) not in pages[target].anchors):
                found.append(f"{path.relative_to(folder.resolve())}: {link}")
    return found


if __name__ == "__main__":
    lost = build(Path(sys.argv[1]))
    print("\n".join(lost))
    sys.exit(1 if lost else 0)
