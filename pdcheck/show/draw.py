"""What ``draw`` shows in a terminal: charger, cable, trigger, the bus, and a row for each branch, made of text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pdcheck.result import shows
from pdcheck.show.check import IN_CHECK, MARKS, contract_line, verdict_words
from pdcheck.show.columns import paragraph
from pdcheck.show.figures import shown
from pdcheck.verdict.drawn import Drawn, DrawnPart

NAMES = {"source": "charger"}
"""What a part is called where people do not say its kind."""
_RAIL = "  |"


@shows(Drawn)
def text(drawn: Drawn) -> str:
    """The drawing; lines wrap beside the rail that the current goes along."""
    lines = [
        paragraph(f"{drawn.title}: {verdict_words(drawn.judgement, IN_CHECK)}", hang=2),
        paragraph(f"contract: {contract_line(drawn.contract)}", indent=2, hang=2),
        "",
    ]
    for at, part in enumerate(drawn.trunk):
        lines += [_RAIL] if at else []
        lines += _part(part, _RAIL)
    for at, branch in enumerate(drawn.branches):
        last = at == len(drawn.branches) - 1
        lines.append(_RAIL)
        below = "     " if last else "  |  "
        for number, part in enumerate(branch.parts):
            own = _part(part, below)
            lines += [f"  +--{own[0][len(below) :]}", *own[1:]] if number == 0 else own
        if branch.off:
            lines.append(f"{below} (off)")
    return "\n".join(line.rstrip() for line in lines)


def _part(part: DrawnPart, rail: str) -> list[str]:
    """The lines of a part: what it is and loses, what it passes on, what is found about it."""
    named = NAMES.get(part.kind, part.kind)
    head = " ".join(each for each in (named, part.title) if each)
    if part.takes_w is not None:
        head += f", takes {shown(part.takes_w, 'W')}"
    if part.lost_w is not None and part.lost_w.max > 0:
        head += f", loses {shown(part.lost_w, 'W', 2)}"
    listed = [head]
    if part.voltage_v is not None and part.current_a is not None:
        listed.append(f"  {shown(part.voltage_v, 'V')}, {shown(part.current_a, 'A')}")
    listed += [f"  {each}" for each in remarks(part)]
    return [line for each in listed for line in _railed(each, rail)]


def _railed(line: str, rail: str) -> Iterator[str]:
    set_in = len(line) - len(line.lstrip())
    wrapped = paragraph(line.strip(), indent=len(rail) + 1 + set_in, hang=2)
    for each in wrapped.splitlines():
        yield rail + each[len(rail) :]


def remarks(part: DrawnPart) -> Sequence[str]:
    """What is found about a part, as a mark and a sentence; nothing where all is well."""
    if part.level is not None:
        return (f"[{MARKS[part.level]}] {part.text}",)
    return (f"[limit] {part.text}",) if part.limits else ()
