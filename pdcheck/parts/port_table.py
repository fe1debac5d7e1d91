"""Port table: the ports of a source as a file states them, ``{ C1 = "65W", "C1+C2" = "45W+18W" }``, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import EPR_POWER_MAX
from pdcheck.intake.ports import Given, Port, Ports, Together, checked, port_of
from pdcheck.parts.fields import read_bounded
from pdcheck.parts.offer_text import is_words, offers_text, read_offers
from pdcheck.quantities import format_quantity, quantity_text, quoted

TOTAL = "total"
"""Key of what all ports together have."""


def read_port_table(value: Any) -> Ports:
    """The ports of a table, or those that the text of a label parts.

    Raises ``InputError`` naming the key.

    >>> ports = read_port_table({"C1": "65W", "C2": "30W", "C1+C2": "45W+18W"})
    >>> ports.names, ports.left_to("C2", frozenset(("C1", "C2"))).power_w, ports.port("C1").offers[-1].current_ma
    (('C1', 'C2'), 18.0, 3250)
    """
    if isinstance(value, Ports):
        return value
    from pdcheck.intake.label import read_label
    from pdcheck.intake.port_label import split_names

    if isinstance(value, str):
        ports = read_label(value).ports
        if ports is None:
            raise InputError(f"{quoted(value)} names no two ports", expected='{ C1 = "65W", "C1+C2" = "45W+18W" }')
        return ports
    if not isinstance(value, Mapping):
        raise InputError(f"{quoted(value)} is no table of ports", expected='{ C1 = "65W", "C1+C2" = "45W+18W" }')
    found: dict[str, Port] = {}
    together: list[Together] = []
    total_w: float | None = None
    for key, said in value.items():
        try:
            if str(key).strip().lower() == TOTAL:
                total_w = _power(said)
                continue
            names = split_names(str(key))
            if len(names) > 1:
                together.append(_together(names, said))
            else:
                _refuse_twice(names[0] in found, str(key))
                found[names[0]] = _port(names[0], said)
        except InputError as error:
            raise error.below(str(key)) from None
    for each in together:
        _refuse_twice(sum(set(other.ports) == set(each.ports) for other in together) > 1, "+".join(each.ports))
        for name in each.ports:
            found.setdefault(name, port_of(name, None, ()))
    return checked(Ports(tuple(found.values()), tuple(together), total_w))


def write_port_table(ports: Ports | None) -> dict[str, Any] | None:
    """The inverse of ``read_port_table``.

    >>> write_port_table(read_port_table({"C1": "65W", "C1+C2": "45W+18W", "C1+A": "65W total"}))
    {'C1': '65W', 'C1+C2': '45W+18W', 'C1+A': '65W total'}
    """
    if ports is None:
        return None
    table: dict[str, Any] = {}
    for port in ports.ports:
        said = Given(port.power_w, () if port.by_rules else port.offers)
        if said.said:
            table[port.name] = _given_text(said)
    for each in ports.together:
        texts = [_given_text(given) for given in each.given]
        joined: Any = "+".join(texts) if not any(given.offers for given in each.given) else texts
        if not each.given:
            joined = f"{_watts(each.total_w or 0.0)} total"
        elif each.total_w is not None and isinstance(joined, str):
            joined = f"{joined}; {_watts(each.total_w)} total"
        table["+".join(each.ports)] = joined
    if ports.total_w is not None:
        table[TOTAL] = _watts(ports.total_w)
    return table


def with_offers(ports: Ports, name: str, offers: Sequence[Offer]) -> Ports:
    """The same with what was heard of one port in the place of what is printed of it."""
    listed = [
        Port(port.name, port.pd, port.power_w, tuple(offers), False)
        if port.name == name and port.pd and port.offers != tuple(offers)
        else port
        for port in ports.ports
    ]
    return ports._replace(ports=tuple(listed))


def _watts(power_w: float) -> str:
    return quantity_text(power_w, "W")


def _given_text(given: Given) -> str:
    if not given.offers:
        return _watts(given.power_w or 0.0)
    text = offers_text(given.offers)
    return text if given.power_w is None or is_words(text) else f"{text}; {_watts(given.power_w)}"


def _power(said: Any) -> float:
    return read_bounded(said, "W", 10 * EPR_POWER_MAX.value, zero=False)


def _offers(text: str) -> tuple[tuple[Offer, ...], float | None, tuple[str, ...]]:
    from pdcheck.intake.label import read_label

    label = read_label(text)
    return label.offers, label.power_w, label.remarks


def _port(name: str, said: Any) -> Port:
    if not isinstance(said, str):
        return port_of(name, _power(said), ())
    if is_words(said):
        return port_of(name, None, read_offers(said) or ())
    from pdcheck.intake.port_label import read_port

    return read_port(name, said, _offers)


def _together(names: tuple[str, ...], said: Any) -> Together:
    if isinstance(said, list | tuple):
        if len(said) != len(names):
            raise InputError(f"{len(said)} of them for {len(names)} ports", expected="one for each port")
        parts = [_port("C", each) for each in said]
        return Together(names, tuple(Given(p.power_w, () if p.by_rules else p.offers) for p in parts), None)
    if not isinstance(said, str):
        return Together(names, (), _power(said))
    from pdcheck.intake.port_label import read_combination

    together = read_combination(names, said, _offers)
    for given in together.given:
        if given.power_w is not None and not 0 < given.power_w <= EPR_POWER_MAX.value:
            most = format_quantity(EPR_POWER_MAX.value, "W")
            raise InputError(f"{quoted(said)} gives a port {given.power_w:g} W", expected=f"at most {most} for each")
    return together


def _refuse_twice(again: bool, key: str) -> None:
    if again:
        raise InputError(f"{key} is said twice", expected="each port, and each combination, once")
