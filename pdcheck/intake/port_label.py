"""Labels of chargers with several ports: what is printed under each port, and under several together."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from itertools import product
from math import prod

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.intake.label_text import HALF_WIDTH, blank, figure, label_error, outputs_only
from pdcheck.intake.ports import MOST_PORTS, Given, Port, Ports, Together, checked, port_of
from pdcheck.named import NamedTuple
from pdcheck.patterns import later
from pdcheck.quantities import quoted

ReadOffers = Callable[[str], tuple[tuple[Offer, ...], float | None, tuple[str, ...]]]
"""Reads a label of one port: its offers, the power printed beside them [W], remarks."""

_PREFIX = r"(?:USB[ -]?)?(?:(?:Type|Typ)[ -]?)?"
_PORT = (
    rf"(?:(?:{_PREFIX}[CA][ -]+)?Port[ -]?(?P<port>[1-9A-Ca-c])|{_PREFIX}(?P<letter>[CA])[ -]?(?P<number>[1-9])?)"
    r"(?![\w'])(?!-C\b)"
)
_NAMED = later(_PORT)
_PLAIN_PORT = re.sub(r"\?P<\w+>", "?:", _PORT)
_BOTH = r"\s*(?:[+&＋]|\b(?:and|und|et|y|plus|with)\b)\s*"
_EITHER = r"\s*(?:[/,|]|\b(?:or|oder|ou)\b)\s*"
# A bare letter names a port only where nothing else can be meant by it; an ampere has its figure before it.
_HEADING = later(rf"(?<![\w.'])(?<!\d )(?<!\dV-){_PLAIN_PORT}(?:(?:{_BOTH}|{_EITHER}){_PLAIN_PORT})*")
# Where nothing begins as a port's name does, none is named: most labels need no more than this.
_MAY_NAME = re.compile(r"(?<![\w.'])(?<!\d )(?<!\dV-)(?:port|usb|typ|[CA](?![^\W\d]))", re.IGNORECASE)
_ALL = later(r"\b(?:dual|both|triple|all|together|simultaneous(?:ly)?)\b[ -]?(?:ports?\b|outputs?\b)?")
_BEFORE_HEADING = later(rf"[\s:(-]*{_PLAIN_PORT}")
_NUMBER = r"\d{1,3}(?:[.,]\d{1,2})?"
_W = r"\s*W(?:atts?)?(?![a-z])"
_WATTS = later(rf"(?<![\d.,])({_NUMBER}){_W}")
_SUM = later(rf"(?<![\d.,])({_NUMBER}(?:{_W})?(?:\s*\(?max\.?\)?)?(?:\s*[+&＋]\s*{_NUMBER}(?:{_W})?)+)(?<=[wsWS])")
_TIMES = later(rf"\b(?:([2-6])\s*[x×*]\s*({_NUMBER}){_W}|({_NUMBER}){_W}\s*[x×*]\s*([2-6]))")
_EACH = later(r"\b(?:each|per port|je|jeweils|chacun|cada)\b")
_TOTAL_WORD = r"(?:total\w*|combined|gesamt\w*|insgesamt|in all|sum)"
_TOTAL = later(
    rf"\b{_TOTAL_WORD}\b[^\d;\n]{{0,24}}?({_NUMBER}){_W}(?!\s*(?:max\.?)?\s*[+&])"
    rf"|(?<![+&\d.,])(?<![+&] )({_NUMBER}){_W}[ \t]*\(?(?:max\.?(?:imum)?[ \t]*)?"
    rf"(?:{_TOTAL_WORD})\b(?![^\d;\n]{{0,24}}\d)"
)
_BEHIND = later(rf"({_NUMBER}{_W})\s*\(\s*({_PLAIN_PORT})\s*\)")
_FIGURE = later(r"\d\s*(?:V|W|A|mA)(?:DC)?(?![a-z])")
_VOLTS = later(r"\d\s*V(?![a-z])")
_MOST_MEANT = 36
"""Combinations that one heading may stand for."""
_MOST_SECTIONS = 64
_ROUNDED = 1.06
"""A printed power may be so much above that of the strongest offer: 65 W over 20 V at 3.1 A [common practice]."""


class _Section(NamedTuple):
    """A heading's alternatives, each the ports that it names; where its text begins and ends."""

    meant: tuple[tuple[str, ...], ...]
    start: int
    end: int


