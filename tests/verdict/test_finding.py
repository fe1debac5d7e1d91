"""Findings and rules: what a rule gives and what a finding may change, limits to the last bit, the gravest first."""

import pytest

from pdcheck.facts.origin import Origin
from pdcheck.quantities import SLACK, over, under
from pdcheck.verdict.audit.rule import audit_rule, found_in
from pdcheck.verdict.finding import LEVELS, Find, Finding, Rule, by_gravity, rule, verdict_of

HERE, THERE = Origin("a table", "checked"), Origin("a handbook", "memory")


def judge(case, found):
    yield found(case, "is hot")


def test_a_rule_gives_what_the_finding_does_not():
    made = rule("hot", "fail", "stays cool", HERE, "Let it cool.")(judge)
    assert made == Rule("hot", "fail", "stays cool", HERE, "Let it cool.", judge, "circuit")
    assert rule("hot", "fail", "stays cool", HERE, "Let it cool.", scope="cable")(judge).scope == "cable"
    assert list(made.findings("box")) == [Finding("hot", "fail", "box", None, None, "", HERE, "is hot", "Let it cool.")]
    find = Find("hot", "fail", HERE, "Let it cool.")
    told = find("box", "is hot", 80.0, 60.0, "C", level="warn", origin=THERE, advice="")
    assert told == Finding("hot", "warn", "box", 80.0, 60.0, "C", THERE, "is hot", "")


def test_an_audit_rule_gives_what_the_remark_does_not():
    class Step:
        number, time_s = 7, 1.5

    class Log:
        steps = (Step,)

    def too_late(log, step, tell):
        """It does not come in time.

        Ever.
        """
        tell(step, "sink", "is late")
        tell(step, "sink", "is late", 2.0, 1.0, "s", level="warn", origin=THERE)

    made = audit_rule(HERE, "Wait.")(too_late)
    assert made[:5] == ("too-late", "fail", "It does not come in time", HERE, "Wait.")
    assert [[*found] for found in found_in(Log, [made])][-1] == [
        (Finding("too-late", "fail", "sink", None, None, "", HERE, "is late", "Wait."), 7, 1.5),
        (Finding("too-late", "warn", "sink", 2.0, 1.0, "s", THERE, "is late", "Wait."), 7, 1.5),
    ]


def of(level):
    return Finding("r", level, "x", None, None, "", HERE, level, "")


@pytest.mark.parametrize(
    ("levels", "verdict"),
    [
        ([], "runs"),
        (["note"], "runs"),
        (["note", "warn"], "limited"),
        (["warn", "fail", "note"], "fails"),
        (["note", "fail", "stop"], "unsafe"),
    ],
)
def test_the_gravest_decides(levels, verdict):
    assert verdict_of(of(level) for level in levels) == verdict


def test_the_gravest_stand_first_and_equals_as_found():
    mixed = [of("note"), of("warn")._replace(text="a"), of("stop"), of("warn")._replace(text="b"), of("fail")]
    assert [each.text for each in by_gravity(mixed)] == ["stop", "fail", "a", "b", "note"]
    assert LEVELS == ("stop", "fail", "warn", "note")


def test_only_the_last_bits_are_forgiven():
    assert not over(3.0 * (1 + SLACK), 3.0) and over(3.0 * (1 + 2 * SLACK), 3.0)
    assert not under(3.0 * (1 - SLACK), 3.0) and under(3.0 * (1 - 2 * SLACK), 3.0)
    assert not over(1e-18, 0.0) and over(1.1e-18, 0.0)
    assert not under(0.0, 0.0) and under(-1e-18, 0.0)
