"""What ``share`` shows."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.result import shows
from pdcheck.show.change import bus_words
from pdcheck.show.columns import paragraph, table
from pdcheck.show.ports import ports_text
from pdcheck.verdict.change.bus_path import WAYS
from pdcheck.verdict.finding import WORKS
from pdcheck.verdict.share.sharing import Moved, Order, PortResult, Shared, changes_of

NOT_JUDGED = "not judged"


@shows(Shared)
def text(found: Shared) -> str:
    """What a person reads: the best assignment, why, what plugging in does, the other assignments in a line each."""
    placed = ", ".join(f"{each.rig} on {each.port}" for each in found.best)
    best = found.of_best
    parts = [paragraph(f"{found.source}: {placed}. {_headline(found)}", hang=2), ports_text(found.ports)]
    parts += ["", "  On that assignment:"]
    rows = [[*row] for row in dict.fromkeys(_rows(best))]
    parts.append(table(["rig", "in use", "gets", "verdict", "why"], rows))
    moves = list(changes_of(best))
    if moves:
        parts += ["", "  When the next one is plugged in:"]
    for result, change in moves:
        parts += _move_lines(result, change)
    others = list(dict.fromkeys(_other(order) for order in found.orders if order not in best))
    if others:
        parts += ["", "  Other ways:", table(["ports", "plugged in this order", "result"], [[*row] for row in others])]
    parts += ["", paragraph(_ADVICE, indent=2)]
    return "\n".join(parts)


_ADVICE = (
    "A port with less power left is assumed to keep its voltages at less current, as the standard says; some chargers "
    "drop the higher ones. A charger may reset all its ports whenever a plug goes in or out, also where its label says "
    "that nothing changes: try it once before you leave it alone."
)


def _headline(found: Shared) -> str:
    results = [result for order in found.of_best for result in order.results]
    many = len(found.best) > 1
    if found.works:
        return "They work, in whatever order you plug them in." if many else "It works."
    if any(result.verdict == "unsafe" for result in results):
        return "Do not connect them."
    if any(result.verdict is None for result in results) and all(result.verdict != "fails" for result in results):
        return "Not judged: the charger does not say what is left to each port."
    if any(order.works for order in found.of_best):
        order = next(order for order in found.of_best if order.works)
        return f"It works only if you plug them in like this: {', then '.join(order.order)}."
    return "That is the best there is, and it does not work."


def _rows(orders: tuple[Order, ...]) -> Iterator[tuple[str, ...]]:
    for order in sorted(orders, key=lambda order: len(order.results)):
        for result in order.results:
            for step in result.steps:
                volts = "-"
                if step.contract is not None:
                    off = step.contract.outcome == "off"
                    volts = "nothing" if off else f"{step.contract.voltage_v:g} V {step.contract.current_a:g} A"
                yield result.rig, "+".join(step.in_use), volts, step.verdict or NOT_JUDGED, step.reason or "-"


def _move_lines(result: PortResult, change: Moved) -> list[str]:
    head = f"{change.plugged}: {result.rig} on {result.port}"
    if change.effect == "not said":
        return [paragraph(f"{head}: what is left to it is not said: not judged", indent=2, hang=2)]
    if change.effect == "keeps its offers":
        return [paragraph(f"{head} keeps its offers, by what is printed", indent=2, hang=2)]
    lines = [paragraph(f"{head} gets other offers", indent=2, hang=2)]
    for each in change.paths:
        whys = [f" ({fate.reason})" if fate.reason else "" for fate in each.fates]
        fates = ", ".join(f"{fate.branch} {fate.fate}{why}" for fate, why in zip(each.fates, whys, strict=True))
        bus = "the bus goes to 0 V" if each.path.interrupted else bus_words(each.path)
        lines.append(paragraph(f"{WAYS[each.path.way]}: {bus}; {fates}", indent=4, hang=2))
    if change.in_time:
        fates = ", ".join(f"{fate.branch} {fate.fate}" for fate in change.in_time)
        lines.append(paragraph(f"followed in time, typical figures: {fates}", indent=4, hang=2))
    return lines


def _other(order: Order) -> tuple[str, ...]:
    ports = ", ".join(f"{rig} on {port}" for rig, port in sorted(zip(order.order, order.ports, strict=True)))
    words = "works"
    if not order.works:
        words = "; ".join(f"{each.rig} {_fault(each)}" for each in order.results if not each.works)
    return ports, ", then ".join(order.order), words


def _fault(result: PortResult) -> str:
    if result.verdict is None:
        return NOT_JUDGED
    return result.verdict if result.verdict not in WORKS else "does not get over the change"
