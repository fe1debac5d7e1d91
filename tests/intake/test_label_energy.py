"""What power banks print of their energy, as many printers set it (all invented): read whole, never as offers."""

from __future__ import annotations

import pytest

from pdcheck.asking.given import source_of
from pdcheck.errors import InputError
from pdcheck.intake.label import looks_like_label, read_label
from pdcheck.intake.label_energy import Holds
from pdcheck.parts.kit import Kit
from pdcheck.parts.source import Source
from tests.intake.test_label import LABELS as OTHER_LABELS

FIVE_NINE = [(5.0, 3.0), (9.0, 2.0)]
# Text; then (V, A) of each offer, and Wh, Ah of the cells, their V, Ah rated to come out, at which V.
LABELS = [
    ("20000mAh 74Wh; output 5V 3A, 9V 2A", FIVE_NINE, (74, 20, None, None, None)),
    ("Rated capacity 12000mAh 5V 3A; Output: 5V 2A 9V 2A", [(5, 2), (9, 2)], (None, None, None, 12, 5)),
    ("Capacity: 10000mAh/37Wh 3.7V Output: 5V⎓3A 9V⎓2A", FIVE_NINE, (37, 10, 3.7, None, None)),
    (
        "Battery Capacity: 20,000mAh (3.7V / 74Wh)\nRated Capacity: 12,000 mAh (5V⎓3A)\n"
        "Input: 5V⎓3A 9V⎓2A\nOutput: 5V⎓3A, 9V⎓2A 18W",
        FIVE_NINE,
        (74, 20, 3.7, 12, 5),
    ),
    ("额定容量：12000mAh（5V/3A） 电池容量：20000mAh 74Wh 输出：5V⎓3A 9V⎓2A", FIVE_NINE, (74, 20, None, 12, 5)),
    ("Li-Polymer 3.85V 10000mAh 38.5Wh 5V 3A, 9V 2A", FIVE_NINE, (38.5, 10, 3.85, None, None)),
    ("20000mAh 5V 3A, 9V 2A", FIVE_NINE, (None, 20, None, None, None)),
    ("10000mAh @3.7V, 5V 3A / 9V 2A", FIVE_NINE, (None, 10, 3.7, None, None)),
    (
        "Nennkapazität 6.400 mAh bei 5 V / 3 A, Zellen 10.000 mAh / 37 Wh; Ausgang 5V 3A 9V 2A",
        FIVE_NINE,
        (37, 10, None, 6.4, 5),
    ),
    ("Rated capacity (5V/3A): 12000mAh; OUTPUT 5V=3A 9V=2A", FIVE_NINE, (None, None, None, 12, 5)),
    ("5000mAh 14.8V 74Wh 5V 3A 20V 3A", [(5, 3), (20, 3)], (74, 5, 14.8, None, None)),
    ("Rated capacity 10000mAh 37Wh 5V 3A 9V 2A", FIVE_NINE, (37, 10, None, None, None)),
    ("rated capacity 12000mAh, 5V 3A, 9V 2A", FIVE_NINE, (None, 12, None, None, None)),
    ("Capacity 20000 mAh; rated 12500 mAh; 5V 3A 9V 2A", FIVE_NINE, (None, 20, None, 12.5, 5)),
    ("TYP 20000mAh MIN 19500mAh 72Wh 5V/3A 9V/2A", FIVE_NINE, (72, 19.5, None, None, None)),
    ("4x5000mAh 3.6V 72Wh USB-C: 5V 3A 9V 2A", FIVE_NINE, (72, 20, 3.6, None, None)),
    ("10,5 Ah 5V 3A 9V 2A", FIVE_NINE, (None, 10.5, None, None, None)),
    ("10000mAh (5V 3A, 9V 2A)", FIVE_NINE, (None, 10, None, None, None)),
    ("OUTPUT CAPACITY 6000MAH (5V 3A) 9V 2A 5V 3A", FIVE_NINE, (None, None, None, 6, 5)),
    ("２００００ｍＡｈ　７４Ｗｈ　５Ｖ　３Ａ　９Ｖ　２Ａ", FIVE_NINE, (74, 20, None, None, None)),
    ("Rated 3.7V 10000mAh 37Wh; 5V 3A 9V 2A", FIVE_NINE, (37, 10, 3.7, None, None)),
    ("Rated energy 44Wh (5V 3A), 74Wh; 5V 3A 9V 2A", FIVE_NINE, (74, None, None, 8.8, 5)),
    ("Rated energy 74Wh 5V 3A 9V 2A", FIVE_NINE, (74, None, None, None, None)),
    ("5000mAh (14.8V) 5V 3A 9V 2A", FIVE_NINE, (None, 5, 14.8, None, None)),
    ("74Wh (14.8V 5000mAh) 5V 3A 9V 2A", FIVE_NINE, (74, 5, 14.8, None, None)),
    ("6000mAh rated at 5V 3A; 5V 2A 9V 2A", [(5, 2), (9, 2)], (None, None, None, 6, 5)),
    ("Rated Capacity: 12000mAh (5V/3A) 7000mAh (9V/2A) 5V 3A 9V 2A", FIVE_NINE, (None, None, None, 12, 5)),
    ("5V 3A 9V 2A", FIVE_NINE, None),
    ("0mAh 5V 3A 9V 2A", FIVE_NINE, None),
]


