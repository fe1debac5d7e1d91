"""The operating system's tables of what is attached: ports, chargers, cables; from /sys or a copied tree."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, ClassVar

from pdcheck.bits.cable import CableReading, read_cable_words
from pdcheck.bits.objects import Reading, read_identity, read_sink
from pdcheck.bits.offers import Offer, offers_problems
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import EPR_OBJECTS_MAX
from pdcheck.intake.opened import Opened
from pdcheck.intake.stream import How, Intake, Stream
from pdcheck.intake.sysfs.supply import SINK_SUPPLIES, SOURCE_SUPPLIES, Supply, supply_word
from pdcheck.intake.sysfs.tree import Tree, is_capabilities
from pdcheck.intake.sysfs.vendor import Marker, vendor_name
from pdcheck.marks import UNTOLD, Named, told
from pdcheck.named import NamedTuple
from pdcheck.result import Result

DEFAULT_PATH = "/sys"
_PORT = re.compile(r"port\d+")
_TABLE = re.compile(r"pd\d+")
_SUPPLY = re.compile(r"(\d{1,3}):\w+")
_CHOSEN = re.compile(r"\[([^\]]+)\]")


class Table(NamedTuple):
    """One device of the class usb_power_delivery: ``offers`` it gives as a source, ``needs`` it has as a sink."""

    name: Annotated[str, Named("table")]
    offers: tuple[Offer, ...]
    needs: tuple[Reading, ...]
    revision: str | None
    version: Annotated[str | None, UNTOLD]


class Partner(NamedTuple):
    """What is plugged into a port, cable aside."""

    pd: bool | None
    type: str | None
    revision: str | None
    identity: tuple[Reading, ...]
    vendor_id: int | None
    table: Table | None

    @told
    def vendor(self) -> str | None:
        """The name of the vendor in this machine's own list."""
        return None if self.vendor_id is None else vendor_name(self.vendor_id)


class Plugged(NamedTuple):
    """The cable at a port; ``reading`` is ``None`` until its e-marker has been read."""

    type: str | None
    plug_type: str | None
    revision: str | None
    reading: Annotated[CableReading | None, UNTOLD]

    @told
    def marker(self) -> Marker | None:
        """What the e-marker says, with the name of its vendor."""
        return None if self.reading is None else Marker(self.reading)


class Port(NamedTuple):
    """A USB-C port of this machine and what is attached to it; ``own`` is what the port itself offers or wants."""

    name: Annotated[str, Named("port")]
    power_role: str | None
    data_role: str | None
    mode: Annotated[str | None, Named("power_operation_mode")]
    orientation: str | None
    partner: Partner | None
    cable: Plugged | None
    own: Table | None

    @property
    def charger(self) -> Table | None:
        """The table of what is plugged into it."""
        return None if self.partner is None else self.partner.table

    @property
    def used(self) -> bool:
        """Whether anything is plugged into it."""
        return self.partner is not None or self.cable is not None


@dataclass(frozen=True, repr=False)
class AttachedResult(Result):
    """All ports, and ``loose`` tables that no port claims."""

    SCHEMA: ClassVar[str] = "attached/3"
    TITLE: ClassVar[str] = "What is attached to the ports of this machine"
    ROWS: ClassVar[tuple[str, ...]] = ("ports",)

    ports: tuple[Port, ...]
    loose: Annotated[tuple[Table, ...], Named("unclaimed")]
    problems: tuple[Problem, ...]

    def answer(self) -> str:
        """Ports, and at how many of them there is something."""
        used = sum(port.partner is not None for port in self.ports)
        return f"{len(self.ports)} port{'s' * (len(self.ports) != 1)}, {used} with something attached"


def read_attached(path: str | os.PathLike[str] = DEFAULT_PATH, port: str | None = None) -> AttachedResult:
    """All that the tables under ``path`` tell, or all of one port: /sys, a copy of it, or a directory within.

    Whatever is missing, empty or unreadable is one problem each. Source of the names: the kernel's ABI documents
    sysfs-class-usb_power_delivery and sysfs-class-typec. Raises ``InputError`` where ``path`` holds neither class.
    """
    tree = Tree(path or DEFAULT_PATH)
    ports_at = tree.classes / "typec"
    known = {name: _table(tree, tree.classes / "usb_power_delivery" / name) for name in _tables(tree)}
    claimed: set[str] = set()
    names = [name for name in tree.names(ports_at) if _PORT.fullmatch(name)]
    ports = tuple(_port(tree, ports_at / name, known, claimed) for name in names)
    if port is not None:
        return AttachedResult(tuple(one for one in ports if one.name == port), (), tuple(tree.problems))
    # A copy that follows links holds every table twice: once under its port, once in its class.
    claimed_words = set(map(words, _at(ports)))
    loose = tuple(t for name, t in known.items() if name not in claimed and words(t) not in claimed_words)
    return AttachedResult(ports, loose, tuple(tree.problems))