def names_ports(text: str) -> bool:
    """Whether a text gives ports their powers, as hex never does.

    >>> names_ports("C1 65W, C2 30W"), names_ports("a1 61 2c"), names_ports("45W")
    (True, False, False)
    """
    text = text.translate(HALF_WIDTH)
    return any(
        _FIGURE().search(text[match.end() : match.end() + 60]) for match in _HEADING().finditer(text[:4000])
    ) and (_WATTS().search(text) is not None)


def read_ports(label: str, read: ReadOffers, remarks: list[str]) -> Ports | None:
    """The ports of a label; None for one that does not part its figures by ports.

    Raises ``InputError`` naming line and offset of what cannot be read.
    """
    text = outputs_only(label)
    if _MAY_NAME.search(text) is None:
        return None
    sections, behind = _sections(text)
    if not behind:
        text = _BEHIND().sub(_turned, text)
        sections, _ = _sections(text)
    names = list(dict.fromkeys(name for section in sections for ports in section.meant for name in ports))
    if len(names) < 2:
        return None
    if len(names) > MOST_PORTS + len("CA") or len(sections) > _MOST_SECTIONS:
        raise InputError(
            f"{len(names)} ports in {len(sections)} places",
            where="line 1, offset 0",
            expected=f"a charger of at most {MOST_PORTS}",
        )
    return _Reader(label, text, names, read, remarks).ports(sections)


def read_combination(names: Sequence[str], text: str, read: ReadOffers) -> Together:
    """What a text says of several ports in use.

    >>> read_combination(("C1", "C2"), "45W+18W", lambda text: ((), None, ())).given[1].power_w
    18.0
    """
    return _Reader(text, text, list(names), read, []).together(tuple(names), text)


def read_port(name: str, text: str, read: ReadOffers) -> Port:
    """What a text says of one port alone. Raises ``InputError`` for a sum, which is no port's power."""
    reader = _Reader(text, text, [name], read, [])
    rest = reader.without_sums(text, (name,))
    if reader.sums or reader.total_w is not None:
        raise InputError(f"{text!r} is a sum, and no port's power", expected="a power such as 65W, or offers")
    reader.alone(name, rest)
    if reader.total_w is not None or name not in reader.found:
        raise InputError(f"{text!r} says nothing of a port", expected="a power such as 65W, or offers")
    return reader.found[name]


def split_names(key: str) -> tuple[str, ...]:
    """The ports that a key such as ``C1+C2`` names.

    >>> split_names("C1 + usb-c2"), split_names("USB-A")
    (('C1', 'C2'), ('A',))
    """
    found = _HEADING().fullmatch(key.strip())
    meant = () if found is None else tuple(_meant(found[0]))
    if len(meant) != 1:
        raise InputError(f"{key!r} names no port", expected='a name such as C1, A or "C1+C2"')
    return meant[0]


def _turned(match: re.Match[str]) -> str:
    """A port behind its power put before it, in as many characters."""
    turned = f"{match[2]} {match[1]}"
    return turned + " " * (len(match[0]) - len(turned))


def _meant(heading: str) -> Iterator[tuple[str, ...]]:
    pieces = re.split(_EITHER, heading, flags=re.IGNORECASE)
    apart = all(len(_NAMED().findall(piece)) > 1 for piece in pieces)
    for said in pieces if apart else [heading]:
        parts = [
            [_name(each) for each in _NAMED().finditer(part)]
            for part in re.split(_BOTH, said, flags=re.IGNORECASE)
            if _NAMED().search(part)
        ]
        if prod(map(len, parts)) > _MOST_MEANT:
            raise InputError(f"{quoted(said)} may mean too many ports", expected="a few ports, as in C1/C2 or C1+C2")
        for ports in product(*parts):
            if len(set(ports)) == len(ports):
                yield ports


def _name(match: re.Match[str]) -> str:
    if match["port"]:
        return f"Port{match['port'].upper()}"
    return f"{match['letter'].upper()}{match['number'] or ''}"


def _sections(text: str) -> tuple[list[_Section], bool]:
    """The sections of a label, and whether its ports are printed behind their figures."""
    headings: list[tuple[tuple[tuple[str, ...], ...], int, int]] = []
    for match in sorted((*_HEADING().finditer(text), *_ALL().finditer(text)), key=lambda match: match.start()):
        if headings and match.start() < headings[-1][2]:
            continue
        if match.re is _ALL():
            # Behind a heading or before it it belongs to that; without ports before it there is nothing it could mean.
            if _BEFORE_HEADING().match(text, match.end()) is not None:
                continue
            if headings and _FIGURE().search(text, headings[-1][2], match.start()):
                headings.append(((), match.start(), match.end()))
        else:
            headings.append((tuple(_meant(match[0])), match.start(), match.end()))
    if not headings:
        return [], False
    ends = [start for _, start, _ in headings[1:]] + [len(text)]
    sections = [_Section(meant, after, end) for (meant, _, after), end in zip(headings, ends, strict=True)]
    if _FIGURE().search(text, 0, headings[0][1]) and not _FIGURE().search(text, *sections[-1][1:]):
        starts = [0, *(after for _, _, after in headings)]
        return [_Section(each[0], start, each[1]) for each, start in zip(headings, starts, strict=False)], True
    return sections, False


