"""What a kit holds, and a change of it: KitResult and KitChange, with the functions that give them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, ClassVar, Literal

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.intake.ports import Ports
from pdcheck.marks import UNTOLD, passed, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable, CableRecord
from pdcheck.parts.energy import Charge
from pdcheck.parts.keeping import add_table, change, remove_table
from pdcheck.parts.kit import Kit
from pdcheck.parts.kit_entry import Entry, cable_entry, keep_capture, source_entry
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.offer_text import hex_words, offers_line
from pdcheck.parts.source import Source
from pdcheck.result import Result

Kind = Literal["source", "cable"]


class SourceRecord(NamedTuple):
    """A source as a kit holds it."""

    id: str
    title: str
    offers: tuple[Offer, ...]
    capture: str | None
    captured_over: str | None
    pdp_w: float | None
    typec_current_a: float | None
    tolerance: float
    energy_wh: float | None
    capacity: Charge | None
    rated_output: Charge | None
    efficiency: float | None
    sleeps_below_a: float | None
    cable: CableRecord | None
    problems: tuple[str, ...]
    ports: Ports | None
    port: str | None

    @classmethod
    def of(cls, source: Source) -> SourceRecord:
        """The record of a source."""
        own = {name: getattr(source, name) for name in cls._fields}
        offers = tuple(offer for offer in source.offers if not offer.is_gap)
        cable = None if source.cable is None else CableRecord.of(source.cable)
        return cls(**own | {"offers": offers, "cable": cable, "port": source.port_name})


@dataclass(frozen=True, repr=False)
class KitResult(Result):
    """The sources and cables of a kit, or those of one id."""

    SCHEMA: ClassVar[str] = "kit/2"
    TITLE: ClassVar[str] = "What a kit holds"
    ROWS: ClassVar[tuple[str, ...]] = ("sources",)

    kit: Annotated[Kit, UNTOLD]
    id: Annotated[str | None, UNTOLD] = None

    @property
    def parts(self) -> tuple[tuple[Source, ...], tuple[Cable, ...]]:
        """The sources and the cables that are meant."""
        return parts_named(self.kit, self.id)

    title = passed[str]("kit.title", "The kit's title.")

    @told
    def sources(self) -> tuple[SourceRecord, ...]:
        """Its sources."""
        return tuple(map(SourceRecord.of, self.parts[0]))

    @told
    def cables(self) -> tuple[CableRecord, ...]:
        """Its cables."""
        return tuple(map(CableRecord.of, self.parts[1]))

    def answer(self) -> str:
        """What there is of each."""
        return ", ".join(part.id for parts in self.parts for part in parts) or "empty"


@dataclass(frozen=True, repr=False)
class KitChange(Result):
    """What was done to a kit file."""

    SCHEMA: ClassVar[str] = "kit-change/1"
    TITLE: ClassVar[str] = "A change of a kit file"
    SHOWN: ClassVar[str] = "kit"

    kit: str
    change: Literal["added", "replaced", "removed"]
    kind: Kind
    id: str
    capture: str | None

    def answer(self) -> str:
        """What was done, and to which part."""
        return f"{self.change} {self.kind} {self.id}"


def parts_named(kit: Kit, id: str | None) -> tuple[tuple[Source, ...], tuple[Cable, ...]]:
    """The sources and cables of a kit, or those of one id; InputError with the ids there are, if there is none."""
    if id is None:
        return kit.sources, kit.cables
    sources = tuple(source for source in kit.sources if source.id == id)
    cables = tuple(cable for cable in kit.cables if cable.id == id)
    if not sources and not cables:
        known = [source.id for source in kit.sources] + [cable.id for cable in kit.cables]
        raise InputError(f"the kit has no {id!r}", expected=nearest(id, known) if known else "a part in it")
    return sources, cables


def kit(kit: str | Path | Kit, id: str | None = None) -> KitResult:
    """What a kit holds: all of it, or the source or cable of one id.

    Raises ``InputError`` for a file that cannot be read, and for an id that is not in it.

    >>> kit(Kit(source=[{"id": "wall", "offers": "5V 3A, 9V 3A"}]))
    <KitResult: wall>
    """
    held = kit if isinstance(kit, Kit) else Kit.read(kit)
    parts_named(held, id)
    return KitResult(held, id)


def kit_add(
    kit: str | Path,
    kind: Kind,
    id: str,
    input: str,
    *,
    form: str | None = None,
    port: str | None = None,
    title: str | None = None,
    captured_over: str | None = None,
    pdp: str | None = None,
    replace: bool = False,
) -> KitChange:
    """Add a source or a cable to a kit file, which is made if there is none; what was read from a file is kept by it.

    ``input``, ``form`` and ``port`` are as ``decode`` has them, or ``cable``. ``pdp`` is the power that is printed
    on a source, ``captured_over`` the cable that its offers were read over. With ``replace`` the one of that id keeps
    what is not said, so that ``input`` may be empty. Raises ``InputError``; then nothing is changed.
    """
    reads = source_entry if kind == "source" else cable_entry
    # Where one is replaced, what is not said anew stays: its title alone may change.
    entry = Entry({"id": id}) if replace and not input and form is None else reads(id, input, form, port)
    more = {"title": title, "captured_over": captured_over, "pdp": pdp}
    said = {key: value for key, value in more.items() if value is not None}
    table = {"id": id, **{key: said[key] for key in ("title",) if key in said}, **entry.table, **said}
    done, capture = _put(kit, kind, entry._replace(table=table), replace)
    return KitChange(str(kit), done, kind, id, capture)


def kit_keep(
    kit: str | Path, id: str, offers: Sequence[Offer], *, captured_over: str | None = None, replace: bool = False
) -> KitChange:
    """Add a source with these offers to a kit file, as the words they came in with a comment that says them.

    Raises ``InputError`` where there are none, and as ``kit_add`` does.
    """
    real = [offer for offer in offers if not offer.is_gap]
    if not real:
        raise InputError("there are no offers to keep", expected="a capture with Source_Capabilities in it")
    table = {"id": id, "hex": hex_words(offer.word for offer in offers)}
    over = {} if captured_over is None else {"captured_over": captured_over}
    done, capture = _put(kit, "source", Entry(table | over, told=offers_line(real)), replace)
    return KitChange(str(kit), done, "source", id, capture)


def kit_remove(kit: str | Path, id: str, kind: Kind | None = None) -> KitChange:
    """Take a source or a cable out of a kit file, with the comment right above it; a kept capture stays.

    Raises ``InputError`` where there is none of that id, and where a source and a cable have it and ``kind`` does not
    say which is meant.
    """
    held = Kit.read(kit)
    if kind is None:
        sources, cables = parts_named(held, id)
        if sources and cables:
            raise InputError(f"a source and a cable are called {id!r}: say --source or --cable")
        kind = "source" if sources else "cable"
    capture = held.source(id).capture if kind == "source" else None
    change(kit, lambda text: remove_table(text, kind, id))
    return KitChange(str(kit), "removed", kind, id, capture)


def _put(kit: str | Path, kind: Kind, entry: Entry, replace: bool) -> tuple[Literal["added", "replaced"], str | None]:
    """Write an entry into the kit; what changed, and the capture that it keeps. A refused one leaves no trace."""
    path = Path(kit)
    new_kit = not path.exists()
    outcome: Literal["added", "replaced"] = "added"
    made: Path | None = None
    kept: str | None = None

    def edit(text: str) -> str:
        nonlocal made, outcome, kept
        before = () if new_kit else getattr(Kit.from_toml(text, str(path), folder=path.parent), f"{kind}s")
        if any(part.id == entry.table["id"] for part in before):
            outcome = "replaced"
        # A name in use is refused before anything is kept.
        add_table(text, kind, entry.table, replace=replace)
        whole, made = keep_capture(entry, path, name=str(entry.table["id"]))
        kept = whole.table.get("capture") or (None if whole.capture is None else whole.told.rpartition(" ")[2])
        edited = add_table(text, kind, whole.table, replace=replace, comment=whole.told)
        Kit.from_toml(edited, str(path), folder=path.parent)
        return edited

    try:
        change(kit, edit, new="")
    except InputError:
        if made is not None:
            made.unlink(missing_ok=True)
        raise
    return outcome, kept
