"""Charging a pack: what it draws, what is asked about it, and the cautions that come before anything else."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import pdcheck
from pdcheck.errors import InputError
from pdcheck.facts.cautions import CAUTIONS, PACK_CAUTIONS
from pdcheck.parts.cable import Cable
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.pack import PackLoad
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger
from pdcheck.verdict.judge import Judgement, judge

SOURCE = Source("5V 3A, 9V 3A, 15V 3A, 20V 3A", id="s")
CABLE = Cable("C-C 5A loop=200mOhm", id="c")
PACK = {"cells": 3, "end": "4.2V", "current": "1A", "efficiency": "90%"}
KNOWN = {"pack": PACK, "voltage": "8V-24V"}
CONVERTER = {"kind": "buck", "input": "6V-28V", "input_limit": "3A", "output": "12V", "output_limit": "3A",
             "efficiency": 0.9, "idle": "0.1W"}  # fmt: skip


def rig(load: Any = KNOWN, request: str = "20V", **more: Any) -> Rig:
    board = Trigger(request, rating="5A", resistance="0ohm")
    return Rig(trigger=board, branch=[Branch("cells", wire="20AWG 0.5m", load=load, **more)])


def judged(load: Any = KNOWN, request: str = "20V", **more: Any) -> Judgement:
    return judge(rig(load, request, **more), SOURCE, CABLE)


def node(found: Judgement, name: str) -> Any:
    return next(each for each in found.nodes if each.node == name)


@given(st.integers(1, 4), st.floats(2.5, 4.2), st.floats(0.1, 1.5), st.floats(0.7, 0.98))
def test_it_draws_what_goes_into_the_pack_at_its_end_over_the_efficiency(
    cells: int, end: float, current: float, efficiency: float
) -> None:
    """On V through R a constant power P has (V + sqrt(V^2 - 4 R P)) / 2 at its end [any circuits textbook]."""
    pack = {"cells": cells, "end": end, "current": current, "efficiency": efficiency}
    found = judged({"pack": pack, "voltage": "4V-24V"})
    power = cells * end * current / efficiency
    # 0.5 m of AWG 20 there and back, 33.31 ohm/km [ASTM B258, IEC 60028], behind 200 mOhm of cable.
    ohm = 0.2 + 2 * 0.5 * 0.0333086
    volts = (20 + math.sqrt(400 - 4 * ohm * power)) / 2
    typical = node(found, "cells/load")
    assert typical.voltage_v.typ == pytest.approx(volts, rel=1e-5)
    assert typical.current_a.typ == pytest.approx(power / volts, rel=1e-5)
    [heat] = (each.loss_w.typ for each in found.losses if each.part == "cells/charger")
    assert heat == pytest.approx(power * (1 - efficiency), rel=1e-6)
    inside = node(found, "cells/pack")
    assert (inside.voltage_v.typ, inside.current_a.typ) == (pytest.approx(cells * end), pytest.approx(current))


def test_what_its_charger_takes_is_asked_for_behind_a_converter_too() -> None:
    for more in ({}, {"converter": CONVERTER, "lead": "20AWG 0.2m"}):
        asked = {(each.what, each.sense) for each in judged({"pack": PACK}, **more).not_judged}
        assert {("cells.load.voltage", "at_least"), ("cells.load.voltage", "at_most")} <= asked
        assert not [each for each in judged(KNOWN, **more).not_judged if each.what == "cells.load.voltage"]


def test_of_a_step_down_charger_the_least_voltage_is_known() -> None:
    """Three cells of 4.2 V and 1 V are 13.6 V: 15 V is enough, 9 V never fills it."""
    stepping = {"pack": PACK | {"headroom": "1V"}}
    asked = {(each.what, each.sense) for each in judged(stepping, "15V").not_judged}
    assert ("cells.load.voltage", "at_least") in asked and ("cells.load.voltage", "at_most") not in asked
    below = judged(stepping, "9V")
    [told] = (each for each in below.findings if each.rule == "pack-headroom")
    assert told.limit == 13.6 and "never gets full" in told.text and below.verdict == "fails"
    assert not [each for each in judged(stepping, "15V").findings if each.rule == "pack-headroom"]


def test_an_efficiency_that_nobody_states_is_asked_for_where_it_matters() -> None:
    """3 x 4.2 V x 3.5 A are 44.1 W: at 85 % 51.9 W, at 75 % 58.8 W, more than 3 A at 19 V."""
    pack = {key: value for key, value in PACK.items() if key != "efficiency"} | {"current": "3.5A"}
    found = judged({"pack": pack, "voltage": "8V-24V"})
    assert "cells.load.pack.efficiency" in {each.what for each in found.not_judged}
    stated = judged({"pack": pack | {"efficiency": "85%"}, "voltage": "8V-24V"})
    assert stated.verdict == found.verdict
    assert "cells.load.pack.efficiency" not in {each.what for each in stated.not_judged}


@pytest.mark.parametrize(("end", "level"), [("4.2V", None), ("4.21V", "warn"), ("4.45V", "warn"), ("4.46V", "stop")])
def test_cells_that_are_charged_too_far(end: str, level: str | None) -> None:
    levels = [each.level for each in judged({"pack": PACK | {"end": end}, "voltage": "4V-24V"}).findings
              if each.rule == "pack-end"]  # fmt: skip
    assert levels == ([] if level is None else [level])


def test_cautions_come_first_in_check_page_and_bring_up_and_nowhere_else(tmp_path: Any) -> None:
    from pdcheck.cli import run

    for load, there in ((KNOWN, True), ("5W", False)):
        built = rig(load)
        found = pdcheck.check(built, source=SOURCE, cable=CABLE)
        plan = pdcheck.bringup(built, source=SOURCE, cable=CABLE)
        path, page = tmp_path / f"{there}.toml", tmp_path / f"{there}.html"
        path.write_text(built.replace(kit={"source": [SOURCE], "cable": [CABLE]}).to_toml())
        assert run(["report", str(path), "-o", str(page)]) in (0, 1)
        html = page.read_text()
        for caution in PACK_CAUTIONS:
            first_words = caution.text[:40]
            flat = " ".join(str(found).split())
            assert (caution.text in flat) == there
            assert (caution.text in " ".join(str(plan).split())) == there
            assert (caution.text in plan.cautions) == there
            assert (first_words.replace("'", "&#39;") in html) == there
        if there:
            assert str(found).startswith("CAUTION  ")
            assert str(found.results[0]).startswith("CAUTION  ")
            assert html.index(PACK_CAUTIONS[0].text[:30]) < html.index('id="chain"')
            assert [each["rule"] for each in json.loads(found.to_json())["findings"]].count("lithium-pack") == 1
        assert all(each.text not in " ".join(str(found).split()) for each in CAUTIONS)


def test_cautions_are_said_also_where_the_trigger_gives_nothing() -> None:
    off = judge(
        Rig(trigger=Trigger("12V", fallback="none"), branch=[Branch("cells", load=KNOWN)]),
        Source("5V 3A", id="s"),
        CABLE,
    )
    assert "lithium-pack" in {each.rule for each in off.findings} and str(off).startswith("CAUTION")


def test_it_is_a_load_as_any_other() -> None:
    load = Load(pack=PACK)
    assert isinstance(load, PackLoad) and load.kind == "pack"
    assert load.demand(2.0).meant_w(None) == pytest.approx(25.2)
    assert load.to_dict() == {"pack": {"cells": 3, "end": "4.2V", "current": "1A", "efficiency": "90%"}}
    built = rig(KNOWN)
    assert Rig.from_toml(built.to_toml()).branches == built.branches
    told = pdcheck.need(built)
    assert told.works
    more = pdcheck.envelope(built, source=SOURCE, cable=CABLE)
    assert more.results[0].contracts[0].together.load_w > 12.6
    step = pdcheck.bringup(built, source=SOURCE, cable=CABLE).steps[-1]
    assert step.title.endswith("full load") and "Before you join the pack" in step.actions[0]
    started = pdcheck.transient(
        rig({"pack": PACK | {"headroom": "1V"}, "voltage": "13.6V-24V"}), source=SOURCE, cable=CABLE, until="400ms"
    )
    assert [each.fate for each in started.fates] == ["starts"]
    assert pdcheck.change(built, source=SOURCE, cable=CABLE, to="9V").to_dict()


@pytest.mark.parametrize(
    ("pack", "told"),
    [
        ({"cells": 0}, "number of cells"),
        ({"cells": 2.5}, "number of cells"),
        ({"cells": True}, "number of cells"),
        ({"cells": 101}, "number of cells"),
        ({"end": "4.2A"}, "4.2A"),
        ({"current": "0A"}, "zero"),
        ({"efficiency": "120%"}, "120%"),
        ({"cell": 3}, "unknown key"),
    ],
)
def test_what_is_no_pack_is_said_in_one_line(pack: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError) as refused:
        Load(pack=PACK | pack)
    assert told in str(refused.value) and "\n" not in str(refused.value)


@pytest.mark.parametrize("missing", ["cells", "end", "current"])
def test_what_a_pack_must_say(missing: str) -> None:
    with pytest.raises(InputError, match=missing):
        Load(pack={key: value for key, value in PACK.items() if key != missing})
