"""What an implied figure points to: the whole record, both sides of what is worth a name, and digits shown."""

from __future__ import annotations

import pytest

from pdcheck.quantities import Triple
from pdcheck.show.demo import demo_kit, demo_rig
from pdcheck.verdict.bringup.cause import Cause, cause_of, interval
from pdcheck.verdict.bringup.implied import Implied
from pdcheck.verdict.case import Case

CASE = Case(demo_rig("pier-box"), demo_kit().source("wall-45"), demo_kit().cable("thin-2m"))
CONTACT = "A contact: press, clean or solder it again and measure once more; the warm one is the bad one."
SWAP = (
    "Swap thin-2m for another cable and measure again: if it goes, it was the cable, else a plug or the trigger. "
    "The warm one is the bad one."
)
LOAD = "Put the load that it really is into the rig file and check again."


def figure(kind: str, value: tuple, unit: str, stated: tuple, **more) -> Implied:
    return Implied(kind, "mount", Triple(*value), unit, Triple(*stated), ("together",), **more)


RESISTANCE = (0.19, 0.2, 0.21)
FIGURES = {
    "supply": (
        figure("supply", RESISTANCE, "ohm", (0.1, 0.1, 0.1), assumed="the source holds"),
        ("supply-resistance", "cable, its plugs and the trigger together are 200 ± 10 mΩ; the calculation used 100 mΩ: "
         "100 mΩ more (if the source holds)", SWAP),
    ),
    "wire": (
        figure("wire", RESISTANCE, "ohm", (0.1, 0.11, 0.12)),
        ("wire-resistance", "the wire with its contacts is 200 ± 10 mΩ; the calculation used 100 mΩ to 120 mΩ: "
         "90 mΩ more", CONTACT),
    ),
    "lead": (
        figure("lead", RESISTANCE, "ohm", (0.1, 0.1, 0.1), assumed="it holds", agree=False),
        ("lead-resistance", "the lead with its contacts is 200 ± 10 mΩ; the calculation used 100 mΩ: 100 mΩ more "
         "(if it holds; the steps do not agree within their digits: it changes with load or warmth)", CONTACT),
    ),
    "a wire that the file does not name": (
        figure("wire", RESISTANCE, "ohm", (0.0, 0.0, 0.0), agree=False),
        ("wire-resistance", "the wire with its contacts is 200 ± 10 mΩ; the calculation used none "
         "(the steps do not agree within their digits: it changes with load or warmth)",
         "The rig file names no wire here: put it in."),
    ),
    "no cable at all": (
        figure("supply", RESISTANCE, "ohm", (0.0, 0.0, 0.0)),
        ("supply-resistance", "cable, its plugs and the trigger together are 200 ± 10 mΩ; the calculation used none",
         SWAP),
    ),
    "efficiency": (
        figure("efficiency", (0.79, 0.8, 0.81), "%", (0.9, 0.92, 0.94), assumed="it holds"),
        ("efficiency", "its efficiency is 80.0 ± 1.0 %; the calculation used 90 % to 94 % (if it holds)",
         "It warms up more and draws more: check its input current, let it cool, or take a better one."),
    ),
    "idle": (
        figure("idle", (0.5, 0.6, 0.7), "W", (0.3, 0.3, 0.3)),
        ("idle", "it draws 0.60 ± 0.10 W with nothing at its output; the calculation used 300 mW",
         "Is something left on its output, a display or a lamp? Else write the figure back."),
    ),
    "load in watts": (
        figure("load", (19.5, 20.0, 20.5), "W", (17.0, 18.0, 19.0)),
        ("load", "the load is 20.0 ± 0.5 W; the calculation used 17 W to 19 W", LOAD),
    ),
    "load in ohms": (
        figure("load", (7.5, 8.0, 8.5), "ohm", (9.0, 10.0, 11.0)),
        ("load", "the load is 8.0 ± 0.5 Ω; the calculation used 9 Ω to 11 Ω", LOAD),
    ),
    "bus-draw": (
        figure("bus-draw", (0.1, 0.11, 0.12), "A", (0.0, 0.0, 0.0)),
        ("bus-draw", "0.110 ± 0.010 A flows that does not belong to any branch",
         "Something else hangs on the bus, the trigger draws it, or a wire leaks: find it."),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FIGURES)
def test_each_kind_of_figure_is_told_whole(name: str) -> None:
    implied, (kind, text, advice) = FIGURES[name]
    assert cause_of(implied, CASE) == Cause(kind, "warn", "mount", text, advice, implied)


@pytest.mark.parametrize(
    ("kind", "unit", "stated", "value", "level"),
    [
        ("wire", "ohm", 0.25, 0.27, "warn"),
        ("wire", "ohm", 0.25, 0.2699, "note"),
        ("supply", "ohm", 0.25, 0.27, "warn"),
        ("supply", "ohm", 0.25, 0.2699, "note"),
        ("idle", "W", 0.0, 0.1, "warn"),
        ("idle", "W", 0.0, 0.0999, "note"),
        ("load", "W", 20.0, 21.0, "warn"),
        ("load", "W", 20.0, 20.99, "note"),
        ("load", "A", 2.0, 2.1, "warn"),
        ("load", "ohm", 20.0, 19.0, "warn"),
        ("load", "ohm", 20.0, 19.01, "note"),
        ("bus-draw", "A", 0.0, 0.02, "warn"),
        ("bus-draw", "A", 0.0, 0.0199, "note"),
        ("efficiency", "%", 0.75, 0.73, "warn"),
        ("efficiency", "%", 0.75, 0.7301, "note"),
    ],
)
def test_what_is_on_the_limit_has_a_name_and_less_is_a_note(
    kind: str, unit: str, stated: float, value: float, level: str
) -> None:
    found = cause_of(figure(kind, (value, value, value), unit, (stated, stated, stated)), CASE)
    assert found is not None
    assert found.level == level


def test_the_gap_is_that_to_the_nearer_end_of_what_was_stated() -> None:
    levels = {
        name: cause_of(implied, CASE).level
        for name, implied in {
            "wire": figure("wire", (0.31, 0.315, 0.32), "ohm", (0.1, 0.2, 0.3)),
            "efficiency": figure("efficiency", (0.88, 0.885, 0.89), "%", (0.9, 0.92, 0.94)),
            "idle": figure("idle", (0.51, 0.55, 0.6), "W", (0.3, 0.4, 0.5)),
            "load": figure("load", (19.2, 19.5, 19.8), "W", (17.0, 18.0, 19.0)),
            "load in ohms": figure("load", (8.6, 8.8, 8.9), "ohm", (9.0, 10.0, 11.0)),
        }.items()
    }
    assert set(levels.values()) == {"note"}, levels


@pytest.mark.parametrize(
    ("kind", "unit", "good"),
    [
        ("supply", "ohm", -1),
        ("wire", "ohm", -1),
        ("lead", "ohm", -1),
        ("efficiency", "%", 1),
        ("idle", "W", -1),
        ("load", "W", -1),
        ("load", "A", -1),
        ("load", "ohm", 1),
        ("bus-draw", "A", -1),
    ],
)
def test_what_is_as_stated_or_better_points_to_nothing(kind: str, unit: str, good: int) -> None:
    for value in (0.5, 0.5 + 0.2 * good, 0.5 + 0.8e-9, 0.5 - 0.8e-9):
        assert cause_of(figure(kind, (value, value, value), unit, (0.5, 0.5, 0.5)), CASE) is None
    beyond = 0.5 - 0.2 * good
    assert cause_of(figure(kind, (beyond, beyond, beyond), unit, (0.5, 0.5, 0.5)), CASE) is not None
    # Where the last digits leave it open, nothing is pointed to.
    assert cause_of(figure(kind, (0.3, beyond, 0.7), unit, (0.5, 0.5, 0.5)), CASE) is None


def test_what_is_more_is_told_from_end_to_end() -> None:
    found = cause_of(figure("supply", (0.4, 0.5, 0.7), "ohm", (0.1, 0.2, 0.2)), CASE)
    assert found is not None
    assert found.text.endswith("the calculation used 100 mΩ to 200 mΩ: 300 mΩ more")


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        ((0.377, 0.382, 0.388), "ohm", "382 ± 6 mΩ"),
        ((0.380, 0.382, 0.383), "ohm", "382 ± 2 mΩ"),
        ((0.3803, 0.382, 0.3837), "ohm", "382.0 ± 1.7 mΩ"),
        ((0.372, 0.382, 0.392), "ohm", "382 ± 10 mΩ"),
        ((0.36, 0.382, 0.403), "ohm", "382 ± 30 mΩ"),
        ((1.9, 1.99, 2.08), "ohm", "1990 ± 90 mΩ"),
        ((1.91, 2.0, 2.09), "ohm", "2.00 ± 0.09 Ω"),
        ((-0.2, 0.0, 0.2), "ohm", "0 ± 200 mΩ"),
        ((0.2, 0.25, 0.3), "%", "25 ± 5 %"),
        ((4.8, 5.0, 5.1), "W", "5.0 ± 0.2 W"),
        ((4.5, 5.0, 6.5), "A", "5.0 ± 1.5 A"),
        ((5.0, 5.0, 5.0), "A", "5.000 ± 0.000 A"),
        ((1000.0, 2000.0, 3000.0), "W", "2000 ± 1000 W"),
    ],
)
def test_an_uncertainty_has_one_digit_and_two_where_it_starts_with_one(value: tuple, unit: str, shown: str) -> None:
    assert interval(figure("load", value, unit, (1.0, 1.0, 1.0))) == shown
