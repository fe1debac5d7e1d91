"""What ``pick`` shows: the JSON document and the text."""

from __future__ import annotations

from typing import Any

from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hex_word
from pdcheck.show.judged import triple_json
from pdcheck.verdict.pick import TYPE_C, Picked, Ranked

SCHEMA = "pdcheck/pick/1"


def document(picked: Picked, source: Source, cable: Cable) -> dict[str, Any]:
    """The JSON document of ``pick``."""
    chosen = picked.choice
    words = picked.request()
    choice: dict[str, Any] | None = None
    if chosen is not None:
        choice = {
            "position": chosen.offer.position or None,
            "kind": chosen.offer.kind,
            "voltage_mv": chosen.voltage_mv,
            "current_ma": chosen.current_ma,
            "request_word": hex_word(words[0]) if words else None,
            "request_words": [hex_word(word) for word in words],
        }
    return {
        "schema": SCHEMA,
        "source": source.id,
        "cable": cable.id,
        "output": {"voltage_v": picked.wanted.voltage_v, "current_a": picked.wanted.current_a},
        "choice": choice,
        "ranking": [ranked_json(each) for each in picked.ranking],
        "assumed": assumptions(picked, source, cable),
    }


def ranked_json(each: Ranked) -> dict[str, Any]:
    """One offer of the ranking."""
    return {
        "position": each.offer.position or None,
        "kind": each.offer.kind,
        "voltage_mv": each.voltage_mv,
        "current_ma": each.current_ma,
        "ok": each.ok,
        "reasons": list(each.reasons),
        "headroom": each.headroom,
        "bus_v": None if each.bus_v is None else triple_json(each.bus_v),
        "converter_in_a": None if each.converter_in_a is None else triple_json(each.converter_in_a),
        "loss_w": None if each.loss_w is None else triple_json(each.loss_w),
    }


def assumptions(picked: Picked, source: Source, cable: Cable) -> list[str]:
    """What nobody said and was counted with, and what is doubtful about source and cable."""
    said = [*source.problems, *cable.problems, *cable.assumed]
    loop, assumed = cable.loop_ohm()
    if assumed:
        said.append(f"cable not measured: {loop.typ * 1000:g} mΩ, at worst {loop.max * 1000:g} mΩ")
    converter = picked.wanted.converter
    if converter is None:
        said.append("no converter: the output hangs straight on the bus")
    else:
        said += converter.assumed
        if converter.input_v is None:
            said.append("input range of the converter not stated: not judged")
    if not picked.seen.pd:
        said.append("no PD reaches the sink over this cable: 5 V by Type-C is all there is")
        if not picked.seen.typec_known:
            said.append(f"nobody says how much that is: {picked.seen.typec_a:g} A, default USB power")
    return said


def text(picked: Picked, source: Source, cable: Cable) -> str:
    """What a person reads: the answer first, then every offer with its reason."""
    wanted = picked.wanted
    chosen = picked.choice
    goal = f"{wanted.voltage_v:g} V at {wanted.current_a:g} A"
    if chosen is None:
        parts = [paragraph(f"Nothing that {source.id} offers over {cable.id} gives {goal}.")]
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
            f"  request: {' '.join(hex_word(word) for word in picked.request())}",
        ]
    rows = [_row(each) for each in picked.ranking]
    parts += ["", table(["at", "offer", "ok", "in hand", "bus", "input", "loss", "why"], rows)]
    parts.append(paragraph("bus, input current and loss at the worst corner", indent=2))
    said = assumptions(picked, source, cable)
    if said:
        parts += ["", paragraph(f"counted with: {'; '.join(said)}", hang=2)]
    return "\n".join(parts)


def _row(each: Ranked) -> list[str]:
    volts = f"{each.voltage_mv / 1000:g} V"
    kind = "" if each.offer.kind == "fixed" else f" {each.offer.kind}"
    return [
        str(each.offer.position or "-"),
        f"{volts}{kind}",
        "yes" if each.ok else "no",
        "-" if each.headroom is None else f"{each.headroom:.0%}",
        "-" if each.bus_v is None else f"{each.bus_v.min:.2f} V",
        "-" if each.converter_in_a is None else f"{each.converter_in_a.max:.2f} A",
        "-" if each.loss_w is None else f"{each.loss_w.max:.2f} W",
        "; ".join(each.reasons) or "all in hand",
    ]
