"""Offer: one power data object of a source as a choice, with what is odd about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Annotated, Any

from pdcheck.bits.layout import Word
from pdcheck.bits.power import SOURCE_WORDS, kind_of
from pdcheck.bits.problems import Code, Problem
from pdcheck.facts.capabilities import (
    AVS_CURRENT_STEP,
    EPR_FIRST_POSITION,
    FIRST_OBJECT_VOLTAGE,
    SPR_AVS_LEAST,
    SPR_AVS_MOST,
    SPR_AVS_SPLIT,
    SPR_OBJECTS_MAX,
    UNREGULATED,
    VARIABLE_MIN_SHARE,
)
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.voltage import EPR_MAX, SPR_MAX
from pdcheck.marks import AMONG, UNTOLD, HexWord, Schema, told
from pdcheck.named import NamedTuple

MOST_MA = round(CONTRACT_MAX.value * 1000)
FIRST_EPR = round(EPR_FIRST_POSITION.value)
_SPR_MAX_MV = round(SPR_MAX.value * 1000)
_EPR_MAX_MV = round(EPR_MAX.value * 1000)
_SAFE5V_MV = round(FIRST_OBJECT_VOLTAGE.value * 1000)
_SPLIT_MV = round(SPR_AVS_SPLIT.value * 1000)
_AVS_STEP_MA = round(AVS_CURRENT_STEP.value * 1000)


KIND_KEYS = ("supply", "augmented")
"""The bits that make a power data object its kind."""


class Offer(NamedTuple):
    """One choice that a source gives.

    ``position`` counts from 1, as the request does. ``min_mv`` and ``max_mv`` are equal for a fixed supply. Of the
    other figures only those that the kind carries are set. ``flags`` holds the keys of the flags that stand at one.
    """

    position: int
    kind: str
    word: HexWord
    min_mv: Annotated[int, UNTOLD]
    max_mv: Annotated[int, UNTOLD]
    current_ma: Annotated[int | None, UNTOLD] = None
    power_mw: Annotated[int | None, UNTOLD] = None
    current_15v_ma: Annotated[int | None, UNTOLD] = None
    current_20v_ma: Annotated[int | None, UNTOLD] = None
    pdp_w: Annotated[int | None, UNTOLD] = None
    peak_current: Annotated[int | None, UNTOLD] = None
    flags: tuple[str, ...] = ()

    @classmethod
    def from_word(cls, word: int, position: int = 1) -> Offer:
        """Read a 32-bit word of a source; every word reads, odd ones too.

        >>> offer = Offer.from_word(0x000641F4, 4)
        >>> offer.kind, offer.max_mv, offer.current_ma
        ('fixed', 20000, 5000)
        """
        kind = kind_of(word)
        values = SOURCE_WORDS[kind].decode(word)
        least, most = _range(kind, values)
        return cls(
            position,
            kind,
            word,
            least,
            most,
            values.get("current_ma"),
            values.get("power_mw"),
            values.get("current_15v_ma"),
            values.get("current_20v_ma"),
            values.get("pdp_w"),
            values.get("peak_current"),
            tuple(key for key, value in values.items() if value is True),
        )

    @property
    def layout(self) -> Word:
        """The table of this kind of word."""
        return SOURCE_WORDS[self.kind]

    @property
    def is_epr(self) -> bool:
        """Whether the offer can be had in EPR mode only."""
        return self.kind == "epr-avs" or self.max_mv > _SPR_MAX_MV

    @property
    def is_gap(self) -> bool:
        """An all-zero word: a gap in an EPR list, and no offer."""
        return self.word == 0

    @property
    def is_adjustable(self) -> bool:
        """Whether the sink names the voltage that it wants."""
        return self.kind in ("pps", "spr-avs", "epr-avs")

    def holds(self, voltage_mv: int) -> bool:
        """Whether this offer gives that voltage: its own, or one within an adjustable range.

        >>> Offer.from_word(0xC0DC213C, 6).holds(9000), Offer.from_word(0x0801912C, 1).holds(9000)
        (True, False)
        """
        # A gap and a reserved kind have no range but 0..0, which holds nothing above zero.
        if voltage_mv <= 0 or self.kind in UNREGULATED:
            return False
        return self.min_mv <= voltage_mv <= self.max_mv

    def current_ma_at(self, voltage_mv: int) -> int:
        """The most current the source grants at that voltage, in mA, never above 5 A.

        A battery offer gives power / voltage; EPR AVS gives PDP / voltage, down to 50 mA; SPR AVS has one figure up to
        15 V and one above.

        >>> Offer.from_word(0xD1E0968C, 11).current_ma_at(28000)
        5000
        """
        if self.current_ma is not None:
            return self.current_ma if self.kind == "fixed" else min(self.current_ma, MOST_MA)
        if voltage_mv <= 0:
            return 0
        if self.power_mw is not None:
            return min(self.power_mw * 1000 // voltage_mv, MOST_MA)
        if self.pdp_w is not None:
            current = self.pdp_w * 1_000_000 // voltage_mv
            return min(current // _AVS_STEP_MA * _AVS_STEP_MA, MOST_MA)
        if self.current_15v_ma is not None and self.current_20v_ma is not None:
            low = voltage_mv <= _SPLIT_MV
            return min(self.current_15v_ma if low else self.current_20v_ma, MOST_MA)
        return 0

    @property
    def greatest_w(self) -> float:
        """What it gives at its highest voltage [W]."""
        return self.max_mv * self.current_ma_at(self.max_mv) / 1e6

    def at_most(self, most: Mapping[str, int]) -> Offer:
        """The offer with these figures at most, each down to its step; itself where it stays within.

        >>> fixed(20000, 5000, 4).at_most({"current_ma": 3000}).current_ma
        3000
        """
        changes = {
            key: limit // self.layout.field(key).scale * self.layout.field(key).scale
            for key, limit in most.items()
            if (getattr(self, key) or 0) > limit
        }
        return Offer.from_word(self.layout.encode(self.fields() | changes), self.position) if changes else self

    def fields(self) -> dict[str, Any]:
        """Every field of the word by key, as the table has them."""
        return self.layout.decode(self.word)

    @told
    def figures(self) -> Annotated[Mapping[str, int], AMONG]:
        """The fields that are no flags, and do not make the word its kind; and a range that follows from them.

        >>> Offer.from_word(0xE004B0E1).figures["max_voltage_mv"]
        20000
        """
        found = {key: value for key, value in self.fields().items() if not isinstance(value, bool)}
        for key in KIND_KEYS:
            found.pop(key, None)
        return (
            found if self.kind != "spr-avs" else found | {"min_voltage_mv": self.min_mv, "max_voltage_mv": self.max_mv}
        )

    @told
    def problems(self) -> tuple[Problem, ...]:
        """What is odd about it on its own."""
        return tuple(offer_problems(self, epr_message=self.is_epr))

    @classmethod
    def json_schema(cls, shared: dict[str, Schema]) -> Schema:
        """A schema for each kind: its figures are those that a word of the kind has."""
        from pdcheck.result import object_schema

        whole: Schema = {"type": "integer"}
        kinds = []
        for kind, layout in SOURCE_WORDS.items():
            made = object_schema(cls, shared)
            figures = dict.fromkeys(cls.from_word(layout.encode({})).figures, whole)
            made["properties"] |= {"kind": {"const": kind}, **figures}
            made["required"] += figures
            kinds.append(made | {"patternProperties": {"^reserved_": whole}, "additionalProperties": False})
        return {"oneOf": kinds}


def _range(kind: str, values: dict[str, Any]) -> tuple[int, int]:
    if kind == "fixed":
        return values["voltage_mv"], values["voltage_mv"]
    if kind == "spr-avs":
        top = SPR_AVS_MOST if values["current_20v_ma"] else SPR_AVS_SPLIT
        return round(SPR_AVS_LEAST.value * 1000), round(top.value * 1000)
    return values.get("min_voltage_mv", 0), values.get("max_voltage_mv", 0)


def _offer(kind: str, position: int, **values: bool | int) -> Offer:
    return Offer.from_word(SOURCE_WORDS[kind].encode(values), position)


def fixed(voltage_mv: int, current_ma: int, position: int = 1, **flags: bool | int) -> Offer:
    """A fixed offer.

    >>> hex(fixed(9000, 3000).word)
    '0x2d12c'
    """
    return _offer("fixed", position, voltage_mv=voltage_mv, current_ma=current_ma, **flags)


def variable(min_mv: int, max_mv: int, current_ma: int, position: int = 1) -> Offer:
    """A variable offer (a supply without battery whose voltage wanders between two bounds).

    >>> hex(variable(5000, 6000, 1000).word)
    '0x87819064'
    """
    return _offer("variable", position, min_voltage_mv=min_mv, max_voltage_mv=max_mv, current_ma=current_ma)


def battery(min_mv: int, max_mv: int, power_mw: int, position: int = 1) -> Offer:
    """A battery offer, bounded in power.

    >>> hex(battery(5000, 6000, 10000).word)
    '0x47819028'
    """
    return _offer("battery", position, min_voltage_mv=min_mv, max_voltage_mv=max_mv, power_mw=power_mw)


def pps(min_mv: int, max_mv: int, current_ma: int, position: int = 1, *, power_limited: bool = False) -> Offer:
    """A programmable (PPS) offer.

    >>> hex(pps(3300, 11000, 3000).word)
    '0xc0dc213c'
    """
    span = {"min_voltage_mv": min_mv, "max_voltage_mv": max_mv}
    return _offer("pps", position, **span, current_ma=current_ma, pps_power_limited=power_limited)


def spr_avs(current_15v_ma: int, current_20v_ma: int, position: int = 1) -> Offer:
    """An SPR AVS offer; zero at 20 V says that the source stops at 15 V.

    >>> hex(spr_avs(3000, 2250).word)
    '0xe004b0e1'
    """
    return _offer("spr-avs", position, current_15v_ma=current_15v_ma, current_20v_ma=current_20v_ma)


def epr_avs(min_mv: int, max_mv: int, pdp_w: int, position: int = FIRST_EPR) -> Offer:
    """An EPR AVS offer.

    >>> hex(epr_avs(15000, 28000, 140).word)
    '0xd230968c'
    """
    return _offer("epr-avs", position, min_voltage_mv=min_mv, max_voltage_mv=max_mv, pdp_w=pdp_w)


def volts(millivolts: int) -> str:
    """Millivolts as volts.

    >>> volts(20000), volts(3300)
    ('20 V', '3.3 V')
    """
    return f"{millivolts / 1000:g} V"


def offer_words(offer: Offer) -> str:
    """An offer as a label would have it.

    >>> offer_words(pps(3300, 11000, 3000))
    'PPS 3.3..11 V 3 A'
    """
    kind = "" if offer.kind == "fixed" else offer.kind.upper().replace("-", " ") + " "
    span = volts(offer.max_mv) if offer.min_mv == offer.max_mv else f"{offer.min_mv / 1000:g}..{volts(offer.max_mv)}"
    if offer.current_ma is not None:
        much = f"{offer.current_ma / 1000:g} A"
    elif offer.power_mw is not None:
        much = f"{offer.power_mw / 1000:g} W"
    elif offer.pdp_w is not None:
        much = f"{offer.pdp_w} W"
    else:
        much = f"{(offer.current_15v_ma or 0) / 1000:g}/{(offer.current_20v_ma or 0) / 1000:g} A"
    return f"{kind}{span} {much}"


_GROUP = {"fixed": 0, "battery": 1, "variable": 2, "spr-avs": 3, "pps": 4, "augmented-reserved": 5, "epr-avs": 7}


def order_key(offer: Offer) -> tuple[int, int, int]:
    """Where an offer belongs in the list: (group, voltage, voltage), to sort by.

    PD R3.2 V1.1, 6.4.1.4 [checked]: vSafe5V fixed, fixed by rising voltage, battery, variable, SPR AVS, PPS by rising
    maximum; EPR objects after them.
    """
    if offer.kind == "fixed":
        return (6 if offer.is_epr else 0, 0 if offer.max_mv == _SAFE5V_MV else 1, offer.max_mv)
    if offer.kind == "pps":
        return (_GROUP["pps"], offer.max_mv, offer.min_mv)
    return (_GROUP[offer.kind], offer.min_mv, offer.max_mv)


def arranged(offers: Iterable[Offer]) -> tuple[Offer, ...]:
    """The offers in the order that the standard asks for, with the positions they get there; EPR ones from 8 on.

    >>> [(o.position, o.max_mv) for o in arranged([fixed(9000, 3000), fixed(5000, 3000)])]
    [(1, 5000), (2, 9000)]
    """
    ordered = sorted((offer for offer in offers if not offer.is_gap), key=order_key)
    low = [offer for offer in ordered if not offer.is_epr]
    high = [offer for offer in ordered if offer.is_epr]
    placed = [offer._replace(position=index) for index, offer in enumerate(low, 1)]
    placed += [offer._replace(position=index) for index, offer in enumerate(high, FIRST_EPR)]
    return tuple(placed)


def offers_problems(offers: tuple[Offer, ...], *, epr_message: bool) -> list[Problem]:
    """What is odd about a list as a whole, then about each offer on its own."""
    each = (problem for offer in offers for problem in offer_problems(offer, epr_message=epr_message))
    return [*list_problems(offers, epr_message=epr_message), *each]


def offer_problems(offer: Offer, *, epr_message: bool = False) -> list[Problem]:
    """What is odd about one offer on its own."""
    where = f"object {offer.position}"
    found: list[Problem] = []

    def note(code: Code, text: str) -> None:
        found.append(Problem(code, text, where))

    if offer.is_gap and epr_message:
        return found
    for run in offer.layout.reserved_set(offer.word):
        note("reserved-bits", f"reserved bits {run} are set")
    if offer.kind == "augmented-reserved":
        note("reserved-kind", "augmented supply of a reserved kind: what it offers cannot be told")
        return found
    if offer.max_mv == 0 or (offer.kind in UNREGULATED and offer.min_mv == 0):
        note("zero-voltage", "the voltage is zero")
    if offer.min_mv > offer.max_mv:
        note("range-reversed", f"minimum {offer.min_mv} mV is above maximum {offer.max_mv} mV")
    if offer.kind == "variable" and offer.min_mv < VARIABLE_MIN_SHARE.value * offer.max_mv:
        least = f"{100 * VARIABLE_MIN_SHARE.value:g} %"
        note("range-wide", f"the minimum of a variable supply is below {least} of its maximum")
    if offer.max_mv > _EPR_MAX_MV:
        note("over-48v", f"{offer.max_mv / 1000:g} V is more than any contract may have ({EPR_MAX.value:g} V)")
    for figure in (offer.current_ma, offer.current_15v_ma, offer.current_20v_ma):
        if figure is not None and figure > MOST_MA:
            note("over-5a", f"{figure / 1000:g} A is more than any contract may carry (5 A)")
    empty = offer.current_ma == 0 or offer.power_mw == 0 or offer.pdp_w == 0 or offer.current_15v_ma == 0
    if empty and not offer.is_gap:
        if offer.kind == "fixed" and offer.max_mv == _SAFE5V_MV:
            note("no-power", "5 V at 0 mA: no power is offered, or the sink is to go to its lowest power state")
        else:
            note("no-power", "the offer carries no current")
    if offer.kind == "fixed" and offer.position != 1 and offer.flags:
        note("flags-not-first", f"{', '.join(offer.flags)} set outside the first object")
    if offer.is_epr and not epr_message:
        note("epr-in-spr", f"{offer.max_mv / 1000:g} V is an EPR voltage and has no place among SPR objects")
    return found


def list_problems(offers: tuple[Offer, ...], *, epr_message: bool = False) -> list[Problem]:
    """What is odd about the list as a whole: its first object, its length, its order."""
    found: list[Problem] = []
    if not offers:
        return found

    def note(code: Code, text: str, position: int) -> None:
        found.append(Problem(code, text, f"object {position}"))

    if offers[0].kind != "fixed" or offers[0].max_mv != _SAFE5V_MV:
        note("first-not-5v", f"the first object is not {FIRST_OBJECT_VOLTAGE.value:g} V fixed", 1)
    most = round(SPR_OBJECTS_MAX.value)
    if not epr_message and len(offers) > most:
        note("too-many", f"{len(offers)} objects, more than {most}", most + 1)
    real = [offer for offer in offers if not offer.is_gap and offer.kind != "augmented-reserved"]
    for before, after in pairwise(real):
        if order_key(after) < order_key(before):
            note("order", f"comes after object {before.position} but belongs before it", after.position)
    for before, after in pairwise(real):
        if before.word == after.word:
            note("repeated", f"repeats object {before.position}", after.position)
    for offer in offers if epr_message else ():
        if offer.is_epr and offer.position < FIRST_EPR:
            note("epr-low", "an EPR object in positions 1..7", offer.position)
        elif not offer.is_gap and not offer.is_epr and offer.position >= FIRST_EPR:
            note("spr-high", "an SPR object in positions 8..11", offer.position)
    return found
