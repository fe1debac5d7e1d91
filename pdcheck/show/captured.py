"""What ``decode`` shows beyond messages and offers: packets that could not be decoded, and the cable of the system."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pdcheck.intake.sniff import Intake
from pdcheck.show import decoded
from pdcheck.show.clean import clean
from pdcheck.show.columns import paragraph

if TYPE_CHECKING:
    from pdcheck.intake.packet import BadPacket


def document(intake: Intake) -> dict[str, Any]:
    """The JSON document of ``decode``, with ``channel`` and ``undecoded`` of a waveform, ``cable`` of the system."""
    out = decoded.document(intake)
    if intake.channel is not None:
        out["channel"] = intake.channel
        out["undecoded"] = lost_json(intake.lost)
    if intake.form == "sysfs":
        from pdcheck.show.attached import cable_json

        out["cable"] = None if intake.cable is None else cable_json(intake.cable)
    return out


def lost_json(lost: tuple[BadPacket, ...]) -> list[dict[str, Any]]:
    """Packets that could not be decoded: when, and why."""
    return [{"time_s": packet.time_s, "reason": packet.reason} for packet in lost]


def text(intake: Intake) -> str:
    """What a person reads."""
    parts = [decoded.text(intake)]
    if intake.channel is not None and not intake.told and not intake.lost:
        parts.append(f"  no packet on channel {clean(intake.channel)}")
    if intake.lost:
        parts.append(f"Packets that could not be decoded: {len(intake.lost)}")
        parts += [paragraph(f"{one.time_s:.6f} s  {one.reason}", indent=2, hang=2) for one in intake.lost]
    if intake.cable is not None:
        from pdcheck.show.attached import cable_line

        parts.append(paragraph(f"cable: {cable_line(intake.cable)}", indent=2, hang=2))
    return "\n".join(part for part in parts if part)
