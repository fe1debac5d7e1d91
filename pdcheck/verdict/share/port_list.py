"""Port list: a source as one of its ports has it, alone or while others are in use."""

from __future__ import annotations

from pdcheck.contract.lowering import left_of
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE
from pdcheck.facts.current import USB_2_CURRENT
from pdcheck.intake.ports import port_of
from pdcheck.parts.source import Source


def source_at(source: Source, port: str, in_use: frozenset[str]) -> Source | None:
    """The source as ``port`` has it while the ports ``in_use`` are; None where nobody says how they share.

    A power keeps the voltages of the port at power / voltage, see ``left_of``; offers of its own count as printed.
    A Type-A port gives 5 V, the lower of what it gives alone and what its part of the power allows.

    >>> desk = Source(id="desk", ports={"C1": "65W", "C2": "30W", "C1+C2": "45W+18W"})
    >>> found = source_at(desk, "C1", frozenset(("C1", "C2")))
    >>> found.id, [(offer.max_mv, offer.current_ma) for offer in found.offers][-1]
    ('desk:C1', (20000, 2250))
    >>> source_at(desk.replace(ports={"C1": "65W", "C2": "30W"}), "C1", frozenset(("C1", "C2")))
    """
    alone = source.at_port(port)
    ports = alone.ports
    if ports is None or (not ports.port(port).offers and in_use == {port} and ports.port(port).power_w is None):
        return None
    if in_use == {port}:
        return alone
    given = ports.left_to(port, in_use)
    if not given.said:
        return None
    if not alone.offers and ports.port(port).pd:
        # Alone it says nothing, so the power rules have to.
        offers = given.offers or port_of(port, given.power_w, ()).offers
        return _with(alone, offers=offers, typec_current_a=None)
    if not ports.port(port).pd:
        most = alone.typec_current_a or USB_2_CURRENT.value
        stated = port_of(port, None, given.offers).typec_a()
        if stated is None and given.power_w is not None:
            stated = given.power_w / FIRST_OBJECT_VOLTAGE.value
        return _with(alone, typec_current_a=most if stated is None else min(most, stated))
    offers = given.offers or left_of(alone.offers, given.power_w or 0.0)
    return _with(alone, offers=offers)


def _with(alone: Source, **changes: object) -> Source:
    """The source with another list, of which neither a capture nor the printed power of the port says anything."""
    behaviour = alone.behaviour
    if behaviour.order and len(alone.offers) != len(changes.get("offers", alone.offers)):  # type: ignore[arg-type]
        behaviour = behaviour.replace(order=())
    cleared = {"ports": None, "port": None, "capture": None, "pdp_w": None, "problems": (), "behaviour": behaviour}
    return alone.model_copy(update={**cleared, **changes})
