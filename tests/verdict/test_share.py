"""Rigs on the ports of one charger: agreement with ``check`` and ``change``, orders, the best one, what is unsaid."""

from __future__ import annotations

from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck import change, check, share
from pdcheck.contract.lowering import left_of
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.share.sharing import MOST_RIGS, Shared

DEMO = Path(__file__).parents[2] / "pdcheck" / "data"
CABLE = Cable("C-C 5A loop=100mOhm")
DESK = {"C1": "65W", "C2": "65W", "C1+C2": "45W+18W"}


def rig(request: str = "15V", current: str = "1A", fallback: str = "next-lower", **load: str) -> Rig:
    taken = {"current": current, **load}
    trigger = {"request": request, "rating": "5A", "fallback": fallback}
    return Rig(trigger=trigger, branch=[{"name": "x", "load": taken}])


def desk(**ports: object) -> Source:
    return Source(id="desk", ports=ports or DESK)


def order_of(found: Shared, *order: str, ports: tuple[str, ...]):
    return next(each for each in found.orders if each.order == order and each.ports == ports)


def test_every_order_on_every_port() -> None:
    found = share({"a": rig(), "b": rig()}, desk(), cable=CABLE)
    wanted = {(names, ports) for names in permutations("ab") for ports in permutations(("C1", "C2"))}
    assert {(each.order, each.ports) for each in found.orders} == wanted
    assert all(len(each.results[0].steps) == 2 and len(each.results[1].steps) == 1 for each in found.orders)


POWERS = st.sampled_from(["15W", "18W", "30W", "45W", "65W"])


@settings(max_examples=15, deadline=None)
@given(POWERS, POWERS, POWERS, POWERS, st.sampled_from(["9V", "15V", "20V"]), st.sampled_from(["0.5A", "1.5A", "2.9A"]))
def test_each_step_is_what_check_says_of_that_list_alone(
    one: str, two: str, left_one: str, left_two: str, request: str, current: str
) -> None:
    source = desk(**{"C1": one, "C2": two, "C1+C2": f"{left_one}+{left_two}"})
    built, other = rig(request, current), rig("9V", "0.5A")
    found = share({"built": built, "other": other}, source, cable=CABLE)
    for order in found.orders:
        for result in order.results:
            judged = built if result.rig == "built" else other
            alone = source.at_port(result.port)
            for step in result.steps:
                power = {"C1": left_one, "C2": left_two}[result.port]
                whole = len(step.in_use) == 1
                offers = alone.offers if whole else left_of(alone.offers, float(power[:-1]))
                expected = check(judged, source=Source(id="p", offers=offers), cable=CABLE).results[0]
                assert (step.offers, step.verdict) == (offers, expected.verdict)
                assert step.contract == expected.contract


def test_alone_is_what_check_says_of_the_port() -> None:
    kit = Kit(source=[desk()], cable=[CABLE])
    found = share({"a": rig("20V", "2.5A"), "b": rig()}, "desk", kit)
    first = order_of(found, "a", "b", ports=("C2", "C1")).results[0].steps[0]
    assert first.verdict == check(rig("20V", "2.5A"), kit, "desk:C2").results[0].verdict
    assert first.contract == check(rig("20V", "2.5A"), kit, "desk:c2").results[0].contract


def test_what_plugging_in_does_is_what_change_says() -> None:
    source = desk(**{"C1": "65W", "C2": "65W", "C1+C2": "15W+45W"})
    built = rig("15V", "1A", voltage="12V-16V")
    found = share({"a": built, "b": rig("5V", "0.4A")}, source, cable=CABLE)
    [moved] = order_of(found, "a", "b", ports=("C1", "C2")).results[0].changes
    asked = change(built, source=Source(id="p", offers=source.at_port("C1").offers), cable=CABLE, to="15W").changes[0]
    assert moved.paths == asked.paths
    assert not moved.works


def test_the_best_assignment_puts_the_larger_rig_on_the_larger_port() -> None:
    found = share({"small": rig("9V", "0.5A"), "large": rig("20V", "2A", voltage="18V-22V")}, desk(), cable=CABLE)
    assert [(each.rig, each.port) for each in found.best] == [("large", "C1"), ("small", "C2")]
    assert found.works
    swapped = order_of(found, "small", "large", ports=("C1", "C2"))
    assert [each.works for each in swapped.results] == [True, False]
    best = order_of(found, "large", "small", ports=("C1", "C2")).results[0].changes[0]
    assert [fate.fate for fate in best.in_time] == ["starts"]
    assert best.in_time_works


