"""Random benches with hidden faults, and what a meter shows on them: closed forms and Newton, nothing of the package.

A rig is a table as its file has it, so that the package reads what a person would write. What is really there is a flat
table of figures ("b0 wire" in ohm, "stray" in ampere), so that any of them can be moved: a fault moves one, and what a
sheet can show at all is judged by moving every other one.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from typing import Any, NamedTuple

COPPER = 0.01724  # ohm mm2 / m at 20 degrees C, IEC 60028 (1/58)
AREA = {18: 0.8230, 20: 0.5176, 22: 0.3255, 24: 0.2047, 26: 0.1288}  # mm2, ASTM B258
WAYS = ("gain", "range", "each")
"""How a meter errs within its per cent: all of a unit alike, each range by itself, or each reading by itself."""
BENCH = ("bus-draw", "source", "supply", "wire", "gauge", "lead", "efficiency", "idle", "load", "load-unread", "output",
         "fallback", "meter", "burden", "burden-every")  # fmt: skip
PEN = ("factor", "decimal", "swapped", "sign")
_VOLT_RANGES = (4.0, 40.0)
_AMPERE_RANGES = (0.04, 0.4, 4.0)

Figures = dict[str, float]
Steps = list[tuple[str, list[str], float, list[tuple[str, str, str]]]]
"""Path of the step, branches joined, share of the load, and of each reading its name, key and branch."""


class Fault(NamedTuple):
    """What is wrong: its kind, where, and the true figure."""

    kind: str
    subject: str
    size: float


def copper_ohm(wire: dict[str, Any]) -> float:
    """Both ways of a length of wire, without its contacts, at 20 degrees C."""
    return 2 * COPPER * wire["length"] / (wire["mm2"] if "mm2" in wire else AREA[wire["awg"]])


def random_rig(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """One to four branches on 9, 12, 15 or 20 V: converters, heaters, LED strings, things straight on the bus."""
    volts = rng.choice([9, 12, 15, 15, 20, 20])
    count = rng.choice([1, 2, 2, 3, 3, 4])
    branches = [_random_branch(rng, f"b{index}", volts, 2.2 * volts / count) for index in range(count)]
    rig = {
        "title": "hidden",
        "trigger": {"request": volts, "resistance": rng.choice([0.015, 0.025, 0.04]), "fallback": "next-lower"},
        "branch": branches,
    }
    cable = {"id": "c", "kind": "C-C", "rating": "5A", "loop": round(rng.uniform(0.06, 0.25), 3)}
    kit = {"source": [{"id": "s", "offers": "5V 3A, 9V 3A, 12V 3A, 15V 3A, 20V 3.25A"}], "cable": [cable]}
    return rig, kit


def _random_branch(rng: random.Random, name: str, volts: float, most_w: float) -> dict[str, Any]:
    watts = rng.uniform(0.35, 0.9) * most_w
    size = {"awg": rng.choice([18, 20, 22, 24])} if rng.random() < 0.8 else {"mm2": rng.choice([0.25, 0.5, 0.75])}
    wire = {**size, "length": round(rng.uniform(0.2, 1.5), 2), "contacts": rng.choice([0.005, 0.01, 0.02])}
    lead = {"awg": rng.choice([18, 20, 22]), "length": round(rng.uniform(0.3, 1.5), 2), "contacts": 0.005}
    kind = rng.choice(["converter", "converter", "converter", "heater", "led", "driver", "device", "led-converter"])
    branch: dict[str, Any] = {"name": name, "wire": wire}
    at = volts
    if kind in ("converter", "led-converter"):
        at = rng.choice([5, 9, 12, 24] if kind == "converter" else [12, 24])
        branch["converter"] = {"kind": "buck-boost", "input": "4V-30V", "output": at,
                               "efficiency": round(rng.uniform(0.84, 0.95), 2),
                               "idle": rng.choice([0.05, 0.1, 0.2, 0.4])}  # fmt: skip
        watts = min(watts, 2.5 * at)
    if rng.random() < (0.7 if "converter" in branch else 0.25):
        branch["lead"] = lead
    if kind in ("led", "led-converter"):
        vf = rng.choice([2.1, 3.0, 3.2])
        led = {"count": max(1, int(0.75 * at / vf)), "vf": vf, "current": round(0.7 * watts / at, 3)}
        resistor = round((at - led["count"] * vf) / led["current"], 1)
        branch["load"] = {"led": {**led, "driver": "resistor", "resistor": resistor}}
    elif kind == "driver":
        led = {"count": max(1, int(0.6 * volts / 3.1)), "vf": 3.1, "current": round(0.5 * watts / volts, 3)}
        branch["load"] = {"led": {**led, "driver": "driver", "efficiency": 0.9}}
    elif kind == "heater":
        branch["load"] = {"resistance": round(at * at / watts, 1)}
    else:
        branch["load"] = rng.choice(
            [{"power": round(watts, 1)}, {"current": round(watts / at, 2)}, {"resistance": round(at * at / watts, 1)}]
        )
    return branch


def stated(rig: dict[str, Any], kit: dict[str, Any]) -> Figures:
    """The figures of a bench that is just as its files say."""
    found: Figures = {"open": rig["trigger"]["request"], "stray": 0.0, "source": 0.0, "burden": 0.0, "every": 0.0}
    found["supply"] = kit["cable"][0]["loop"] + rig["trigger"]["resistance"]
    for branch in rig["branch"]:
        name = branch["name"]
        found[f"{name} wire"] = copper_ohm(branch["wire"]) + branch["wire"]["contacts"]
        found[f"{name} lead"] = copper_ohm(branch["lead"]) + branch["lead"]["contacts"] if "lead" in branch else 0.0
        found[f"{name} load"] = 1.0
        for key in ("efficiency", "idle", "output") if "converter" in branch else ():
            found[f"{name} {key}"] = branch["converter"][key]
    return found


def solve(rig: dict[str, Any], true: Figures, joined: list[str], share: float, meters: Iterable[str]) -> Figures:
    """Volts and amperes of a step, by place. ``meters`` are the ammeters in line ("b0 in_a") with the bus's own."""
    rows = [each for each in rig["branch"] if each["name"] in joined]
    sits = set(meters)

    def taken(bus: float) -> float:
        return true["stray"] + sum(_branch(row, true, bus, share, sits)["in_a"] for row in rows)

    series = true["supply"] + true["source"] + true["burden"] + true["every"]
    bus = true["open"]
    for _ in range(60):
        off = true["open"] - bus - series * taken(bus)
        slope = -1.0 - series * (taken(bus + 1e-6) - taken(bus - 1e-6)) / 2e-6
        move = off / slope
        bus -= move
        if slope >= 0.0 or bus <= 0.0:
            raise ValueError("collapses")
        if abs(move) < 1e-11:
            break
    total = taken(bus)
    found = {"bus_a": total, "bus_v": bus + (true["burden"] + true["every"]) * total}
    found["source_v"] = true["open"] - true["source"] * total
    for row in rows:
        for key, value in _branch(row, true, bus, share, sits).items():
            found[f"{row['name']} {key}"] = value
    return found