def read_sysfs(path: str | os.PathLike[str] = DEFAULT_PATH, port: str | None = None) -> Intake:
    """The offers of an attached charger and the words of the cable to it, as an intake of form ``sysfs``.

    ``port`` names a port, or a table (``pd1``); without it the one port is taken at which a charger is attached.
    Raises ``InputError`` where nothing is attached, or several are and none is named.
    """
    if port is None and is_capabilities(path):
        return _capabilities_alone(path)
    attached = read_attached(path)
    where = os.fspath(path)
    if port is not None:
        for one in attached.ports:
            if one.name == port:
                return _intake(one.charger, one, attached)
        for table in [*_at(attached.ports), *attached.loose]:
            if table.name == port:
                return _intake(table, None, attached)
        raise InputError(f"no port {port!r}", where=where, expected=_choice(attached))
    ports = [one for one in attached.ports if one.charger is not None]
    sources = [one for one in ports if one.charger and one.charger.offers] or ports
    # A table that no port claims may be that of a charger whose link the system does not give.
    loose = [] if sources else [table for table in attached.loose if table.offers] or list(attached.loose)
    plugged = [one for one in attached.ports if one.used]
    if len(sources) + len(loose) > 1 or (len(plugged) > 1 and not sources and not loose):
        raise InputError("more than one thing is attached", where=where, expected=f"--port, {_choice(attached)}")
    if sources:
        return _intake(sources[0].charger, sources[0], attached)
    if loose:
        return _intake(loose[0], plugged[0] if len(plugged) == 1 else None, attached)
    if plugged:
        return _intake(None, plugged[0], attached)
    raise InputError("nothing is attached to any port", where=where, expected="a charger, or a copy made with one")


def _capabilities_alone(path: str | os.PathLike[str]) -> Intake:
    """The offers of a source-capabilities folder that is the input itself."""
    tree = Tree(path)
    folder = tree.classes
    offers = tuple(Offer.from_word(word, at) for at, word in _supplies(tree, folder, SOURCE_SUPPLIES))
    table = Table(folder.parent.name or folder.name, offers, (), None, None)
    return _intake(table, None, AttachedResult((), (table,), tuple(tree.problems)))


def read(opened: Opened, how: How) -> Stream:
    """The form ``sysfs``: offers and words, and no message."""
    return Stream(read_sysfs(opened.name or DEFAULT_PATH, how.port))


def words(table: Table) -> tuple[tuple[int, int], ...]:
    """Position and word of every object of a table: what tells it from another."""
    return tuple((offer.position, offer.word) for offer in table.offers) + tuple((0, need.word) for need in table.needs)


def _at(ports: Iterable[Port]) -> list[Table]:
    """The tables of ports and of what is plugged into them."""
    return [table for port in ports for table in (port.own, port.charger) if table is not None]


def _choice(attached: AttachedResult) -> str:
    names = [one.name for one in attached.ports if one.used]
    names += [table.name for table in attached.loose]
    return " or ".join(names) or " or ".join(one.name for one in attached.ports) or "a tree with a port"


def _intake(table: Table | None, port: Port | None, attached: AttachedResult) -> Intake:
    problems = list(attached.problems)
    offers = table.offers if table is not None else ()
    problems += offers_problems(offers, epr_message=any(offer.is_epr for offer in offers))
    objects: list[Reading] = list(table.needs) if table is not None else []
    cable: CableReading | None = None
    if port is not None:
        objects += port.partner.identity if port.partner is not None else ()
        if port.cable is not None and port.cable.reading is not None:
            cable = port.cable.reading
            objects += cable.readings
    for reading in objects:
        problems += reading.problems
    if cable is not None:
        problems += [problem for problem in cable.problems if problem not in problems]
    if not offers:
        what = port.name if port is not None else table.name if table is not None else "the port"
        problems.append(Problem("no-offers", "no offer of an attached charger could be read", what))
    return Intake("sysfs", offers=offers, objects=tuple(objects), problems=tuple(problems), cable=cable)


def _tables(tree: Tree) -> list[str]:
    folder = tree.classes / "usb_power_delivery"
    return [name for name in tree.names(folder) if _TABLE.fullmatch(name) and tree.holds(folder / name)]


def _table(tree: Tree, path: Path, name: str | None = None) -> Table:
    offers = tuple(
        Offer.from_word(word, position)
        for position, word in _supplies(tree, path / "source-capabilities", SOURCE_SUPPLIES)
    )
    needs = tuple(
        read_sink(word, position) for position, word in _supplies(tree, path / "sink-capabilities", SINK_SUPPLIES)
    )
    revision, version = tree.text(path / "revision"), tree.text(path / "version")
    return Table(name or path.name, offers, needs, revision, version)


