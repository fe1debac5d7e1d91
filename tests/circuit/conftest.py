"""Random networks for the property tests: what a maker might build, and now and then what nobody should."""

from __future__ import annotations

from hypothesis import strategies as st

from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.parts.efficiency import EfficiencyTable
from tests.circuit.making import a_converter, a_table, led_driver, led_string, of_current, of_power, of_resistance


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=False)


ohms = st.one_of(st.just(0.0), number(0.001, 2.0))

tables = st.builds(
    lambda volts, amps, values: a_table(
        tuple(sorted(volts)), tuple(sorted(amps)), tuple(tuple(row[: len(amps)]) for row in values[: len(volts)])
    ),
    st.lists(st.integers(3, 48).map(float), min_size=1, max_size=4, unique=True),
    st.lists(st.integers(1, 50).map(lambda tenths: tenths / 10), min_size=1, max_size=3, unique=True),
    st.lists(st.lists(number(0.4, 1.0), min_size=3, max_size=3), min_size=4, max_size=4),
)

converters = st.builds(
    a_converter,
    kind=st.sampled_from(("buck", "boost", "buck-boost")),
    output_v=number(3.0, 24.0),
    efficiency=st.one_of(number(0.5, 1.0), tables),
    idle_w=st.one_of(st.just(0.0), number(0.0, 1.0)),
    dropout_v=number(0.0, 2.0),
    start_v=st.one_of(st.none(), number(2.0, 12.0)),
)

loads = st.one_of(
    st.builds(of_power, number(0.0, 60.0)),
    st.builds(of_current, number(0.0, 4.0)),
    st.builds(of_resistance, number(2.0, 200.0)),
    st.builds(led_string, st.integers(1, 6), number(1.8, 3.6), number(1.0, 100.0)),
    st.builds(led_driver, st.integers(1, 6), number(1.8, 3.6), number(0.01, 1.0), number(0.0, 2.0), number(0.6, 1.0)),
)

branches = st.tuples(st.just(""), loads, st.one_of(st.none(), converters), ohms, ohms).map(lambda given: Branch(*given))


@st.composite
def networks(draw: st.DrawFn) -> Network:
    listed = draw(st.lists(branches, min_size=1, max_size=3))
    named = tuple(branch._replace(name=f"b{index}") for index, branch in enumerate(listed))
    source = Source(draw(number(4.0, 48.0)))
    return Network(
        source, named, (("cable", draw(ohms)), ("trigger", draw(ohms))), draw(st.sampled_from((0.0, 0.0, 0.05)))
    )


st.register_type_strategy(Network, networks())
st.register_type_strategy(EfficiencyTable, tables)
