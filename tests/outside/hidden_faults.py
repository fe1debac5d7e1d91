"""Random benches with hidden faults, and what a meter shows on them, solved with SciPy alone: nothing of the package.

A rig is a table as its file has it, so that the package reads what a person would write.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any, NamedTuple

from scipy.optimize import brentq

COPPER = 0.01724  # ohm mm2 / m at 20 degrees C, IEC 60028 (1/58)
AREA = {18: 0.8230, 20: 0.5176, 22: 0.3255, 24: 0.2047, 26: 0.1288}  # mm2, ASTM B258

BENCH = ("bus-draw", "source", "supply", "wire", "gauge", "lead", "efficiency", "idle", "load", "output", "fallback",
         "meter", "burden")  # fmt: skip
PEN = ("factor", "decimal", "swapped", "sign")


class Fault(NamedTuple):
    """What is wrong: its kind, where, and how much."""

    kind: str
    subject: str
    size: float


def copper_ohm(wire: dict[str, Any]) -> float:
    """Both ways of a length of wire, without its contacts, at 20 degrees C."""
    return 2 * COPPER * wire["length"] / AREA[wire["awg"]]


def random_rig(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """One to three branches on 12, 15 or 20 V, in some combination of converter, wire and lead."""
    volts = rng.choice([15, 15, 20])
    branches = []
    for index in range(rng.choice([2, 2, 3])):
        watts = rng.uniform(6.0, 14.0)
        branch: dict[str, Any] = {
            "name": f"b{index}",
            "wire": {"awg": rng.choice([18, 20, 22]), "length": round(rng.uniform(0.2, 1.5), 2), "contacts": 0.01},
        }
        if index == 0 or rng.random() < 0.5:
            branch["converter"] = {
                "kind": "buck-boost",
                "input": "5V-30V",
                "output": rng.choice([5, 9, 12]),
                "efficiency": round(rng.uniform(0.86, 0.94), 3),
                "idle": rng.choice([0.1, 0.3, 0.4]),
            }
            if rng.random() < 0.7:
                branch["lead"] = {"awg": 20, "length": round(rng.uniform(0.3, 1.5), 2), "contacts": 0.005}
            out = branch["converter"]["output"]
            kinds = [{"power": watts}, {"current": round(watts / out, 3)}, {"resistance": round(out * out / watts, 2)}]
        else:
            kinds = [{"current": round(watts / volts, 3)}, {"resistance": round(volts * volts / watts, 1)}]
        branch["load"] = rng.choice(kinds)
        branches.append(branch)
    rig = {
        "title": "hidden",
        "trigger": {"request": volts, "resistance": 0.02, "fallback": "next-lower"},
        "branch": branches,
    }
    kit = {
        "source": [{"id": "s", "offers": "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"}],
        "cable": [{"id": "c", "kind": "C-C", "rating": "5A", "loop": round(rng.uniform(0.06, 0.25), 3)}],
    }
    return rig, kit


class Bench:
    """The true figures of a bench, and the operating point of each step."""

    def __init__(self, rig: dict[str, Any], kit: dict[str, Any], rng: random.Random, share: float, warm: float) -> None:
        self.rig, self.kit = rig, kit
        self.open_v = rig["trigger"]["request"] * (1 + rng.uniform(-0.04, 0.04))
        self.stray = self.source = self.burden = 0.0
        self.supply = kit["cable"][0]["loop"] + rig["trigger"]["resistance"]
        self.gain = {"V": 1 + rng.uniform(-share, share), "A": 1 + rng.uniform(-share, share)}
        self.high = {"V": 1.0, "A": 1.0}
        self.parts: dict[str, dict[str, float]] = {}
        for branch in rig["branch"]:
            converter = branch.get("converter")
            found = {"wire": copper_ohm(branch["wire"]) * warm + branch["wire"]["contacts"], "load": 1.0}
            found["lead"] = copper_ohm(branch["lead"]) * warm + branch["lead"]["contacts"] if "lead" in branch else 0.0
            if converter:
                found |= {"efficiency": converter["efficiency"], "idle": converter["idle"]}
                found["output"] = converter["output"] * (1 + rng.uniform(-0.01, 0.01))
            self.parts[branch["name"]] = found

    def solve(self, joined: list[str], share: float) -> dict[str, float]:
        """Volts and amperes of a step, by place."""

        def branch(name: str, bus: float) -> dict[str, float]:
            row = next(each for each in self.rig["branch"] if each["name"] == name)
            part, load = self.parts[name], row["load"]
            wire = part["wire"]
            if "converter" not in row:
                amps = _through(bus, wire + part["lead"], load, part["load"] * share)
                return {"in_a": amps, "in_v": bus - wire * amps, "load_v": bus - (wire + part["lead"]) * amps}
            out = part["output"]
            amps = _through(out, part["lead"], load, part["load"] * share) if share else 0.0
            power = out * amps / part["efficiency"] + part["idle"]
            taken = brentq(lambda each: (bus - wire * each) * each - power, 0.0, bus / (2 * wire), xtol=1e-14)
            return {"in_a": taken, "in_v": bus - wire * taken, "out_v": out, "out_a": amps,
                    "load_v": out - part["lead"] * amps}  # fmt: skip

        def drawn(bus: float) -> float:
            return self.stray + sum(branch(name, bus)["in_a"] for name in joined)

        series = self.supply + self.source + self.burden
        bus = brentq(lambda each: self.open_v - each - series * drawn(each), 0.7 * self.open_v, self.open_v + 1e-9,
                     xtol=1e-13)  # fmt: skip
        total = drawn(bus)
        found = {"bus_a": total, "bus_v": bus + self.burden * total, "source_v": self.open_v - self.source * total}
        for name in joined:
            found |= {f"{name} {key}": value for key, value in branch(name, bus).items()}
        return found

    def ohms(self, name: str) -> float:
        """What an ohmmeter shows across a branch that is a plain resistance."""
        row = next(each for each in self.rig["branch"] if each["name"] == name)
        return row["load"]["resistance"] / self.parts[name]["load"]


def _through(volts: float, ohms: float, load: dict[str, float], factor: float) -> float:
    if "current" in load:
        return load["current"] * factor
    if "resistance" in load:
        return volts / (ohms + load["resistance"] / factor)
    power = load["power"] * factor
    if ohms == 0.0:
        return power / volts
    return float(brentq(lambda each: (volts - ohms * each) * each - power, 0.0, volts / (2 * ohms), xtol=1e-14))


def places(value: float, digits: int, unit: str) -> int:
    """Decimals that a meter of so many digits shows."""
    whole = max(1, math.floor(math.log10(max(abs(value), 1e-9))) + 1)
    return max(0, min(digits - whole, digits if unit == "A" else digits - 1))


def shown(value: float, digits: int, unit: str) -> str:
    """A value as the meter shows it."""
    return f"{value:.{places(value, digits, unit)}f}"


def readings(bench: Bench, steps: list[tuple[str, list[str], float, list[tuple[str, str, str]]]], digits: int,
             noise: random.Random) -> dict[str, str]:  # fmt: skip
    """Every reading of the steps as typed: (path of the step, branches joined, share, (name, key, branch) of each)."""
    found: dict[str, str] = {}
    for path, joined, share, keys in steps:
        point = {} if path == "unpowered" else bench.solve(joined, share)
        for name, key, branch in keys:
            if key == "polarity":
                found[name] = "yes"
            elif key == "input_ohm":
                row = next(each for each in bench.rig["branch"] if each["name"] == branch)
                straight = "converter" not in row and "resistance" in row["load"]
                found[name] = shown(bench.ohms(branch) + noise.uniform(0.1, 0.4), digits, "ohm") if straight else "OL"
            elif key == "before_v":
                found[name] = shown(5.1 * bench.gain["V"], digits, "V")
            else:
                value = point[key if key in point else f"{branch} {key}"]
                unit = "A" if key.endswith("_a") else "V"
                high = value >= 1.0 if unit == "A" else value >= 10.0
                found[name] = shown(value * bench.gain[unit] * (bench.high[unit] if high else 1.0), digits, unit)
    return found


def hide(bench: Bench, kind: str, rng: random.Random) -> Fault | None:
    """Put one fault of a kind into a bench; None where it has no place for it."""
    rows = bench.rig["branch"]
    with_converter = [each["name"] for each in rows if "converter" in each]
    name = rng.choice(with_converter if kind in ("efficiency", "idle", "output") else [each["name"] for each in rows])
    row = next(each for each in rows if each["name"] == name)
    part = bench.parts[name]
    match kind:
        case "bus-draw":
            bench.stray = rng.uniform(0.05, 0.3)
            return Fault(kind, "bus", bench.stray)
        case "source":
            bench.source = rng.uniform(0.1, 0.35)
            return Fault(kind, "source", bench.source)
        case "supply":
            bench.supply += rng.uniform(0.1, 0.4)
            return Fault(kind, "bus", bench.supply)
        case "wire":
            part["wire"] += rng.uniform(0.1, 0.5)
            return Fault(kind, name, part["wire"])
        case "gauge":
            thick = row["wire"]["awg"]
            thin = {**row["wire"], "awg": thick + rng.choice([2, 4])}
            more = copper_ohm(thin) - copper_ohm(row["wire"])
            part["wire"] += more
            return Fault("wire", name, part["wire"]) if more > 0.02 else None
        case "lead" if "lead" in row:
            part["lead"] += rng.uniform(0.1, 0.4)
            return Fault(kind, name, part["lead"])
        case "efficiency":
            part["efficiency"] *= rng.uniform(0.75, 0.93)
            return Fault(kind, name, part["efficiency"])
        case "idle":
            part["idle"] += rng.uniform(0.3, 1.5)
            return Fault(kind, name, part["idle"])
        case "load":
            part["load"] = rng.uniform(1.1, 1.35)
            ((unit, stated),) = row["load"].items()
            return Fault(kind, name, stated / part["load"] if unit == "resistance" else stated * part["load"])
        case "output":
            part["output"] *= 1 + rng.choice([-1, 1]) * rng.uniform(0.05, 0.12)
            return Fault(kind, name, part["output"])
        case "meter":
            unit = rng.choice(["A", "A", "A high", "V"])
            size = 1 + rng.choice([-1, 1]) * rng.uniform(0.04, 0.08)
            if unit == "A high":
                bench.high["A"] = size
            else:
                bench.gain[unit] *= size
            return Fault(kind, unit, size)
        case "burden":
            bench.burden = rng.uniform(0.08, 0.3)
            return Fault(kind, "bus", bench.burden)
    return None


def slip(typed: dict[str, str], kind: str, rng: random.Random) -> Fault | None:
    """Write one reading down wrong, or two in each other's place."""
    figures = [name for name, text in typed.items() if text not in ("yes", "OL") and float(text) > 0.015]
    figures = [name for name in figures if not name.endswith(("before_v", "input_ohm"))]
    name = rng.choice(figures)
    text = typed[name]
    if kind == "factor":
        typed[name] = f"{float(text) * 1000:.10g}"
        return Fault("factor", name, 1000.0)
    if kind == "decimal":
        at, digits = text.index("."), text.replace(".", "")
        moved = at + rng.choice([-1, 1])
        if not 0 < moved < len(digits):
            return None
        typed[name] = f"{digits[:moved]}.{digits[moved:]}"
        return Fault("factor", name, 10.0 ** (moved - at))
    if kind == "sign":
        typed[name] = f"-{text}"
        return Fault("sign", name, -1.0)
    step, _, key = name.rpartition(".")
    here = [each for each in figures if each.rpartition(".")[0] == step and each[-2:] == key[-2:] and each != name]
    here = [each for each in here if abs(float(typed[each]) - float(text)) > 0.15]
    if not here:
        return None
    other = rng.choice(here)
    typed[name], typed[other] = typed[other], typed[name]
    return Fault("swapped", " and ".join(each for each in typed if each in (name, other)), 0.0)


