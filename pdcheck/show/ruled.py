"""What ``rules`` shows, and the page of rules in the docs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.errors import InputError
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.finding import Rule

SCHEMA = "pdcheck/rules/1"


def document(rules: Sequence[Rule]) -> dict[str, Any]:
    """The JSON document of ``rules``."""
    rows = [
        {"rule": each.id, "level": each.level, "title": each.title, "origin": str(each.origin), "advice": each.advice}
        for each in rules
    ]
    return {"schema": SCHEMA, "rules": rows}


def text(rules: Sequence[Rule]) -> str:
    """All rules as a table."""
    rows = [[each.id, each.level, f"{each.title}. {each.origin}"] for each in rules]
    return table(["rule", "level", "what it asks for, and from where"], rows)


def one_rule(rules: Sequence[Rule], name: str) -> str:
    """All about one rule.

    Raises ``InputError`` with the nearest name for one that does not exist.
    """
    known = {each.id: each for each in rules}
    if name not in known:
        from difflib import get_close_matches

        near = get_close_matches(name, known, n=3, cutoff=0.4)
        raise InputError(
            f"no rule {name!r}", expected=" or ".join(near) if near else "a name that 'pdcheck rules' lists"
        )
    each = known[name]
    lines = [
        f"{each.id} ({each.level})",
        f"  {each.title}.",
        f"  limit from: {each.origin}",
        f"  if broken: {each.advice}",
    ]
    return "\n".join(paragraph(line, indent=2 if line.startswith(" ") else 0, hang=2) for line in lines)


def markdown(rules: Sequence[Rule]) -> str:
    """The page of rules for the docs."""
    lines = [
        "# Rules",
        "",
        "Every rule that `pdcheck check` judges by, in the order it judges them. `stop`: do not connect. `fail`: will",
        "not do the job. `warn`: does it with too little in hand. `note`: worth knowing. Printed from the rules.",
        "",
        "| rule | level | what it asks for | limit from | if broken |",
        "|---|---|---|---|---|",
    ]
    lines += [f"| `{each.id}` | {each.level} | {each.title} | {each.origin} | {each.advice} |" for each in rules]
    return "\n".join(lines) + "\n"
