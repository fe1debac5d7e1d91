"""What a question is given: a rig, a kit, a source, a cable, each as an object, as a text, or as a path to a file."""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from os import PathLike
from pathlib import Path

from pdcheck.errors import InputError
from pdcheck.intake.given import given
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.offer_text import power_alone
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import DOUBTFUL, Source, printed
from pdcheck.quantities import quoted
from pdcheck.verdict.judge import FEWER_BY_ID, MOST_PAIRS, UNKNOWN_CABLE, few_pairs

Pair = tuple[Source, Cable]
AnyRig = Rig | str | PathLike[str]
"""A rig, or the path of its file."""
AnyKit = Kit | str | PathLike[str]
"""A kit, or the path of its file."""
AnySource = Source | str
"""A source, or an id of the kit, a label, hex, or the path of a file with either."""
AnyCable = Cable | str
"""A cable, or an id of the kit, a description, or the words of an e-marker."""

KIT_NAME = "kit.toml"
FOLDERS_ABOVE = 3
"""How many folders above a rig's own are looked into for a kit."""
kits_found: list[str] = []
"""The kits that nobody named and that were taken, for the command line to say so."""


def rig_of(rig: AnyRig) -> Rig:
    """The rig itself, or out of its file. Raises ``InputError`` for a file that cannot be read."""
    return rig if isinstance(rig, Rig) else Rig.read(rig)


def rig_name(rig: AnyRig) -> str:
    """What a rig is called: as its file, or by its title where it has none."""
    return rig.title or "rig" if isinstance(rig, Rig) else Path(rig).stem


def kit_of(kit: AnyKit | None) -> Kit | None:
    """The kit itself, or out of its file. Raises ``InputError`` for a file that cannot be read."""
    return kit if kit is None or isinstance(kit, Kit) else Kit.read(kit)


def kit_beside(rig: AnyRig) -> Kit | None:
    """The kit of a rig's file that names none: ``kit.toml`` in its folder, else in one of the folders above.

    None for a rig without a file, and where there is no such kit. Its path is added to ``kits_found``. Raises
    ``InputError`` for one that cannot be read.
    """
    if isinstance(rig, Rig):
        return None
    path = Path(rig).absolute()
    for folder in list(path.parents)[: 1 + FOLDERS_ABOVE]:
        kit = folder / KIT_NAME
        if kit != path and kit.is_file():
            named = os.path.relpath(kit)
            if named not in kits_found:
                kits_found.append(named)
            return Kit.read(named)
    return None


def kit_here(source: AnySource | None, cable: AnyCable | None) -> Kit | None:
    """The kit beside a rig that is no file: that of this folder, unless a source that it does not have is named.

    Raises ``InputError`` for one that cannot be read.
    """
    return kit_beside("rig.toml") if source is None else kit_that_holds(["rig.toml"], source, [cable])


def rig_and_kit(rig: AnyRig, kit: AnyKit | None = None, *, needed: bool = True) -> tuple[Rig, Kit]:
    """A rig with its kit: the one that is given, else the one inside the rig's file, else the one beside it.

    Raises ``InputError`` for what cannot be read, and where there is no kit at all and one is ``needed``.
    """
    built = rig_of(rig)
    owned = kit_of(kit) or built.kit or kit_beside(rig) or (None if needed else Kit())
    if owned is None and isinstance(rig, Rig):
        label = "--source with what is printed on the charger, as in '5V 3A, 9V 3A'"
        raise InputError("no charger and no kit", where=built.title, expected=f"{label}, or --kit KIT")
    if owned is None:
        raise InputError(
            "no kit in this file",
            where=str(rig),
            expected=f"--kit KIT, {KIT_NAME} beside it, or [[source]] and [[cable]] in it",
        )
    return built, owned


