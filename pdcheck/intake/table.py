"""The head of a log that is a table: its columns by their names; and rows that only frame the others."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence

from pdcheck.intake.names import UNITS_S, Role, role_of
from pdcheck.intake.row import LONGEST_ROW
from pdcheck.named import NamedTuple

_SEPARATORS = "\t;|│,"
_FRAMES = "|│┃║"
_TAKEN = ("time", "delta", "data", "sop", "crc", "header", "objects")
_KNOWN = (*_TAKEN, "length", "index", "name", "direction", "id")
_HEAD_IN = 40
_NO_LETTERS = re.compile(r"[\W_]*")
_TAGS = re.compile(r"\s*(?:<[/?!]?[A-Za-z][^<>]{0,400}>\s*){1,8}")
_BYTES = re.compile(r"(?:0x)?[0-9A-Fa-f]{4,600}")
_NO_NAME = re.compile(r"[\[(@+#-]?\d|.{0,80}(?:[=:]\s{0,8}\S|[\[(]\d)|(?i:sop)['p′\"]")
_REMARKED = re.compile(r"^[#%/!]{1,4} {0,8}(?=\w)")
_SAYS_SEPARATOR = re.compile(r"\s*\"?sep=.\"?\s*", re.IGNORECASE)


class Columns(NamedTuple):
    """A table with a head: what separates its cells, what each column holds, and whether the last takes all that is
    left."""

    separator: str
    roles: tuple[Role, ...]
    ragged: bool = False

    def cells_of(self, text: str) -> list[str] | None:
        """The cells of a row, ``None`` where it has not as many as there are columns."""
        cells = cells_of(text[:LONGEST_ROW], self.separator)
        width = len(self.roles)
        if self.separator == " " and len(cells) > width:
            # Blanks stand between bytes as well, in the one column of them.
            at = next((at for at, (role, _) in enumerate(self.roles) if role in ("data", "objects")), -1)
            if at < 0:
                return None
            last = len(cells) - (width - 1 - at)
            return [*cells[:at], " ".join(cells[at:last]), *cells[last:]]
        if self.ragged and len(cells) > width:
            return [*cells[: width - 1], " ".join(cells[width - 1 :])]
        return cells if len(cells) == width else None


class Head(NamedTuple):
    """The rows above the body of a table: how many, the columns, the unit of times that have none beside them [s], and
    the row of names as it stands."""

    rows: int
    columns: Columns | None
    unit_s: float | None
    names: str = ""


NO_HEAD = Head(0, None, None)


def cells_of(text: str, separator: str) -> list[str]:
    """The cells of a row of a table, quotes and frames off."""
    if separator == " ":
        return text.split()
    if separator in _FRAMES:
        text = text.strip().strip(separator)
    if '"' in text and separator not in _FRAMES:
        return [cell.strip() for cell in next(csv.reader([text], delimiter=separator, skipinitialspace=True), [])]
    return [cell.strip().strip("`*").strip() for cell in text.split(separator)]


def is_framing(text: str, head: Head = NO_HEAD) -> bool:
    """Whether a row only frames the others: a blank or drawn one, tags alone, the head of a table once more.

    >>> is_framing("|---|:--|"), is_framing("<table>"), is_framing("0.5 SOP 41 00")
    (True, True, False)
    """
    if len(text) > LONGEST_ROW:
        return False
    if _NO_LETTERS.fullmatch(text) or (head.names and text.strip() == head.names):
        return True
    return "<" in text and _TAGS.fullmatch(text) is not None and not _has_bytes(re.split("[<>\\s\"']", text))


def head_of(rows: Sequence[str]) -> Head:
    """The head of the table that rows are, as far as there is one.

    >>> head_of(["time_us,sop,data", "557,SOP,4100bb6cbba8"]).columns.roles
    (('time', 1e-06), ('sop', None), ('data', None))
    """
    for at, row in enumerate(rows[:_HEAD_IN]):
        plain = _REMARKED.sub("", row[:LONGEST_ROW].strip())
        if not plain or plain[0] in "{<" or is_framing(plain) or _SAYS_SEPARATOR.fullmatch(plain):
            continue
        below = [each for each in rows[at + 1 : at + 14] if not is_framing(each)]
        units = _units_of(below[0]) if below else None
        for separator in _SEPARATORS:
            cells = cells_of(plain, separator) if separator in plain else []
            roles = _roles(cells, units)
            if len(cells) > 1 and any(each[:1].isalpha() for each in cells) and _sure(cells, roles, 2, _TAKEN):
                return _found(at, row, rows, separator, roles, below[1:] if units else below)
        for cells in (re.split(r"\t|  +", plain), plain.split()):
            roles = _roles(cells, units)
            single = len(cells) == len(plain.split())
            if len(cells) > 1 and _sure(cells, roles, 2, _KNOWN) and (not single or _all_known(roles)):
                return _found(at, row, rows, " ", roles, below[1:] if units else below)
    return NO_HEAD


def _roles(cells: Sequence[str], units: list[str] | None) -> tuple[Role, ...]:
    roles = [role_of(cell) for cell in cells]
    if units is not None and len(units) == len(cells):
        both = zip(roles, units, strict=True)
        roles = [(role, UNITS_S.get(unit, had) if role in ("time", "delta") else had) for (role, had), unit in both]
    return tuple(roles)


def _sure(cells: Sequence[str], roles: Sequence[Role], least: int, among: Sequence[str]) -> bool:
    figures = any(_NO_NAME.match(cell) for cell in cells)
    return len({role for role, _ in roles if role in among}) >= least and not figures and not _has_bytes(cells)


def _all_known(roles: Sequence[Role]) -> bool:
    return all(role for role, _ in roles)


def _found(at: int, row: str, rows: Sequence[str], separator: str, roles: tuple[Role, ...], below: list[str]) -> Head:
    """The head with its columns, where the rows below have as many cells."""
    unit_s = next((unit for role, unit in roles if role == "time" and unit), None)
    unit_s = unit_s or next((unit for role, unit in roles if role == "delta" and unit), None)
    width, made = len(roles), _chosen(roles)
    if separator == " " and not (_all_known(roles) and any(role == "data" for role, _ in roles)):
        return Head(at + 1, None, unit_s, row.strip())
    columns = Columns(separator, made)
    alike = [columns.cells_of(each) is not None for each in below]
    if not alike or sum(alike) <= 0.6 * len(alike):
        counts = [len(cells_of(each, separator)) for each in below]
        longer = sum(each >= width for each in counts)
        if separator == " " or roles[-1][0] not in ("data", "objects") or longer <= 0.6 * len(counts):
            return Head(at + 1, None, unit_s, row.strip())
        columns = columns._replace(ragged=True)
    skip = 1 if below and len(rows) > at + 1 and _units_of(rows[at + 1]) else 0
    return Head(at + 1 + skip, columns, unit_s, row.strip())


def _units_of(row: str) -> list[str] | None:
    """The cells of a row of units, as some write below the names; ``None`` where it is none."""
    for separator in _SEPARATORS:
        cells = [cell.strip("()[] ").lower() for cell in cells_of(row, separator)] if separator in row else []
        if len(cells) > 1 and any(cell in UNITS_S for cell in cells) and not any(map(_has_digit, cells)):
            return cells
    return None


def _has_digit(cell: str) -> bool:
    return any(sign.isdigit() for sign in cell)


def _has_bytes(cells: Sequence[str]) -> bool:
    return any(_BYTES.fullmatch(cell.replace(" ", "")[:600]) is not None and _has_digit(cell) for cell in cells)


def _chosen(roles: tuple[Role, ...]) -> tuple[Role, ...]:
    """Roles with what is there twice settled: times before deltas; where nothing is called data, any column may be."""
    names = [role for role, _ in roles]
    if "data" not in names and "objects" not in names and "header" not in names:
        roles = tuple(("any" if role in ("", "name") else role, unit) for role, unit in roles)
    if "time" in names:
        roles = tuple(("" if role == "delta" else role, unit) for role, unit in roles)
    return roles
