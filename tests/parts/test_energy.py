"""What a power bank holds and what comes out of it: the figures, their ends, what is refused, more is never less."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.facts.trade import BANK_EFFICIENCY, CELL_VOLTAGE
from pdcheck.parts.energy import Charge
from pdcheck.parts.source import Source
from pdcheck.parts.store import sleeps_below, store_at


def bank(**stated: Any) -> Source:
    return Source("5V 3A, 9V 3A", **stated)


# What is stated, the output voltage [V]; the cells' energy and what comes out [Wh], at least, typically, at most.
FIGURES: list[tuple[dict[str, Any], float, tuple[float, ...] | None, tuple[float, ...]]] = [
    ({"energy": "74Wh", "efficiency": "90%"}, 9.0, (74, 74, 74), (66.6, 66.6, 66.6)),
    ({"energy": "74Wh"}, 9.0, (74, 74, 74), (59.2, 63.64, 68.08)),
    # 20,000 mAh at 3.6 to 3.85 V are 72 to 77 Wh.
    ({"capacity": "20000mAh"}, 5.0, (72, 74, 77), (57.6, 63.64, 70.84)),
    ({"capacity": "20Ah at 3.7V", "efficiency": 0.9}, 5.0, (74, 74, 74), (66.6, 66.6, 66.6)),
    # Where Wh are printed, those count.
    ({"capacity": "30000mAh", "energy": "74Wh", "efficiency": 0.9}, 5.0, (74, 74, 74), (66.6, 66.6, 66.6)),
    ({"rated_output": "12000mAh at 5V"}, 5.0, None, (60, 60, 60)),
    ({"rated_output": "12000mAh @ 5V"}, 9.0, None, (60 * 0.8 / 0.92, 60 * (1 + 0.8 / 0.92) / 2, 60)),
    ({"rated_output": "12000mAh at 5V", "efficiency": "80%"}, 9.0, (75, 75, 75), (60, 60, 60)),
    ({"rated_output": "12000mAh at 5V", "energy": "74Wh"}, 5.0, (74, 74, 74), (60, 60, 60)),
    # More than its cells can give is not believed.
    ({"rated_output": "20000mAh at 5V", "energy": "74Wh"}, 5.0, (74, 74, 74), (59.2, 63.64, 68.08)),
]


@pytest.mark.parametrize(("stated", "volts", "cells", "out"), FIGURES)
def test_what_comes_out(
    stated: dict[str, Any], volts: float, cells: tuple[float, ...] | None, out: tuple[float, ...]
) -> None:
    store = store_at(bank(**stated), volts)
    assert store is not None
    assert store.output_wh == pytest.approx(out)
    assert store.cells_wh is None if cells is None else store.cells_wh == pytest.approx(cells)
    known = "efficiency" in stated or len(set(out)) == 1
    assert bool(store.assumed) is not known


@given(
    st.floats(1, 1e3), st.floats(1.0, 2.0), st.none() | st.floats(0.5, 1.0), st.none() | st.floats(0.1, 100.0),
    st.sampled_from([5.0, 9.0, 20.0]),
)  # fmt: skip
def test_more_energy_never_gives_less(
    energy: float, times: float, efficiency: float | None, rated_ah: float | None, volts: float
) -> None:
    said = {"efficiency": efficiency, "rated_output": None if rated_ah is None else (rated_ah, 5.0)}
    less, more = (store_at(bank(energy=each, **said), volts) for each in (energy, energy * times))
    assert less is not None and more is not None
    for one, other in zip(less.output_wh, more.output_wh, strict=True):
        assert other >= one * (1 - 1e-12)
    assert less.output_wh.min <= less.output_wh.typ <= less.output_wh.max <= energy * (1 + 1e-12)


@given(st.floats(1, 1e3), st.floats(0.80, 0.92))
def test_an_unknown_efficiency_is_never_better_than_a_usual_one(energy: float, efficiency: float) -> None:
    unknown, known = store_at(bank(energy=energy), 9.0), store_at(bank(energy=energy, efficiency=efficiency), 9.0)
    assert unknown is not None and known is not None
    assert unknown.output_wh.min <= known.output_wh.min * (1 + 1e-12)
    assert BANK_EFFICIENCY.require_min() <= efficiency <= BANK_EFFICIENCY.require_max() and CELL_VOLTAGE.typ == 3.7


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ({"energy": "74mAh"}, "is a charge, not an energy"),
        ({"energy": 0}, "is zero"),
        ({"capacity": "20Wh"}, "is an energy, not a charge"),
        ({"capacity": "20.000mAh at"}, "is not a unit of charge"),
        ({"capacity": 20000}, "expected one such as 20000mAh"),
        ({"rated_output": "12000mAh"}, "expected one such as 12000mAh at 5V"),
        ({"rated_output": "12000mAh at 5A"}, "is a current, not a voltage"),
        ({"capacity": "20Ah at 3.7V at 5V"}, "is not such a capacity"),
        ({"efficiency": 88}, "88 is not an efficiency: write 88% or 0.88"),
        ({"sleeps_below": "60"}, "out of range"),
        ({"sleeps_below": "60mW"}, "not a current"),
    ],
)
def test_what_is_no_such_figure_is_refused(stated: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        bank(**stated)


def test_a_charge_is_written_as_it_is_typed() -> None:
    table = bank(capacity="10 Ah at 3.7 V", rated_output=["6Ah", 5], sleeps_below="60 mA").to_dict()
    assert (table["capacity"], table["rated_output"], table["sleeps_below"]) == (
        "10000mAh at 3.7V",
        "6000mAh at 5V",
        "60mA",
    )
    assert str(Charge(6.0, 5.0)) == "6000 mAh at 5 V"


def test_only_what_says_what_it_holds_is_taken_for_a_power_bank() -> None:
    assert sleeps_below(bank()) is None
    assert sleeps_below(bank(energy="74Wh")) == (0.03, 0.06, 0.1)
    assert sleeps_below(bank(energy="74Wh", sleeps_below="50mA")) == (0.05, 0.05, 0.05)
