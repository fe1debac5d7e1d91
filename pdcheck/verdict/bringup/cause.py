"""What all readings together imply, with bounds, and in words what each figure that is off points to.

Each figure is what the fit says when nothing is taken for granted of the figure itself. Its bounds hold the last digits
of the readings, the meter's own error, and what is usual of everything else. ``assumed`` names what had to be taken as
stated: without it the readings would say much less.
"""

from __future__ import annotations

import math
from typing import Annotated

import numpy as np

from pdcheck.facts.copper import at_temperature
from pdcheck.marks import AS_UNIT, IF_ANY, UNTOLD, Named
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple, format_quantity
from pdcheck.verdict.bringup.diagnosis import WIDE, Diagnosis, Explained
from pdcheck.verdict.bringup.fit import solved
from pdcheck.verdict.bringup.suspects import Suspect
from pdcheck.verdict.bringup.unknowns import KINDS, Unknown, cause_name
from pdcheck.verdict.case import Case
from pdcheck.verdict.wire import size

_BEYOND = 1.5
"""How many times its bound a figure must be off to be taken for another one: three standard deviations."""
_RESTS = 1.6
"""How much wider bounds get without an assumption that they rest on."""


class Implied(NamedTuple):
    """A figure that the readings imply: of what, its value with bounds, beside what was stated.

    ``kind``: ``supply`` (cable, plugs and trigger), ``source`` (the charger's own resistance), ``wire``, ``lead``,
    ``efficiency``, ``idle``, ``load``, ``bus-draw``, ``output``, ``sag``, ``burden`` (the ammeter's resistance),
    ``meter`` (its factor), ``test-load`` (as a part of half the load). ``subject`` is a branch, ``bus``, ``source`` or
    the meter's unit. ``assumed`` says what it rests on beside the readings; empty where on nothing.
    """

    kind: str
    subject: str
    value: Triple
    unit: Annotated[str, AS_UNIT]
    stated: Triple
    assumed: str = ""

    @property
    def above(self) -> bool:
        """Whether it is above what was stated, well beyond its bounds."""
        return self.value.typ - self.stated.max > _BEYOND * (self.value.typ - self.value.min) + 1e-9

    @property
    def below(self) -> bool:
        """Whether it is below what was stated, well beyond its bounds."""
        return self.stated.min - self.value.typ > _BEYOND * (self.value.max - self.value.typ) + 1e-9


def implied(case: Case, found: Diagnosis) -> list[Implied]:
    """All that the readings imply, once the faults that were found are taken off."""
    listed = [
        figure(case, found, found.best, index)
        for index, unknown in enumerate(found.fitter.listed)
        if KINDS[unknown.kind].called and (unknown.kind != "load" or unknown.unit)
    ]
    return [each for each in listed if _tells(each)]


def figure(case: Case, found: Diagnosis, best: Explained, index: int) -> Implied:
    """One figure of the bench as the readings have it, whatever was stated of it."""
    fitter, unknown = found.fitter, found.fitter.listed[index]
    precision = fitter.freed(best.precision, index)
    away = best.weights * np.where(best.weights > 0, best.values - best.shown, 0.0)
    right = best.slopes @ away + precision * (fitter.start - best.point)
    move = solved(best.slopes[None], best.weights[None], precision[None], right[None])[0]
    value = float(np.clip(best.point[index] + move[index], unknown.least, unknown.most))
    half = WIDE * _sigma(best, precision, index)
    low, high = max(value - half, unknown.least), min(value + half, unknown.most)
    triple, stated = (
        Triple(*sorted(shape(case, unknown, each) for each in of)) for of in ((low, value, high), unknown.stated)
    )
    assumed = _assumed(found, best, precision, index)
    return Implied(unknown.kind, unknown.subject, triple, unknown.unit, stated, assumed)


def _sigma(best: Explained, precision: np.ndarray, index: int) -> float:
    return math.sqrt(max(float(best.spread(precision)[index, index]), 0.0))


def _assumed(found: Diagnosis, best: Explained, precision: np.ndarray, index: int) -> str:
    """What the bounds of a figure rest on: the one thing without which they become widest."""
    widest, said = _RESTS * _sigma(best, precision, index), ""
    for other, unknown in enumerate(found.fitter.listed):
        granted = KINDS[unknown.kind].granted
        known = unknown.kind == "burden" and found.meter.burden_ohm is not None
        if granted and not known and unknown.kind != found.fitter.listed[index].kind:
            wider = _sigma(best, found.fitter.freed(precision, other), index)
            if wider > widest:
                widest, said = wider, granted
    return said


