"""Reads a page as a program would: elements with their attributes and text, in order."""

import json
import re
from html.parser import HTMLParser

# Elements that never have an end tag: HTML Living Standard, 13.1.2, void elements.
VOID = ["area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"]


class Element:
    def __init__(self, tag, attributes, parent):
        self.tag, self.attributes, self.parent = tag, dict(attributes), parent
        self.children, self.pieces = [], []

    @property
    def text(self):
        return re.sub(r"\s+", " ", "".join(self.raw())).strip()

    def raw(self):
        for piece in self.pieces:
            if isinstance(piece, str):
                yield piece
            else:
                yield from piece.raw()

    def all(self, tag=None, **wanted):
        for child in self.children:
            if tag in (None, child.tag) and all(child.attributes.get(k.rstrip("_")) == v for k, v in wanted.items()):
                yield child
            yield from child.all(tag, **wanted)

    def one(self, tag=None, **wanted):
        found = list(self.all(tag, **wanted))
        assert len(found) == 1, (tag, wanted, len(found))
        return found[0]

    @property
    def parents(self):
        above = self.parent
        while above is not None:
            yield above
            above = above.parent


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.root = self.at = Element("root", {}, None)

    def handle_starttag(self, tag, attrs):
        element = self._put(tag, attrs)
        if tag not in VOID:
            self.at = element

    def handle_startendtag(self, tag, attrs):
        self._put(tag, attrs)

    def _put(self, tag, attrs):
        element = Element(tag, attrs, self.at)
        self.at.children.append(element)
        self.at.pieces.append(element)
        return element

    def handle_endtag(self, tag):
        assert self.at.tag == tag, f"</{tag}> ends <{self.at.tag}>: {self.at.attributes} {self.at.text[:80]}"
        self.at = self.at.parent

    def handle_data(self, data):
        self.at.pieces.append(data)


def read(page):
    """The root of a page whose tags all match."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    assert reader.at is reader.root, f"<{reader.at.tag}> is left open"
    return reader.root


def data(root, name="pdcheck-data"):
    """A JSON document that the page carries."""
    return json.loads("".join(root.one("script", id=name).raw()))


def alone(document):
    """The one result of a document of ``check``, which may stand at its top."""
    (found,) = document.get("results", [document])
    return found


def result(root):
    """What ``check`` says of the pair that the page is about."""
    return alone(data(root))


def rows(table):
    """A table as a list of rows of text, headers first."""
    return [[cell.text for cell in row.children] for row in table.all("tr")]


def at(document, key):
    """The triple that ``nodes/mount/in/voltage_v`` names in a document of ``check``."""
    kind, *name, quantity = key.split("/")
    field = {"nodes": "node", "losses": "part"}[kind]
    (found,) = (each for each in document[kind] if each[field] == "/".join(name))
    return found[quantity]


def figures(text):
    """The numbers of a figure such as ``15.00 V (14.25..15.75)``, as typ, min, max, and its step."""
    numbers = re.findall(r"\d+\.\d+", text)
    step = 10.0 ** -len(numbers[0].split(".")[1])
    return [float(each) for each in (numbers if len(numbers) == 3 else [numbers[0]] * 3)], step