def named_rigs(
    rigs: AnyRig | Iterable[AnyRig] | Mapping[str, AnyRig], kit: AnyKit | None = None
) -> list[tuple[str, Rig, Kit]]:
    """Rigs under their names, each with its kit.

    A rig out of a file has the file's name, or its path where two files have one name; one without a file its title.
    Raises ``InputError`` as ``rig_and_kit`` does, and where there is no rig at all.
    """
    owned = kit_of(kit)
    listed = [rigs] if isinstance(rigs, Rig | str | PathLike) else list(rigs)
    if not listed:
        raise InputError("no rig is given", argument="rigs", expected="a Rig, the path of its file, or several of them")
    if isinstance(rigs, Mapping):
        return [(name, *rig_and_kit(rig, owned)) for name, rig in rigs.items()]
    stems = [rig_name(each) for each in listed]
    times = Counter(stems)
    numbered = [str(at) if isinstance(each, Rig) else str(each) for at, each in enumerate(listed, 1)]
    names = [stem if times[stem] == 1 else whole for stem, whole in zip(stems, numbered, strict=True)]
    return [(name, *rig_and_kit(rig, owned)) for name, rig in zip(names, listed, strict=True)]


def rig_and_pairs(
    rig: AnyRig,
    kit: AnyKit | None,
    source: AnySource | None,
    cable: AnyCable | None,
    most: int,
    *,
    expected: str = FEWER_BY_ID,
) -> tuple[Rig, list[Pair]]:
    """A rig, and the pairs of source and cable to look at it on: those of its kit, or those that are named.

    A source that is no id of the kit needs no kit. Raises ``InputError`` for what cannot be read, for an id that is
    not in the kit, and for more than ``most`` pairs.
    """
    built = rig_of(rig)
    owned = kit_of(kit) or built.kit
    if owned is None:
        owned = rig_and_kit(rig)[1] if source is None else Kit()
    if kit is None and built.kit is None and isinstance(source, str):
        beside = kit_beside(rig) or Kit()
        if _holds(beside, source, cable):
            owned = beside
        else:
            # The kit that was merely found has no part in this: a label goes with a cable of which nothing is known.
            source = source_of(source, beside)
            kits_found.clear()
    source = None if source is None else source_of(source, owned)
    if isinstance(cable, str) and all(each.id != cable for each in _cables(owned)):
        cable = cable_of(cable, owned)
    return built, few_pairs(owned, source, cable, most, expected=expected)


def kit_with(
    rig: AnyRig, kit: AnyKit | None, source: AnySource | None, cable: AnyCable | None
) -> tuple[Rig, Kit, str | None, str | None]:
    """A rig, its kit with the named source and cable in it, and the ids of these two.

    A label or a description joins the kit, under an id of its own. Raises ``InputError`` as ``rig_and_kit`` does; a
    source that is named needs no kit.
    """
    built, owned = rig_and_kit(rig, kit, needed=source is None)
    supply = None if source is None else source_of(source, owned)
    between = None if cable is None else cable_of(cable, owned)
    if supply is not None and supply not in owned.sources:
        owned = Kit(title=owned.title, source=(*owned.sources, supply), cable=owned.cables)
    if between is not None and between not in _cables(owned):
        owned = Kit(title=owned.title, source=owned.sources, cable=(*owned.cables, between))
    return built, owned, None if supply is None else supply.id, None if between is None else between.id


def kit_that_holds(rigs: Iterable[AnyRig], source: AnySource, cables: Iterable[AnyCable | None]) -> Kit | None:
    """The kit beside one of some rigs that has what is named by an id, the source or a cable; None where none has.

    Raises ``InputError`` for a kit that cannot be read.
    """
    named = list(cables)
    if isinstance(source, Source):
        return None
    for rig in rigs:
        beside = kit_beside(rig)
        if beside is not None and any(_holds(beside, source, cable) for cable in named or [None]):
            return beside
        kits_found.clear()
    return None


def none_fits() -> InputError:
    """What is wrong where a cable is named, and no source of the kit takes it."""
    return InputError("every source of the kit has another cable fixed to it", expected="no --cable")