def shape(case: Case, unknown: Unknown, value: float) -> float:
    """An unknown in the unit that people state it in: a factor on an efficiency or a load as that itself."""
    if unknown.kind not in ("efficiency", "load"):
        return value
    branch = next(each for each in case.spec.branches if each.name == unknown.subject)
    if unknown.kind == "load":
        return float(branch.load.demand(value).stated) if unknown.unit else value
    assert branch.converter is not None
    amps = branch.load.current_at(branch.converter.output_v) or 0.0
    return min(1.0, value * float(branch.converter.efficiency_at(case.contract.voltage_v, amps)))


def _tells(each: Implied) -> bool:
    """Whether the readings say enough of a figure to be worth telling."""
    half = (each.value.max - each.value.min) / 2
    if each.kind in ("efficiency", "load"):
        return half < 0.15 * abs(each.value.typ)
    if each.unit == "ohm" and each.stated.max == 0 and each.value.typ < 0.02:
        return False  # no wire, and none found
    return half < {"ohm": max(0.05, 0.3 * each.value.typ), "W": max(0.2, 0.3 * each.value.typ), "A": 0.02}[each.unit]


SEEN = (
    "polarity", "short", "bus-voltage", "trigger-fallback", "trigger-setting", "slip", "verdict", "unexplained",
)  # fmt: skip
"""Causes that are seen as such, and are no figure that is off."""
_THINNER = 9
_CROSS_SECTIONS = (0.14, 0.25, 0.34, 0.5, 0.75, 1.0, 1.5, 2.5)  # mm2, IEC 60228 and common practice below 0.5 mm2


class Cause(NamedTuple):
    """What a pattern of readings points to.

    ``level`` is ``note`` for a difference too small to matter.
    ``bounds`` is its figure in ``unit``, with the ends that the readings leave it.
    """

    kind: Annotated[str, Named("cause")]
    level: Level
    subject: str
    text: str
    advice: str
    implied: Annotated[Implied | None, UNTOLD] = None
    bounds: Triple | None = None
    unit: Annotated[str, IF_ANY, AS_UNIT] = ""


def cause_of(figure: Implied, case: Case) -> Cause:
    """What a figure that was found to be off points to; a note where it is too little to matter, or to the good."""
    kind, level, of = KINDS[figure.kind], _level(figure), figure.subject
    what = {"V": "volts", "A": "amperes"}.get(of[:1], "") + (" in its high range" if "high" in of else "")
    words = {"kind": figure.kind, "value": interval(figure), "stated": _stated(figure), "more": _more(figure)}
    text = kind.text.format(**words, what=what)
    if figure.assumed and level != "note":
        text += f" (if {figure.assumed})"
    advice = kind.advice.replace("{cable}", case.cable.id) or _conductor_advice(figure, case)
    subject = "meter" if figure.kind in ("meter", "burden") else of
    return Cause(cause_name(figure.kind), level, subject, text, advice, figure, figure.value, figure.unit)


def slip_of(fault: Suspect, shown: dict[str, str]) -> Cause:
    """A reading that was written down wrong, by its name in the sheet; ``shown`` has the readings as typed."""
    typed = shown.get(fault.subject, "")
    match fault.kind:
        case "swapped":
            text, advice = "these two are swapped", "Look at the sheet, and read both again where in doubt."
        case "sign":
            text = f"{typed}: the sign is wrong, all other readings fit the positive one"
            advice = "Where the meter really showed a minus, its probes were swapped: read it again."
        case "reading":
            text = f"{typed}: it fits no other reading, and no single fault explains it"
            return Cause("unexplained", "warn", fault.subject, text, "Read it once more before you look for a fault.")
        case _:
            what, meant = "the decimal point is in the wrong place", fault.reads[0][1]
            if fault.kind == "digits":
                what = "two digits are swapped"
            elif fault.factor in (1000.0, 1e-3):
                what = "a unit is missing or wrong"
            unit = {"_v": "V", "_a": "A"}.get(fault.subject[-2:], "ohm")
            right = "" if meant is None else format_quantity(meant, unit, 4)
            text, advice = f"{typed}: {what}; {right} fits all other readings", "Correct the sheet."
    return Cause("slip", "warn", fault.subject, text, advice)


