"""What a column, a key or a word of a log means by its name: time and its unit, ordered set, data, CRC, length."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pdcheck.bits.line import ORDERED_SETS
from pdcheck.patterns import later

_UNIT_NAMES = {
    1.0: "s sec secs second seconds",
    1e-3: "ms msec millis milliseconds",
    1e-6: "us µs μs usec micros microseconds",
    1e-9: "ns nsec nanoseconds",
}
UNITS_S = {name: unit_s for unit_s, names in _UNIT_NAMES.items() for name in names.split()}
"""Units of a log's times [s]."""
SPELT = {unit_s: names.split()[-1] for unit_s, names in _UNIT_NAMES.items()}
"""What a unit [s] is called in a sentence."""
SAMPLED_S = UNITS_S | {"ps": 1e-12, "fs": 1e-15, "\ufffds": 1e-6}
"""Units of samples [s]; the last is what is left of a micro sign that was read in another alphabet."""


def any_of(units: Iterable[str]) -> str:
    """A pattern for any of some units, the longest first.

    >>> any_of(["s", "ms"])
    'ms|s'
    """
    return "|".join(sorted(units, key=len, reverse=True))


_MEANT = {
    "time": "t time times timestamp ts stamp start starttime at zeit temps tiempo tempo elapsed reltime"
    " relativetime datetime abstime timeofday starttimestamp when zeitstempel horodatage",
    "delta": "delta dt deltatime timedelta deltat diff gap interval",
    "data": "data raw bytes hex payload packet frame rawdata rawbytes rawhex hexdata content pdu daten rawpacket octets"
    " framebytes packetdata packetbytes rohdaten datos octets trame",
    "sop": "sop orderedset os startofpacket sopstar soptype starttype set",
    "crc": "crc crc32 fcs checksum crcvalue",
    "header": "header hdr msgheader messageheader pdheader head",
    "objects": "objects objs obj pdos pdo rdo rdos vdo vdos dos do dataobjects dataobject words word",
    "length": "len length size bytecount nbytes count dlc n bytecnt lange",
    "index": "no nr num number index idx row seq sequence packetno",
    "id": "id msgid messageid mid",
    "direction": "dir direction role sender from to src dst source destination origin side who port channel ch cc"
    " powerrole datarole",
    "name": "type name msg message messagetype msgtype kind info comment decoded description text",
}  # fmt: skip
_NUMBERED = later(r"\d{1,2}$")
_ROLES = {name: role for role, names in _MEANT.items() for name in names.split()}
_UNIT = later(r"[\[(/_ .,]\s?(" + any_of(UNITS_S) + r")\s?[\])]?$")
SOP_MARK = (
    r"SOP(?P<end>[ _-]?DOUBLE[ _-]?PRIME|[ _-]?PRIME|''|\"|″|”|'|′|’|[_-]?pp|[_-]?p|[_-]?[012])?(?P<debug>_?DEBUG)?"
)
"""The pattern of an ordered set's name, for letters of either case."""
_SOP = later(rf"(?i){SOP_MARK}\*?")
_TWICE = ("DOUBLEPRIME", "''", '"', "″", "”", "PP", "2")

Role = tuple[str, float | None]
"""What a column holds, and the unit of a time [s]."""


def role_of(name: str) -> Role:
    """What a column or key of that name holds, empty where that is not known; and the unit of a time [s].

    >>> role_of("Time [us]"), role_of("time_ms"), role_of("Raw"), role_of("colour")
    (('time', 1e-06), ('time', 0.001), ('data', None), ('', None))
    """
    plain = name.strip().strip("\"'`*#").strip()
    unit = _UNIT().search(plain)
    base = plain[: unit.start()] if unit else plain
    bare = "".join(each for each in base.lower().replace("ä", "a") if each.isalnum())
    if not unit and bare in UNITS_S and bare not in ("s",):
        return "time", UNITS_S[bare]
    role = _ROLES.get(bare) or _ROLES.get(_NUMBERED().sub("", bare), "")
    if role in ("time", "delta"):
        return role, UNITS_S[unit[1].lower()] if unit else None
    if not role and unit and "time" in bare:
        return "time", UNITS_S[unit[1].lower()]
    return role, None


def sop_of(word: str) -> str | None:
    """The ordered set that a word names, ``None`` where it names none.

    >>> sop_of("SOP1"), sop_of("sop''"), sop_of("SOP0"), sop_of("EOP")
    ("SOP'", "SOP''", 'SOP', None)
    """
    if word[:3].upper() != "SOP":
        lowered = word.lower().replace("-", "_").replace(" ", "_")
        resets = {"hard_reset": "Hard_Reset", "hardreset": "Hard_Reset", "cable_reset": "Cable_Reset",
                  "cablereset": "Cable_Reset"}  # fmt: skip
        return resets.get(lowered)
    found = _SOP().fullmatch(word)
    if found is None:
        return None
    end = re.sub("[ _-]", "", (found["end"] or "").upper())
    named = "SOP" if end in ("", "0") else "SOP''" if end in _TWICE else "SOP'"
    return f"{named}_Debug" if found["debug"] else named


_SYNCS = {"".join(code[0] + code[-1] for code in codes): name for name, codes in ORDERED_SETS.items()}
_SYNC = later(r"(SYNC|RST|S(?=[123])|R(?=[12]))[ _-]?([123])")


def sync_code(word: str) -> str | None:
    """A K-code by its name, ``S1`` to ``R2``; ``None`` for any other word.

    >>> sync_code("Sync-1"), sync_code("RST2"), sync_code("41")
    ('S1', 'R2', None)
    """
    found = _SYNC().fullmatch(word)
    return None if found is None else found[1][0].upper() + found[2]


def sop_of_codes(codes: list[str]) -> str | None:
    """The ordered set of four K-codes (PD R3.2 V1.1, Tables 5.1 to 5.17)."""
    return _SYNCS.get("".join(codes))