def _branch(row: dict[str, Any], true: Figures, bus: float, share: float, sits: set[str]) -> Figures:
    name, load = row["name"], row["load"]
    factor = true[f"{name} load"] * share
    wire = true[f"{name} wire"] + (true["every"] if f"{name} in_a" in sits else 0.0)
    lead = true[f"{name} lead"] + (true["every"] if f"{name} out_a" in sits else 0.0)
    if "converter" not in row:
        amps = _through(bus, wire + lead, load, factor)
        return {"in_a": amps, "in_v": bus - wire * amps, "load_v": bus - (wire + lead) * amps}
    out = true[f"{name} output"]
    amps = _through(out, lead, load, factor) if share else 0.0
    taken = _powered(bus, wire, out * amps / true[f"{name} efficiency"] + true[f"{name} idle"])
    return {"in_a": taken, "in_v": bus - wire * taken, "out_v": out, "out_a": amps, "load_v": out - lead * amps}


def _through(volts: float, ohms: float, load: dict[str, Any], factor: float) -> float:
    if "current" in load:
        return float(load["current"] * factor)
    if "resistance" in load:
        return float(volts / (ohms + load["resistance"] / factor))
    if "led" in load:
        led = load["led"]
        string = led["count"] * led["vf"]
        if led["driver"] == "resistor":
            return float(max(0.0, volts - string) / (ohms + led["resistor"] / factor))
        return _powered(volts, ohms, string * led["current"] * factor / led["efficiency"])
    return _powered(volts, ohms, load["power"] * factor)