def shows(clean: dict[str, str], typed: dict[str, str]) -> bool:
    """Whether the digits show a fault: several last digits of difference to the same bench without it."""
    steps = []
    for name, text in typed.items():
        if text not in ("yes", "OL") and clean[name] != "OL":
            digit = 10.0 ** -len(text.partition(".")[2])
            steps.append((float(text) - float(clean[name])) / digit)
    return sum(each * each for each in steps) >= 30.0


Steps = list[tuple[str, list[str], float, list[tuple[str, str, str]]]]


def sheets(seed: int, kinds: tuple[str, ...], plan: Callable[[dict[str, Any], dict[str, Any]], tuple[Steps, Any]]):
    """One random sheet with a fault of each kind, or None where the rig has no place for it.

    ``plan`` gives the steps of a rig on its kit, and what the caller wants back. Returns that, the faults, the readings
    as typed and the meter's digits.
    """
    rng = random.Random(seed)
    rig, kit = random_rig(rng)
    digits, share = rng.choice([(3, 0.01), (4, 0.005)])
    steps, own = plan(rig, kit)
    again = rng.getstate()
    clean = readings(Bench(rig, kit, rng, share, 1.0), steps, digits, rng)
    rng.setstate(again)
    bench = Bench(rig, kit, rng, share, 1.0)
    faults: list[Fault | None] = []
    for kind in kinds:
        if kind == "fallback":
            bench.open_v *= 9.0 / rig["trigger"]["request"]
            faults.append(Fault(kind, "trigger", 9.0))
        elif kind in BENCH:
            faults.append(hide(bench, kind, rng))
    try:
        typed = readings(bench, steps, digits, rng)
    except ValueError:  # a bench that collapses
        return None
    if any(kind in BENCH for kind in kinds) and not shows(clean, typed):
        return None
    faults += [slip(typed, kind, rng) for kind in kinds if kind in PEN]
    return None if None in faults else (own, tuple(faults), typed, digits)
