"""What goes into a kit file for a source or a cable, made from any input; captures kept beside it, and read there."""

from __future__ import annotations

import contextlib
import os
import re
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pdcheck.errors import InputError
from pdcheck.intake.given import Given, file_bytes, given, is_path
from pdcheck.named import NamedTuple
from pdcheck.parts.cable_description import described, statement_of
from pdcheck.parts.cable_face import WRITTEN_KIND, words_in
from pdcheck.parts.offer_text import hex_words, power_alone

if TYPE_CHECKING:
    from pdcheck.intake.sniff import Intake

FOLDER = "captures"
"""Folder beside the kit file that captures are kept in."""
ALLOWED = "PDCHECK_CAPTURES"
"""The variable that names further folders in which captures may lie, parted as in PATH."""
LARGEST_CAPTURE = 1 << 26
"""Of a capture that a kit names, which is read whenever the kit is [bytes]."""
LONGEST_INLINE = 400  # characters of hex or label that still read well on one line of a kit file
_NO_HEX = re.compile(r"(?i)(?!sop)\b[a-z0-9]*[g-wyz]")
_TEXT_FORMS = ("hex", "label")


class Capture(NamedTuple):
    """Bytes to keep beside the kit, and the ending that their file had."""

    data: bytes
    suffix: str


class Entry(NamedTuple):
    """A table for a kit file. ``capture`` is to be kept; ``key`` names the key that is to hold its path, else None."""

    table: dict[str, Any]
    capture: Capture | None = None
    key: str | None = None
    told: str = ""


def source_entry(id: str, argument: str, form: str | None = None, port: str | None = None) -> Entry:
    """The table of a ``[[source]]`` from hex, a label, a path, ``-``, or the system's own tables (form ``sysfs``).

    Text stays as it was typed; a file is kept whole, and read again from there where it is text, else its object words
    go into the table. Raises ``InputError`` for what holds no offers.

    >>> source_entry("wall", "5V 3A, 9V 3A").table
    {'id': 'wall', 'offers': '5V 3A, 9V 3A'}
    """
    if form == "sysfs":
        from pdcheck.intake.sysfs.attached import DEFAULT_PATH, read_sysfs

        where = argument or DEFAULT_PATH
        intake = read_sysfs(where, port)
        table = {"id": id, "hex": _object_words(intake)}
        return Entry(table, told=f"read from {where}{f', {port}' if port else ''}")
    power_w = power_alone(argument) if form in (None, "label") else None
    if power_w is not None:
        told = f"what the power rules ask of {power_w:g} W; the charger itself may offer more"
        return Entry({"id": id, "offers": " ".join(argument.split())}, told=told)
    taken = _taken(argument)
    intake = _read(taken, form)
    if taken.name == "" or (len(taken.data) <= LONGEST_INLINE and taken.name == "standard input"):
        line = " ".join(taken.text().split())
        if intake.form in _TEXT_FORMS and len(line) <= LONGEST_INLINE:
            return Entry({"id": id, "offers" if intake.form == "label" else "hex": line})
    capture = Capture(taken.data, _suffix(taken, intake))
    again = taken.data[:2] != b"\x1f\x8b" and intake.form in _TEXT_FORMS and form in (None, "label")
    if again:
        return Entry({"id": id}, capture, "capture")
    return Entry({"id": id, "hex": _object_words(intake)}, capture, None, _told(taken))


def cable_entry(id: str, argument: str, form: str | None = None, port: str | None = None) -> Entry:
    """The table of a ``[[cable]]`` from a description, an e-marker's words, a capture of them, or the system's tables.

    >>> cable_entry("thin", "C-C 3A 2m loop=240mOhm").table
    {'id': 'thin', 'kind': 'C-C', 'rating': '3A', 'length': '2m', 'loop': '240mOhm'}
    """
    if form == "sysfs":
        from pdcheck.intake.sysfs.attached import DEFAULT_PATH, read_sysfs

        where = argument or DEFAULT_PATH
        reading = read_sysfs(where, port).cable
        words = [] if reading is None else [each.word for each in reading.readings]
        if not words:
            raise InputError("no e-marker in these tables", where=where, expected="a port with a marked cable")
        return Entry({"id": id, "words": hex_words(words)}, told=f"read from {where}{f', {port}' if port else ''}")
    if described(argument):
        return _described_entry(id, argument)
    try:
        # What is printed on a jacket begins in any way.
        return _described_entry(id, argument)
    except InputError:
        if argument != "-" and not is_path(argument) and _NO_HEX.search(argument):
            raise
    taken = _taken(argument)
    try:
        wave = form in ("vcd", "csv") or _is_wave(taken)
        text = "" if wave else taken.text().strip()
        if not wave and described(text):
            return _described_entry(id, text)
        words = _marker_words(_read(taken, form)) if wave else list(words_in(text))
    except InputError as error:
        raise error if error.where.startswith(taken.name) and taken.name else taken.blame(error) from None
    if not taken.name:
        return Entry({"id": id, "words": " ".join(text.split())})
    suffix = Path(taken.name).suffix or ".txt"
    return Entry({"id": id, "words": hex_words(words)}, Capture(taken.data, suffix), None, _told(taken))


