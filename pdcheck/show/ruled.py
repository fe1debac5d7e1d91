"""What ``rules`` shows, and the page of rules in the docs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.audit.auditing import AUDIT_RULES
from pdcheck.verdict.rules.every import RIG_RULES

SCHEMA = "pdcheck/rules/1"


class Listed(Protocol):
    """What every rule says of itself, whether it judges a rig or a conversation."""

    @property
    def id(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def origin(self) -> Origin: ...
    @property
    def advice(self) -> str: ...


FAMILIES: tuple[tuple[str, str, Sequence[Listed]], ...] = (
    ("rig", "On a build, by 'pdcheck check'", RIG_RULES),
    ("conversation", "On a captured conversation, by 'pdcheck audit'", AUDIT_RULES),
)
"""All rules: what they judge, a heading, the rules in the order in which they judge."""


def document(name: str | None = None) -> dict[str, Any]:
    """The JSON document of ``rules``, of one rule alone where ``name`` is given.

    Raises ``InputError`` with the nearest name for one that does not exist.
    """
    if name is not None:
        _known(name)
    rows = [
        {
            "rule": each.id,
            "judges": judges,
            "level": each.level,
            "title": each.title,
            "origin": str(each.origin),
            "advice": each.advice,
        }
        for judges, _, rules in FAMILIES
        for each in rules
        if name in (None, each.id)
    ]
    return {"schema": SCHEMA, "rules": rows}


def text() -> str:
    """All rules as tables."""
    parts = []
    for _, heading, rules in FAMILIES:
        rows = [[each.id, each.level, f"{_sentence(each.title)}. {each.origin}"] for each in rules]
        parts.append(f"{paragraph(heading)}\n\n{table(['rule', 'level', 'what it asks for, and from where'], rows)}")
    return "\n\n".join(parts)


def one_rule(name: str) -> str:
    """All about one rule.

    Raises ``InputError`` with the nearest name for one that does not exist.
    """
    each = _known(name)
    lines = (f"{_sentence(each.title)}.", f"limit from: {each.origin}", f"if broken: {each.advice}")
    return "\n".join([f"{each.id} ({each.level})", *(paragraph(line, indent=2, hang=2) for line in lines)])


def _known(name: str) -> Listed:
    known = {each.id: each for _, _, rules in FAMILIES for each in rules}
    if name not in known:
        from difflib import get_close_matches

        near = get_close_matches(name, known, n=3, cutoff=0.4)
        expected = " or ".join(near) if near else "a name that 'pdcheck rules' lists"
        raise InputError(f"no rule {name!r}", expected=expected)
    return known[name]


def _sentence(title: str) -> str:
    return title[:1].upper() + title[1:]


def markdown() -> str:
    """The page of rules for the docs."""
    lines = [
        "# Rules",
        "",
        "`stop`: do not connect. `fail`: will not do the job. `warn`: does it with too little in hand. `note`: worth",
        "knowing. Rules stand in the order in which they judge. Printed from the rules themselves.",
    ]
    for _, heading, rules in FAMILIES:
        lines += ["", f"## {heading.replace(chr(39), chr(96))}", ""]
        lines += ["| rule | level | what it asks for | limit from | if broken |", "|---|---|---|---|---|"]
        lines += [
            f"| `{each.id}` | {each.level} | {_sentence(each.title)} | {each.origin} | {each.advice} |"
            for each in rules
        ]
    return "\n".join(lines) + "\n"
