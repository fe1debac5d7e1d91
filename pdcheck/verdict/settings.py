"""Settings: which voltage to set the trigger to, so that a rig works on most of what one owns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.request import FixedRequest, HighestRequest, Request
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.finding import WORKS, Verdict
from pdcheck.verdict.judge import pairs_of
from pdcheck.verdict.matrix.cells import RigCells, Shared

PAIRS_TO_TRY = 60
"""Pairs of source and cable up to which a voltage for the trigger is chosen by trying all of them."""


class Setting(NamedTuple):
    """A request with the verdict that it leads to on each pair of a kit."""

    request: Request
    verdicts: tuple[Verdict, ...]

    @property
    def works(self) -> int:
        """On how many pairs the job is done."""
        return sum(each in WORKS for each in self.verdicts)

    @property
    def unsafe(self) -> int:
        """On how many pairs it must not be connected."""
        return self.verdicts.count("unsafe")


def settings_with(rig: Rig, kit: Kit) -> list[Request]:
    """What a trigger could be set to on this kit, and what it is set to now."""
    listed, own = settings_of(kit.sources), rig.trigger.request
    return listed if own in listed else [*listed, own]


def settings_of(sources: Iterable[Source]) -> list[Request]:
    """What a trigger could be set to on some sources: every fixed voltage that they offer, and the highest."""
    voltages = {
        offer.max_mv for source in sources for offer in source.offers if offer.kind == "fixed" and not offer.is_gap
    }
    return [*(FixedRequest(millivolts / 1000) for millivolts in sorted(voltages)), HighestRequest()]


def try_on(rig: Rig, pairs: Sequence[tuple[Source, Cable]], requests: Iterable[Request]) -> list[Setting]:
    """Judge a rig on some pairs of source and cable with its trigger at each setting, the rest as it stands."""
    shared = Shared()
    tried: list[Setting] = []
    for request in requests:
        cells = RigCells(rig.with_trigger(request=request), shared, loads=False)
        tried.append(Setting(request, tuple(outcome.verdict for outcome in cells.outcomes(pairs))))
    return tried


def best_setting(rig: Rig, kit: Kit) -> Setting | None:
    """The setting that works on most pairs and is unsafe on none; ``None`` where each is unsafe somewhere."""
    return best_of(try_on(rig, list(pairs_of(kit)), settings_of(kit.sources)))


def best_of(tried: Iterable[Setting]) -> Setting | None:
    """The setting that works on most pairs and is unsafe on none, of equals the first with most to spare."""
    safe = [setting for setting in tried if not setting.unsafe]
    return max(safe, key=lambda each: (each.works, each.verdicts.count("runs")), default=None)
