"""Labels of chargers with several ports: the same charger in many printers' dresses, and sums that are no port's."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.intake import port_label
from pdcheck.intake.label import looks_like_label, read_label
from pdcheck.intake.ports import MOST_PORTS, Given, Ports

TWO = {("C1",): 65, ("C2",): 30, ("C1", "C2"): (45, 18)}
# The dresses are invented; common practice, no source.
DRESSES = [
    "C1 65W, C2 30W, C1+C2: 45W+18W",
    "USB-C1: 65W Max; USB-C2: 30W Max; USB-C1+C2: 45W+18W; Total 65W",
    "USB-C1 (65W) USB-C2 (30W) USB-C1+USB-C2 (45W/18W)",
    "65W (C1), 30W (C2), 45W+18W (C1+C2)",
    "C1+C2: 45W (C1) + 18W (C2); C1 65W; C2 30W",
    "C1+C2:\n C1: 45W\n C2: 18W\nC1: 65W\nC2: 30W",
    "C1: 65W\nC2: 30W\nDual: 45W+18W\nTotal: 65W",
    "C1 65W C2 30W 45W+18W",
    "USB-C1 Output 65W Max | USB-C2 Output 30W Max | C1&C2 45W&18W",
    "Ausgang: USB-C1 65 W; USB-C2 30 W; C1 und C2: 45 W + 18 W; gesamt 63 W",
    "C1:65W/C2:30W/C1+C2:45+18W",
    "Single port: C1 65W, C2 30W. Dual ports: C1+C2 45W+18W",
    "C1 65W C2 30W Two ports in use (dual output: C1+C2) 45W+18W",
    "Sortie USB-C1 : 65 W ; Sortie USB-C2 : 30 W ; C1 et C2 : 45 W + 18 W",
    "Type-C1=65.0W Type-C2=30.0W Type-C1+Type-C2=45.0W+18.0W (63W total)",
    "INPUT: 100-240V~ 50/60Hz 1.7A\nOUTPUT: C1 65W C2 30W C1+C2 63W (45W+18W)",
    "Ｃ１ ６５Ｗ， Ｃ２ ３０Ｗ， Ｃ１＋Ｃ２ ４５Ｗ＋１８Ｗ",
    "C1: 5V⎓3A/9V⎓3A/15V⎓3A/20V⎓3.25A (65W); C2: 5V⎓3A/9V⎓3A/15V⎓2A (30W); C1+C2: 45W+18W",
    "5V3A 9V3A 15V3A 20V3.25A 65W (USB-C1), 5V3A 9V3A 15V2A 30W (USB-C2), 45W+18W (USB-C1+C2)",
]


def ports_of(text: str) -> Ports:
    found = read_label(text).ports
    assert found is not None
    return found


def alone(offers: tuple[Offer, ...]) -> list[tuple[float, float]]:
    return [(each.max_mv / 1000, (each.current_ma or 0) / 1000) for each in offers]


@pytest.mark.parametrize("text", DRESSES, ids=[ascii(text)[:40] for text in DRESSES])
def test_one_charger_in_many_dresses(text: str) -> None:
    assert looks_like_label(text)
    ports = ports_of(text)
    assert ports.names in (("C1", "C2"), ("C2", "C1"))
    assert (ports.port("C1").power_w, ports.port("C2").power_w) == (65, 30)
    # The power rules' own tables, PD R3.2 V1.1, Table 10.2 (from memory of the standard).
    assert alone(ports.port("C1").offers) == [(5, 3), (9, 3), (15, 3), (20, 3.25)]
    assert alone(ports.port("C2").offers) == [(5, 3), (9, 3), (15, 2)]
    both = frozenset(("C1", "C2"))
    assert (ports.left_to("C1", both), ports.left_to("C2", both)) == (Given(45.0), Given(18.0))
    assert read_label(text).offers == ports.port("C1").offers


def test_ports_that_are_called_ports() -> None:
    for prefix in ("Port ", "USB-C Port ", "Type-C Port", "USB-C port-"):
        ports = ports_of(f"{prefix}1: 65 W\n{prefix}2: 30 W\n{prefix}1 + {prefix}2: 45 W + 18 W")
        assert [(each.name, each.power_w) for each in ports.ports] == [("Port1", 65), ("Port2", 30)]
        assert ports.left_to("Port2", frozenset(ports.names)) == Given(18.0)


SUMS = [
    "C1 65W, C2 30W, C1+C2 65W",
    "C1: 65W; C2: 30W; C1+C2: 63W total",
    "C1 65W C2 30W Total 63W",
    "C1 65W, C2 30W, max 95W",
    "USB-C1: 5V3A 9V3A 20V3.25A USB-C2: 5V3A 9V2.22A 85W Max",
    "C1: 65W; C2: 30W; C1+C2: 5V 3A",
    "C1: 65W; C2: 30W; 95W total",
    "C1 65W, C2 30W, A 12W, C1+C2+A: 45W+15W",
]


@pytest.mark.parametrize("text", SUMS)
def test_a_sum_is_no_ports_power(text: str) -> None:
    ports = ports_of(text)
    for together in ports.together:
        assert together.given == ()
        for name in together.ports:
            assert not ports.left_to(name, frozenset(together.ports)).said
    assert {port.power_w for port in ports.ports} <= {65, 30, 12, None}
    assert max(port.greatest_w for port in ports.ports) <= 65
    assert ports.total_w is not None or ports.together


@pytest.mark.parametrize("text", ["C1+C2: 65W", "C1+C2: 5V 3A, 9V 3A", "USB-C1+USB-C2 45W+20W"])
def test_what_ports_give_together_alone_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="together"):
        read_label(text)


def test_a_type_a_port_and_what_it_shares() -> None:
    ports = ports_of("USB-C: 5V 3A 9V 3A 20V 3.25A; USB-A: 5V 3A 9V 2A 12V 1.5A; A+C: 5V 3A")
    assert not ports.port("A").pd
    assert ports.port("A").typec_a() == 3.0
    shared = ports.among(frozenset(("A", "C")))
    assert shared is not None
    assert (shared.given, shared.total_w) == ((), 15.0)


def test_what_a_type_a_port_says_in_its_own_way_stops_nothing() -> None:
    ports = ports_of("C: 5V 3A 9V 3A; A: 5V 3A, 4.5V ?? 22.5 magic")
    assert ports.port("A").typec_a() == 3.0


def test_offers_of_each_port_together() -> None:
    ports = ports_of("C1: 5V3A 20V3.25A; C2: 5V3A 9V3A; C1+C2: 5V3A 9V3A 15V3A + 5V3A 9V2.22A")
    both = frozenset(("C1", "C2"))
    assert alone(ports.left_to("C1", both).offers) == [(5, 3), (9, 3), (15, 3)]
    assert alone(ports.left_to("C2", both).offers) == [(5, 3), (9, 2.22)]


def test_alternatives_are_each_alone() -> None:
    ports = ports_of("C1/C2: 65W; C1+C2: 2x30W; C1+A/C2+A: 45W+12W; A: 12W")
    assert ports.port("C2").power_w == 65
    assert ports.left_to("C2", frozenset(("C1", "C2"))).power_w == 30
    assert ports.left_to("A", frozenset(("C1", "A"))).power_w == 12


@pytest.mark.parametrize(
    "text", ["USB-C 5V 3A, 9V 3A", "USB-C1: 5V 3A, 9V 3A 27W", "Type-C PD 65W 5V3A 20V3.25A", "C-C 5V 3A"]
)
def test_one_port_is_no_charger_with_several(text: str) -> None:
    assert read_label(text).ports is None


def test_a_mistake_keeps_its_place() -> None:
    with pytest.raises(InputError) as caught:
        read_label("C1: 5V 3A\nC2: 5V 3A, 9V 3B")
    assert caught.value.where == "line 2, offset 14"


def test_no_charger_has_that_many_ports() -> None:
    text = " ".join(f"C{at} 30W" for at in range(1, MOST_PORTS + 2))
    with pytest.raises(InputError, match=f"{MOST_PORTS + 1} ports"):
        read_label(text)


def watts(value: float) -> str:
    return f"{value:g}W"


POWERS = st.sampled_from([12.0, 15.0, 18.0, 20.0, 22.5, 30.0, 33.0, 45.0, 65.0, 100.0, 140.0])
HEADS = st.sampled_from(["{}", "USB-{}", "USB {}", "Type-{}", "usb-{}"])
JOINS = st.sampled_from(["+", " + ", "&", " and "])
DASHES = st.sampled_from([" ", ": ", " = ", ":", " - ", " (max.) "])
PAUSES = st.sampled_from([", ", "; ", "\n", " | ", "  ", " / "])
MAX = st.sampled_from(["", " Max", " max."])


@given(
    st.lists(POWERS, min_size=2, max_size=4),
    st.data(),
    HEADS,
    JOINS,
    DASHES,
    PAUSES,
    MAX,
    st.sampled_from("+/&"),
    st.booleans(),
)
def test_any_charger_in_any_dress_reads_back(
    powers: list[float],
    data: st.DataObject,
    head: str,
    join: str,
    dash: str,
    pause: str,
    most: str,
    plus: str,
    total: bool,
) -> None:
    names = [f"C{at}" for at in range(1, len(powers) + 1)]
    left = [data.draw(POWERS.filter(lambda value, most=power: value <= most)) for power in powers]
    parts = [f"{head.format(name)}{dash}{watts(power)}{most}" for name, power in zip(names, powers, strict=True)]
    parts.append(f"{join.join(head.format(name) for name in names)}{dash}{plus.join(map(watts, left))}")
    text = pause.join(parts) + (f"{pause}Total {watts(sum(left))}" if total and sum(left) < 1000 else "")
    ports = ports_of(text)
    assert [(port.name, port.power_w) for port in ports.ports] == list(zip(names, powers, strict=True))
    assert [ports.left_to(name, frozenset(names)).power_w for name in names] == left


@pytest.mark.parametrize(
    "text",
    [
        "C1/C2/C3/C4+" * 300,
        "C1+" * 1300,
        "C1 5W " + "1W+" * 1200,
        "C1 5W, input " * 300,
        "C1 5W total " * 300,
        "C1 (5W " * 500,
        "C 5W A 5W Port 1 5W " * 150,
        "USB-" * 900 + "C1 5W",
    ],
    ids=lambda text: text[:14],
)
def test_hostile_labels_end_in_one_line_or_in_ports(text: str) -> None:
    try:
        read_label(text[:4000])
    except InputError as error:
        assert "\n" not in str(error)


PIECES = st.sampled_from(
    [
        *"ACacUPT18 .'-:(/+\n",
        "5V",
        "3A",
        "9V-",
        "20 ",
        "65W",
        "mm",
        "USB",
        "usb-",
        "Type",
        "Typ ",
        "Port",
        "PPS",
        "AVS",
        "both",
    ]
)


@given(st.lists(PIECES, max_size=12).map("".join))
def test_what_begins_no_name_of_a_port_is_no_heading(text: str) -> None:
    if port_label._MAY_NAME.search(text) is None:
        assert port_label._HEADING().search(text) is None
        assert port_label._BEHIND().search(text) is None