@pytest.mark.parametrize(("text", "offers", "holds"), LABELS, ids=[each[0][:40] for each in LABELS])
def test_labels_of_power_banks(
    text: str, offers: list[tuple[float, float]], holds: tuple[float | None, ...] | None
) -> None:
    label = read_label(text)
    assert [(each.max_mv / 1000, (each.current_ma or 0) / 1000) for each in label.offers] == offers
    assert label.holds == (None if holds is None else Holds(*holds))


@pytest.mark.parametrize("text", [each[0] for each in LABELS])
def test_nothing_is_lost_on_the_way_into_a_kit(text: str) -> None:
    typed, made = source_of(text), Source(text, id="source")
    assert typed == made
    kit = Kit(source=[made])
    assert Kit.from_toml(kit.to_toml()) == kit
    holds = read_label(text).holds
    stated = (made.energy_wh, made.capacity, made.rated_output)
    assert (holds is None) == (stated == (None, None, None))


@pytest.mark.parametrize(
    "energy",
    [
        "20000mAh 74Wh",
        "74Wh / 20000mAh",
        "Capacity: 10000mAh/37Wh 3.7V",
        "rated capacity 12000mAh 5V 3A",
        "Rated Capacity: 12,000 mAh (5V⎓3A)",
        "额定容量：12000mAh（5V/3A）",
    ],
)
@pytest.mark.parametrize("text", [each[0] for each in OTHER_LABELS])
def test_energy_beside_any_label_changes_none_of_its_offers(text: str, energy: str) -> None:
    plain = read_label(text)
    if plain.holds is not None:
        return
    for whole in (f"{energy}; {text}", f"{energy}\n{text}", f"{text}\n{energy}", f"{text}; {energy}"):
        read = read_label(whole)
        assert (read.offers, read.power_w) == (plain.offers, plain.power_w), whole
        assert read.holds is not None


def test_what_is_stated_beside_a_label_counts() -> None:
    made = Source("20000mAh 74Wh 5V 3A", energy="70Wh")
    assert (made.energy_wh, made.capacity.charge_ah if made.capacity else None) == (70.0, 20.0)


@pytest.mark.parametrize("text", ["20000mAh 74Wh", "74Wh", "rated capacity 12000mAh 5V 3A"])
def test_a_label_without_offers_says_so(text: str) -> None:
    assert looks_like_label(text)
    assert read_label(text, needs_offers=False).offers == ()
    for read in (read_label, source_of, Source):
        with pytest.raises(InputError, match="nothing of what it offers"):
            read(text)


def test_what_a_rated_capacity_is_measured_at_is_told() -> None:
    [remark] = read_label("rated capacity 12000mAh 5V 3A; 5V 2A").remarks
    assert remark == "5V 3A is what the rated capacity is measured at, and no offer of its own"


def test_an_error_in_a_label_of_a_power_bank_keeps_its_place() -> None:
    with pytest.raises(InputError) as caught:
        read_label("Kapazität 20000mAh\n5V 3A 9V")
    assert caught.value.where == "line 2, offset 6"
