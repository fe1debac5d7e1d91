"""The limits of the standard and the trade: values, units, marks, and what is derived from them."""

import math

import pytest

from pdcheck.facts import cable, capabilities, current, trade, voltage
from pdcheck.facts.origin import Limit, Origin, Range

MODULES = (cable, capabilities, current, trade, voltage)
MARKS = {"standard", "handbook", "common practice", "memory", "checked"}
UNITS = {"V", "A", "W", "ohm", "F", "s", "1", "V/s", "A/s", "Wh"}


def facts_of(module):
    return [value for value in vars(module).values() if isinstance(value, Limit | Range)]


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__)
def test_every_fact_has_a_name_an_si_unit_and_an_origin_with_a_known_mark(module):
    facts = facts_of(module)
    assert facts
    for fact in facts:
        assert fact.name
        assert fact.unit in UNITS, fact
        assert fact.origin.mark in MARKS, fact
        assert fact.origin.text or fact.origin.mark == "common practice", fact


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__)
def test_names_are_unique_within_a_room(module):
    names = [(fact.name, fact.unit) for fact in facts_of(module)]
    assert len(names) == len(set(names))


def test_ranges_are_in_order():
    for module in MODULES:
        for fact in facts_of(module):
            if isinstance(fact, Range):
                given = [side for side in (fact.min, fact.typ, fact.max) if side is not None]
                assert given == sorted(given)
                assert given


def test_voltage_bands():
    assert voltage.fixed_band(9.0) == pytest.approx((8.55, 9.45))
    assert voltage.fixed_band(48.0) == pytest.approx((45.6, 50.4))


def test_pps_limit_band_joins_where_its_form_changes():
    low = current.pps_limit_band(3.0)
    high = current.pps_limit_band(math.nextafter(3.0, 4.0))
    assert low == pytest.approx(high)
    assert current.pps_limit_band(1.0) == pytest.approx((0.85, 1.15))


def test_cable_drop_limits():
    assert cable.loop_limit_ohm(3.0) == pytest.approx(0.250)
    assert cable.loop_limit_ohm(5.0) == pytest.approx(0.150)


def test_an_epr_cable_needs_all_three():
    assert cable.is_epr_cable(50.0, 5.0, True)
    assert not cable.is_epr_cable(20.0, 5.0, True)
    assert not cable.is_epr_cable(50.0, 3.0, True)
    assert not cable.is_epr_cable(50.0, 5.0, False)


def test_the_bulk_limit_at_the_slew_limit_draws_what_the_text_gives_as_its_reason():
    limit = voltage.BULK_IN_CONTRACT.require_max()
    assert voltage.charging_current_a(limit) == pytest.approx(3.0)


def test_the_outer_power_is_the_outer_voltage_at_the_outer_current():
    assert voltage.EPR_MAX.value * current.CONTRACT_MAX.value == capabilities.EPR_POWER_MAX.value
    assert voltage.SPR_FIXED_MAX.value * current.CONTRACT_MAX.value == capabilities.SPR_POWER_MAX.value


def test_a_range_that_lacks_a_side_says_so():
    row = Range("only above", 1.0, None, None, "s", Origin("nowhere", "memory"))
    assert row.require_min() == 1.0
    with pytest.raises(LookupError, match="only above"):
        row.require_max()
    with pytest.raises(LookupError, match="only below"):
        Range("only below", None, None, 1.0, "s", Origin("nowhere", "memory")).require_min()


def test_common_practice_is_marked_as_such():
    assert str(trade.CURRENT_IN_HAND.origin) == "common practice, no source"
    assert trade.charger_class(30.0) == "phone charger"
    assert trade.charger_class(100.0) == "large laptop charger"
    assert trade.charger_class(15.0) is None
