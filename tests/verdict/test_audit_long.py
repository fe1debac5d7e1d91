"""A long conversation is audited as a short one is, in memory that does not grow with it."""

from __future__ import annotations

import json
import tracemalloc
from collections import Counter
from itertools import islice
from pathlib import Path
from time import process_time

import pytest

import pdcheck
from pdcheck.cli import run
from pdcheck.intake import long_list
from pdcheck.intake.long_list import BLOCK, LongList
from pdcheck.verdict.audit import once, rule
from tests.bench.logs import log


def _written(count: int, folder: Path) -> str:
    path = folder / f"{count}.log"
    path.write_text("".join(islice(log(count, 11), count)))
    return str(path)


def test_a_long_list_is_a_list(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_list, "_AT_HAND", 2)
    for size in (0, 1, BLOCK - 1, BLOCK, BLOCK + 1, 5 * BLOCK + 3):
        plain = [(at, str(at)) for at in range(size)]
        kept = LongList(plain)
        assert list(kept) == plain
        assert len(kept) == size
        assert list(reversed(kept)) == plain[::-1]
        for some in (slice(None), slice(-3, None), slice(BLOCK - 2, BLOCK + 2), slice(3, size, 97)):
            assert kept[some] == plain[some]
        kept.append((-1, "last"))
        assert kept[-1] == (-1, "last")
        with pytest.raises(IndexError):
            kept[size + 1]


def test_what_is_put_away_changes_no_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = _written(1200, tmp_path)
    whole = pdcheck.audit(path)
    monkeypatch.setattr(long_list, "_AT_HAND", 1)
    again = pdcheck.audit(path)
    assert again.to_dict() == whole.to_dict()
    assert str(again) == str(whole)


def test_of_very_many_findings_all_are_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = _written(2500, tmp_path)
    whole = pdcheck.audit(path)
    monkeypatch.setattr(once, "_MOST_HELD", 100)
    monkeypatch.setattr(once, "_MOST_OF_A_KIND", 5)
    short = pdcheck.audit(path)
    assert short.more
    assert len(short.remarks) < len(whole.remarks) / 4
    counted = Counter((each.finding.rule, each.finding.level, each.finding.subject) for each in short.remarks)
    for each in short.more:
        counted[each.rule, each.level, each.subject] += each.times
    plain = Counter((each.finding.rule, each.finding.level, each.finding.subject) for each in whole.remarks)
    assert set(counted) == set(plain)
    # A fault at the edge of what is judged together may be told of beside the one that it follows from.
    assert sum((counted - plain).values()) <= 0.01 * sum(plain.values())
    assert not plain - counted
    assert f"findings: {sum(n for (_, level, _), n in counted.items() if level == 'fail')} fail" in str(short)


def test_the_memory_does_not_grow_with_the_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(once, "_MOST_HELD", 100)
    monkeypatch.setattr(once, "_MOST_OF_A_KIND", 5)
    monkeypatch.setattr(once, "_MAY_FOLLOW", 64)
    monkeypatch.setattr(long_list, "_AT_HAND", 2)
    monkeypatch.setattr(long_list, "BLOCK", 32)
    monkeypatch.setattr(rule, "STRETCH", 64)
    peaks: list[int] = []
    for count in (200, 400, 1200):
        path = _written(count, tmp_path)
        tracemalloc.start()
        run(["audit", path, "--json"])
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert json.loads(capfd.readouterr().out)["message_count"] == count
    # The first has loaded all that is needed.
    assert peaks[2] < 1.5 * peaks[1] + 2**20


UGLY = {
    "lists that nobody hears": lambda at: f"{at:.1f} SOP a111f4910108",
    "resets": lambda at: f"{at:.1f} Hard_Reset",
    "requests of nothing": lambda at: f"{at:.1f} SOP 4210c8b00413",
    "rows that are torn": lambda at: f"{at:.1f} SOP " + ("a111f4910108" if at % 2 else "a111f4"),
}


@pytest.mark.parametrize("kind", UGLY)
def test_the_cost_grows_as_the_log(kind: str, tmp_path: Path) -> None:
    def cost(count: int) -> float:
        path = tmp_path / f"{count}.log"
        path.write_text("".join(f"{UGLY[kind](at)}\n" for at in range(count)))
        best = float("inf")
        for _ in range(2):
            begun = process_time()
            str(pdcheck.audit(str(path), cable="C-C 3A"))
            best = min(best, process_time() - begun)
        return best

    cost(100)
    # Linear is 8, quadratic 64; what every reading costs at least counts for the small one.
    assert cost(800) <= 24 * max(cost(100), 0.01)