def _level(figure: Implied) -> Level:
    value, stated, kind = figure.value, figure.stated, KINDS[figure.kind]
    more, less = value.typ - stated.max, stated.min - value.typ
    if figure.kind == "output" and more > 0:
        return "stop"
    away = {"more": more, "less": less, "either": max(more, less)}[kind.side]
    away = away / stated.typ if figure.kind == "load" else away
    return "warn" if (away >= kind.named if kind.named else away > 0) else "note"


def _more(figure: Implied) -> str:
    if figure.stated.max == 0:
        return ""
    more = figure.value.typ - figure.stated.typ
    return f": {format_quantity(abs(more), 'ohm', 3)} {'more' if more >= 0 else 'less'}"


def _conductor_advice(figure: Implied, case: Case) -> str:
    if figure.stated.max == 0:
        return f"The rig file names no {figure.kind} here: put it in."
    branch = next(each for each in case.rig.branches if each.name == figure.subject)
    wire = branch.wire if figure.kind == "wire" else branch.lead
    thinner = gauge_like(wire, figure.value, case.spec.copper.typ) if wire is not None else ""
    if wire is None or not thinner:
        return "A contact: press, clean or solder it again and measure once more; the warm one is the bad one."
    return (
        f"A contact, or {thinner} in place of {size(wire)}. Read the drop along the copper alone, both probes behind "
        "the contacts: where it is small, press, clean or solder the contacts again; else use the wire that was meant."
    )


def gauge_like(wire: Wire, value: Triple, copper: float) -> str:
    """The thinner wire of the same length that has as much resistance, where a usual one does; empty where none does.

    >>> gauge_like(Wire("20AWG 1m 10mOhm"), Triple(0.112, 0.116, 0.12), 1.0)
    'AWG 22'
    """
    warm = wire.temperature_c is None
    factor = copper / at_temperature(20.0) if warm else 1.0
    sizes = (
        [("awg", wire.awg + more) for more in range(1, _THINNER) if wire.awg + more <= 40]
        if wire.awg is not None
        else [("mm2", area) for area in _CROSS_SECTIONS if wire.mm2 is not None and area < wire.mm2]
    )
    fitting = []
    for key, tried in sizes:
        thin = wire.model_copy(update={key: tried})
        ohms = (thin.resistance_ohm() - thin.contacts_ohm) * factor + thin.contacts_ohm
        if value.min <= ohms <= value.max:
            fitting.append((abs(ohms - value.typ), thin))
    return size(min(fitting, key=lambda each: each[0])[1]) if fitting else ""


def interval(figure: Implied) -> str:
    """The figure with the uncertainty that the readings leave it.

    >>> stated = Triple.exact(0.265)
    >>> interval(Implied("supply", "bus", Triple(0.377, 0.382, 0.388), "ohm", stated))
    '382 ± 6 mΩ'
    """
    factor, unit = _scale(figure)
    low, typical, high = (each * factor for each in figure.value)
    half = max(high - typical, typical - low)
    places = _places(half)
    shown = math.ceil(half * 10**places - 1e-6) / 10**places
    typical = round(typical, max(places, 0)) + 0.0  # no minus before a nought
    return f"{typical:.{max(places, 0)}f} ± {shown:.{max(places, 0)}f} {unit}".strip()


def _places(half: float) -> int:
    """Decimals that show an uncertainty with one digit, two where it starts with 1."""
    if half <= 0:
        return 3
    exponent = math.floor(math.log10(half))
    return -exponent + (1 if half / 10.0**exponent < 2 else 0)


def _scale(figure: Implied) -> tuple[float, str]:
    if figure.unit == "ohm":
        return (1.0, "Ω") if figure.value.typ >= 2 else (1000.0, "mΩ")
    if figure.unit == "%":
        return 100.0, "%"
    return 1.0, figure.unit


def _stated(figure: Implied) -> str:
    stated = figure.stated
    if not figure.unit:
        return f"{stated.typ:g}"
    if stated.max == 0 and figure.unit == "ohm":
        return "none"
    if figure.kind == "output" or stated.max - stated.min < 1e-12 * max(1.0, stated.max):
        return format_quantity(stated.typ, figure.unit, 3)
    low, high = format_quantity(stated.min, figure.unit, 3), format_quantity(stated.max, figure.unit, 3)
    return f"{low} to {high}"
