"""A cable on one line, as typed at a prompt: its words sorted under the keys that a file would have."""

from __future__ import annotations

import re
from typing import Any

from pdcheck.errors import InputError
from pdcheck.parts.cable_face import FACE_KEYS, KIND_SPELLINGS, KINDS, read_rating
from pdcheck.parts.mistakes import nearest
from pdcheck.patterns import later
from pdcheck.quantities import key_by_unit, quoted, tokens

_BARE = {"A": "rating", "W": "rating", "ohm": "loop", "m": "length", "V": "voltage"}
_DESCRIBED = tuple(key for key in FACE_KEYS if key not in ("readings", "words"))
_FLAGS = {
    "marked": ("marker", True),
    "e-marked": ("marker", True),
    "emarked": ("marker", True),
    "e-marker": ("marker", True),
    "emarker": ("marker", True),
    "no-marker": ("marker", False),
}


_READINGS = later(r"([0-9.,]+V?)(?:-|/|>|\.\.)([0-9.,]+V)@([0-9.,]+m?A)")
_BOTH = re.compile(r"([0-9.,]+V)/([0-9.,]+A)", re.IGNORECASE)
# A word of a jacket that says nothing of power: data rates, versions, styles, how warm the insulation may get.
_BESIDE = later(
    r"usb[ -]?[0-9.]*(?:gen[0-9](?:x[0-9])?)?|[0-9.]+[gm]b(?:ps|it/s)|pd[0-9.]*|max\.?|gen[0-9](?:x[0-9])?"
    r"|superspeed|cable|fast|charging|charge|charger|data|sync|power|delivery|awm|style|vw-1|ft[0-9]|[0-9.]+m?m?od|[0-9]+°?c|shielded"
    r"|certified|[0-9]+k@[0-9]+hz|[0-9]\.[0-9]"
)
_AWM = re.compile(r"(?i)\bawm\b")
_GAUGES = re.compile(r"(?i)([0-9]{2}) ?awg(?:[x/*][0-9]c?p?)?|awg ?([0-9]{2})(?:[x/*][0-9]c?p?)?")


def described(text: str) -> bool:
    """Whether a text starts as a description of a cable does, so that it is not taken for a path or for hex.

    >>> described("C-C 5A 1m"), described("0xFF00A041 0x18000000")
    (True, False)
    """
    return text[:3].upper() in ("C-C", "A-C", "EPR", "CAP", "B-C") or "loop=" in text


def statement_of(text: Any) -> dict[str, Any]:
    """The keys of a file that a one-line description stands for.

    >>> statement_of("USB-C to USB-C, 100 W, 1m")
    {'kind': 'c-c', 'rating': '100W', 'length': '1m'}
    """
    if not isinstance(text, str):
        raise InputError(f"{quoted(text)} is not a cable", expected="a line such as C-C 5A 1m")
    if len(text) > 200:
        raise InputError("the description is too long for a cable", expected="a line such as C-C 5A 1m")
    plain = re.sub(r"(?i)\b(?:usb|type)[- ]?(?=[ac]\b)", "", text)
    plain = re.sub(r"(?i)\b([ac])\s*(?:-|\u2013|\u2192|>|\bto\b)\s*(?:to\s*)?(c)\b", r"\1-\2", plain)
    plain = re.sub(r"(?i)\b(awg)\s+(?=[0-9])", r"\1", plain)
    if _AWM.search(plain):
        # What is printed there of volts and of a style is of the insulation.
        plain = re.sub(r"(?i)\b[0-9]{2,3} ?v\b(?!/)|\b[0-9]{4,5}\b", "", plain)
    gauges = [int(found[1] or found[2]) for found in _GAUGES.finditer(plain)]
    if len(gauges) > 1:
        # Those for power are the thickest [common practice].
        plain = f"{_GAUGES.sub('', plain)} {min(gauges)}AWG"
    plain = _BOTH.sub(r"\1 \2", re.sub(r"\s*([@/>])\s*|(?<=[vV])\s*(-)\s*(?=[0-9])", r"\1\2", plain))
    said: dict[str, Any] = {}
    key: str
    value: Any
    for token in tokens(plain):
        read = _READINGS().fullmatch(token)
        if read is not None:
            key, value = "readings", {"source": read[1], "sink": read[2], "at": read[3]}
        elif _BESIDE().fullmatch(token) or token in "+&/|":
            continue
        else:
            key, value = _understood(token)
        if key == "kind" and {said.get("kind"), value} == {"c-c", "epr"}:
            said["kind"] = "epr"
            continue
        if key == "kind" and said.get("kind") == "c-c" and value in ("active", "passive", "unmarked"):
            said["kind"] = value
            continue
        if key == "rating" and key in said:
            pair = sorted((str(said[key]), str(value)), key=lambda each: each[-1:] not in "wW")
            if _same_rating(*pair):
                said[key] = pair[0]
                continue
        if key in said:
            raise InputError(f"{quoted(token)}: {key} is given twice", expected="each figure once")
        said[key] = value
    if not said:
        raise InputError("nothing is said of a cable", expected="a line such as C-C 5A 1m")
    return said


def _same_rating(power: str, current: str) -> bool:
    """Whether the power that is printed on a cable and a current say the same."""
    try:
        return power[-1:] in "wW" and read_rating(power).current_a == read_rating(current).current_a
    except InputError:
        return False


def _understood(token: str) -> tuple[str, Any]:
    lower = token.lower()
    if lower in _FLAGS:
        return _FLAGS[lower]
    plain = KIND_SPELLINGS.get(lower.replace("-", "_"), lower)
    if plain in {kind.lower() for kind in KINDS}:
        return "kind", plain
    gauge = re.fullmatch(r"(?:awg)?([0-9]{1,2})(?:awg)?", lower)
    if gauge and "awg" in lower:
        return "awg", int(gauge[1])
    key, equals, value = token.partition("=")
    if equals:
        if key.lower() not in _DESCRIBED:
            raise InputError(f"{quoted(key)} is not known of a cable", expected=nearest(key, _DESCRIBED))
        return key.lower(), value
    key_of = key_by_unit(token, _BARE)
    if key_of is not None:
        return key_of, token
    raise InputError(
        f"{quoted(token)} is no word for a cable",
        expected="words such as C-C, A-C, EPR, captive, 5A, 1m, loop=180mOhm",
    )
