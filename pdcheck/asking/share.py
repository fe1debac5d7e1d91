"""Share: rigs on the ports of one charger, plugged in one after the other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from os import PathLike

from pdcheck.asking.given import (
    AnyCable,
    AnyKit,
    AnyRig,
    AnySource,
    cable_of,
    kit_of,
    kit_that_holds,
    named_rigs,
    source_of,
)
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.judge import UNKNOWN_CABLE
from pdcheck.verdict.share.sharing import Shared, shared


def share(
    rigs: AnyRig | Iterable[AnyRig] | Mapping[str, AnyRig],
    source: AnySource,
    kit: AnyKit | None = None,
    cable: AnyCable | Sequence[AnyCable] | None = None,
) -> Shared:
    """What each rig gets on each port of a charger, alone and together, in each order; the best assignment.

    Args:
        rigs: a Rig or the path of its file, several of them, or a mapping from names to them.
        source: a Source, an id of the kit, or a label; it says what its ports share.
        kit: a Kit, or the path of its file; without it the kit inside a rig, else beside one.
        cable: one for all rigs, or one for each: a Cable, an id of the kit, a description, or an e-marker's words.

    Raises:
        InputError: what cannot be read, a source of which no ports are known, more rigs than ports.

    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger={"request": "9V", "rating": "5A"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> share({"one": rig, "two": rig}, "C1 65W, C2 30W, C1+C2: 45W+18W", cable="C-C loop=100mOhm")
    <Shared: one on C1, two on C2: works>
    """
    owned = kit_of(kit)
    rigs = [rigs] if isinstance(rigs, Rig | str | PathLike) else rigs if isinstance(rigs, Mapping) else list(rigs)
    loaded = named_rigs(rigs, owned or Kit())
    asked = list(cable) if isinstance(cable, Sequence) and not isinstance(cable, str) else [cable]
    owned = owned or next((built.kit for _, built, _ in loaded if built.kit is not None), None)
    if owned is None:
        owned = kit_that_holds(rigs.values() if isinstance(rigs, Mapping) else rigs, source, asked)
    supply = source_of(source, owned)
    if len(asked) not in (1, len(loaded)):
        raise InputError(
            f"{len(asked)} cables for {len(loaded)} rigs", argument="cable", expected="one, or one for each"
        )
    between = [_cable(each, owned) for each in asked] * (len(loaded) if len(asked) == 1 else 1)
    names = _apart([name for name, _, _ in loaded])
    built = [each for _, each, _ in loaded]
    return shared(list(zip(names, built, between, strict=True)), supply)


def _apart(names: Sequence[str]) -> list[str]:
    """Names with a number behind each that is there already: two of one build may hang on one charger."""
    found: list[str] = []
    for name in names:
        number, free = 1, name
        while free in found:
            number += 1
            free = f"{name}-{number}"
        found.append(free)
    return found


def _cable(cable: AnyCable | None, kit: Kit | None) -> Cable:
    if cable is not None:
        return cable_of(cable, kit)
    if kit is None or not kit.cables:
        return UNKNOWN_CABLE
    if len(kit.cables) > 1:
        ids = " or ".join(each.id for each in kit.cables)
        raise InputError("which cable of the kit?", expected=f"--cable {ids}")
    return kit.cables[0]
