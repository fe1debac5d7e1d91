"""What a trigger may do wrong in a conversation, by name, and the manner that it then has."""

from __future__ import annotations

FAULTS: dict[str, dict[str, bool]] = {
    "no-epr-bit": {"says_epr": False},
    "asks-unmarked": {"heeds_epr": False},
    "no-renewal": {"renews": False},
    "no-keep-alive": {"keeps_alive": False},
}
