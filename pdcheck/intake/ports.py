"""Ports: what each port of a charger gives alone, and what is left to each while others are in use."""

from __future__ import annotations

from pdcheck.bits.offers import Offer, fixed
from pdcheck.errors import InputError
from pdcheck.facts.power_rules import fixed_offers_for
from pdcheck.named import NamedTuple

MOST_PORTS = 6
"""Ports of one charger; more than that are hubs, which share in ways of their own [common practice]."""


class Given(NamedTuple):
    """What a port gives: a power [W], or offers as printed; neither where nobody says."""

    power_w: float | None = None
    offers: tuple[Offer, ...] = ()

    @property
    def said(self) -> bool:
        """Whether anything is said."""
        return self.power_w is not None or bool(self.offers)


class Port(NamedTuple):
    """A port alone. ``pd`` is false for Type-A, whose voltages above 5 V are asked for in other ways than PD.

    ``power_w`` [W] is what is printed of it. ``by_rules`` says that only a power is printed, and that ``offers`` are
    the least set that the power rules ask of it.
    """

    name: str
    pd: bool
    power_w: float | None
    offers: tuple[Offer, ...]
    by_rules: bool

    @property
    def called(self) -> str:
        """Its name as chargers print it."""
        return self.name if self.name.startswith("Port") else f"USB-{self.name}"

    @property
    def greatest_w(self) -> float:
        """The power of the strongest offer [W], zero where nothing is known."""
        return max((offer.greatest_w for offer in self.offers), default=0.0)

    def typec_a(self) -> float | None:
        """The current at 5 V [A]; None where it is not said.

        >>> Port("A", False, None, (fixed(5000, 2400),), False).typec_a()
        2.4
        """
        found = [each.current_ma_at(5000) for each in self.offers if each.kind == "fixed" and each.max_mv <= 5500]
        return max(found) / 1000 if found else None


class Together(NamedTuple):
    """Ports in use at the same time: what each of them has then, in the order of ``ports``.

    ``given`` is empty where only ``total_w`` [W], what they have in all, is said: a sum, and no port's power.
    """

    ports: tuple[str, ...]
    given: tuple[Given, ...]
    total_w: float | None


class Ports(NamedTuple):
    """All ports of a charger, what is said of several in use, and of all [W]."""

    ports: tuple[Port, ...]
    together: tuple[Together, ...]
    total_w: float | None

    def port(self, name: str) -> Port:
        """The port of that name; InputError with the names that there are."""
        for port in self.ports:
            if port.name.lower() == name.lower():
                return port
        raise InputError(f"there is no port {name!r}", expected=f"one of {', '.join(self.names)}")

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the ports."""
        return tuple(port.name for port in self.ports)

    @property
    def best(self) -> Port:
        """The port that gives most alone; of those with PD where there is one."""
        return max(self.ports, key=lambda port: (bool(port.offers) and port.pd, port.greatest_w))

    def among(self, in_use: frozenset[str]) -> Together | None:
        """What is said of these ports in use, all of them and no other; None where nothing is."""
        return next((each for each in self.together if frozenset(each.ports) == in_use), None)

    def left_to(self, name: str, in_use: frozenset[str]) -> Given:
        """What a port has while these are in use, it among them; nothing said where nobody says how they share.

        >>> alone = [Port(name, True, 65.0, offers_by_rules(65.0), True) for name in ("C1", "C2")]
        >>> ports = Ports(tuple(alone), (Together(("C1", "C2"), (Given(45.0), Given(18.0)), None),), None)
        >>> ports.left_to("C2", frozenset(("C1", "C2"))).power_w, ports.left_to("C1", frozenset(("C1",))).power_w
        (18.0, 65.0)
        """
        if in_use == {name}:
            port = self.port(name)
            return Given(port.power_w, port.offers)
        found = self.among(in_use)
        if found is None or not found.given:
            return Given()
        return found.given[found.ports.index(name)]


def offers_by_rules(power_w: float) -> tuple[Offer, ...]:
    """The least set of fixed offers that the power rules ask of a port of ``power_w`` [W].

    Raises InputError below 0.5 W and above 240 W. Source: PD R3.2 V1.1, Tables 10.2 and 10.12 [checked].

    >>> [(offer.max_mv, offer.current_ma) for offer in offers_by_rules(30.0)]
    [(5000, 3000), (9000, 3000), (15000, 2000)]
    """
    from pdcheck.bits.offers import arranged

    rows = fixed_offers_for(power_w)
    return arranged(fixed(round(volts * 1000), round(amps * 1000)) for volts, amps in rows)


def port_of(name: str, power_w: float | None, offers: tuple[Offer, ...]) -> Port:
    """A port by what is printed of it; where that is a power alone, with the offers of the power rules."""
    pd = not name.upper().startswith("A")
    by_rules = pd and not offers and power_w is not None
    if by_rules and power_w is not None:
        offers = offers_by_rules(power_w)
    return Port(name, pd, power_w, offers, by_rules)


def checked(ports: Ports) -> Ports:
    """The same. Raises InputError for too many ports, and for a combination that says something for no port."""
    if len(ports.ports) > MOST_PORTS:
        raise InputError(f"{len(ports.ports)} ports", expected=f"a charger of at most {MOST_PORTS}")
    if not any(port.offers for port in ports.ports):
        raise InputError("no port says what it gives alone", expected='a port with its power, as in C1 = "65W"')
    return ports
