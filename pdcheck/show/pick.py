"""What ``pick`` shows: the answer, and every offer with its reason."""

from __future__ import annotations

from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.pick import TYPE_C, Picked, Ranked


@shows(Picked)
def text(picked: Picked) -> str:
    """What a person reads: the answer first, then every offer with its reason."""
    wanted = picked.wanted
    chosen = picked.best
    goal = f"{wanted.voltage_v:g} V at {wanted.current_a:g} A"
    if chosen is None:
        parts = [paragraph(f"Nothing that {picked.source.id} offers with {picked.cable.id} gives {goal}.")]
    elif chosen.offer.kind == TYPE_C:
        parts = [paragraph(f"Nothing to set: the 5 V of Type-C ({chosen.current_ma / 1000:g} A) give {goal}.")]
    else:
        verb = "Program" if chosen.offer.is_adjustable else "Set the trigger to"
        volts = f"{chosen.voltage_mv / 1000:g} V"
        parts = [
            paragraph(
                f"{verb} {volts}: offer {chosen.offer.position} ({chosen.offer.kind}, "
                f"{chosen.current_ma / 1000:g} A) gives {goal}.",
            ),
            f"  request: {' '.join(f'{word:08X}' for word in picked.request())}",
        ]
    rows = [_row(each) for each in picked.ranking]
    parts += ["", table(["at", "offer", "ok", "to spare", "bus", "input", "loss", "why"], rows)]
    parts.append(paragraph("bus, input current and loss in the worst case", indent=2))
    if picked.assumed:
        parts += ["", paragraph(f"assumed: {'; '.join(picked.assumed)}", hang=2)]
    return "\n".join(parts)


def _row(each: Ranked) -> list[str]:
    volts = f"{each.voltage_mv / 1000:g} V"
    kind = "" if each.offer.kind == "fixed" else f" {each.offer.kind}"
    return [
        str(each.offer.position or "-"),
        f"{volts}{kind}",
        "yes" if each.ok else "no",
        "-" if each.headroom is None else format_quantity(each.headroom, "%", 2),
        "-" if each.bus_v is None else f"{each.bus_v.min:.2f} V",
        "-" if each.converter_in_a is None else f"{each.converter_in_a.max:.2f} A",
        "-" if each.loss_w is None else f"{each.loss_w.max:.2f} W",
        "; ".join(each.reasons) or "enough to spare",
    ]
