"""What a power bank's label says of its energy: mAh and Wh in any printer's dress, and the volts beside them."""

from __future__ import annotations

import re

from pdcheck.facts.trade import CELL_VOLTAGE, CELL_VOLTAGE_MOST, RATED_VOLTAGE
from pdcheck.intake.label_text import figure
from pdcheck.named import NamedTuple
from pdcheck.patterns import later

_AMOUNT = later(
    r"(?<![\d.,])(?:(?P<times>\d{1,2})\s*[x×*]\s*)?"
    r"(?P<number>\d{1,3}(?:[ ,.'’\u00a0\u202f]\d{3})+|\d{1,7}(?:[.,]\d{1,3})?)\s*"
    r"(?P<unit>mAh|Ah|k?Wh|毫安时|毫安時|瓦时|瓦時)(?![a-z])"
    r"(?:\s*[x×*]\s*(?P<by>\d{1,2})(?![\d.,]|\s*[VAm]))?"
)
_SAYS = re.compile(r"\d\s*(?:m?Ah|k?Wh|毫安|瓦时|瓦時)(?![a-z])", re.IGNORECASE)
_NUMBER_V = r"(\d{1,2}(?:[.,]\d{1,2})?)\s*(?:V(?:olts?)?(?:\s*DC)?)(?![a-z])"
_NOT_RANGE = r"(?!\s*(?:[-–—−~]|\.\.|…|to\b)\s*\d)"
_NUMBER_A = r"(?:\d{1,2}(?:[.,]\d{1,3})?\s*A|\d{3,5}\s*mA)(?![a-z])"
_PAIR = rf"{_NUMBER_V}{_NOT_RANGE}(?:[^\w;\n]*({_NUMBER_A}))?"
_RATED = later(
    r"(?:\brated|\bnominal\w*|\busable|\bactual|\beffective|\boutput\s+capacity|nenn\w*|ausgangskapazit\w*|"
    r"额定|額定|定格|输出容量|輸出容量|出力容量)"
    rf"[^\d;\n]*(?:{_PAIR}[^\d;\n]*)?$"
)
_AFTER = later(rf"((?:[^\w;\n]|\n\s*(?=\())*(?:(?:rated\s+at|at|bei|à|typ|min|max)\b[^\w;\n]*)*){_PAIR}(\s*[)\]）])?")
_IN_BRACKETS_TOO = later(rf"[^\w;(（\[]*[(（\[]\s*{_NUMBER_V}")
_LISTED = later(rf"[^\w;]*{_NUMBER_V}")
_JOINED = later(r"@|\bat\b|\bbei\b|à")
_LONE_V = later(rf"(?<![\d.,])(?<![\d.,V][-–~]){_NUMBER_V}{_NOT_RANGE}(?!\s*~|[^\w;\n]*{_NUMBER_A})")
HOLDS_ONLY = "this says what a power bank holds, and nothing of what it offers"
BESIDE = "its output ratings as well: voltages with currents, as in 20000mAh 74Wh, 5V 3A, 9V 2A"
_PHRASE = 100  # characters before an amount that may say of what it is
_SAME = 0.03  # how near Wh and mAh times volts lie where they say one thing


class Holds(NamedTuple):
    """Printed on a power bank: Wh, its cells' charge [Ah] and voltage [V], what it is rated to give."""

    energy_wh: float | None = None
    capacity_ah: float | None = None
    cell_v: float | None = None
    rated_ah: float | None = None
    rated_v: float | None = None


class _Amount(NamedTuple):
    value: float
    rated: bool
    volts: float | None


def energy_of(text: str, remarks: list[str]) -> tuple[str, Holds | None]:
    """A label without what it says of its energy, each character kept in its place, and what that is.

    A rated capacity's volts and amperes are what it was measured at, and no offer.

    >>> rest, holds = energy_of("20000mAh 74Wh, rated capacity 12000mAh 5V 3A; output 9V 2A", [])
    >>> rest.split(), holds
    ([',', ';', 'output', '9V', '2A'], Holds(energy_wh=74.0, capacity_ah=20.0, cell_v=None, rated_ah=12.0, rated_v=5.0))
    """
    if _SAYS.search(text) is None:
        return text, None
    energies: list[float] = []
    charges: list[_Amount] = []
    cell: list[float] = []
    rest, start = text, 0
    for match in _AMOUNT().finditer(text):
        if match.start() < start:
            continue
        value, of_energy = _value(match), match["unit"].lower() in ("wh", "kwh", "瓦时", "瓦時")
        rated = _RATED().search(text, max(start, match.start() - _PHRASE), match.start())
        first, last = match.start(), match.end()
        after = _AFTER().match(text, last)
        pair: tuple[str, str, str] | None = None  # the text that goes with it, volts, amperes
        if rated is not None and rated[1] and figure(rated[1]) >= CELL_VOLTAGE_MOST.value:
            first, pair = rated.start(), (text[rated.start(1) : rated.end(2 if rated[2] else 1)], rated[1], rated[2])
        elif after is not None and _belongs(after, text, rated=rated is not None and not of_energy):
            last, pair = after.end(), (after[0], after[2], after[3])
            first = first if rated is None else rated.start()
        volts = None if pair is None else figure(pair[1])
        if pair is not None and pair[2]:
            told = " ".join(pair[0].strip(" ()[]（）,;:@/").split())
            remarks.append(f"{told} is what the rated capacity is measured at, and no offer of its own")
        if volts and rated is None and not (pair and pair[2]) and volts > 1.1 * RATED_VOLTAGE.value:
            # A pack of cells in series: no power bank is rated at such a voltage without a current beside it.
            cell.append(volts)
            volts = None
        if not of_energy:
            charges.append(_Amount(value, rated is not None or volts is not None, volts))
        elif volts is not None:
            charges.append(_Amount(value / volts, True, volts))
        else:
            energies.append(value)
        rest = _blank(rest, first, last)
        start = last
    for match in _LONE_V().finditer(rest):
        lone_v = figure(match[1])
        if _of_cells(lone_v, energies, charges):
            cell.append(lone_v)
            rest = _blank(rest, *match.span())
    return rest, _settled(energies, charges, cell, remarks)


