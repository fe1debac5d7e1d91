"""Random parts of every kind, every field of them set or not, for the tests that want any part at all."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.parts.behaviour import ALWAYS, Behaviour
from pdcheck.parts.box import Box
from pdcheck.parts.cable import Cable
from pdcheck.parts.converter import Converter
from pdcheck.parts.kit import Kit
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Branch, Rig, Tolerance
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger
from pdcheck.parts.wire import Wire

Table = dict[str, Any]

ANY_KIND = settings(
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)
"""How tests on whole builds of any kind are run: what fails is not shrunk, which takes minutes."""


def made(model: Any, table: SearchStrategy[Table]) -> SearchStrategy[Any]:
    """Parts of those tables that are without contradiction."""

    def part(said: Table) -> Any:
        try:
            return model(**said)
        except InputError:
            return None

    return table.map(part).filter(lambda each: each is not None)


def up_to(most: float, least: float = 1e-9) -> SearchStrategy[float]:
    """Figures as people have them, and floats with all their digits."""
    plain = st.integers(1, 999).map(lambda each: each / 100).filter(lambda each: least <= each <= most)
    return plain | st.floats(least, most)


def spans(most: float) -> SearchStrategy[Any]:
    return st.tuples(st.just(0.0) | up_to(most), up_to(most)).map(sorted)


def triples(most: float, least: float = 0.0) -> SearchStrategy[Any]:
    one = st.floats(least, most).filter(lambda each: each == 0 or abs(each) > 1e-9)
    return one | st.lists(one, min_size=3, max_size=3).map(sorted)


def table(required: Table | None = None, **optional: SearchStrategy[Any]) -> SearchStrategy[Table]:
    return st.fixed_dictionaries(required or {}, optional=optional)


names = st.from_regex(r"[A-Za-z0-9é][\w.é+-]{0,8}", fullmatch=True)
titles = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cf", "Zl", "Zp", "Cs", "Co", "Cn")), max_size=20
)
charges = up_to(1e5, 0.01)
ratios = st.just(0.0) | up_to(0.5)
efficiencies = up_to(1.0)
amps, volts, watts, farads = up_to(100), up_to(100), up_to(1000), up_to(1)

wires = made(
    Wire,
    table(
        {"length": st.just(0.0) | up_to(100)},
        awg=st.integers(0, 40),
        mm2=up_to(100, 0.001),
        contacts=st.just(0) | up_to(1),
        stranded=st.booleans(),
        temperature=st.floats(-100, 300).filter(lambda each: each == 0 or abs(each) > 1e-9),
        inductance=up_to(1),
        insulation=up_to(300),
    ),
)
efficiency_tables = st.integers(1, 3).flatmap(
    lambda columns: st.integers(1, 3).flatmap(
        lambda rows: st.fixed_dictionaries(
            {
                "input": st.lists(volts, min_size=rows, max_size=rows, unique=True).map(sorted),
                "output": st.lists(amps, min_size=columns, max_size=columns, unique=True).map(sorted),
                "values": st.lists(
                    st.lists(efficiencies, min_size=columns, max_size=columns), min_size=rows, max_size=rows
                ),
            }
        )
    )
)
deratings = st.integers(1, 3).flatmap(
    lambda points: st.fixed_dictionaries(
        {
            "air": st.lists(up_to(300), min_size=points, max_size=points, unique=True).map(sorted),
            "output": st.lists(amps, min_size=points, max_size=points).map(lambda each: sorted(each, reverse=True)),
        }
    )
)
converters = made(
    Converter,
    table(
        {"kind": st.sampled_from(["buck", "boost", "buck-boost"]), "output": volts},
        title=titles,
        input=spans(100),
        input_limit=amps,
        input_power=watts,
        output_limit=amps,
        output_range=spans(100),
        power_limit=watts,
        efficiency=efficiencies | efficiency_tables,
        idle=watts,
        bulk=farads,
        dropout=volts,
        esr=st.just(0.0) | up_to(10),
        output_bulk=farads,
        start=volts,
        stop=volts,
        soft_start=up_to(10),
        rise=up_to(1000),
        heat_limit=watts,
        derate=deratings,
    ),
)
leds = table(
    {"count": st.integers(1, 1000), "vf": volts, "current": amps},
    driver=st.sampled_from(["driver", "resistor"]),
    resistor=up_to(1e6),
    headroom=volts,
)
packs = table(
    {"cells": st.integers(1, 100), "end": volts, "current": amps}, efficiency=efficiencies, headroom=st.just(0) | volts
)
loads = made(
    Load,
    st.builds(
        lambda one, more, average: dict([one]) | more | average,
        st.tuples(st.just("power"), watts)
        | st.tuples(st.just("current"), amps)
        | st.tuples(st.just("resistance"), up_to(1e6))
        | st.tuples(st.just("led"), leds)
        | st.tuples(st.just("pack"), packs),
        table(title=titles, voltage=spans(100), start_factor=st.floats(1, 1000), start_time=up_to(3600)),
        table(average=up_to(10)) | table(duty=up_to(1)) | table(peak=up_to(1e4)),
    ),
)
fuses = st.tuples(amps, st.sampled_from(["", " UL", " IEC 60127", " blade", " resettable"])).map(
    lambda said: f"{said[0]!r}A{said[1]}"
)
branches = made(
    Branch,
    table({"name": names, "load": loads}, wire=wires, converter=converters, lead=wires, live=st.booleans(), fuse=fuses),
)
requests = st.sampled_from(["highest", "power", "none", "prefer 20V 15V 9V", "15V"]) | st.tuples(
    st.sampled_from(["", "pps ", "avs "]), up_to(48), st.just("") | amps.map(lambda each: f" {each!r}A")
).map(lambda said: f"{said[0]}{said[1]!r}V{said[2]}")
triggers = made(
    Trigger,
    table(
        {"request": requests},
        title=titles,
        fallback=st.sampled_from(["next-lower", "5V", "none"]),
        rating=amps,
        voltage_rating=volts,
        resistance=triples(10),
        bulk=farads,
        esr=st.just(0.0) | up_to(10),
        fuse=fuses,
        brown_out=volts,
        restart=up_to(10),
    ),
)
tolerances = made(
    Tolerance,
    table(source=ratios, resistance=ratios, efficiency=ratios, load=ratios, copper=triples(300, -100)),
)
boxes = made(
    Box,
    table(
        {"size": st.lists(up_to(10), min_size=3, max_size=3)},
        material=st.sampled_from(["plastic", "painted metal", "bare metal"]),
        vents=st.booleans(),
        air=triples(300, -100),
    ),
) | made(Box, table(air=triples(300, -100)))
labels = st.sampled_from(
    [
        "5V 3A",
        "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A",
        "5V 3A, 9V 2.77A 25W",
        "5V 3A 9V 3A 15V 3A 20V 5A 28V 5A; AVS 15-28V 140W",
        "20,000 mAh / 74 Wh, rated capacity 12000mAh 5V 3A; output 5V 3A, 9V 2A",
        "5V 2.4A; variable 6-9V 2A; battery 5-9V 18W",
        "5V 3A 9V 3A 15V 3A 20V 2.25A, AVS 9-20V 3A",
    ]
)
words = st.lists(
    st.integers(1, 0xBFFFFFFF) | st.sampled_from([0x0801912C, 0x0002D12C, 0xC0DC213C]), min_size=1, max_size=7
)
offers = labels | words.map(lambda each: tuple(Offer.from_word(word, at) for at, word in enumerate(each, 1)))
lowered = up_to(240, 0.5) | labels
moments = st.just(0.0) | up_to(3600)
times = st.integers(0, 9) | st.just(ALWAYS)
behaviours = made(
    Behaviour,
    table(
        revision=st.sampled_from(["2.0", "3.x"]),
        second_port=lowered,
        steps_down=st.lists(st.fixed_dictionaries({"at": moments, "to": lowered}), max_size=3),
        tells=st.sampled_from(["capabilities", "hard-reset"]),
        reject=times,
        wait=times,
        skip_accept=times,
        silent=st.sampled_from(["capabilities", "request", "ps-rdy", "epr-entry", "keep-alive"]),
        ps_rdy=moments,
        hard_reset=moments,
        goto_min=moments,
        order=st.permutations([1, 2, 3]),
        epr_entry=st.sampled_from(["granted", "refused", "no-vconn", "not-now", "not-marked"]),
    ),
)
cable_tables = table(
    title=titles,
    kind=st.sampled_from(["C-C", "A-C", "EPR", "captive", "active", "passive", "unmarked"]),
    rating=st.sampled_from(["3A", "5A", "60W", "100W", "240W"]) | up_to(7) | up_to(240).map(lambda each: f"{each!r}W"),
    voltage=up_to(50),
    marker=st.booleans(),
    epr=st.booleans(),
    loop=triples(1),
    readings=st.fixed_dictionaries({"source": up_to(21), "sink": up_to(21), "at": amps}),
    length=up_to(5),
    awg=st.integers(10, 32),
    contacts=up_to(1),
    words=st.sampled_from(
        ["0xFF00A041 0x18000000 0x00000000 0x00000000 0x11082042", "0x1C0012AB 0 0x12340001 0x110A2042"]
    ),
    revision=st.sampled_from(["2.0", "3.x"]),
)
cable_figures = table(
    {"construction": st.sampled_from(["passive", "active", "unmarked", "legacy", "captive"])},
    title=titles,
    emarker=st.booleans(),
    pd=st.booleans(),
    current=up_to(10),
    voltage=up_to(50),
    epr=st.booleans(),
    loop=triples(1),
    length=up_to(5),
    awg=st.integers(10, 32),
    problems=st.lists(titles, max_size=2),
    assumed=st.lists(titles, max_size=2),
)
cables = made(Cable, st.builds(lambda said, name: said | {"id": name}, cable_tables | cable_figures, names))
port_powers = st.integers(1, 240).map(lambda power: f"{power}W")
port_tables = table(
    {"C1": port_powers | st.just("5V 3A, 9V 3A"), "C2": port_powers},
    **{
        "C1+C2": st.tuples(port_powers, port_powers).map("+".join) | st.just(["5V 3A", "5V 2A"]),
        "A": st.sampled_from(["5V 2.4A", "12W"]),
        "total": port_powers,
    },
)
sources = made(
    Source,
    table(
        {"id": names, "offers": offers},
        title=titles,
        captured_over=st.sampled_from(["3A", "5A", "EPR"]),
        tolerance=ratios,
        typec_current=amps,
        captive=st.booleans(),
        cable=cables | cable_tables,
        pdp=watts,
        energy=up_to(1e5, 0.01),
        capacity=charges | charges.map(lambda each: f"{each!r}Ah at 3.7V"),
        rated_output=st.tuples(charges, up_to(48, 1)),
        efficiency=up_to(1),
        sleeps_below=up_to(5),
        over_current=st.sampled_from(["hold", "hiccup"]),
        capture=st.just("captures/wall.log"),
        behaviour=behaviours,
        problems=st.just(("the message that brought these offers has a bad CRC",)),
    ),
) | made(
    Source,
    table({"id": names, "typec_current": amps}, title=titles, captive=st.booleans())
    | table(
        {"id": names.map(lambda name: name[:60]), "ports": port_tables},
        port=st.sampled_from(["C1", "C2"]),
        title=titles,
        tolerance=ratios,
        captured_over=st.sampled_from(["3A", "5A", "EPR"]),
    ),
)
kits = made(
    Kit,
    table(
        title=titles,
        source=st.lists(sources, max_size=3, unique_by=lambda each: each.id),
        cable=st.lists(cables, max_size=3, unique_by=lambda each: each.id),
    ),
)
rigs = made(
    Rig,
    table(
        {"trigger": triggers, "branch": st.lists(branches, min_size=1, max_size=3, unique_by=lambda each: each.name)},
        title=titles,
        tolerance=tolerances,
        box=boxes,
        kit=kits,
    ),
)
parts = st.one_of(
    wires, converters, loads, branches, triggers, tolerances, boxes, behaviours, cables, sources, kits, rigs
)
