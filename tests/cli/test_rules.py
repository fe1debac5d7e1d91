"""``pdcheck rules``: all of them, or one."""

import os
import subprocess
import sys

import pytest


def test_every_rule_can_be_asked_for_by_name(pdcheck):
    for row in pdcheck("rules", "--json").json["rules"]:
        outcome = pdcheck("rules", row["rule"])
        assert outcome.code == 0
        flat = " ".join(outcome.out.split())
        assert row["rule"] in flat and row["level"] in flat
        assert " ".join(row["advice"].split()) in flat and row["origin"] in flat


def test_one_rule_in_json(pdcheck):
    document = pdcheck("rules", "cable-current", "--json").json
    assert [row["rule"] for row in document["rules"]] == ["cable-current"]


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_the_nearest_name_is_told(refused, more):
    assert "cable-current" in refused("rules", "cable-curent", *more)


def test_every_origin_carries_a_mark(pdcheck):
    for row in pdcheck("rules", "--json").json["rules"]:
        assert row["origin"].endswith("]") or "common practice" in row["origin"], row


def test_titles_are_there_where_python_leaves_docstrings_out():
    told = {
        level: subprocess.run(
            [sys.executable, "-m", "pdcheck", "rules"],
            env=os.environ | {"PYTHONOPTIMIZE": level},
            capture_output=True,
            check=True,
        ).stdout
        for level in ("", "2")
    }
    assert told["2"] == told[""] and b"A cable without the CC wire" in told[""]