def test_the_order_can_matter() -> None:
    """Alone the port has 20 V; together not: what is plugged in last never sees more than it stands."""
    source = desk(**{"C1": "65W", "C2": "15W", "C1+C2": ["5V 3A, 9V 3A", "5V 3A"]})
    found = share({"a": rig("highest", "1A", voltage="8V-12V"), "b": rig("5V", "0.4A")}, source, cable=CABLE)
    first = order_of(found, "a", "b", ports=("C1", "C2"))
    last = order_of(found, "b", "a", ports=("C2", "C1"))
    assert first.results[0].verdict == "unsafe"
    assert last.results[1].verdict in ("runs", "limited")


@pytest.mark.parametrize("ports", [{"C1": "65W", "C2": "30W"}, {"C1": "65W", "C2": "30W", "C1+C2": "63W total"}])
def test_what_is_not_said_is_not_judged_and_does_not_work(ports: dict[str, str]) -> None:
    found = share({"a": rig("5V", "0.1A"), "b": rig("5V", "0.1A")}, desk(**ports), cable=CABLE)
    assert not found
    for order in found.orders:
        assert order.results[0].steps[0].verdict == "runs"
        assert [each.steps[-1].verdict for each in order.results] == [None, None]
        assert [each.verdict for each in order.results] == [None, None]
        assert [each.effect for each in order.results[0].changes] == ["not said"]


def test_more_that_is_said_never_makes_an_unsaid_one_look_better() -> None:
    """What fails alone fails, also where what happens together is not said."""
    found = share({"a": rig("15V", "5A"), "b": rig("5V", "0.1A")}, desk(C1="65W", C2="30W"), cable=CABLE)
    assert order_of(found, "a", "b", ports=("C1", "C2")).results[0].verdict == "fails"


def test_a_type_a_port_gives_the_lower_of_what_is_said() -> None:
    source = desk(**{"C1": "65W", "A": "5V 3A", "C1+A": "45W+7.5W"})
    old = Cable("A-C loop=100mOhm")
    found = share({"a": rig("5V", "1.6A"), "b": rig("15V", "1A")}, source, cable=[old, CABLE])
    steps = order_of(found, "a", "b", ports=("A", "C1")).results[0].steps
    assert [step.contract.current_a for step in steps] == [3.0, 1.5]
    assert [step.verdict for step in steps] == ["limited", "fails"]


def test_three_ports_and_three_rigs() -> None:
    ports = {"C1": "65W", "C2": "65W", "C3": "30W", "C1+C2": "45W+18W", "C1+C2+C3": "30W+18W+15W"}
    found = share({name: rig("9V", "0.4A") for name in "abc"}, desk(**ports), cable=CABLE)
    assert len(found.orders) == 36
    first = order_of(found, "a", "b", "c", ports=("C1", "C2", "C3")).results[0]
    assert [step.verdict is None for step in first.steps] == [False, False, False]
    # Nobody says what C1 and C3 have without C2.
    other = order_of(found, "a", "b", "c", ports=("C1", "C3", "C2")).results[0]
    assert [step.verdict is None for step in other.steps] == [False, True, False]


def test_too_many_rigs() -> None:
    names = "abcdef"
    with pytest.raises(InputError, match="3 rigs; expected one for each of C1, C2"):
        share({name: rig() for name in names[:3]}, desk(), cable=CABLE)
    six = desk(**{f"C{at}": "30W" for at in range(1, 7)})
    with pytest.raises(InputError, match=f"at most {MOST_RIGS}"):
        share({name: rig() for name in names[:5]}, six, cable=CABLE)
    with pytest.raises(InputError, match="8640 ways"):
        share({name: rig() for name in names[:4]}, six, cable=CABLE)


def test_a_charger_without_ports() -> None:
    with pytest.raises(InputError, match="no ports that are known"):
        share({"a": rig()}, "5V 3A, 9V 3A", cable=CABLE)


def test_check_says_which_port_it_judged_and_matrix_keeps_judging_alone() -> None:
    kit = Kit(source=[desk()], cable=[CABLE])
    judged = check(rig(), kit).results[0]
    [note] = [each for each in judged.findings if each.rule == "source-shares"]
    assert "port C1 alone" in note.text
    assert "45 W beside C2" in note.text
    assert judged.verdict == check(rig(), source=desk().at_port("C1"), cable=CABLE).results[0].verdict


def test_two_of_one_build_have_names_apart() -> None:
    found = share([rig(), rig()], desk(), cable=CABLE)
    assert {each.order for each in found.orders} == {("1", "2"), ("2", "1")}
    paths = [str(DEMO / "pier-box.toml")] * 2
    listed = share(paths, "C1 100W, C2 100W, C1+C2 50W+50W", cable=CABLE)
    assert {rig for each in listed.orders for rig in each.order} == {paths[0], f"{paths[0]}-2"}


def test_change_tries_what_is_printed_of_others_in_use() -> None:
    found = change(rig(), source=desk(), cable=CABLE)
    assert found.changes[0].to == "C2 in use as well, 45 W"
    assert found.changes[0].contract.current_a == 3.0
