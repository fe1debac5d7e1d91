"""What the objects of a message say: each word read by the table of its message, with what is odd about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Annotated, Any, Literal

from pdcheck.bits import identity
from pdcheck.bits.layout import Word
from pdcheck.bits.offers import KIND_KEYS, MOST_MA, Offer, offers_problems
from pdcheck.bits.power import (
    EPR_MODE,
    EPR_MODE_FAILURE,
    REQUEST_FORM,
    REQUEST_WORDS,
    REQUEST_WORDS_SHORT,
    SINK_WORDS,
    SOURCE_WORDS,
    kind_of,
)
from pdcheck.bits.problems import Problem
from pdcheck.facts.voltage import AVS_STEP
from pdcheck.marks import AMONG, IF_ANY, IF_KNOWN, UNTOLD, HexWord, Named, told
from pdcheck.named import NamedTuple

IdentityKind = Literal[
    "vdm-header",
    "vdm-header-unstructured",
    "id-header",
    "cert-stat",
    "product",
    "passive-cable",
    "active-cable",
    "active-cable-2",
    "vpd",
    "ama",
    "ufp",
    "dfp",
    "padding",
]
"""What the words of vendor messages and identities are read as, whatever revision their table is of."""
BARE_KINDS = UNREAD, MODE, SVIDS, VENDOR_DATA, TEST_DATA = "unread", "mode", "svids", "vendor-data", "test-data"
"""What a word without a table is shown as."""


class Reading(NamedTuple):
    """One object read: its kind, its word, its table, its fields by key, and what is odd about it."""

    kind: str
    word: HexWord
    layout: Annotated[Word | None, UNTOLD]
    fields: Annotated[Mapping[str, Any], UNTOLD]
    problems: tuple[Problem, ...] = ()

    @told
    def figures(self) -> Annotated[Mapping[str, int | Sequence[int]], AMONG]:
        """The fields that are no flags, and do not make the word its kind; of a list of SVIDs several numbers."""
        aside = KIND_KEYS if self.kind in SOURCE_WORDS and self.kind != "augmented-reserved" else ()
        return {key: value for key, value in self.fields.items() if not isinstance(value, bool) and key not in aside}

    @told
    def flags(self) -> list[str]:
        """Keys of the flags that stand at one."""
        return [key for key, value in self.fields.items() if value is True]

    @told
    def named(self) -> Annotated[Mapping[str, str], Named("meanings"), IF_ANY]:
        """The names of those figures that are codes."""
        figures = self.figures
        return {key: name for key, name in self.meanings().items() if key in figures}

    @told
    def recalled(self) -> Annotated[Mapping[str, str], Named("marks"), IF_ANY]:
        """What the reading rests on, where any of it is from memory."""
        marks = self.marks()
        return marks if any("[memory]" in mark for mark in marks.values()) else {}

    @told
    def ambiguous(self) -> Annotated[Literal[True] | None, IF_KNOWN]:
        """Whether it could be read in another way."""
        return True if any(problem.code == "ambiguous" for problem in self.problems) else None

    def marks(self) -> dict[str, str]:
        """What the reading rests on, with its mark: the ``layout``, and fields that have an origin of their own."""
        return {} if self.layout is None else self.layout.marks()

    def meanings(self) -> dict[str, str]:
        """The names of the codes, by key."""
        if self.layout is None:
            return {}
        named = self.layout.meanings(self.word)
        if self.layout is EPR_MODE and named["action"] == "Enter Failed":
            named["data"] = EPR_MODE_FAILURE.get(self.fields["data"], "reserved")
        return named


_ACTIVE = (identity.ACTIVE_CABLE_1, identity.ACTIVE_CABLE_R2)
_POSITION = REQUEST_WORDS["fixed"].field("position")
_POSITION_SHORT = REQUEST_WORDS_SHORT["fixed"].field("position")
_AVS_VOLTAGE = REQUEST_WORDS["avs"].field("output_voltage_mv")


@lru_cache(1 << 12)
def read(kind: str, layout: Word, word: int, where: str = "") -> Reading:
    """Read a word by its table; set reserved bits and codes without a name become problems.

    >>> from pdcheck.bits.power import PPS_REQUEST
    >>> read("pps", PPS_REQUEST, 0x60000000 | 450 << 9 | 40).fields["output_voltage_mv"]
    9000
    """
    return _read(kind, layout, word, where)


def _read(kind: str, layout: Word, word: int, where: str) -> Reading:
    found = [
        Problem("reserved-bits", f"reserved bits {run} of the {layout.title} are set", where)
        for run in layout.reserved_set(word)
    ]
    no_vbus = layout in _ACTIVE and not layout.field("vbus_through").take(word)
    for field in layout.coded():
        # The current of an active cable counts only where VBUS goes through it.
        if no_vbus and field.key == "current":
            continue
        if field.codes is not None and field.take(word) not in field.codes:
            found.append(Problem("reserved-code", f"{field.title} has the reserved code {field.take(word)}", where))
    return Reading(kind, word, layout, layout.decode(word), tuple(found))


def read_sources(words: Sequence[int], *, epr_message: bool = False) -> tuple[tuple[Offer, ...], list[Problem]]:
    """Offers of a capabilities message, positions from 1, with the problems of each and of the list.

    >>> offers, problems = read_sources([0x0801912C, 0x0002D12C])
    >>> [offer.max_mv for offer in offers], problems
    ([5000, 9000], [])
    """
    offers = tuple(Offer.from_word(word, position) for position, word in enumerate(words, 1))
    return offers, offers_problems(offers, epr_message=epr_message)


def read_sink(word: int, position: int) -> Reading:
    """One power data object of a sink."""
    kind = kind_of(word)
    where = f"object {position}"
    reading = read(kind, SINK_WORDS[kind], word, where)
    found = list(reading.problems)
    if kind == "augmented-reserved":
        found.append(Problem("reserved-kind", "augmented supply of a reserved kind", where))
    least = reading.fields.get("min_voltage_mv")
    most = reading.fields.get("max_voltage_mv", reading.fields.get("voltage_mv"))
    if most == 0:
        found.append(Problem("zero-voltage", "the voltage is zero", where))
    if least is not None and most is not None and least > most:
        found.append(Problem("range-reversed", f"minimum {least} mV is above maximum {most} mV", where))
    if reading.fields.get("current_ma", 0) > MOST_MA:
        found.append(Problem("over-5a", "more than any contract may carry (5 A)", where))
    if kind == "fixed" and position != 1 and word:
        first_only = reading.flags + ["fast_role_swap"] * bool(reading.fields["fast_role_swap"])
        if first_only:
            found.append(Problem("flags-not-first", f"{', '.join(first_only)} set outside the first object", where))
    return reading._replace(problems=tuple(found))


def read_request(
    word: int,
    offers: Sequence[Offer] = (),
    *,
    form: str | None = None,
    revision: str = "3.x",
    epr_message: bool = False,
) -> Reading:
    """A request, read by the offer that it points at, else by ``form``, else as fixed and marked ambiguous.

    >>> read_request(0x1304B12C).problems[0].code
    'ambiguous'
    """
    short = revision in ("1.0", "2.0")
    tables = REQUEST_WORDS_SHORT if short else REQUEST_WORDS
    position = (_POSITION_SHORT if short else _POSITION).take(word)
    asked: Offer | None = None
    for offer in offers:
        if offer.position == position and offer.word:
            asked = offer
            break
    found: list[Problem] = []
    where = "request"
    chosen = form
    if chosen is None and asked is not None:
        chosen = REQUEST_FORM.get(asked.kind)
    if chosen is None:
        chosen = "fixed"
        if asked is not None:
            text = f"points at object {position}, whose kind is reserved: read as fixed, which may be wrong"
        elif offers:
            text = f"points at object {position}, which was not offered: read as fixed, which may be wrong"
        else:
            text = "no offer is known that it points at: read as fixed, which may be wrong"
        found.append(Problem("ambiguous", text, where))
    # Requests differ more than other objects do: to keep them would only push those out.
    reading = _read(chosen, tables.get(chosen, REQUEST_WORDS[chosen]), word, where)
    found += reading.problems
    if position == 0:
        found.append(Problem("position", "object position 0 is reserved", where))
    elif offers and asked is None:
        found.append(Problem("position", f"object position {position} was not offered", where))
    fields = reading.fields
    for key in ("operating_current_ma", "max_operating_current_ma"):
        if fields.get(key, 0) > MOST_MA:
            found.append(Problem("over-5a", f"{key} is more than any contract may carry ({MOST_MA / 1000:g} A)", where))
    if chosen == "avs" and (word >> _AVS_VOLTAGE.low) & 3:
        found.append(Problem("off-step", f"the AVS voltage is off its {AVS_STEP.value * 1000:g} mV step", where))
    if asked is not None and not epr_message and asked.is_epr:
        found.append(Problem("epr-in-spr", "an EPR object can be asked for with EPR_Request only", where))
    found += _beyond(asked, fields, where)
    return reading._replace(problems=tuple(found)) if found else reading


def _beyond(asked: Offer | None, fields: Mapping[str, Any], where: str) -> list[Problem]:
    """What a request asks beyond its offer."""
    if asked is None:
        return []
    found: list[Problem] = []
    volts = fields.get("output_voltage_mv")
    if volts is not None and not asked.min_mv <= volts <= asked.max_mv:
        text = f"{volts} mV is outside the offer's {asked.min_mv}..{asked.max_mv} mV"
        found.append(Problem("outside-range", text, where))
    at = volts if volts is not None else asked.max_mv
    most = asked.current_ma_at(at)
    current = fields.get("operating_current_ma")
    if current is not None and current > most:
        text = f"asks for {current} mA of an offer of {most} mA"
        found.append(Problem("over-offer", text, where))
    power = fields.get("operating_power_mw")
    if power is not None and asked.power_mw is not None and power > asked.power_mw:
        found.append(Problem("over-offer", f"asks for {power} mW of an offer of {asked.power_mw} mW", where))
    return found


def read_epr_mode(word: int) -> Reading:
    """The EPR_Mode object; its Data means something in two actions and is zero in the others.

    >>> [problem.text for problem in read_epr_mode(0x02010000).problems]
    ['Data is 1, where it is zero: Enter Acknowledged has none']
    """
    reading = read("epr-mode", EPR_MODE, word, "EPR_Mode")
    action, data = reading.meanings().get("action", ""), reading.fields["data"]
    text = ""
    if action == "Enter Failed" and data not in EPR_MODE_FAILURE:
        text = f"Data has the reserved cause {data}"
    elif data and action in ("Enter Acknowledged", "Enter Succeeded", "Exit"):
        text = f"Data is {data}, where it is zero: {action} has none"
    problem = Problem("reserved-bits", text, "EPR_Mode")
    return reading._replace(problems=(*reading.problems, problem)) if text else reading


def read_vendor(words: Sequence[int], sop: str = "SOP'") -> list[Reading]:
    """The objects of a vendor-defined message: header first, then by command; identity words by product type.

    >>> [reading.kind for reading in read_vendor([0xFF00A041, 0x18000000, 0, 0, 0x11082032])]
    ['vdm-header', 'id-header', 'cert-stat', 'product', 'passive-cable']
    """
    if not words:
        return []
    if not identity.VDM_HEADER.field("structured").take(words[0]):
        header = read("vdm-header-unstructured", identity.VDM_HEADER_UNSTRUCTURED, words[0])
        return [header, *(Reading(VENDOR_DATA, word, None, {}) for word in words[1:])]
    header = read("vdm-header", identity.VDM_HEADER, words[0], "VDM header")
    fields = header.fields
    command = identity.COMMAND.get(fields["command"])
    acknowledged = identity.COMMAND_TYPE[fields["command_type"]] == "ACK"
    rest = words[1:]
    if fields["svid"] == identity.PD_SID and command == "Discover Identity" and acknowledged:
        revision = "2.0" if fields["version_major"] == 0 else "3.x"
        told = read_identity(rest, revision, sop)
        due = _IDENTITY
        if sop != "SOP" and told:
            kind = identity.PRODUCT_TYPE_CABLE.get(told[0].fields["product_type"], "reserved")
            due += len(cable_words(kind, revision))
        if len(rest) < due:
            short = Problem("identity-short", f"an identity of {len(rest)} objects, {due} are due", "VDM header")
            header = header._replace(problems=(*header.problems, short))
        return [header, *told]
    if command == "Discover SVIDs" and acknowledged:
        return [header, *_svids(rest)]
    if command == "Discover Modes" and acknowledged:
        if fields["svid"] == identity.DISPLAYPORT_SVID:
            return [header, *(read("displayport-mode", identity.DP_CAPABILITIES, word) for word in rest)]
        return [header, *(Reading(MODE, word, None, {"position": at}) for at, word in enumerate(rest, 1))]
    layout = identity.DP_COMMANDS.get(fields["command"]) if fields["svid"] == identity.DISPLAYPORT_SVID else None
    if layout is not None and rest:
        return [header, read(layout.name, layout, rest[0]), *(Reading(VENDOR_DATA, w, None, {}) for w in rest[1:])]
    return [header, *(Reading(VENDOR_DATA, word, None, {}) for word in rest)]


_IDENTITY = 3
"""Objects that every identity has: ID Header, Cert Stat and Product."""


def _svids(words: Sequence[int]) -> list[Reading]:
    """Two SVIDs a word, the high half first; 0x0000 ends the list."""
    readings: list[Reading] = []
    ended = False
    for word in words:
        halves = (word >> 16, word & 0xFFFF)
        listed: list[int] = []
        found: list[Problem] = []
        for half in halves:
            if ended and half:
                found = [Problem("after-end", "an SVID comes after the 0x0000 that ends the list", "Discover SVIDs")]
            ended = ended or half == 0
            if not ended:
                listed.append(half)
        readings.append(Reading(SVIDS, word, None, {"svids": listed}, tuple(found)))
    return readings


def read_identity(words: Sequence[int], revision: str, sop: str = "SOP'") -> list[Reading]:
    """ID Header, Cert Stat, Product and what follows them by product type; ``revision`` is ``2.0`` or ``3.x``."""
    readings: list[Reading] = []
    if not words:
        return readings
    cable = sop != "SOP"
    header = identity.ID_HEADER_CABLE if cable else identity.ID_HEADER_PORT
    readings.append(read("id-header", header, words[0], "ID Header"))
    for layout, word in zip((identity.CERT_STAT, identity.PRODUCT), words[1:3], strict=False):
        readings.append(read(layout.name, layout, word, layout.title))
    rest = words[3:]
    if cable:
        kinds = cable_words(identity.PRODUCT_TYPE_CABLE.get(readings[0].fields["product_type"], "reserved"), revision)
    else:
        kinds = _port_words(readings[0].fields, len(rest), revision)
    for index, word in enumerate(rest):
        if index < len(kinds):
            kind, layout = kinds[index]
            readings.append(read(kind, layout, word, layout.title))
        else:
            readings.append(Reading(UNREAD, word, None, {}))
    return readings


def cable_words(product_type: str, revision: str) -> list[tuple[IdentityKind, Word]]:
    """The words that follow the Product VDO of a cable plug, by its product type and revision."""
    old = revision == "2.0"
    if product_type == "passive cable":
        return [("passive-cable", identity.PASSIVE_CABLE_R2 if old else identity.PASSIVE_CABLE)]
    if product_type == "active cable":
        if old:
            return [("active-cable", identity.ACTIVE_CABLE_R2)]
        return [("active-cable", identity.ACTIVE_CABLE_1), ("active-cable-2", identity.ACTIVE_CABLE_2)]
    if product_type == "VCONN-powered USB device":
        return [("vpd", identity.VPD)]
    return []


_PADDING = Word("padding", "Padding", [])


def _port_words(fields: Mapping[str, Any], count: int, revision: str) -> list[tuple[IdentityKind, Word]]:
    if fields["product_type"] == identity.AMA_PRODUCT:
        return [("ama", identity.AMA_R2 if revision == "2.0" else identity.AMA)]
    as_ufp: tuple[IdentityKind, Word] = ("ufp", identity.UFP)
    as_dfp: tuple[IdentityKind, Word] = ("dfp", identity.DFP)
    if count >= 3:
        return [as_ufp, ("padding", _PADDING), as_dfp]
    if fields["product_type"] in (1, 2):
        return [as_ufp]
    return [as_dfp] if fields["product_type_dfp"] else [as_ufp]