def _described_entry(id: str, text: str) -> Entry:
    table = {"id": id, **statement_of(text)}
    return Entry(table | {"kind": WRITTEN_KIND.get(table["kind"], table["kind"])} if "kind" in table else table)


def keep_capture(entry: Entry, kit: Path, *, name: str) -> tuple[Entry, Path | None]:
    """Put an entry's capture beside the kit; the entry with its path in it, and the file if it is a new one.

    A file of that name with other bytes in it is left alone and a number added to the name.
    """
    if entry.capture is None:
        return entry, None
    from pdcheck.parts.writing import write_whole

    folder = kit.parent / FOLDER
    stem = re.sub(r"[^\w.-]", "_", name)
    path = folder / f"{stem}{entry.capture.suffix}"
    number = 2
    while os.path.lexists(path) and not (path.is_file() and path.read_bytes() == entry.capture.data):
        path = folder / f"{stem}-{number}{entry.capture.suffix}"
        number += 1
    made = None if path.exists() else path
    if made is not None:
        try:
            folder.mkdir(exist_ok=True)
        except OSError as error:
            raise InputError((error.strerror or "cannot be made").lower(), where=str(folder)) from None
        write_whole(path, entry.capture.data)
    inside = f"{FOLDER}/{path.name}"
    table = dict(entry.table)
    if entry.key is not None:
        table[entry.key] = inside
        return entry._replace(table=table), made
    return entry._replace(table=table, told=f"{entry.told}; kept in {inside}"), made


def capture_text(named: str, folder: Path | None) -> tuple[Path, str]:
    """The path of a capture and its text; ``folder`` is that of the file that names it, None for a program's own.

    Raises ``InputError`` for what is no plain file, is too large, or lies neither in the folder or below nor where the
    user allows it: a kit from elsewhere is not to have any file of this machine read.
    """
    from pdcheck.intake.opened import naming

    path = Path(named) if folder is None else folder / named
    try:
        real = Path(os.path.realpath(path))
        if folder is not None and not any(real.is_relative_to(each) for each in (_real(folder), *_allowed())):
            what = "lies outside of the folder of the file that names it"
            raise InputError(what, where=str(path), expected=f"a path below it; {ALLOWED} names more folders")
        found = path.stat()
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        what = (getattr(error, "strerror", None) or "is no path").lower()
        raise InputError(what, where=str(path), expected="a file with a capture") from None
    if not stat.S_ISREG(found.st_mode):
        # A device or a pipe may hold up the reading, or never end.
        what = "is a directory" if stat.S_ISDIR(found.st_mode) else "is no plain file"
        raise InputError(what, where=str(path), expected="a file with a capture")
    if found.st_size > LARGEST_CAPTURE:
        what = f"{found.st_size} bytes"
        raise InputError(what, where=str(path), expected=f"a capture of at most {LARGEST_CAPTURE}")
    with naming(str(path)):
        return path, Given(str(path), file_bytes(path)).text()


def _real(folder: Path) -> Path:
    return Path(os.path.realpath(folder))


def _allowed() -> list[Path]:
    return [_real(Path(each)) for each in os.environ.get(ALLOWED, "").split(os.pathsep) if each]


def _taken(argument: str) -> Given:
    try:
        path = Path(argument)
        is_file = argument != "-" and path.is_file()
    except (OSError, ValueError):
        is_file = False
    return Given(argument, file_bytes(Path(argument))) if is_file else given(argument)


def _read(taken: Given, form: str | None) -> Intake:
    from io import BytesIO

    from pdcheck.intake.opened import Opened, naming
    from pdcheck.intake.sniff import gathered, stream_of
    from pdcheck.intake.stream import AS_IT_LOOKS

    with naming(taken.name) if taken.name else contextlib.nullcontext():
        return gathered(stream_of(Opened(taken.name, BytesIO(taken.data)), form, AS_IT_LOOKS))


def _is_wave(taken: Given) -> bool:
    from pdcheck.intake.waveform.looks import looks_like_vcd, looks_like_waveform_csv

    head = taken.data[: 1 << 16]
    return bool(taken.name) and (looks_like_vcd(head) or looks_like_waveform_csv(head))


def _object_words(intake: Intake) -> str:
    intake.offers_or_error()
    return hex_words([offer.word for offer in intake.offers])


def _marker_words(intake: Intake) -> list[int]:
    """The words of the last identity that a cable plug answered."""
    answers = [each.message for each in intake.told if each.message.type == "Vendor_Defined"]
    found = [message.words for message in answers if message.sop == "SOP'" and len(message.words) > 1]
    if not found:
        raise InputError("no answer of a cable's e-marker in it", expected="a message of SOP' with the identity")
    return list(found[-1])


def _suffix(taken: Given, intake: Intake) -> str:
    name = Path(taken.name)
    if name.suffix and taken.name != "standard input":
        return "".join(name.suffixes[-2:]) if name.suffix == ".gz" else name.suffix
    return {"vcd": ".vcd", "csv": ".csv"}.get(intake.form, ".txt")


def _told(taken: Given) -> str:
    return f"read from {Path(taken.name).name}"