def _supplies(tree: Tree, path: Path, supplies: Mapping[str, Supply]) -> list[tuple[int, int]]:
    """Position and word of every supply in a directory, in order of position."""
    found: dict[int, int] = {}
    for name in tree.names(path):
        match = _SUPPLY.fullmatch(name)
        if match is None:
            continue
        position = int(match[1])
        if not 1 <= position <= round(EPR_OBJECTS_MAX.value) or match[1] != str(position):
            tree.note("position", "has a position that does not exist: left out", path / name)
            continue
        word = supply_word(tree, path / name, position, supplies)
        if word is not None:
            found[position] = word
    return sorted(found.items())


def _claim(tree: Tree, owner: Path, known: dict[str, Table], claimed: set[str]) -> Table | None:
    """The table of a port or a partner: by its link, or as a directory of its own."""
    link = owner / "usb_power_delivery"
    real = tree.real(link)
    if real is not None and real.is_dir():
        name = real.name if _TABLE.fullmatch(real.name) else None
        if name is not None and name in known:
            claimed.add(name)
            return known[name]
        return _table(tree, link, name or f"{owner.name}/usb_power_delivery")
    for name in tree.names(owner):
        if _TABLE.fullmatch(name):
            claimed.add(name)
            return known[name] if name in known else _table(tree, owner / name)
    return None


def _port(tree: Tree, path: Path, known: dict[str, Table], claimed: set[str]) -> Port:
    def beside(end: str) -> Path | None:
        """``port0-partner`` as the class lists it, or below its port."""
        for place in (path.parent / f"{path.name}-{end}", path / f"{path.name}-{end}"):
            if tree.holds(place):
                return place
        return None

    partner_at, cable_at = beside("partner"), beside("cable")
    partner = None if partner_at is None else _partner(tree, partner_at, known, claimed)
    own = _claim(tree, path, known, claimed)
    if own and partner and partner.table and own.name == partner.table.name:
        own = None
    return Port(
        path.name,
        _role(tree.text(path / "power_role")),
        _role(tree.text(path / "data_role")),
        tree.text(path / "power_operation_mode"),
        tree.text(path / "orientation"),
        partner,
        None if cable_at is None else _cable(tree, cable_at),
        own,
    )


def _role(text: str | None) -> str | None:
    """The role in brackets, as in ``source [sink]``; a role that stands alone needs none."""
    found = None if text is None else _CHOSEN.search(text)
    return text if found is None else found[1]


def _partner(tree: Tree, path: Path, known: dict[str, Table], claimed: set[str]) -> Partner:
    pd = tree.text(path / "supports_usb_power_delivery")
    revision = _revision(tree, path)
    identity = _identity(tree, path)
    readings = read_identity(identity, "2.0" if revision == "2.0" else "3.x", "SOP") if identity else []
    return Partner(
        {"yes": True, "no": False}.get(pd or ""),
        tree.text(path / "type"),
        revision,
        tuple(readings),
        readings[0].fields["vendor_id"] if readings else None,
        _claim(tree, path, known, claimed),
    )


def _cable(tree: Tree, path: Path) -> Plugged:
    revision = _revision(tree, path)
    identity = _identity(tree, path)
    reading: CableReading | None = None
    if identity:
        # The structured version is not in the tables; a cable's PD revision says the same.
        stated = None if revision is None else ("2.0" if revision.startswith("2") else "3.x")
        reading = read_cable_words(identity, stated)
        if stated is not None:
            reading = reading._replace(decided_by=f"usb_power_delivery_revision {revision}")
    return Plugged(tree.text(path / "type"), tree.text(path / "plug_type"), revision, reading)


def _revision(tree: Tree, path: Path) -> str | None:
    """The PD revision; ``0.0`` says that there is none."""
    file = path / "usb_power_delivery_revision"
    text = tree.text(file)
    if text is None or text == "0.0":
        return None
    if not re.fullmatch(r"\d\.\d", text):
        tree.note("no-value", f"{text[:40]!r} is no revision", file)
        return None
    return text


def _identity(tree: Tree, path: Path) -> Sequence[int]:
    """The words of Discover Identity, none where it has not been answered (all zero) or its header is not known."""
    folder = path / "identity"
    if not tree.holds(folder):
        return ()
    found: list[int] = []
    for name in ("id_header", "cert_stat", "product", "product_type_vdo1", "product_type_vdo2", "product_type_vdo3"):
        # The kernel shows the last three since October 2020 only.
        text = tree.text(folder / name, needed=not name.startswith("product_type"))
        if text is None:
            if name.startswith("product_type") or name == "id_header":
                break
            found.append(0)
            continue
        try:
            word = int(text, 16)
        except ValueError:
            word = -1
        if not 0 <= word < 1 << 32 or "_" in text:
            tree.note("no-value", f"{text[:40]!r} is no word of 32 bits", folder / name)
            break
        found.append(word)
    while len(found) > 3 and not found[-1]:
        found.pop()
    return found if any(found) else ()
