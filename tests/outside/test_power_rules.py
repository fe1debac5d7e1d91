"""The power rules against PD R3.2 V1.1, Tables 10.2, 10.10 and 10.12, typed here a second time.

Nothing in this file is taken from ``pdcheck.facts``: the tables stand below as they are printed, one row a line, with
``PDP/9`` where the standard prints a quotient.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.facts import power_rules

# Tables 10.2 (SPR) and 10.12 (EPR): above, up to and with [W]; then volts = amperes.
PRINTED_FIXED = """
0    15   5=PDP/5
15   27   5=3 9=PDP/9
27   45   5=3 9=3 15=PDP/15
45   60   5=3 9=3 15=3 20=PDP/20
60   100  5=3 9=3 15=3 20=PDP/20
100  140  5=3 9=3 15=3 20=5 28=PDP/28
140  180  5=3 9=3 15=3 20=5 28=5 36=PDP/36
180  240  5=3 9=3 15=3 20=5 28=5 36=5 48=PDP/48
"""

# Table 10.10: the PPS offers of a source that has PPS. "=27" is exactly 27 W, "15-27" between the two.
PRINTED_PPS = """
15-27   9=PDP/9
=27     9=3
27-45   9=3 15=PDP/15
=45     15=3
45-60   15=3 20=PDP/20
=60     20=PDP/20
60-100  20=PDP/20
"""
PPS_TOP = {9: 11.0, 15: 16.0, 20: 21.0}


def cells(parts, pdp_mw):
    """Volts and exact amperes of one printed row at a PDP given in mW, as fractions."""
    out = []
    for part in parts:
        volts, amperes = part.split("=")
        if amperes.startswith("PDP/"):
            value = Fraction(pdp_mw, 1000) / int(amperes[4:])
        else:
            value = Fraction(int(amperes))
        out.append((int(volts), value))
    return out


def printed_fixed(pdp_mw):
    for line in PRINTED_FIXED.strip().splitlines():
        above, up_to, *parts = line.split()
        if int(above) * 1000 < pdp_mw <= int(up_to) * 1000:
            return cells(parts, pdp_mw)
    raise AssertionError(pdp_mw)


def printed_pps(pdp_mw):
    for line in PRINTED_PPS.strip().splitlines():
        key, *parts = line.split()
        if key.startswith("="):
            if pdp_mw == int(key[1:]) * 1000:
                return cells(parts, pdp_mw)
        else:
            above, below = (int(end) * 1000 for end in key.split("-"))
            if above < pdp_mw < below or (below == 100_000 and pdp_mw == below):
                return cells(parts, pdp_mw)
    return []


def down(amperes, step_ma):
    milliamperes = amperes * 1000
    return float(milliamperes // step_ma * step_ma) / 1000


EDGES_MW = [500, 5000, 7500]
for edge in (15, 27, 45, 60, 100, 140, 180):
    EDGES_MW += [edge * 1000 - 1, edge * 1000, edge * 1000 + 1]
EDGES_MW += [18_000, 20_000, 25_000, 30_000, 33_000, 61_000, 65_000, 87_000, 96_000, 239_999, 240_000]


@pytest.mark.parametrize("pdp_mw", EDGES_MW)
def test_fixed_offers_at_the_edges_of_the_printed_rows(pdp_mw):
    expected = [(float(volts), down(amperes, 10)) for volts, amperes in printed_fixed(pdp_mw)]
    assert power_rules.fixed_offers_for(pdp_mw / 1000) == expected


@given(st.integers(min_value=500, max_value=240_000))
def test_fixed_offers_anywhere(pdp_mw):
    expected = [(float(volts), down(amperes, 10)) for volts, amperes in printed_fixed(pdp_mw)]
    offers = power_rules.fixed_offers_for(pdp_mw / 1000)
    assert [volts for volts, _ in offers] == [volts for volts, _ in expected]
    assert [amperes for _, amperes in offers] == pytest.approx([amperes for _, amperes in expected], abs=1e-9)


@pytest.mark.parametrize("pdp_mw", [mw for mw in EDGES_MW if mw <= 100_000])
def test_pps_offers_against_the_printed_table(pdp_mw):
    expected = [(PPS_TOP[volts], min(5.0, down(amperes, 50))) for volts, amperes in printed_pps(pdp_mw)]
    found = [(supply.max_v, supply.current_a) for _, supply in power_rules.pps_set_for(pdp_mw / 1000)]
    assert found == expected
    assert all(supply.min_v == 5.0 for _, supply in power_rules.pps_set_for(pdp_mw / 1000))


@given(st.integers(min_value=500, max_value=240_000), st.integers(min_value=0, max_value=20_000))
def test_more_power_never_means_less_at_any_voltage(pdp_mw, more_mw):
    small = dict(power_rules.fixed_offers_for(pdp_mw / 1000))
    large = dict(power_rules.fixed_offers_for(min(240_000, pdp_mw + more_mw) / 1000))
    for volts, amperes in small.items():
        assert large[volts] >= amperes


@given(st.integers(min_value=500, max_value=240_000))
def test_no_least_offer_asks_for_more_than_the_pdp_or_five_amperes(pdp_mw):
    for volts, amperes in power_rules.fixed_offers_for(pdp_mw / 1000):
        assert volts * amperes <= pdp_mw / 1000 + 1e-9
        assert amperes <= 5.0


@pytest.mark.parametrize("pdp_w", [-1.0, 0.0, 0.49, 240.01, float("nan"), float("inf")])
def test_a_pdp_outside_the_tables_is_refused(pdp_w):
    for rule in (
        power_rules.row_for,
        power_rules.fixed_offers_for,
        power_rules.pps_set_for,
        power_rules.spr_avs_for,
        power_rules.epr_avs_for,
    ):
        with pytest.raises(InputError, match="no power rules"):
            rule(pdp_w)


def test_spr_avs_follows_the_fixed_offers():
    assert power_rules.spr_avs_for(27.0) is None
    assert power_rules.spr_avs_for(33.0) == ("spr-avs", 9.0, 15.0, 2.2, None, 0.0)
    assert power_rules.spr_avs_for(45.0) == ("spr-avs", 9.0, 15.0, 3.0, None, 0.0)
    assert power_rules.spr_avs_for(60.0) == ("spr-avs", 9.0, 20.0, 3.0, None, 3.0)
    assert power_rules.spr_avs_for(240.0) == ("spr-avs", 9.0, 20.0, 3.0, None, 5.0)


@pytest.mark.parametrize(("pdp_w", "top"), [(100.0, None), (101.0, 28.0), (140.0, 28.0), (180.0, 36.0), (240.0, 48.0)])
def test_epr_avs_ends_at_the_top_voltage(pdp_w, top):
    supply = power_rules.epr_avs_for(pdp_w)
    assert (supply and supply.max_v) == top
