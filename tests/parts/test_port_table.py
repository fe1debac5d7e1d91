"""The ports of a source in a file: read, written, named by id, and refused where they say nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.source import Source

PORTS = {"C1": "65W", "C2": "30W", "C1+C2": "45W+18W"}


def last(source: Source) -> tuple[int, int | None]:
    return source.offers[-1].max_mv, source.offers[-1].current_ma


def test_the_port_that_gives_most_is_taken_unless_one_is_named() -> None:
    desk = Source(id="desk", ports=PORTS)
    assert (desk.port_name, last(desk), desk.pdp_w) == ("C1", (20000, 3250), 65.0)
    assert (desk.at_port("c2").id, last(desk.at_port("C2"))) == ("desk:C2", (15000, 2000))
    assert last(Source(id="desk", ports=PORTS, port="C2")) == (15000, 2000)


def test_a_label_says_the_same_as_a_table() -> None:
    said = Source(id="desk", offers="C1 65W, C2 30W, C1+C2: 45W+18W")
    assert said == Source(id="desk", ports=PORTS)


def test_what_was_heard_of_a_port_counts_before_what_is_printed_of_it() -> None:
    desk = Source(id="desk", offers="5V 3A, 9V 3A, 12V 3A, 20V 3.25A", ports=PORTS)
    assert [offer.max_mv for offer in desk.at_port("C1").offers] == [5000, 9000, 12000, 20000]
    assert [offer.max_mv for offer in desk.at_port("C2").offers] == [5000, 9000, 15000]


POWER = st.integers(1, 240).map(lambda watts: f"{watts}W")
LIST = st.sampled_from(["5V 3A", "5V 3A, 9V 2.22A", "5V 3A, 9V 3A, 20V 5A; PPS 3.3-21V 5A", "5V 3A, 9V 3A; 27W"])
ALONE = st.one_of(POWER, LIST)
PAIR = st.one_of(
    st.tuples(POWER, POWER).map("+".join),
    POWER.map(lambda watts: f"{watts} total"),
    st.lists(LIST, min_size=2, max_size=2),
)


@given(ALONE, ALONE, st.none() | PAIR, st.none() | POWER, st.sampled_from([None, "C1", "C2"]))
def test_a_kit_with_ports_reads_back(
    first: str, second: str, both: object, total: str | None, port: str | None
) -> None:
    table = {"C1": first, "C2": second, "C1+C2": both, "total": total}
    source = Source(id="desk", ports={key: said for key, said in table.items() if said is not None}, port=port)
    kit = Kit(source=[source, source.at_port("C2")])
    assert Kit.from_toml(kit.to_toml()) == kit
    assert Source.model_validate(source.model_dump()) == source
    assert source.replace(tolerance="2%").ports == source.ports


REFUSED = [
    ({"C1": "45W+20W"}, "ports.C1: .* is a sum"),
    ({"C1": "65W total"}, "ports.C1: .* is a sum"),
    ({"C1+C2": "45W+18W"}, "alone"),
    ({"C1": "65W", "usb-c1": "30W"}, "twice"),
    ({"C1": "65W", "C1+C2": "45W+18W", "C2+C1": "30W+30W"}, "twice"),
    ({"C1": "65"}, "says nothing of a port"),
    ({"X9": "65W"}, "names no port"),
    ({"C1": "999W"}, "no power rules"),
    ({"C1": "65W", "C1+C2": ["5V 3A"]}, "1 of them for 2 ports"),
    (5, "no table of ports"),
    ("5V 3A, 9V 3A", "no two ports"),
]


@pytest.mark.parametrize(("ports", "what"), REFUSED, ids=[str(ports) for ports, _ in REFUSED])
def test_what_says_nothing_of_ports_is_refused(ports: object, what: str) -> None:
    with pytest.raises(InputError, match=what):
        Source(id="desk", ports=ports)


def test_a_port_that_there_is_not() -> None:
    with pytest.raises(InputError, match="one of C1, C2"):
        Source(id="desk", ports=PORTS, port="C3")
    with pytest.raises(InputError, match="no ports"):
        Source(id="desk", offers="5V 3A", port="C3")
    with pytest.raises(InputError, match="too long"):
        Source(id="d" * 62, ports=PORTS)


def test_a_type_a_port_gives_five_volts_and_no_pd() -> None:
    desk = Source(id="desk", ports={"C1": "65W", "A": "5V 2.4A, 9V 2A", "A2": "18W"})
    assert (desk.at_port("A").offers, desk.at_port("A").typec_current_a) == ((), 2.4)
    # Of a power alone nobody can say how much of it is there at 5 V.
    assert desk.at_port("A2").typec_current_a == 0.5
