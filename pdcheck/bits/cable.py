"""What an e-marker's words say that a cable carries; both revisions' readings, and what is odd about them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, get_args

from pdcheck.bits.header import Revision
from pdcheck.bits.identity import COMMAND, COMMAND_TYPE, PD_SID, PRODUCT_TYPE_CABLE, VDM_HEADER
from pdcheck.bits.objects import Reading, read, read_identity
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.facts.cable import (
    EPR_MARKER_VOLTAGE,
    MARKED_CURRENT,
    OLDEST_MARKED_CURRENT,
    UNMARKED_CURRENT,
    UNMARKED_VOLTAGE,
    is_epr_cable,
)
from pdcheck.marks import UNTOLD, Named
from pdcheck.named import NamedTuple

_PLAIN_MA = round(UNMARKED_CURRENT.value * 1000)
_MARKED_MA = round(MARKED_CURRENT.value * 1000)
_LEAST_MA = round(OLDEST_MARKED_CURRENT.value * 1000)
_PLAIN_MV = round(UNMARKED_VOLTAGE.value * 1000)
_EPR_MV = round(EPR_MARKER_VOLTAGE.value * 1000)
_CURRENT_MA = {1: _PLAIN_MA, 2: _MARKED_MA}
NO_VENDOR = (0x0000, 0xFFFF)
"""Vendor IDs on cables whose maker holds none [common practice]."""


class CableReading(NamedTuple):
    """What the words of an e-marker come to.

    ``revision`` is the reading taken, ``2.0`` or ``3.x``; ``decided_by`` says by what. ``current_ma`` and
    ``voltage_mv`` are what may be counted on, which is less than the marker claims where it contradicts itself.
    """

    construction: str
    emarker: bool
    current_ma: int
    voltage_mv: int
    epr: bool
    revision: str
    decided_by: Annotated[str, Named("revision_from")]
    vendor_id: int | None
    product_id: Annotated[int | None, UNTOLD]
    certification: Annotated[int | None, UNTOLD]
    plug_type: Annotated[str | None, UNTOLD]
    speed: Annotated[str | None, UNTOLD]
    latency: Annotated[str | None, UNTOLD]
    readings: Annotated[tuple[Reading, ...], UNTOLD]
    problems: tuple[Problem, ...]


def read_cable_words(words: Sequence[int], revision: str | None = None) -> CableReading:
    """Read an e-marker: its words from the ID Header on, or with the VDM header before it.

    ``revision`` (``2.0`` or ``3.x``) overrules the structured version of the VDM header. Without either, 3.x is read
    and 50 V believed only with EPR Capable set, because a Revision 2.0 cable can look like a 50 V one.

    Raises ``InputError`` for no words and for a revision that does not exist.

    >>> reading = read_cable_words([0xFF00A041, 0x18000000, 0, 0, 0x000A0640])
    >>> reading.current_ma, reading.voltage_mv, reading.epr
    (5000, 50000, True)
    """
    if not words:
        raise InputError("no words", expected="ID Header, Cert Stat, Product and cable words, 32 bits each")
    if revision not in (None, *get_args(Revision)):
        raise InputError(f"no such revision: {revision!r}", expected=" or ".join(get_args(Revision)))
    problems: list[Problem] = []
    header: Reading | None = None
    rest = list(words)
    if words[0] >> 16 == PD_SID:
        header = read("vdm-header", VDM_HEADER, words[0], "VDM header")
        problems += header.problems
        rest = rest[1:]
        refused = _refused(header)
        if refused is not None:
            return _unmarked(problems, refused, (header,))
    taken, decided_by = _revision(header, revision)
    before = (header,) if header else ()
    readings = read_identity(rest, taken)
    if not readings:
        return _unmarked(problems, "no words follow the VDM header", before)
    for reading in readings:
        problems += reading.problems
    product = PRODUCT_TYPE_CABLE.get(readings[0].fields["product_type"], "reserved")
    marker = next((each for each in readings if each.kind in ("passive-cable", "active-cable", "vpd")), None)
    everything = (*before, *readings)
    if marker is None:
        what = f"product type is {product!r}, not a cable" if len(rest) > 3 else "the cable word is missing"
        return _unmarked(problems, what, everything)._replace(vendor_id=readings[0].fields["vendor_id"])
    if marker.kind == "vpd":
        current, voltage, epr = _read_vpd(marker, problems)
    else:
        current, voltage, epr = _read_marker(marker, taken, decided_by, problems)
    meanings = marker.meanings()
    return CableReading(
        construction="passive" if marker.kind == "passive-cable" else "active",
        emarker=True,
        current_ma=current,
        voltage_mv=voltage,
        epr=epr,
        revision=taken,
        decided_by=decided_by,
        vendor_id=readings[0].fields["vendor_id"],
        product_id=_field(readings, "product", "product_id"),
        certification=_field(readings, "cert-stat", "certification"),
        plug_type=meanings.get("plug_type"),
        speed=meanings.get("speed"),
        latency=meanings.get("latency"),
        readings=everything,
        problems=tuple(problems),
    )


def _refused(header: Reading) -> str | None:
    if COMMAND.get(header.fields["command"]) != "Discover Identity":
        return f"the VDM is no answer to Discover Identity but {header.meanings()['command']!r}"
    answer = COMMAND_TYPE[header.fields["command_type"]]
    return None if answer == "ACK" else f"the cable answered Discover Identity with {answer}"


def _revision(header: Reading | None, revision: str | None) -> tuple[str, str]:
    if revision is not None:
        return revision, "asked for"
    if header is None:
        return "3.x", "assumed, no VDM header"
    old = header.fields["version_major"] == 0
    return ("2.0" if old else "3.x"), "the structured version of the VDM header"


def _read_marker(marker: Reading, revision: str, decided_by: str, problems: list[Problem]) -> tuple[int, int, bool]:
    """Current [mA], voltage [mV] and EPR that a passive or active cable word may be counted on for."""
    where = marker.layout.title if marker.layout else "cable word"
    fields = marker.fields
    current = _CURRENT_MA.get(fields["current"])
    if revision == "2.0" and not fields["current"]:
        current = _LEAST_MA
    if fields.get("vbus_through") is False and marker.kind == "active-cable":
        problems.append(Problem("no-vbus", "VBUS does not go through this cable: it carries no power", where))
        current = 0
    elif current is None:
        text = f"VBUS current has the reserved code {fields['current']}: taken as 3 A"
        problems.append(Problem("current-reserved", text, where))
        current = _PLAIN_MA
    if fields.get("vbus_through") is False and marker.kind == "passive-cable":
        problems.append(Problem("no-vbus", "says that VBUS does not go through, which no passive cable does", where))
    if revision == "2.0":
        return current, _PLAIN_MV, False
    claims_50v = fields["max_voltage"] == 3
    if fields["max_voltage"] in (1, 2):
        problems.append(Problem("voltage-deprecated", "maximum VBUS voltage has a withdrawn code: read as 20 V", where))
    epr_bit = bool(fields["epr_capable"])
    voltage = _EPR_MV if claims_50v else _PLAIN_MV
    if claims_50v and not epr_bit:
        text = "says 50 V but not EPR Capable"
        if decided_by.startswith("assumed"):
            text += ": perhaps a Revision 2.0 cable, whose bits mean something else there; read as 3.x, taken as 20 V"
            voltage = _PLAIN_MV
        problems.append(Problem("50v-not-epr", text, where))
    epr = is_epr_cable(voltage / 1000, current / 1000, epr_bit)
    if epr_bit and not epr:
        text = f"says EPR Capable, but {voltage / 1000:g} V and {current / 1000:g} A: a source will not take it as EPR"
        problems.append(Problem("epr-contradicted", text, where))
    return current, voltage, epr


def _read_vpd(marker: Reading, problems: list[Problem]) -> tuple[int, int, bool]:
    problems.append(Problem("vpd", "this is a VCONN-powered USB device and no cable"))
    fields = marker.fields
    if not fields["charge_through"]:
        problems.append(Problem("no-charge-through", "it passes no power on", "VPD VDO"))
        return 0, _PLAIN_MV, False
    return (_MARKED_MA if fields["charge_through_current"] else _PLAIN_MA), _PLAIN_MV, False


def _unmarked(problems: list[Problem], why: str, readings: tuple[Reading, ...]) -> CableReading:
    text = f"{why}: taken as a cable without e-marker, 3 A and 20 V"
    told = (*problems, Problem("no-marker", text))
    figures = ("unmarked", False, _PLAIN_MA, _PLAIN_MV, False, "3.x", "nothing to decide")
    return CableReading(*figures, None, None, None, None, None, None, readings, told)


def _field(readings: Sequence[Reading], kind: str, key: str) -> int:
    """A field of a word that stands before every cable word, and so is there with one."""
    return int(next(reading.fields[key] for reading in readings if reading.kind == kind))