class _Reader:
    """Takes the sections of a label in turn."""

    def __init__(self, label: str, text: str, names: list[str], read: ReadOffers, remarks: list[str]) -> None:
        self.label = label
        self.text = text
        self.read = read
        self.remarks = remarks
        self.found: dict[str, Port] = {}
        self.sums: list[tuple[int, list[float]]] = []
        self.shared: dict[frozenset[str], Together] = {}
        self.total_w: float | None = None
        self.at = 0
        # "C" beside C1 and C2 is any of them.
        self.means = {
            name: [each for each in names if each != name and each[:1] == name] or [name] if len(name) == 1 else [name]
            for name in names
        }
        self.names = [name for name in names if self.means[name] == [name]]

    def ports(self, sections: Sequence[_Section]) -> Ports | None:
        """All of them; None where nothing is said of two ports apart."""
        said = {frozenset(ports) for section in sections for ports in section.meant if self._says(section)}
        inner: tuple[str, ...] = ()
        taken: dict[str, Given] = {}
        for section in sections:
            several = any(len(ports) > 1 for ports in section.meant)
            if several and not self._says(section):
                inner = next((ports for ports in section.meant if frozenset(ports) not in said), ())
                taken = {}
                continue
            if inner and len(section.meant) == 1 and section.meant[0][0] in set(inner) - set(taken) and not several:
                name = section.meant[0][0]
                taken[name] = self._given(self._padded(section.start, section.end))
                if len(taken) == len(inner):
                    self._share(inner, tuple(taken[each] for each in inner), None)
                    inner = ()
                continue
            inner = ()
            self._take(section)
        for at, watts in self.sums:
            if len(watts) == len(self.names):
                self._share(tuple(self.names), tuple(map(Given, watts)), None)
            else:
                raise label_error(f"a sum of {len(watts)} for {len(self.names)} ports", self.label, at)
        for name in self.names:
            self.found.setdefault(name, port_of(name, None, ()))
        listed = tuple(self.found[name] for name in self.names)
        if not any(port.offers and port.pd for port in listed):
            if self.shared:
                what = f"{'+'.join(next(iter(self.shared.values())).ports)} says what they give together"
                raise label_error(what, self.label, 0, "what a port gives alone, as in C1 65W, C1+C2 45W+18W")
            return None
        return checked(Ports(listed, tuple(self.shared.values()), self.total_w))

    def _says(self, section: _Section) -> bool:
        return _FIGURE().search(self.text, section.start, section.end) is not None

    def _padded(self, start: int, end: int) -> str:
        """A stretch of the text with blanks before it, so that every place in it stays."""
        return re.sub(r"\S", " ", self.text[:start]) + self.text[start:end]

    def _take(self, section: _Section) -> None:
        body = self._padded(section.start, section.end)
        self.at = section.start
        meant = section.meant or (tuple(self.names),)
        if len(meant[0]) > 1:
            for ports in meant:
                for each in product(*(self.means[name] for name in ports)):
                    if len(set(each)) == len(each):
                        together = self.together(each, body)
                        self._share(each, together.given, together.total_w)
            return
        rest = self.without_sums(body, meant[0])
        for ports in meant:
            for name in self.means[ports[0]]:
                self.alone(name, rest)

    def _share(self, ports: tuple[str, ...], given: tuple[Given, ...], total_w: float | None) -> None:
        before = self.shared.get(frozenset(ports))
        if before is None or (given and not before.given):
            known = total_w if total_w is not None else None if before is None else before.total_w
            self.shared[frozenset(ports)] = Together(ports, given, known)

    def without_sums(self, body: str, ports: tuple[str, ...]) -> str:
        """The text under one port without what is said of several."""
        for found in _TOTAL().finditer(body):
            self._of_all(figure(found[1] or found[2]))
        body = _TOTAL().sub(blank, body)
        for found in _SUM().finditer(body):
            self.sums.append((found.start(), [figure(each) for each in re.findall(_NUMBER, found[1])]))
        return _SUM().sub(blank, body)

    def _of_all(self, watts: float) -> None:
        self.total_w = max(self.total_w or 0.0, watts)

    def alone(self, name: str, body: str) -> None:
        """What one port gives alone."""
        powers = [figure(each) for each in _WATTS().findall(body)]
        offers: tuple[Offer, ...] = ()
        power: float | None = None
        if _VOLTS().search(body):
            offers, power, remarks = self._offers(name, body)
            self.remarks += [each for each in remarks if each not in self.remarks]
            most = port_of(name, None, offers).greatest_w
            if power is not None and offers and power > most * _ROUNDED:
                # More than its strongest offer is what all ports have together.
                self._of_all(power)
                below = [each for each in powers if each <= most * _ROUNDED]
                power = max(below, default=None)
        elif powers:
            power = powers[0]
            if len(powers) > 1 and max(powers[1:]) > power:
                self._of_all(max(powers[1:]))
        if not offers and power is None:
            return
        before = self.found.get(name)
        if before is not None:
            offers = offers or (() if before.by_rules else before.offers)
            power = power if before.power_w is None else before.power_w
        self.found[name] = port_of(name, power or None, offers)

    def _offers(self, name: str, body: str) -> tuple[tuple[Offer, ...], float | None, tuple[str, ...]]:
        if not name.startswith("A"):
            return self.read(body)
        try:
            return self.read(body)
        except InputError:
            # What a Type-A port says besides 5 V is no PD, and may be worded in any way.
            five = re.search(rf"(?<![\d.])5(?:[.,]0)?\s*V\W{{0,6}}({_NUMBER})\s*A", body)
            self.remarks.append(f"of port {name} only 5 V is read")
            if five is None:
                return (), None, ()
            return self.read(f"5V {five[1]}A")

    def _given(self, body: str) -> Given:
        if _VOLTS().search(body):
            offers, power, _ = self.read(body)
            return Given(power, offers)
        powers = _WATTS().findall(body)
        return Given(figure(powers[0]) if powers else None)

    def together(self, ports: tuple[str, ...], body: str) -> Together:
        """What a text says of several ports in use; only a sum where it does not say whose is what."""
        total: float | None = None
        for found in _TOTAL().finditer(body):
            total = figure(found[1] or found[2])
        body = _TOTAL().sub(blank, body)
        count = len(ports)
        if _VOLTS().search(body):
            return self._with_volts(ports, body, total)
        for times in _TIMES().finditer(body):
            if int(times[1] or times[4]) == count:
                return Together(ports, (Given(figure(times[2] or times[3])),) * count, total)
        sums = _SUM().search(body)
        watts = [figure(each) for each in (re.findall(_NUMBER, sums[1]) if sums else _WATTS().findall(body))]
        slashed = re.search(rf"({_NUMBER})(?:{_W})?((?:\s*/\s*{_NUMBER}(?:{_W})?)+)(?<=[wW])", body)
        if sums is None and slashed is not None:
            watts = [figure(each) for each in re.findall(_NUMBER, slashed[0])]
        if len(watts) == 1 and _EACH().search(body):
            watts *= count
        if len(watts) == count + 1 and watts[-1] >= sum(watts[:-1]) - 1:
            total, watts = watts[-1], watts[:-1]
        if len(watts) == count:
            return Together(ports, tuple(map(Given, watts)), total)
        if not watts and total is None:
            at = len(body) - len(body.lstrip())
            raise label_error(f"{body.strip()!r} says nothing of {'+'.join(ports)}", self.label, at)
        # How they share it is not said: one figure for several, or figures for groups of them.
        summed = sum(watts) if sums is not None or len(watts) == 1 else max(watts, default=0.0)
        return Together(ports, (), total if total is not None else summed)

    def _with_volts(self, ports: tuple[str, ...], body: str, total: float | None) -> Together:
        parts: list[tuple[int, int]] = []
        start = 0
        for found in re.finditer(r"[+＋](?!\s*\d+(?:[.,]\d+)?\s*V\s*[+＋]?\s*\Z)", body):
            parts.append((start, found.start()))
            start = found.end()
        parts.append((start, len(body)))
        if len(parts) == len(ports) and all(_VOLTS().search(body, *part) for part in parts):
            listed = [re.sub(r"\S", " ", body[: part[0]]) + body[slice(*part)] for part in parts]
            return Together(ports, tuple(map(self._given, listed)), total)
        one = self._given(body)
        if _EACH().search(body):
            return Together(ports, (one,) * len(ports), total)
        # Printed once under several ports, it is what they have together.
        most = port_of(ports[0], None, one.offers).greatest_w
        return Together(ports, (), total if total is not None else max(most, one.power_w or 0.0))