def rig_and_pair(
    rig: AnyRig, kit: AnyKit | None, source: AnySource | None, cable: AnyCable | None
) -> tuple[Rig, Source, Cable]:
    """As ``rig_and_pairs``, where there is one pair. Raises ``InputError`` where there are more, or none."""
    built, pairs = rig_and_pairs(rig, kit, source, cable, MOST_PAIRS)
    if len(pairs) == 1:
        return built, *pairs[0]
    if not pairs:
        raise none_fits()
    name, ids = "cable", dict.fromkeys(each.id for _, each in pairs)
    if len({each.id for each, _ in pairs}) > 1:
        name, ids = "source", dict.fromkeys(each.id for each, _ in pairs)
    raise InputError(f"which {name} of the kit?", expected=f"--{name} {' or '.join(ids)}")


def source_of(source: AnySource, kit: Kit | None = None) -> Source:
    """The source that is meant: an id of the kit (``ID:C2`` for its port C2), else a label, hex, or a path to either.

    Raises ``InputError`` for what is none of these; with a kit, its ids are named.

    >>> [offer.max_mv for offer in source_of("5V 3A, 9V 3A").offers]
    [5000, 9000]
    """
    if isinstance(source, Source):
        return source
    if kit is not None and any(each.id == source for each in kit.sources):
        return kit.source(source)
    head, _, port = source.rpartition(":")
    if kit is not None and head and any(each.id == head for each in kit.sources):
        return kit.source(head).at_port(port.strip())
    if power_alone(source) is not None:
        try:
            return Source.model_validate({"id": "source", "offers": source})
        except InputError as error:
            raise InputError(error.what, expected=error.expected).of("source") from None
    # An id of a kit, the usual source, needs nothing of what reads captures.
    from pdcheck.intake.sniff import read_any

    read = given(source)
    try:
        intake = read_any(read.text())
        offers = intake.offers_or_error()
    except InputError as error:
        if kit is not None and kit.sources and not read.name and len(source.split()) == 1:
            return kit.source(source)
        if not read.name and re.fullmatch(r"[A-Za-z][\w.:+-]{0,63}", source):
            expected = "what is printed on it, as in '5V 3A, 9V 3A', or --kit KIT, a kit that has this id"
            raise InputError(f"{quoted(source)} is no label, no hex and no file", expected=expected).of(
                "source"
            ) from None
        raise read.blame(error).of("source") from None
    problems = (DOUBTFUL,) if intake.doubtful else ()
    # A label that says 0 W says nothing of its power.
    power_w = intake.power_w or None
    stated = {"id": "source", "problems": problems, **printed(intake.holds)}
    heard = {"offers": offers, "pdp_w": power_w} if intake.ports is None else {"ports": intake.ports}
    return Source.model_validate({**stated, **heard})


def cable_of(cable: AnyCable, kit: Kit | None = None) -> Cable:
    """The cable that is meant: an id of the kit, else a description or the words of an e-marker.

    Raises ``InputError`` for what is none of these; with a kit, its ids are named.

    >>> cable_of("C-C 5A 1m").current_a
    5.0
    """
    if isinstance(cable, Cable):
        return cable
    found = next((each for each in _cables(kit) if each.id == cable), None)
    if found is not None:
        return found
    try:
        return Cable(cable)
    except InputError as error:
        if kit is not None and kit.cables and len(cable.split()) == 1:
            return kit.cable(cable)
        raise error.of("cable") from None


def source_and_cable(source: AnySource, cable: AnyCable | None, kit: AnyKit | None) -> Pair:
    """A source with the cable that is named, else the one fixed to it, else one of which nothing is known.

    Raises ``InputError`` for what cannot be read.
    """
    owned = kit_of(kit)
    supply = source_of(source, owned)
    if cable is not None:
        return supply, cable_of(cable, owned)
    return supply, supply.cable or UNKNOWN_CABLE


def _holds(kit: Kit, source: str, cable: AnyCable | None) -> bool:
    """Whether a kit has what is named by an id: the source, or the cable."""
    named = isinstance(cable, str) and any(each.id == cable for each in _cables(kit))
    return named or any(each.id == source for each in kit.sources)


def _cables(kit: Kit | None) -> list[Cable]:
    """All cables of a kit, those that are fixed to a source last."""
    if kit is None:
        return []
    return [*kit.cables, *(source.cable for source in kit.sources if source.cable is not None)]
