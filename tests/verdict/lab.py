"""A rig for readings in round numbers: a branch with converter and lead, one straight on the bus, one on a lead.

``PUMP``, ``LAMP`` and ``FAN`` are their names; ``lab`` gives the plan, with any table of the rig replaced.
"""

from __future__ import annotations

from typing import Any

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.judge import judge

PUMP, LAMP, FAN = "pump", "lamp", "fan"
BUCK = {"kind": "buck", "input": "6V-30V", "output": "12V", "output_limit": "3A", "efficiency": 0.9, "idle": "0.5W"}
BRANCHES: dict[str, dict[str, Any]] = {
    PUMP: {
        "wire": {"awg": 20, "length": "0.5m", "contacts": "10mOhm"},
        "converter": BUCK,
        "lead": {"awg": 20, "length": "1m"},
        "load": {"power": "12W"},
    },
    LAMP: {"wire": {"awg": 20, "length": "1m"}, "load": {"resistance": "30ohm"}},
    FAN: {"lead": {"awg": 20, "length": "2m", "contacts": "5mOhm"}, "load": {"current": "0.5A"}},
}
RIG: dict[str, Any] = {
    "title": "Lab",
    "trigger": {"request": "15V", "fallback": "next-lower", "resistance": "50mOhm", "rating": "5A"},
    "tolerance": {"load": 0.05, "efficiency": 0.02, "resistance": 0.1},
}
KIT: dict[str, Any] = {
    "source": [{"id": "s", "offers": "5V 3A, 9V 3A, 15V 3A, 20V 3A; PPS 3.3-16V 3A"}],
    "cable": [{"id": "c", "kind": "C-C", "rating": "3A", "loop": "100mOhm"}],
}


def lab(
    *names: str,
    offers: str = "",
    cable: dict[str, Any] | None = None,
    more: dict[str, dict[str, Any]] | None = None,
    **tables: Any,
):
    """The plan of the lab's rig with the named branches, all of them where none is named.

    ``more`` is laid over a branch by its name; ``tables`` take the place of whole tables of the rig.
    """
    listed = [{"name": name, **BRANCHES[name], **(more or {}).get(name, {})} for name in names or BRANCHES]
    listed = [{key: value for key, value in each.items() if value is not None} for each in listed]
    rig = Rig.model_validate({**RIG, "branch": listed, **tables})
    source = KIT["source"][0] | ({"offers": offers} if offers else {})
    kit = Kit.model_validate({"source": [source], "cable": [KIT["cable"][0] | (cable or {})]})
    plan: BringUp = bring_up(judge(rig, kit.sources[0], kit.cables[0]))
    return plan
