"""Ports of a charger as people read them: what each gives alone, and what is left to each beside others."""

from __future__ import annotations

from pdcheck.intake.ports import Given, Port, Ports
from pdcheck.parts.offer_text import offers_line
from pdcheck.show.columns import paragraph, table


def ports_text(ports: Ports) -> str:
    """A table of ports and of combinations; how the ports share where that is not said.

    >>> from pdcheck.parts.port_table import read_port_table
    >>> print(ports_text(read_port_table({"C1": "65W", "A": "5V 2.4A", "C1+A": "45W+12W"})))
    <BLANKLINE>
      ports  what they give
      -----  --------------------------------------------------------
      C1     65 W; by the power rules 5V 3A, 9V 3A, 15V 3A, 20V 3.25A
      A      5V 2.4A, no PD
      C1+A   C1 45 W, A 12 W
    """
    rows = [[port.name, _alone(port)] for port in ports.ports]
    for each in ports.together:
        shares = ", ".join(f"{name} {_given(given)}" for name, given in zip(each.ports, each.given, strict=False))
        total = "" if each.total_w is None else f"{each.total_w:g} W in all"
        if not each.given:
            total += "; how they share it is not said"
        rows.append(["+".join(each.ports), "; ".join(part for part in (shares, total) if part)])
    if ports.total_w is not None:
        rows.append(["all", f"{ports.total_w:g} W in all"])
    parts = ["", table(["ports", "what they give"], rows)]
    if not ports.together:
        parts.append(paragraph("what is left to a port while another is in use is not said", indent=2, hang=2))
    return "\n".join(parts)


def _alone(port: Port) -> str:
    if not port.offers and port.power_w is None:
        return "alone: not said"
    power = "" if port.power_w is None else f"{port.power_w:g} W"
    rules = "by the power rules " if port.by_rules else ""
    listed = f"{rules}{offers_line(port.offers)}" if port.offers else ""
    told = "; ".join(part for part in (power, listed) if part)
    return told if port.pd else f"{told}, no PD"


def _given(given: Given) -> str:
    if given.offers:
        return f"({offers_line(given.offers)})"
    return f"{given.power_w or 0:g} W"
