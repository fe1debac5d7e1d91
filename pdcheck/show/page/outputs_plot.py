"""The pictures of what an output can deliver: greatest current against voltage, or greatest power on each contract."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pdcheck.show.page.palette import PAGE, Palette
from pdcheck.show.page.plot import LETTERS, Plot, canvas, hit

_SHAPES = "osD^vP*"
_DASHES = ("-", "--", ":", "-.")


class EnvelopeLine(NamedTuple):
    """One contract of an envelope: its name, output [V], greatest [A] at worst and typically, greatest [W], limits."""

    name: str
    output_v: Sequence[float]
    worst_a: Sequence[float]
    typical_a: Sequence[float]
    worst_w: Sequence[float]
    typical_w: Sequence[float]
    limits: Sequence[str]


def outputs_plot(lines: Sequence[EnvelopeLine], asked_w: float | None = None, colours: Palette = PAGE) -> Plot:
    """Current against voltage where the output can be set, else power on each contract, beside what is asked [W]."""
    if any(len(line.output_v) > 1 for line in lines):
        return _by_voltage(lines, colours)
    return _by_contract(lines, asked_w, colours)


def _by_voltage(lines: Sequence[EnvelopeLine], colours: Palette) -> Plot:
    """Greatest output current against output voltage, one line a contract; shapes tell them apart."""
    names_in = 0.2 * len(lines)
    on = canvas(3.0 + names_in, "output voltage, V", "greatest current at worst, A", colours)
    names: dict[str, str] = {}
    tints = (colours.ink, colours.accent, colours.second, colours.soft)
    for index, line in enumerate(lines):
        on.axes.plot(
            line.output_v,
            line.worst_a,
            color=tints[index % 4],
            linestyle=_DASHES[index % 4],
            marker=_SHAPES[index % 7],
            markersize=5,
            linewidth=1.3,
            label=line.name if any(line.worst_a) else f"{line.name}: nothing",
        )
        for at, (volts, amps, limit) in enumerate(zip(line.output_v, line.worst_a, line.limits, strict=True)):
            gid = f"line{index}at{at}"
            hit(on, [volts], [amps], gid, 11.0)
            names[gid] = f"{line.name}: {volts:g} V, {amps:.3f} A at worst, limited by {limit}"
    top = max((amps for line in lines for amps in line.worst_a), default=0.0)
    on.axes.set_ylim(0, top * 1.1 or 1.0)
    left, bottom, width, height = on.axes.get_position().bounds
    share = 1 - names_in / on.figure.get_figheight()
    on.axes.set_position((left, bottom, width, height * share))
    legend = on.axes.legend(
        fontsize=LETTERS - 0.5,
        frameon=False,
        labelcolor=colours.ink,
        loc="lower left",
        bbox_to_anchor=(-0.02, 1.0),
        borderaxespad=0.2,
        labelspacing=0.3,
    )
    for each in legend.get_texts():
        each.set_parse_math(False)
    told = "; ".join(f"{line.name}: {max(line.worst_a, default=0):.2f} A at most" for line in lines)
    return Plot(on.figure, f"Greatest output current against output voltage. {told}", names)


def _by_contract(lines: Sequence[EnvelopeLine], asked_w: float | None, colours: Palette) -> Plot:
    """Greatest power on each contract: a bar to the worst corner, a tick at the typical figure."""
    on = canvas(0.75 + 0.55 * max(len(lines), 1), "greatest power, W", "", colours)
    names: dict[str, str] = {}
    axes = on.axes
    top = max([asked_w or 0.0, *(watts for line in lines for watts in line.typical_w)]) or 1.0
    for index, line in enumerate(lines):
        worst, typical, limit = line.worst_w[0], line.typical_w[0], line.limits[0]
        gid = f"bar{index}"
        bar = axes.barh([index], [worst], height=0.34, facecolor="none", edgecolor=colours.accent, hatch="////")
        bar[0].set_gid(gid)
        if typical > 0:
            axes.plot([typical, typical], [index - 0.26, index + 0.26], color=colours.ink, linewidth=2.0)
        names[gid] = f"{line.name}: {worst:.2f} W at worst, {typical:.2f} W typically, limited by {limit}"
        hit(on, [typical], [index], f"tick{index}", 11.0)
        names[f"tick{index}"] = names[gid]
        axes.text(
            0.012 * top,
            index - 0.3,
            f"{line.name}: {worst:.2f} W, {limit}" if worst > 0 else f"{line.name}: nothing, {limit}",
            fontsize=LETTERS - 0.5,
            color=colours.ink,
            bbox={"facecolor": colours.card, "edgecolor": "none", "pad": 0.5},
            zorder=7,
            parse_math=False,
        )
    if asked_w is not None:
        axes.axvline(asked_w, color=colours.second, linestyle="--", linewidth=1.4)
        hit(on, [asked_w, asked_w], [-0.6, len(lines) - 0.5], "asked", 10.0)
        names["asked"] = f"asked for: {asked_w:.2f} W"
    axes.set_ylim(len(lines) - 0.6, -0.75)
    axes.set_yticks([])
    axes.set_xlim(0, top * 1.08)
    left, bottom, width, height = axes.get_position().bounds
    axes.set_position((0.03, bottom, left + width - 0.03, height))
    told = "; ".join(names[f"bar{index}"] for index in range(len(lines)))
    asked = "" if asked_w is None else f". Asked for: {asked_w:.2f} W"
    return Plot(on.figure, f"Greatest power on each contract. {told}{asked}", names)
