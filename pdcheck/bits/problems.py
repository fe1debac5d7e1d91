"""Problem: something odd about a word or a message, attached to it and never a reason to refuse it."""

from __future__ import annotations

from typing import Annotated, Literal

from pdcheck.marks import WORDS
from pdcheck.named import NamedTuple

Code = Literal[
    "50v-not-epr", "after-end", "ambiguous", "block-length", "block-long", "block-short", "block-unfinished",
    "chunk-missing", "chunk-short", "contradiction", "copy-differs", "count", "crc", "current-reserved",
    "cut-short", "data-size", "description", "empty", "epr-contradicted", "epr-in-spr", "epr-low",
    "first-not-5v", "flags-not-first", "header-bit", "identity-short", "label", "left-out", "letters", "line",
    "link-broken", "link-outside", "link-ring", "link-type", "missing", "no-charge-through",
    "no-extended-header", "no-marker", "no-offers", "no-power", "no-table", "no-value", "no-vbus",
    "object-count", "off-step", "order", "outside-range", "over-48v", "over-5a", "over-current", "over-offer",
    "padding", "position", "range-reversed", "range-wide", "repeated", "reserved-bits", "reserved-code",
    "reserved-kind", "reserved-revision", "reserved-type", "spr-high", "text", "text-end", "threshold",
    "times-not-judged", "times-unit", "too-long", "too-many", "torn-line", "unknown-supply", "unreadable",
    "voltage-deprecated", "vpd", "zero-voltage",
]  # fmt: skip
"""What a problem can be; a name that stands at no problem's making is none (a test holds it)."""

BEYOND: tuple[Code, ...] = ("position", "outside-range", "over-offer", "over-5a", "off-step")
"""What makes a source reject a request."""


class Problem(NamedTuple):
    """``code`` is for programs, ``text`` for people, ``where`` names the object or the field."""

    code: Annotated[Code, WORDS]
    text: str
    where: str = ""

    def __str__(self) -> str:
        return f"{self.where}: {self.text}" if self.where else self.text
