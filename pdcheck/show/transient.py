"""What ``transient`` shows: fate of each branch, a picture, what happens in order, extremes, what was assumed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from pdcheck.facts.voltage import SAFE_5V
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.check import contract_line
from pdcheck.show.columns import paragraph, table, terminal_width
from pdcheck.show.figures import pair_named
from pdcheck.show.time_line import OFF, ON, PARTLY, bands, on_in, time_axis
from pdcheck.show.transient_story import Told, early_stops, story
from pdcheck.verdict.transient.first_second import GOOD, Rated, Transient

FATES = {
    "starts": "starts and stays on",
    "comes back": "stops on the way and runs in the end",
    "stays off": "stays off: it never gets the voltage that it needs",
    "hangs": "hangs: the bus is held below what it needs",
    "repeats": "starts and fails, again and again",
    "cuts off": "runs, then stops for good",
}
ROWS = 9
BARELY = 1.02
"""A bus that comes so near to a start voltage is what keeps a converter off."""
_MARKS = {OFF: "·", PARTLY: "▒", ON: "█"}


@shows(Transient)
def text(found: Transient) -> str:
    parts = [
        paragraph(f"{pair_named(found.source, found.cable)}: {headline(found)}", hang=2),
        paragraph(contract_line(found.contract), indent=2, hang=2),
        "",
        table(["branch", "fate", "what becomes of it"], fate_words(found)),
    ]
    told = story(found.moments, found.circuit) if found.circuit is not None else []
    advised = list(advice(found))
    if advised:
        parts += ["", *(paragraph(f"-> {each}", indent=2, hang=3) for each in advised)]
    if found.samples.time_s:
        parts += ["", *picture(found, told, terminal_width())]
        parts += [
            "",
            "What happens, in order:",
            table(["at", "what"], [[format_quantity(each.time_s, "s", 4), each.text] for each in told]),
        ]
        headers = ["at", "least", "greatest", "current", "rated for"]
        parts += ["", table(headers, extreme_rows(found))]
    if found.assumed:
        parts += ["", "Nobody states these, so they were assumed (figures in the rig or kit replace them):"]
        for subject, each in groupby(found.assumed, key=lambda one: one.subject):
            parts.append(paragraph(f"{subject}: {'; '.join(one.text for one in each)}", indent=2, hang=4))
    if not found.complete:
        parts += ["", paragraph(f"! It oscillates too fast to be followed further than {_plain(found.until_s, 's')}.")]
    return "\n".join(parts)


def headline(found: Transient) -> str:
    """The answer in one sentence.

    >>> from pdcheck.asking.transient import transient
    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger="9V", branch=[{"name": "heater", "load": "9ohm"}])
    >>> headline(transient(rig, source="5V 3A, 9V 3A", cable="C-C 3A"))
    'everything starts and stays on.'
    """
    killed = list(dict.fromkeys(each.node.partition("/")[0] for each in found.killed))
    bad = [each for each in found.fates if each.fate not in GOOD and each.branch not in found.switched_off]
    told = []
    if killed:
        told.append(f"too much voltage for a moment at {', '.join(killed)}")
    if bad:
        told.append(", ".join(f"{each.branch} {each.fate}" for each in bad))
    if told:
        return f"it does not work: {'; '.join(told)}."
    if not found.complete:
        return "it oscillates too fast to be followed to the end."
    # Being switched off at the end is no stop on the way.
    off = [each.branch for each in found.fates if each.branch in found.switched_off and each.fate not in GOOD]
    stopped = [each.branch for each in found.fates if each.stops > (each.branch in off)]
    until = f"until {', '.join(off)} {'is' if len(off) == 1 else 'are'} switched off"
    if len(off) == len(found.fates):
        until = "until all is switched off or the plug is pulled"
    if stopped:
        does = "stops and starts" if len(stopped) == 1 else "stop and start"
        end = f"it runs {until}" if off else "it runs in the end"
        return f"{end}; on the way {', '.join(stopped)} {does} again."
    return f"everything starts and stays on {until}." if off else "everything starts and stays on."


def fate_words(found: Transient) -> list[list[str]]:
    """For each branch its name, its fate, and what that is in words."""
    rows = []
    for each in found.fates:
        words = FATES[each.fate] + (f" ({each.stops} times)" if each.stops > 1 else "")
        if each.branch in found.switched_off and each.fate not in GOOD:
            words = "is switched off in the end, or the plug is out"
        rows.append([each.branch, each.fate, words])
    return rows


def advice(found: Transient) -> Iterator[str]:
    """What to do about it, with the figure."""
    circuit = found.circuit
    if circuit is None:
        return
    limit_a, plain = circuit.source.plain.limit_a, SAFE_5V.require_max()
    fates = {each.branch: each for each in found.fates}
    stopped = early_stops(found.moments)
    early = [
        branch.name
        for branch in circuit.branches
        if branch.name in stopped and branch.converter is not None and branch.converter.start_v < plain
    ]
    if early and circuit.source.contract is not None and circuit.source.contract.voltage_v > plain:
        yield (
            f"{', '.join(early)}: before the contract there are only 5 V and {limit_a:.3g} A. Let the converter start "
            f"above {plain:g} V (a divider at its enable pin does that), or switch its load on after the contract."
        )
    bus = next((each for each in found.extremes if each.node == "bus"), None)
    for branch in circuit.branches:
        start_v = branch.converter.start_v if branch.converter is not None else 0.0
        never = branch.joined and fates[branch.name].starts == 0
        if never and bus is not None and bus.max_v is not None and bus.max_v <= start_v * BARELY:
            yield (
                f"{branch.name}: its converter starts at {start_v:.3g} V and the bus never gets "
                f"above {bus.max_v:.3g} V. Set a higher voltage, switch the other loads on later, or use a "
                "converter that starts lower."
            )
    for past in found.killed:
        yield (
            f"{past.node}: {past.value:.3g} V for a moment, and it is rated for {past.limit:.3g} V. Put an "
            "electrolytic capacitor of about four times the ceramic one across the input, or use a shorter lead."
        )


def extreme_rows(found: Transient) -> list[list[str]]:
    """For each place least and greatest voltage, the greatest current, and what the parts there are rated for."""
    by_node: dict[str, list[Rated]] = {}
    for rated in found.rated:
        by_node.setdefault(rated.node, []).append(rated)
    converted = {branch.name for branch in found.circuit.branches if branch.converter} if found.circuit else set()
    rows = []
    for each in found.extremes:
        name, _, end = each.node.rpartition("/")
        if name and end != "load" and not (name in converted and end == "in"):
            continue
        ends = [end] if not name or end == "in" else ["out", "load"] if name in converted else ["in", "out", "load"]
        listed = [one for each_end in ends for one in by_node.get(f"{name}/{each_end}" if name else each_end, [])]
        rows.append(
            [
                each.node,
                "-" if each.min_v is None else _plain(each.min_v, "V"),
                _plain(each.peak_v, "V"),
                "-" if each.max_a is None else _plain(each.max_a, "A"),
                "; ".join(_rating(one) for one in listed),
            ]
        )
    return rows


def _rating(each: Rated) -> str:
    unit = "V" if each.quantity == "voltage" else "A"
    mark = ""
    if each.past:
        mark = " ! too much" if unit == "V" else " (passed for a moment)"
    return f"{each.part} {_plain(each.limit, unit)}{mark}"


def _plain(value: float, unit: str) -> str:
    return format_quantity(value, unit, 3)


def picture(found: Transient, told: Sequence[Told], width: int) -> list[str]:
    """The bus over time and who is on, as text of at most ``width`` columns; short stretches are drawn longer."""
    columns = max(min(width, 100) - 12, 24)
    axis = time_axis([each.time_s for each in told] + [each.until_s for each in told if each.until_s], found.until_s)
    edges = [axis.time_s(column / columns) for column in range(columns + 1)]
    curve = bands(found.samples, "bus", edges)
    top = max(1.0, *(high for _, high in curve))
    lines = ["the bus, V (short moments are drawn longer)"]
    for row in range(ROWS, -1, -1):
        low, high = (row - 0.5) * top / ROWS, (row + 0.5) * top / ROWS
        cells = "".join(_cell(least, most, low, high) for least, most in curve)
        label = f"{row * top / ROWS:.3g}" if row in (0, ROWS) or row % 3 == 0 else ""
        lines.append(f"{label:>10} {'┤' if label else '│'}{cells}".rstrip())
    lines.append(" " * 11 + "└" + "─" * columns)
    lines.append(" " * 12 + _ticks(axis.times_s, axis.places, columns))
    names = [fate.branch for fate in found.fates]
    for name in names:
        states = on_in(found.moments, found.samples.gaps, name, edges)
        shown = name if len(name) <= 10 else f"{name[:9]}…"
        lines.append(f"{shown:>10} │{''.join(_MARKS[state] for state in states)}")
    lines.append(f"{'':>10}  █ on  ▒ on and off  · off")
    return lines


def _cell(least: float, most: float, low: float, high: float) -> str:
    if most < low or least >= high:
        return " "
    return "─" if low <= least and most < high else "│"


def _ticks(times_s: Sequence[float], places: Sequence[float], columns: int) -> str:
    line = ""
    for time_s, place in zip(times_s, places, strict=True):
        label, at = _plain(time_s, "s"), round(place * columns)
        at = min(at, columns - len(label))
        if at >= len(line) + (1 if line else 0):
            line = line.ljust(at) + label
    return line
