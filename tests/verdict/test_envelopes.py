"""Envelopes of a rig: the contracts that can occur, the limiting part, brute force on judge, and monotone in all."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.contract.available import available
from pdcheck.contract.lowering import contracts_down, lowered
from pdcheck.errors import InputError
from pdcheck.parts.behaviour import read_lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.envelopes import Envelopes, envelopes, output_voltages, rungs
from pdcheck.verdict.finding import GRAVE
from pdcheck.verdict.greatest import first_failure
from pdcheck.verdict.judge import judge

FULL = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 5A; PPS 3.3-16V 3A")
LESS = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 4A")
MARKED = Cable(id="c", kind="C-C", rating="5A", loop="120mOhm")


def rig_of(request: str, fallback: str = "next-lower", **branch: Any) -> Rig:
    branch = {"name": "box", "load": "5W"} | branch
    return Rig.model_validate({"trigger": {"request": request, "fallback": fallback}, "branch": [branch]})


def volts(found: Envelopes) -> list[float]:
    return [each.contract.voltage_v for each in found.contracts]


@pytest.mark.parametrize(
    ("request_text", "fallback", "expected"),
    [
        ("20V", "next-lower", [20, 15, 9, 5, 5]),
        ("20V", "5V", [20, 5, 5]),
        ("20V", "none", [20, 0, 5]),
        ("12V", "next-lower", [9, 5, 5]),
        ("highest", "next-lower", [20, 15, 9, 5, 5]),
        ("pps 12V 3A", "next-lower", [12, 9, 5, 5]),
        ("prefer 9V 20V", "5V", [9, 20, 5, 5]),
        ("none", "next-lower", [5]),
    ],
)
def test_the_contracts_that_can_occur(request_text: str, fallback: str, expected: list[float]) -> None:
    assert volts(envelopes(rig_of(request_text, fallback), FULL, MARKED)) == expected


def test_without_pd_there_is_one_contract() -> None:
    found = envelopes(rig_of("20V"), FULL, Cable(id="a", kind="A-C"))
    assert [(each.when, each.contract.kind) for each in found.contracts] == [("as it is set", "type-c")]


def test_a_source_that_shares_its_power_keeps_its_voltages() -> None:
    seen = available(FULL, MARKED)
    less = lowered(seen, read_lowered("40W"))
    assert [(each.max_mv, each.current_ma) for each in less.offers if each.kind == "fixed"] == [
        (5000, 3000),
        (9000, 3000),
        (15000, 2660),
        (20000, 2000),
    ]
    assert [each.max_mv for each in lowered(seen, read_lowered("15W")).offers] == [5000]
    own = lowered(seen, read_lowered("5V 3A, 9V 2A"))
    assert [each.current_ma for each in own.offers] == [3000, 2000]
    assert next(contracts_down(rig_of("20V").trigger, own)).voltage_v == 9.0


CONVERTER = {"kind": "buck-boost", "input": "6V-36V", "output": "12V", "efficiency": 0.9}


@pytest.mark.parametrize(
    ("branch", "trigger", "cable", "part"),
    [
        ({}, {}, MARKED, "source"),
        # Where the cable bounds what is offered, it is named first.
        ({}, {}, Cable(id="c", kind="C-C", loop="120mOhm"), "cable"),
        ({}, {"rating": "2A"}, MARKED, "trigger"),
        ({"wire": {"awg": 28, "length": "10cm"}}, {}, MARKED, "wire"),
        ({"lead": {"awg": 28, "length": "10cm"}}, {}, MARKED, "lead"),
        ({"converter": CONVERTER | {"input_limit": "2A"}}, {}, MARKED, "converter input"),
        ({"converter": CONVERTER | {"start": "25V"}}, {}, MARKED, "converter input"),
        ({"converter": CONVERTER | {"output_limit": "2A"}}, {}, MARKED, "converter output"),
        ({"wire": {"mm2": 2.5, "length": "1m", "contacts": "9ohm"}}, {}, MARKED, "collapse"),
    ],
)
def test_the_part_that_sets_the_limit(branch: dict[str, Any], trigger: dict[str, Any], cable: Cable, part: str) -> None:
    built = rig_of("20V", **({"converter": CONVERTER} | branch))
    rig = built.model_copy(update={"trigger": built.trigger.model_validate({"request": "20V"} | trigger)})
    found = envelopes(rig, LESS, cable).contracts[0].branches[0]
    assert found.best.limited_by == part


def test_a_point_is_the_closed_form() -> None:
    source = Source(id="s", offers="5V 3A, 20V 3A", tolerance=0)
    found = envelopes(rig_of("20V", converter=CONVERTER | {"idle": 0.5}), source, MARKED)
    [point] = found.contracts[0].branches[0].points
    # 3 A leave 20 V - 3 A x 0.12 ohm at the converter.
    assert math.isclose(point.power_w.typ, ((20 - 0.36) * 3 - 0.5) * 0.9, rel_tol=1e-6)


def test_a_converter_that_may_not_start_gives_nothing_at_the_worst_corner() -> None:
    rig = rig_of("20V", converter=CONVERTER | {"start": "19.5V"})
    [point] = envelopes(rig, FULL, MARKED).contracts[0].branches[0].points
    assert point.current_a.min == 0.0
    assert point.limited_by == "converter input"
    assert point.current_a.typ > 5.0


def test_output_voltages() -> None:
    converter = CONVERTER | {"output_range": "5V-24V"}
    found = envelopes(rig_of("20V", converter=converter), FULL, MARKED).contracts[0].branches[0]
    assert [point.output_v for point in found.points] == list(rungs(5.0, 24.0))
    asked = envelopes(rig_of("20V", converter=converter), FULL, MARKED, voltages=[3.3, 9, 30])
    assert [point.output_v for point in asked.contracts[0].branches[0].points] == [9]
    with pytest.raises(InputError) as error:
        envelopes(rig_of("20V", converter=converter), FULL, MARKED, voltages=[3.3])
    assert (error.value.what, error.value.expected) == (
        "box gives none of these output voltages", "within 5 V to 24 V",
    )  # fmt: skip
    with pytest.raises(InputError) as error:
        envelopes(rig_of("20V"), FULL, MARKED, branch="nobody")
    assert (error.value.what, error.value.expected) == ("no branch named 'nobody'", "one of box")


def test_when_each_contract_occurs() -> None:
    found = envelopes(rig_of("20V"), FULL, MARKED)
    assert [(each.contract.voltage_v, each.when) for each in found.contracts] == [
        (20.0, "as it is set"),
        (15.0, "when the source offers less"),
        (9.0, "when the source offers less"),
        (5.0, "when the source offers less"),
        (5.0, "before any contract, and without PD"),
    ]
    off = envelopes(rig_of("20V", "none"), FULL, MARKED).contracts[1]
    assert off.contract.outcome == "off"
    assert off.branches == ()


def test_one_branch_of_several() -> None:
    branches = [{"name": name, "load": "5W"} for name in ("a", "b")]
    rig = Rig.model_validate({"trigger": {"request": "9V"}, "branch": branches})
    one, all_of_it = envelopes(rig, FULL, MARKED, branch="b"), envelopes(rig, FULL, MARKED)
    assert (one.rig, one.source, one.cable) == (rig, FULL, MARKED)
    assert [each.branch for each in one.contracts[0].branches] == ["b"]
    assert [each.branch for each in all_of_it.contracts[0].branches] == ["a", "b"]
    assert one.contracts[0].together == all_of_it.contracts[0].together
    with pytest.raises(InputError) as error:
        envelopes(rig, FULL, MARKED, branch="c")
    assert error.value.expected == "one of a, b"


@pytest.mark.parametrize(
    ("low", "high", "extra", "expected"),
    [
        (5.0, 6.0, (), (5.0, 5.1, 5.2, 5.3, 5.4, 5.5, 5.6, 5.7, 5.8, 5.9, 6.0)),
        (5.0, 6.1, (), (5.0, 5.5, 6.0, 6.1)),
        (5.0, 10.0, (), (5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0, 9.5, 10.0)),
        (1.2, 11.2, (7.5,), (1.2, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 7.5, 8.0, 9.0, 10.0, 11.0, 11.2)),
        (5.0, 5.0, (), (5.0,)),
        (3.0, 303.0, (), (3.0, *(20.0 * rung for rung in range(1, 16)), 303.0)),
    ],
)
def test_rungs(low: float, high: float, extra: tuple[float, ...], expected: tuple[float, ...]) -> None:
    assert rungs(low, high, *extra) == expected


def test_the_voltages_of_an_output() -> None:
    def box(**more: Any) -> Any:
        return rig_of("20V", converter=CONVERTER | more).branches[0]

    assert output_voltages(rig_of("20V").branches[0]) == ()
    assert output_voltages(box()) == (12.0,)
    # What is not known to be adjustable is taken at its word.
    assert output_voltages(box(), [3.3, 30.0]) == (3.3, 30.0)
    assert output_voltages(box(output_range="5V-24V"), [4.99, 5.0, 24.0, 24.01]) == (5.0, 24.0)


def test_a_start_that_only_some_corners_reach() -> None:
    def figures(start: str) -> tuple[Any, ...]:
        found = envelopes(rig_of("20V", converter=CONVERTER | {"start": start}), LESS, MARKED)
        [point] = found.contracts[0].branches[0].points
        assert [value == 0 for value in point.current_a] == [value == 0 for value in point.power_w]
        assert [value == 0 for value in point.current_a] == [value == 0 for value in point.load_w]
        return tuple(value > 0 for value in point.current_a), point.limited_by, point.limited_by_typ

    # 20 V within 5 %.
    assert figures("19V") == ((True, True, True), "source", "source")
    assert figures("19.1V") == ((False, True, True), "converter input", "source")
    assert figures("20V") == ((False, True, True), "converter input", "source")
    assert figures("20.1V") == ((False, False, True), "converter input", "converter input")
    assert figures("21V") == ((False, False, True), "converter input", "converter input")
    assert figures("21.1V") == ((False, False, False), "converter input", "converter input")


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 6))


wires = st.fixed_dictionaries({"awg": st.integers(16, 26), "length": number(0.1, 3.0)})
converters = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(("buck", "boost", "buck-boost")),
        "output": st.sampled_from((3.3, 5.0, 12.0, 24.0)),
        "efficiency": number(0.7, 0.98),
    },
    optional={
        "input": st.sampled_from(("4V-30V", "6V-36V", "10V-22V")),
        "input_limit": number(0.5, 5),
        "output_limit": number(0.3, 5),
        "dropout": number(0, 1),
        "start": number(4, 12),
    },
)


@settings(max_examples=60, deadline=None)
@given(converters, wires, wires, number(0.0, 0.3), st.sampled_from(("5V", "9V", "20V", "pps 12V 2A")))
def test_judge_agrees_on_every_contract(
    converter: dict[str, Any], wire: dict[str, Any], lead: dict[str, Any], loop: float, request_text: str
) -> None:
    cable = Cable(id="c", kind="C-C", rating="5A", loop=loop)

    def rig(amps: float) -> Rig:
        return rig_of(request_text, converter=converter, wire=wire, lead=lead, load={"current": amps})

    each = envelopes(rig(1e-6), FULL, cable).contracts[0]
    [point] = each.branches[0].points
    if point.current_a.min == 0.0:
        assert not judge(rig(1e-6), FULL, cable).works
        return
    # A lead that cannot pass the current as power still can as current: what is beyond is not for this comparison.
    assume(point.limited_by not in ("collapse", "lead"))
    below, above = (judge(rig(point.current_a.min * share), FULL, cable) for share in (0.997, 1.003))
    assert not [finding.rule for finding in below.findings if finding.level in GRAVE]
    assert first_failure(above.case) is not None
    together = each.together.load_w
    assert together == 0.0 or math.isclose(together, point.load_w.min, rel_tol=2e-3)


@settings(max_examples=40, deadline=None)
@given(
    converters,
    wires,
    number(0.0, 0.3),
    number(0.0, 0.2),
    number(1.0, 2.0),
    st.integers(100, 300),
    st.integers(0, 200),
)
def test_more_resistance_or_less_source_never_gives_more(
    converter: dict[str, Any],
    wire: dict[str, Any],
    loop: float,
    extra: float,
    longer: float,
    current: int,
    less: int,
) -> None:
    def power(loop: float, wire: dict[str, Any], current: int) -> tuple[float, float]:
        source = Source(id="s", offers=f"5V 3A, 20V {current / 100}A")
        cable = Cable(id="c", kind="C-C", rating="5A", loop=round(loop, 6))
        rig = rig_of("20V", converter=converter, wire=wire, load={"current": 0.01})
        each = envelopes(rig, source, cable).contracts[0]
        return each.branches[0].points[0].power_w.min, each.together.load_w

    best = power(loop, wire, current)
    for worse in (
        power(loop + extra, wire, current),
        power(loop, wire | {"length": wire["length"] * longer}, current),
        power(loop, wire, max(10, current - less)),
    ):
        assert worse[0] <= best[0] * (1 + 1e-6) + 1e-9
        assert worse[1] <= best[1] * (1 + 1e-4) + 1e-9
