"""One bench, and what a meter shows on it, solved with SciPy alone: nothing of the package.

A rig is a table as its file has it, so that the package reads what a person would write.
"""

from __future__ import annotations

import math
import random
from typing import Any

from scipy.optimize import brentq

COPPER = 0.01724  # ohm mm2 / m at 20 degrees C, IEC 60028 (1/58)
AREA = {18: 0.8230, 20: 0.5176, 22: 0.3255, 24: 0.2047, 26: 0.1288}  # mm2, ASTM B258


def copper_ohm(wire: dict[str, Any]) -> float:
    """Both ways of a length of wire, without its contacts, at 20 degrees C."""
    return 2 * COPPER * wire["length"] / AREA[wire["awg"]]


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