def _powered(volts: float, ohms: float, watts: float) -> float:
    return 2 * watts / (volts + math.sqrt(volts * volts - 4 * ohms * watts))  # raises ValueError where it collapses


def every_reading(rig: dict[str, Any], true: Figures, steps: Steps) -> Figures:
    """What a perfect meter shows at each reading that is a voltage or a current."""
    found: Figures = {}
    for _, joined, share, keys in steps:
        if not any(key[-2:] in ("_v", "_a") and key != "before_v" for _, key, _ in keys):
            continue
        point = solve(rig, true, joined, share, (f"{branch} {key}" for _, key, branch in keys))
        for name, key, branch in keys:
            if key in point or f"{branch} {key}" in point:
                found[name] = point[key if key in point else f"{branch} {key}"]
    return found


class Meter:
    """A meter of so many digits that errs within its per cent in one of three ways, and may have a fault of its own."""

    def __init__(self, rng: random.Random, digits: int, share: float, way: str) -> None:
        self.rng, self.digits, self.share, self.way = rng, digits, share, way
        self.gains: dict[tuple[str, int], float] = {}
        self.whole = {unit: rng.uniform(-share, share) for unit in "VA"}
        self.factor = {"V": 1.0, "A": 1.0}
        self.high = math.inf, 1.0
        self.fine = rng.random() < 0.5

    def range_of(self, unit: str, value: float) -> int:
        """Which of its ranges it takes."""
        return sum(abs(value) > end for end in (_VOLT_RANGES if unit == "V" else _AMPERE_RANGES))

    def error(self, unit: str, value: float) -> float:
        """The factor that it shows a value with."""
        if self.way == "each":
            mine = self.rng.uniform(-self.share, self.share)
        elif self.way == "gain":
            mine = self.whole[unit]
        else:
            at = unit, self.range_of(unit, value)
            mine = self.gains.setdefault(at, self.rng.uniform(-self.share, self.share))
        return (1 + mine) * self.factor[unit] * self.beyond(unit, value)

    def beyond(self, unit: str, value: float) -> float:
        """The factor of its high range, which may have a fault of its own."""
        return self.high[1] if unit == "A" and value >= self.high[0] else 1.0

    def places(self, unit: str, value: float) -> int:
        """Decimals that it shows: as many digits, but no finer than its finest range."""
        whole = math.floor(math.log10(max(abs(value), 1e-9))) + 1
        finest = {"V": self.digits - 1, "A": self.digits if self.fine else self.digits - 1, "ohm": 1}[unit]
        return max(0, min(self.digits - whole, finest))

    def shows(self, unit: str, value: float) -> str:
        """The display."""
        value *= self.error(unit, value)
        places = self.places(unit, value)
        return f"{value:.{places}f}"

    def step(self, unit: str, value: float) -> float:
        """Its last digit."""
        return float(10.0 ** -self.places(unit, value))


def unit_of(name: str) -> str:
    """Of a reading."""
    return {"_v": "V", "_a": "A"}.get(name[-2:], "ohm")


