"""Random kits and rigs for the property tests: what people own and build, and now and then what nobody should."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from pdcheck.facts.power_rules import fixed_offers_for
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig

KINDS = ("buck", "boost", "buck-boost")


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False).map(lambda value: round(value, 3))


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.one_of(st.none(), strategy)


def without_none(values: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value is not None}


def of(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(fields).map(without_none)


def _label(pdp_w: float) -> str:
    return ", ".join(f"{volts:g}V {amperes:g}A" for volts, amperes in fixed_offers_for(pdp_w))


by_rule = st.integers(5, 240).map(lambda watts: _label(float(watts)))
odd_ones = st.sampled_from(
    (
        "5V 3A, 9V 2A, 12V 1.5A",
        "5V 2.4A",
        "5V 3A, 9V 3A; PPS 3.3-11V 3A",
        "5V 3A, 9V 3A, 15V 3A; PPS 5-16V 3A, PPS 5-21V 2.25A",
        "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W",
    )
)
sources = of(
    offers=st.one_of(by_rule, odd_ones),
    captured_over=maybe(st.sampled_from(("3A", "5A", "EPR"))),
    tolerance=st.sampled_from((0.0, 0.05, 0.05, 0.02)),
    typec_current=maybe(st.sampled_from((0.5, 1.5, 3.0))),
    captive=maybe(st.sampled_from((True, False, False))),
)
loops = st.one_of(
    st.none(),
    number(0.02, 0.6),
    st.tuples(number(0.02, 0.2), number(0.0, 0.1), number(0.0, 0.2)).map(
        lambda part: {"min": part[0], "typ": part[0] + part[1], "max": part[0] + part[1] + part[2]}
    ),
)
cables = st.one_of(
    of(kind=st.just("C-C"), rating=st.sampled_from(("3A", "5A")), loop=loops),
    of(kind=st.just("EPR"), loop=loops),
    of(kind=st.just("A-C"), loop=loops),
)
kits = st.builds(
    lambda ours, theirs: Kit.model_validate(
        {
            "source": [{"id": f"s{at}", **each} for at, each in enumerate(ours)],
            "cable": [{"id": f"c{at}", **each} for at, each in enumerate(theirs)],
        }
    ),
    st.lists(sources, min_size=1, max_size=4),
    st.lists(cables, min_size=0, max_size=3),
)

wires = of(
    awg=st.integers(14, 30),
    length=number(0.1, 3.0),
    contacts=maybe(number(0.0, 0.1)),
    temperature=maybe(st.sampled_from((-10, 60))),
)
efficiencies = st.one_of(
    st.none(),
    number(0.6, 1.0),
    st.just({"input": [12], "output": [0.1, 1, 3], "values": [[0.7, 0.9, 0.85]]}),
    st.just({"input": [9, 15, 20], "output": [0.1, 2], "values": [[0.9, 0.88], [0.86, 0.84], [0.8, 0.82]]}),
)


@st.composite
def converters(draw: st.DrawFn) -> dict[str, Any]:
    low, span = draw(number(3.0, 12.0)), draw(number(5.0, 40.0))
    return without_none(
        {
            "kind": draw(st.sampled_from(KINDS)),
            "input": draw(maybe(st.just([low, low + span]))),
            "input_limit": draw(maybe(number(1.0, 6.0))),
            "input_power": draw(maybe(number(10.0, 100.0))),
            "output": draw(st.sampled_from((3.3, 5.0, 12.0, 19.0, 24.0))),
            "output_limit": draw(maybe(number(0.5, 6.0))),
            "power_limit": draw(maybe(number(5.0, 100.0))),
            "efficiency": draw(efficiencies),
            "idle": draw(maybe(number(0.0, 1.0))),
            "dropout": draw(maybe(number(0.0, 2.0))),
            "start": draw(maybe(number(low, low + 4.0))),
            "bulk": draw(maybe(st.sampled_from((4e-6, 47e-6, 220e-6)))),
        }
    )


strings = of(count=st.integers(1, 5), vf=number(1.8, 3.6), current=number(0.02, 1.0), headroom=maybe(number(0.0, 2.0)))
resistor_strings = of(
    count=st.integers(1, 5),
    vf=number(1.8, 3.6),
    current=number(0.02, 1.0),
    driver=st.just("resistor"),
    resistor=maybe(number(1.0, 50.0)),
)
loads = st.one_of(
    of(power=number(0.5, 40.0), voltage=maybe(st.sampled_from(([4.5, 5.6], [8.0, 13.0], [11.0, 21.5])))),
    of(current=number(0.05, 3.0), voltage=maybe(st.sampled_from(([4.5, 5.6], [8.0, 21.5])))),
    of(resistance=number(3.0, 200.0)),
    of(led=st.one_of(strings, resistor_strings)),
)
branches = of(wire=maybe(wires), converter=maybe(converters()), lead=maybe(wires), load=loads)
requests = st.sampled_from(
    ("5V", "9V", "12V", "15V", "20V", "20V 2A", "28V", "pps 9V 2A", "pps 12.5V 3A", "avs 18V", "highest", "power",
     "prefer 20V 12V 9V", "none")
)  # fmt: skip
triggers = of(
    request=requests,
    fallback=st.sampled_from(("next-lower", "5V", "none")),
    rating=maybe(st.sampled_from((3.0, 5.0))),
    voltage_rating=maybe(st.sampled_from((21.0, 48.0))),
    resistance=maybe(st.one_of(number(0.0, 0.1), st.just({"min": 0.01, "typ": 0.02, "max": 0.05}))),
    bulk=maybe(st.just(10e-6)),
)
tolerances = of(
    source=maybe(st.sampled_from((0.0, 0.03))),
    resistance=maybe(st.just(0.1)),
    efficiency=maybe(st.just(0.02)),
    load=maybe(st.just(0.05)),
    copper=maybe(st.just({"min": -10, "typ": 20, "max": 60})),
)
rigs = st.builds(
    lambda trigger, listed, tolerance: Rig.model_validate(
        {
            "trigger": trigger,
            "tolerance": tolerance,
            "branch": [{"name": f"b{at}", **each} for at, each in enumerate(listed)],
        }
    ),
    triggers,
    st.lists(branches, min_size=1, max_size=3),
    tolerances,
)

st.register_type_strategy(Kit, kits)
st.register_type_strategy(Rig, rigs)
