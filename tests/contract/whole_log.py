"""A captured conversation followed from its first message to its last, all steps kept."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.bits.sequence import Told
from pdcheck.contract.following.follow import Follower
from pdcheck.contract.following.state import Log


def follow(told: Iterable[Told], resolution_s: float | None = None, lost_s: Iterable[float] = ()) -> Log:
    """The whole log; ``lost_s`` are the times of packets that could not be decoded [s]."""
    follower = Follower(told, sorted(lost_s), frozenset())
    steps = tuple(follower)
    return Log(steps, follower.state, follower.shows_good_crc, resolution_s)