def hide(rig: dict[str, Any], true: Figures, meter: Meter, kind: str, rng: random.Random) -> Fault | None:
    """Put one fault of a kind into a bench; None where it has no place for it."""
    rows = rig["branch"]
    fitting = [each for each in rows if (kind != "lead" or "lead" in each)
               and (kind not in ("efficiency", "idle", "output") or "converter" in each)]  # fmt: skip
    if not fitting:
        return None
    row = rng.choice(fitting)
    name = row["name"]

    def put(key: str, value: float, called: str = "", subject: str = "") -> Fault:
        true[key] = value
        return Fault(called or kind, subject or name, value)

    match kind:
        case "bus-draw":
            return put("stray", rng.uniform(0.04, 0.3), subject="bus")
        case "source":
            return put("source", rng.uniform(0.08, 0.4), subject="source")
        case "supply":
            return put("supply", true["supply"] + rng.uniform(0.08, 0.4), subject="bus")
        case "wire":
            return put(f"{name} wire", true[f"{name} wire"] + rng.uniform(0.08, 0.5))
        case "gauge" if "awg" in row["wire"]:
            thin = {**row["wire"], "awg": row["wire"]["awg"] + rng.choice([2, 4])}
            if thin["awg"] > 26:
                return None
            more = copper_ohm(thin) - copper_ohm(row["wire"])
            return put(f"{name} wire", true[f"{name} wire"] + more, "wire") if more > 0.025 else None
        case "lead":
            return put(f"{name} lead", true[f"{name} lead"] + rng.uniform(0.08, 0.4))
        case "efficiency":
            return put(f"{name} efficiency", true[f"{name} efficiency"] * rng.uniform(0.72, 0.95))
        case "idle":
            return put(f"{name} idle", true[f"{name} idle"] + rng.uniform(0.2, 1.5))
        case "load" | "load-unread":
            fault = put(f"{name} load", rng.choice([rng.uniform(1.1, 1.4)] * 2 + [rng.uniform(0.6, 0.9)]))
            ((unit, figure),) = row["load"].items()
            if unit == "led":
                return fault._replace(kind="load")
            return Fault("load", name, figure / fault.size if unit == "resistance" else figure * fault.size)
        case "output":
            return put(f"{name} output", true[f"{name} output"] * (1 + rng.choice([-1, 1]) * rng.uniform(0.05, 0.12)))
        case "fallback":
            lower = [each for each in (5, 9, 12, 15) if each < rig["trigger"]["request"]]
            volts = rng.choice(lower[-2:])
            return put("open", true["open"] * volts / rig["trigger"]["request"], subject="trigger")
        case "meter":
            unit, size = rng.choice(["A", "A high", "V"]), 1 + rng.choice([-1, 1]) * rng.uniform(0.04, 0.1)
            if unit == "A high":
                meter.high = rng.choice([0.4, 0.6, 1.0]), size
            else:
                meter.factor[unit] = size
            return Fault(kind, unit, size)
        case "burden":
            return put("burden", rng.uniform(0.08, 0.4), "burden", "meter")
        case "burden-every":
            return put("every", rng.uniform(0.08, 0.3), "burden", "meter")
    return None


def slip(typed: dict[str, str], kind: str, rng: random.Random) -> Fault | None:
    """Write one reading down wrong, or two in each other's place."""
    figures = [name for name, text in typed.items() if text not in ("yes", "OL") and abs(float(text)) > 0.03]
    figures = [name for name in figures if not name.endswith(("before_v", "input_ohm"))]
    name = rng.choice(figures)
    text = typed[name]
    if kind == "factor":
        typed[name] = f"{float(text) * 1000:.10g}"
        return Fault("factor", name, 1000.0)
    if kind == "decimal":
        at, digits = (text.index(".") if "." in text else len(text)), text.replace(".", "")
        moved = at + rng.choice([-1, 1])
        if not 0 < moved <= len(digits):
            return None
        typed[name] = f"{digits[:moved]}.{digits[moved:]}".rstrip(".")
        return Fault("factor", name, 10.0 ** (moved - at))
    if kind == "sign":
        typed[name] = f"-{text}"
        return Fault("sign", name, -1.0)
    step, _, key = name.rpartition(".")
    here = [each for each in figures if each.rpartition(".")[0] == step and each[-2:] == key[-2:] and each != name]
    here = [each for each in here if abs(float(typed[each]) / float(text) - 1) > 0.05]
    if not here:
        return None
    other = rng.choice(here)
    typed[name], typed[other] = typed[other], typed[name]
    return Fault("swapped", " and ".join(each for each in typed if each in (name, other)), 0.0)