def _belongs(after: re.Match[str], text: str, *, rated: bool) -> bool:
    """Whether volts behind a charge say what it was measured at, and are not the first pair of a list of offers."""
    between, volts, amps, closed = after.groups()
    if figure(volts) < CELL_VOLTAGE_MOST.value:
        return False  # a cell's, which is looked for apart
    inside = closed is not None and any(mark in between for mark in "([（")
    if _JOINED().search(between) or (inside and rated):
        return True
    if not rated:
        # A list of pairs that all stand in brackets is one of offers.
        return inside and "\n" not in between and not _IN_BRACKETS_TOO().match(text, after.end())
    return not ("," in between and amps and _LISTED().match(text, after.end()))


def _of_cells(volts: float, energies: list[float], charges: list[_Amount]) -> bool:
    if CELL_VOLTAGE_MOST.value > volts >= 0.5 * CELL_VOLTAGE_MOST.value:
        return True
    return any(_near(energy, each.value * volts) for energy in energies for each in charges)


def _near(one: float, other: float) -> bool:
    return abs(one - other) <= _SAME * one


def _settled(energies: list[float], charges: list[_Amount], cell: list[float], remarks: list[str]) -> Holds | None:
    """What counts of all that is printed: of two figures for one thing the lesser."""
    energy = _least(energies, "Wh", remarks)
    printed = [each for each in charges if not each.rated]
    rated = [each for each in charges if each.volts is not None and each.volts >= CELL_VOLTAGE_MOST.value]
    for each in charges:
        if each.rated and each not in rated:
            low, high = (end * each.value for end in (CELL_VOLTAGE.require_min(), CELL_VOLTAGE.require_max()))
            of_cells = energy is not None and low * (1 - _SAME) <= energy <= high * (1 + _SAME)
            if of_cells or not any(other.value > each.value for other in charges):
                printed.append(each)
            else:
                volts = RATED_VOLTAGE.value
                remarks.append(f"no voltage is printed beside the rated capacity: it is taken at {volts:g} V")
                rated.append(each._replace(volts=volts))
    if len({(each.value, each.volts) for each in rated}) > 1:
        rated.sort(key=lambda each: (each.volts != RATED_VOLTAGE.value, each.value))
        remarks.append(f"several rated capacities: the one at {rated[0].volts:g} V is counted")
    capacity = _least([each.value for each in printed], "Ah", remarks)
    out = rated[0] if rated else None
    holds = Holds(
        energy or None,
        capacity or None,
        min(cell) if cell and capacity else None,
        out.value if out and out.value else None,
        out.volts if out and out.value else None,
    )
    return holds if any(holds) else None


def _least(values: list[float], unit: str, remarks: list[str]) -> float | None:
    if len(set(values)) > 1:
        listed = " and ".join(f"{each * 1000:g} mAh" if unit == "Ah" else f"{each:g} Wh" for each in values)
        remarks.append(f"{listed} are printed: the least is counted")
    return min(values, default=None)


def _value(match: re.Match[str]) -> float:
    """An amount [Wh or Ah] as printed.

    >>> [_value(match) for match in _AMOUNT().finditer("20,000 mAh; 10.000mAh; 10,5 Ah; 38.5Wh; 4x5000mAh")]
    [20.0, 10.0, 10.5, 38.5, 20.0]
    """
    unit, number = match["unit"].lower(), match["number"]
    milli = unit in ("mah", "毫安时", "毫安時")
    grouped = re.fullmatch(r"\d{1,3}(?:[ ,.'’\u00a0\u202f]\d{3})+", number) is not None
    thousands = grouped and (milli or (unit == "wh" and number.count(".") == 0))
    plain = re.sub(r"[^\d]", "", number) if thousands else number.replace(",", ".")
    times = int(match["times"] or 1) * int(match["by"] or 1)
    return float(re.sub(r"[^\d.]", "", plain)) * times * (1e-3 if milli else 1e3 if unit == "kwh" else 1.0)


def _blank(text: str, start: int, end: int) -> str:
    return text[:start] + re.sub(r"[^\n]", " ", text[start:end]) + text[end:]
