"""What ``check`` shows: the text of a judgement, or a line for each of many."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.contract.settle import Contract
from pdcheck.result import shows
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hours_line, pair_named, shown_triple
from pdcheck.show.heat import heat_lines
from pdcheck.verdict.finding import Finding
from pdcheck.verdict.judge import Checked, Judgement
from pdcheck.verdict.not_judged import SETTLED_BY, NotJudged, conditions

HEADLINES = {
    "runs": "It works.",
    "limited": "It works, but something is short.",
    "fails": "It does not do the job.",
    "unsafe": "Do not connect it.",
}
MOST_IN_FULL = 6
"""More judgements than these are shown with a line each."""
SAID_FIRST = "lithium-pack"
"""A rule whose finding is said in full above all others."""
ABOUT_CHARGERS = ("source-power-rules", "source-list-odd")
"""Rules about how a charger keeps the standard."""
MARKS = {"stop": "STOP", "fail": "FAIL", "warn": "warn", "note": "note"}


def contract_line(contract: Contract) -> str:
    """The contract in one line.

    >>> contract_line(Contract("off", "none", 0.0, 0.0, None, (), False, "12 V is not on offer"))
    'nothing: 12 V is not on offer'
    """
    if contract.outcome == "off":
        return f"nothing: {contract.reason}"
    what = {"type-c": "5 V without PD", "fixed": "fixed"}.get(contract.kind, contract.kind.upper())
    where = "" if contract.position is None else f", offer {contract.position}"
    return f"{contract.voltage_v:g} V, up to {contract.current_a:g} A ({what}{where}); {contract.reason}"


@shows(Checked)
def checked_text(checked: Checked) -> str:
    """What the command prints: every pair in full, or a line each where there are many."""
    first = cautions(checked.results[0]) if checked.results else ""
    if len(checked.results) <= MOST_IN_FULL:
        return "\n\n".join([*([first] if first else []), *map(_body, checked.results)])
    more = paragraph("For the sums and all findings of one pair add --source ID --cable ID.")
    return "\n\n".join([*([first] if first else []), summary(checked.results), more])


BELOW = "what is listed below"
IN_CHECK = "what 'pdcheck check' lists"


def headline(judgement: Judgement, listed: str = BELOW) -> str:
    """Source, cable and verdict in words; where something was not judged, with where it is ``listed``."""
    return f"{pair_named(judgement.source, judgement.cable)}: {verdict_words(judgement, listed)}"


def verdict_words(judgement: Judgement, listed: str = BELOW) -> str:
    """The verdict in words; where something was not judged, with where it is ``listed``."""
    comma = "," if judgement.works and judgement.not_judged else "."
    return f"{judgement.verdict.upper()}{comma} {depending(judgement, listed)}"


def depending(judgement: Judgement, listed: str) -> str:
    """What a verdict comes to; where something was not judged, on what it depends.

    What fails does so whatever the missing figures are: they could only make it worse.
    """
    if not judgement.not_judged:
        return HEADLINES[judgement.verdict]
    return (
        f"if {listed} holds."
        if judgement.works
        else f"{HEADLINES[judgement.verdict]} It may be worse still unless {listed} holds."
    )


def condition_lines(open_: Sequence[NotJudged]) -> list[str]:
    """What was not judged, a line each: what must be true, and how to find out."""
    return [paragraph(f"if    {each.text} ({SETTLED_BY[each.settle_by]})", indent=2, hang=6) for each in open_]


@shows(Judgement)
def text(judgement: Judgement) -> str:
    """What a person reads of one judgement: verdict, contract, findings with what to do, volts and amperes, verdict."""
    return _cautioned(judgement, _body(judgement))


def text_with_notes(judgement: Judgement) -> str:
    """The same with all notes, and the rule behind each finding."""
    return _cautioned(judgement, _text(judgement, _notes(judgement), full=True))


def _cautioned(judgement: Judgement, body: str) -> str:
    first = cautions(judgement)
    return f"{first}\n\n{body}" if first else body


def cautions(judgement: Judgement) -> str:
    """What its loads ask to be said before anything else; empty for most rigs."""
    return "\n".join(paragraph(f"CAUTION  {each.text}", hang=9) for each in judgement.case.rig.cautions)


def _body(judgement: Judgement) -> str:
    """All on one screen: where what is wrong takes most of it, the heat and then the voltages wait for --notes."""
    whole = _text(judgement, _more(judgement))
    wrong = any(each.level != "note" for each in judgement.findings)
    if not wrong or not judgement.nodes or whole.count("\n") < _LONG:
        return whole
    cooler = _text(judgement, _more(judgement, "what gets warm and "), heat=False)
    if cooler.count("\n") < _LONG:
        return cooler
    return _text(judgement, _more(judgement, "voltages, currents, heat and "), figures=False, heat=False)


def _more(judgement: Judgement, also: str = "") -> list[str]:
    """What --notes shows; ``also`` before the notes."""
    notes = [each for each in judgement.findings if each.level == "note" and each.rule != SAID_FIRST]
    guessed = sum(each.rule.endswith(_GUESSED) for each in notes)
    what = "1 note" if len(notes) == 1 else f"{len(notes)} notes"
    about = f"what nobody stated and was assumed ({guessed}), and " if guessed else ""
    on = f"{what} on {about}what is harmless or good to know" if notes else ""
    told = f"{also if on else also.removesuffix(' and ')}{on}"
    return ["", paragraph(f"{told[:1].upper()}{told[1:]}: --notes shows them.", indent=2)] if told else []


_GUESSED = ("-unknown", "-assumed", "-guessed")


def _text(
    judgement: Judgement, more: Sequence[str], *, full: bool = False, figures: bool = True, heat: bool = True
) -> str:
    parts = [paragraph(headline(judgement), hang=2)]
    parts.append(paragraph(f"contract: {contract_line(judgement.contract)}", indent=2, hang=2))
    if judgement.hours is not None:
        parts.append(
            paragraph(f"lasts {hours_line(judgement.hours)} ('pdcheck runtime' says what takes it)", indent=2, hang=2)
        )
    grave = [each for each in judgement.findings if each.level != "note"]
    found = [*condition_lines(judgement.not_judged), *map(finding_text, grave)]
    if found:
        parts += ["", *found]
    if judgement.nodes and figures:
        parts += ["", table(["node", "voltage, typ (worst)", "current, typ (worst)"], _node_rows(judgement))]
    point = judgement.case.point
    if judgement.nodes and point is not None and point.collapsed:
        count = f"{len(point.collapsed)} of {len(point.collapsed) + len(point.points)}"
        parts.append(paragraph(f"In {count} worst cases the voltage collapses: the table leaves them out.", indent=2))
    parts += heat_lines(judgement, full=full) if heat else []
    parts += more
    if len("\n".join(parts).splitlines()) > _LONG:
        decided = judgement.decided
        said = HEADLINES[judgement.verdict] if decided is None else f"{decided.subject} {decided.text}."
        parts += ["", paragraph(f"{judgement.verdict.upper()}, as said above: {said}", hang=2)]
    return "\n".join(parts)


_LONG = 24
"""Lines after which the verdict is said again, since the first one may have left the screen."""


def _node_rows(judgement: Judgement) -> list[list[str]]:
    """A row for each node; one for a load without a converter, where all three are the same."""
    rows: list[list[str]] = []
    for each in judgement.nodes:
        figures = [shown_triple(each.voltage_v, "V"), shown_triple(each.current_a, "A")]
        branch = each.node.rpartition("/")[0]
        if branch and rows and rows[-1][0] in (f"{branch}/in", branch) and rows[-1][1:] == figures:
            rows[-1][0] = branch
        else:
            rows.append([each.node, *figures])
    return rows


def _notes(judgement: Judgement) -> list[str]:
    """The notes on the build, those on how the charger keeps the standard, and the rule behind each other finding."""
    notes = [each for each in judgement.findings if each.level == "note"]
    build = [each for each in notes if each.rule not in (*ABOUT_CHARGERS, SAID_FIRST)]
    charger = [each for each in notes if each.rule in ABOUT_CHARGERS]
    parts: list[str] = []
    for heading, listed in (("Notes:", build), ("About the charger itself:", charger)):
        if listed:
            parts += ["", f"  {heading}", *map(finding_text, listed)]
    rules = {f"{each.rule}: {each.origin}": None for each in judgement.findings if each.level != "note"}
    if rules:
        parts += ["", "  By which rule:", *(paragraph(each, indent=2, hang=2) for each in rules)]
    return parts


def finding_text(finding: Finding) -> str:
    """One finding: level, subject, text; then what to do."""
    lines = [paragraph(f"{MARKS[finding.level]}  {finding.subject}: {finding.text}", indent=2, hang=6)]
    if finding.advice and finding.level != "note":
        lines.append(paragraph(f"-> {finding.advice}", indent=8, hang=3))
    return "\n".join(lines)


def summary(judgements: Sequence[Judgement]) -> str:
    """Many judgements as a table: one line each with the deciding finding."""
    rows = []
    for each in judgements:
        why = "nothing against it" if each.decided is None else f"{each.decided.subject}: {each.decided.text}"
        if each.not_judged:
            start = "" if each.decided is None else f"{why}; "
            why = f"{start}{conditions(each.not_judged)}"
        volts = "off" if each.contract.outcome == "off" else f"{each.contract.voltage_v:g} V"
        rows.append([each.source, each.cable, volts, each.verdict, why])
    return table(["source", "cable", "bus", "verdict", "why"], rows)
