"""What ``rules`` says, and the page of rules in the docs."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.result import shows
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.rule_list import ListedRule, RulesResult, rules

_HEADINGS = {
    "rig": "On a build, by 'pdcheck check'",
    "conversation": "On a captured conversation, by 'pdcheck audit'",
}


@shows(RulesResult)
def text(result: RulesResult) -> str:
    """All rules as tables; all about one."""
    if len(result.rules) == 1:
        return _one(result.rules[0])
    parts = []
    for heading, family in _families(result):
        rows = [[each.id, each.level, f"{_sentence(each.title)}. {each.origin}"] for each in family]
        headers = ["rule", "level", "what is wrong, and where the limit is from"]
        parts.append(f"{paragraph(heading)}\n\n{table(headers, rows)}")
    return "\n\n".join(parts)


def _families(result: RulesResult) -> Iterator[tuple[str, list[ListedRule]]]:
    for judges, heading in _HEADINGS.items():
        yield heading, [each for each in result.rules if each.judges == judges]


def _one(each: ListedRule) -> str:
    lines = (f"{_sentence(each.title)}.", f"limit from: {each.origin}", f"what to do: {each.advice}")
    return "\n".join([f"{each.id} ({each.level})", *(paragraph(line, indent=2, hang=2) for line in lines)])


def _sentence(title: str) -> str:
    return title[:1].upper() + title[1:]


def markdown() -> str:
    """The page of rules for the docs."""
    lines = [
        "# Rules",
        "",
        "`stop`: do not connect. `fail`: will not do the job. `warn`: does it with too little to spare. `note`: worth",
        "knowing. Rules are in the order in which they judge. Printed from the rules themselves.",
    ]
    for heading, family in _families(rules()):
        lines += ["", f"## {heading.replace(chr(39), chr(96))}", ""]
        lines += ["| rule | level | what is wrong | limit from | what to do |", "|---|---|---|---|---|"]
        lines += [
            f"| `{each.id}` | {each.level} | {_sentence(each.title)} | {each.origin} | {each.advice} |"
            for each in family
        ]
    return "\n".join(lines) + "\n"
