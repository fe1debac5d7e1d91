"""A cable on one line, as typed at a prompt: its words sorted under the keys that a file would have."""

from __future__ import annotations

import re
from typing import Any

from pdcheck.errors import InputError
from pdcheck.parts.cable_face import FACE_KEYS, KIND_SPELLINGS, KINDS
from pdcheck.parts.fields import tokens
from pdcheck.parts.mistakes import nearest
from pdcheck.quantities import parse_quantity, quoted

_BARE = (("A", "rating"), ("W", "rating"), ("ohm", "loop"), ("m", "length"), ("V", "voltage"))
_DESCRIBED = tuple(key for key in FACE_KEYS if key not in ("readings", "words"))
_FLAGS = {
    "marked": ("marker", True),
    "e-marked": ("marker", True),
    "emarked": ("marker", True),
    "e-marker": ("marker", True),
    "emarker": ("marker", True),
    "no-marker": ("marker", False),
}


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
    said: dict[str, Any] = {}
    for token in tokens(plain):
        key, value = _understood(token)
        if key == "kind" and {said.get("kind"), value} == {"c-c", "epr"}:
            said["kind"] = "epr"
            continue
        if key == "kind" and said.get("kind") == "c-c" and value in ("active", "passive", "unmarked"):
            said["kind"] = value
            continue
        if key in said:
            raise InputError(f"{quoted(token)}: {key} is given twice", expected="each figure once")
        said[key] = value
    if not said:
        raise InputError("nothing is said of a cable", expected="a line such as C-C 5A 1m")
    return said


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
    for unit, name in _BARE:
        try:
            parse_quantity(token, unit)
        except InputError:
            continue
        if re.search(r"[^0-9.,+-]", token):
            return name, token
    raise InputError(
        f"{quoted(token)} is no word for a cable",
        expected="words such as C-C, A-C, EPR, captive, 5A, 1m, loop=180mOhm",
    )
