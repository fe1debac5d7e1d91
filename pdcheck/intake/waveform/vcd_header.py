"""The declarations of a value change dump (IEEE 1364): time scale, scopes, variables."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from pdcheck.errors import InputError
from pdcheck.intake.names import SAMPLED_S
from pdcheck.intake.waveform.edges import listed, no_such_channel
from pdcheck.intake.waveform.text import CaptureText
from pdcheck.named import NamedTuple

HEADER_LIMIT = 1 << 24

_TIMESCALE = re.compile(r"(1|10|100)\s*(s|ms|us|ns|ps|fs)", re.IGNORECASE)
_END_OF_HEADER = re.compile(rb"(?<!\S)\$enddefinitions\s+(?:\$end(?!\S)|\S+\s+\$end(?!\S))")
_LAST_SECTION = b"$enddefinitions"
_LONGEST_SCOPE = 4096
"""Characters of all scopes around a variable: each variable is kept by its whole name."""
_REAL_KINDS = frozenset({"real", "realtime"})
_NO_SIGNALS = frozenset({"event", "string"})


class Variable(NamedTuple):
    """One declared variable: full name with scopes, identifier code, kind, size in bits."""

    name: str
    code: bytes
    kind: str
    size: int

    @property
    def is_real(self) -> bool:
        return self.kind in _REAL_KINDS


class Header(NamedTuple):
    """Unit of time in seconds, variables in order, and where in the text the value changes begin."""

    unit_s: float
    variables: tuple[Variable, ...]
    body_offset: int


class Choice(NamedTuple):
    """One signal to read: its name, its identifier code, and the bit of it that counts."""

    name: str
    code: bytes
    bit: int = 0
    is_real: bool = False


def read_header(text: CaptureText) -> Header:
    """Read the declarations up to ``$enddefinitions``; raises InputError with the line for what is wrong there."""
    head = bytearray()
    seen = 0
    for chunk in text.chunks():
        head += chunk.text
        end = _END_OF_HEADER.search(head, seen)
        if end:
            return _declared(bytes(head[: end.start()]), end.end())
        # What may be the beginning of the end is looked at again, and no more.
        last = head.rfind(_LAST_SECTION, seen)
        seen = last if last >= 0 else max(0, len(head) - len(_LAST_SECTION))
        if len(head) > HEADER_LIMIT:
            break
    raise InputError(
        "value change dump without $enddefinitions", expected="$enddefinitions $end before the first change"
    )


def _declared(header: bytes, body_offset: int) -> Header:
    unit: float | None = None
    scopes: list[str] = []
    around = 0
    variables: list[Variable] = []
    for keyword, words, line in _sections(header):
        where = f"line {line}"
        if keyword == "$timescale":
            match = _TIMESCALE.fullmatch(" ".join(words))
            if not match:
                raise InputError(
                    f"unreadable $timescale {' '.join(words)[:40]!r}", where=where, expected="1, 10 or 100 of s to fs"
                )
            unit = int(match[1]) * SAMPLED_S[match[2].lower()]
        elif keyword == "$scope":
            scopes.append(words[-1] if words else "")
            around += len(scopes[-1]) + 1
            if around > _LONGEST_SCOPE:
                what = f"scopes are nested too deep: their names have more than {_LONGEST_SCOPE} characters"
                raise InputError(what, where=where, expected="a dump of fewer levels")
        elif keyword == "$upscope":
            if scopes:
                around -= len(scopes.pop()) + 1
        elif keyword == "$var":
            variable = _variable(words, scopes, where)
            if variable.kind not in _NO_SIGNALS:
                variables.append(variable)
    if unit is None:
        raise InputError("value change dump without $timescale", expected="a line such as $timescale 1 ns $end")
    if not variables:
        raise InputError("value change dump without variables", expected="at least one $var of one bit")
    return Header(unit, tuple(variables), body_offset)


def _variable(words: list[str], scopes: list[str], where: str) -> Variable:
    expected = "$var KIND SIZE CODE NAME $end"
    if len(words) < 4:
        raise InputError("$var with too few words", where=where, expected=expected)
    if not words[1].isdecimal() or len(words[1]) > 9:
        raise InputError(f"$var of size {words[1][:20]!r}", where=where, expected=expected)
    own = words[3].removeprefix("\\") + "".join(words[4:])
    return Variable(".".join([*filter(None, scopes), own]), words[2].encode(), words[0].lower(), int(words[1]))


def _sections(header: bytes) -> Iterator[tuple[str, list[str], int]]:
    """Each ``$keyword words $end`` with its line number; words outside of sections are passed over."""
    keyword = ""
    words: list[str] = []
    begin = 0
    for line, content in enumerate(header.decode("utf-8", "replace").split("\n"), 1):
        for word in content.split():
            if word == "$end":
                if keyword:
                    yield keyword, words, begin
                keyword = ""
            elif keyword:
                words.append(word)
            elif word.startswith("$"):
                keyword, words, begin = word.lower(), [], line


def choices(header: Header) -> tuple[Choice, ...]:
    """The signals to choose among unasked: those of one bit, one name for each; only without any, the real ones."""
    for wanted_real in (False, True):
        found: dict[bytes, Choice] = {}
        for variable in header.variables:
            if variable.is_real == wanted_real and (wanted_real or variable.size == 1):
                found.setdefault(variable.code, Choice(variable.name, variable.code, 0, variable.is_real))
        if found:
            return tuple(found.values())
    return ()


def chosen(header: Header, wanted: str) -> Choice:
    """The signal of a name: with scopes or the last part alone, ``bus[2]`` for one bit of a vector."""
    for name, bit in _readings(wanted):
        for spelled, asked in _SPELLINGS:
            alike = [variable for variable in header.variables if spelled(variable.name) == asked(name)]
            if len({variable.code for variable in alike}) > 1:
                names = tuple(variable.name for variable in alike)
                raise InputError(f"channel {wanted!r} names several signals", expected=f"one of {listed(names)}")
            if alike:
                return _bit_of(alike[0], bit, wanted)
    raise no_such_channel(wanted, tuple(variable.name for variable in header.variables))


def _last_part(name: str) -> str:
    return name.rpartition(".")[2]


def _small(name: str) -> str:
    return _last_part(name).lower()


_SPELLINGS: tuple[tuple[Callable[[str], str], Callable[[str], str]], ...] = (
    (str, str),
    (_last_part, str),
    (_small, _small),
    (lambda name: _small(name).partition("[")[0], _small),
)
"""How a declared name and the one asked for may be shortened to meet, strictest first."""


def _readings(wanted: str) -> Iterator[tuple[str, int | None]]:
    yield wanted, None
    match = re.fullmatch(r"(.+?)\s*\[(\d{1,6})\]", wanted)
    if match:
        yield match[1], int(match[2])


def _bit_of(variable: Variable, bit: int | None, wanted: str) -> Choice:
    if variable.is_real or (variable.size == 1 and bit is None):
        return Choice(variable.name, variable.code, 0, variable.is_real)
    span = re.search(r"\[(\d{1,9}):(\d{1,9})\]$", variable.name)
    top, bottom = (int(span[1]), int(span[2])) if span else (variable.size - 1, 0)
    low, high = min(top, bottom), max(top, bottom)
    if bit is None or not low <= bit <= high:
        base = variable.name.split("[")[0]
        raise InputError(
            f"channel {wanted!r} is a vector of {variable.size} bits",
            expected=f"one bit, {base}[{low}] to {base}[{high}]",
        )
    return Choice(f"{variable.name.split('[')[0]}[{bit}]", variable.code, abs(bit - bottom))
