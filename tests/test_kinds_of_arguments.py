"""Every function of the front door and every part, with every parameter of a wrong kind: only ``InputError`` comes."""

from __future__ import annotations

import inspect
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import pdcheck
from pdcheck.errors import InputError
from pdcheck.parts.fields import Part
from pdcheck.show.demo import copy_files, demo_kit, demo_rig

RIG, KIT = demo_rig("pier-box"), demo_kit()
PAIR = {"kit": KIT, "source": "wall-45", "cable": "thin-2m"}
ON_PAIR = {"rig": RIG, **PAIR}
LOG = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"
USUAL: dict[str, dict[str, Any]] = {
    **dict.fromkeys(
        ("bringup", "change", "check", "draw", "envelope", "fuse", "runtime", "talk", "transient"), ON_PAIR
    ),
    "audit": {"capture": LOG},
    "cable": {"input": "C-C 3A 1m"},
    "decode": {"input": "5V 3A"},
    "decode_objects": {"words": [0x0801912C]},
    "drop": {"source": "5.1V", "sink": "4.8V", "at": "2A"},
    "encode": {"offers": "5V 3A"},
    "kit": {"kit": KIT},
    "kit_add": {"kit": "new.toml", "kind": "cable", "id": "x", "input": "C-C 3A 1m"},
    "kit_remove": {"kit": "kit.toml", "id": "thin-2m"},
    "led": {"count": 3, "vf": "2V", "current": "20mA"},
    "matrix": {"rigs": RIG, "kit": KIT},
    "measured": {"sheet": "sheet.toml"},
    "need": {"rig": RIG},
    "next_reading": {"sheet": "sheet.toml"},
    "object_rows": {"columns": {}},
    "pick": {"source": "5V 3A, 9V 3A", "output": "5V@1A"},
    "settings": {"source": "5V 3A"},
    "share": {"rigs": RIG, "source": "C1 65W, C2 30W, C1+C2: 45W+18W", "cable": "C-C loop=100mOhm"},
    "wire": {"length": "1m", "current": "2A"},
}
WRONG = (3, None, [], [3], {}, {"a": 1}, b"x", object(), float("nan"), "", "no such word")
SKIPPED = {"rule", "attached"}
"""One makes a rule out of texts as they are; the other reads this machine where nothing is said."""
FUNCTIONS = sorted(
    name for name in pdcheck.__all__ if inspect.isfunction(getattr(pdcheck, name)) and name not in SKIPPED
)
PARTS = sorted(
    name for name in pdcheck.__all__ if isinstance(found := getattr(pdcheck, name), type) and issubclass(found, Part)
)


@pytest.fixture(autouse=True)
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copy_files(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin", None)


def only_input_errors(make: Callable[[], object]) -> None:
    try:
        found = make()
    except InputError as error:
        assert str(error)
        assert "\n" not in str(error)
    else:
        if isinstance(found, pdcheck.Result):
            assert found.to_json()


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_wrong_kind_for_each_parameter_is_an_input_error(name: str) -> None:
    function = getattr(pdcheck, name)
    for parameter in inspect.signature(function).parameters:
        for wrong in WRONG:
            asked = {**USUAL.get(name, {}), parameter: wrong}
            only_input_errors(lambda asked=asked: function(**asked))


@pytest.mark.parametrize("name", PARTS)
def test_a_wrong_kind_for_each_key_of_a_part_is_an_input_error(name: str) -> None:
    part = getattr(pdcheck, name)
    for wrong in WRONG:
        only_input_errors(lambda wrong=wrong: part(wrong))
        for key in part.model_fields:
            only_input_errors(lambda key=key, wrong=wrong: part(**{key: wrong}))


TOLD: list[tuple[Callable[[], object], str]] = [
    (lambda: pdcheck.pick("5V 3A", output="12V@1A", converter=3), "converter: 3 is of a kind that this does not take"),
    (lambda: pdcheck.pick(3, "5V@1A"), "source: 3 is of a kind"),
    (lambda: pdcheck.matrix(3, KIT), "rigs: 3 is of a kind"),
    (lambda: pdcheck.settings("5V 3A", 9), "requests: 9 is of a kind that this does not take; expected a list, each"),
    (
        lambda: pdcheck.check(RIG, **(PAIR | {"cable": 3})),
        "cable: 3 is of a kind that this does not take; expected a C",
    ),
    (lambda: pdcheck.check(4), "rig: 4 is of a kind"),
    (lambda: pdcheck.check(RIG, kit=4), "kit: 4 is of a kind"),
    (lambda: pdcheck.matrix(RIG, KIT, sort="size"), "sort: 'size' is none; expected one of "),
    (lambda: pdcheck.matrix(RIG, KIT, only="bad"), "only: 'bad' is none; expected one of runs"),
    (lambda: pdcheck.settings("5V 3A", fallback="down"), "fallback: 'down' is no fall-back"),
    (lambda: pdcheck.matrix([], KIT), "rigs: no rig is given"),
    (lambda: pdcheck.matrix({}, KIT), "rigs: no rig is given"),
    (lambda: pdcheck.share([], "C1 65W, C2 30W"), "rigs: no rig is given"),
]


@pytest.mark.parametrize(("ask", "told"), TOLD, ids=[told[:40] for _, told in TOLD])
def test_what_is_told(ask: Callable[[], object], told: str) -> None:
    with pytest.raises(InputError) as caught:
        ask()
    assert told in str(caught.value)


def test_a_missing_and_an_unknown_keyword_are_told_as_of_any_function() -> None:
    with pytest.raises(TypeError):
        pdcheck.need()  # type: ignore[call-arg]
    with pytest.raises(TypeError):
        pdcheck.need(RIG, size=3)  # type: ignore[call-arg]


def test_a_fault_of_the_program_is_not_told_as_one_of_the_input(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(rig: object) -> None:
        raise AttributeError("ours")

    monkeypatch.setattr("pdcheck.asking.need.all_needs", broken)
    with pytest.raises(AttributeError, match="ours"):
        pdcheck.need(RIG)


def test_functions_of_the_front_door_are_pickled_by_their_names() -> None:
    for name in FUNCTIONS:
        assert pickle.loads(pickle.dumps(getattr(pdcheck, name))) is getattr(pdcheck, name)


def test_what_fails_beyond_the_greatest_load_shows_no_digit_of_the_search() -> None:
    """Each figure of a sentence has five digits at most, and the limit is still seen to be passed."""
    import re

    seen = 0
    for name in ("pier-box", "pedalboard", "field-sensor"):
        for each in pdcheck.envelope(demo_rig(name), KIT).results:
            for contract in each.contracts:
                first = contract.loads_limited_by
                if first is None or first.value is None or first.limit is None:
                    continue
                seen += 1
                assert first.value != first.limit
                for figure in re.findall(r"\d+(?:\.\d+)?", first.text):
                    assert len(figure.replace(".", "").lstrip("0")) <= 5, first.text
    assert seen > 10
