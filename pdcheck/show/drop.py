"""What ``drop`` says, as people read it: the loop beside its limits, then what it costs at each current."""

from __future__ import annotations

from pdcheck.facts.cable import IR_DROP
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.columns import paragraph
from pdcheck.verdict.drop import DropResult


@shows(DropResult)
def text(result: DropResult) -> str:
    loop = result.loop_ohm
    judged = [
        f"{'within' if each.within else 'above'} the {format_quantity(each.limit_ohm, 'ohm', beside=loop.max)} "
        f"of a {each.rated_a:g} A cable"
        for each in result.limits
    ]
    size = format_quantity(loop.typ, "ohm", 3)
    if loop.max > loop.min:
        size += f" ({format_quantity(loop.min, 'ohm', 3)} to {format_quantity(loop.max, 'ohm', 3)})"
    lines = [
        paragraph(f"{size} around the loop: {', '.join(judged)}", hang=2),
        paragraph(f"[{result.formula}; {IR_DROP}]", indent=2, hang=1),
    ]
    for amps, cost in result.costs:
        burnt = format_quantity(cost.loss_w, "W", 3)
        dropped = format_quantity(cost.drop_v, "V", 3)
        lines.append(f"  {format_quantity(amps, 'A')}: drops {dropped}, {burnt} lost as heat")
    return "\n".join(lines)
