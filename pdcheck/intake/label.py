"""The text printed on a charger, to offers: voltages with currents, PPS and AVS ranges, in any printer's dress."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from pdcheck.bits.offers import (
    MOST_MA,
    Offer,
    arranged,
    battery,
    epr_avs,
    fixed,
    list_problems,
    offer_problems,
    pps,
    spr_avs,
    variable,
)
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import SPR_AVS_MOST, SPR_AVS_SPLIT
from pdcheck.intake.label_energy import BESIDE, HOLDS_ONLY, Holds, energy_of
from pdcheck.intake.label_text import EXPECTED, Piece, half_width, label_error, pieces
from pdcheck.intake.port_label import names_ports, read_ports
from pdcheck.intake.ports import Ports
from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pdcheck.intake.opened import Opened
    from pdcheck.intake.stream import How, Stream

LONGEST = 4000  # characters; no charger prints more
_MOST_BYTES = 1 << 20  # what is wrong with a longer one is told of its beginning
_MOST_MV = 51_150
_LOG_ROWS = 100
PPS_STARTS_MV = (3300, 5000)
"""Where programmable supplies begin in the old and the new text; other ranges without the word are not PD."""


class Label(NamedTuple):
    """What a label says: its offers in the standard's order, the power printed beside them, remarks on the reading, and
    what a power bank's says of its energy.

    Of a charger with several ports they are those of the port that gives most alone; ``ports`` has all of them.
    """

    offers: tuple[Offer, ...]
    power_w: float | None
    remarks: tuple[str, ...]
    holds: Holds | None = None
    ports: Ports | None = None


# Volts, or a power bank's energy.
_LOOKS = re.compile(
    r"\d\s*(?:[vVｖＶ](?:olts?|[dD][cC])?(?![^\W\d_])|[mｍ][AaＡ][hHｈ]|MAH|[wWｗＷ][hHｈＨ]|毫安|瓦[时時])"
)


def looks_like_label(text: str) -> bool:
    """Whether a text speaks of volts, of mAh or Wh, or of the watts of ports, which hex never does.

    >>> looks_like_label("5V 3A"), looks_like_label("20000mAh"), looks_like_label("a1 61")
    (True, True, False)
    >>> looks_like_label("C1 65W, C2 30W")
    True
    """
    return _LOOKS.search(text, 0, LONGEST * 4) is not None or names_ports(text[:LONGEST])


def looks(head: bytes) -> bool:
    """Whether an input that begins so is a label."""
    text = head.decode("utf-8", "replace")
    if not looks_like_label(text):
        return False
    if "\n" not in text:
        return True
    # A log may speak of the bus between its messages.
    from pdcheck.intake.content import is_of_log, layout_of

    rows = text.splitlines()[:_LOG_ROWS]
    return not any(map(is_of_log, rows)) and layout_of(rows) is None


def read(opened: Opened, how: How) -> Stream:
    """The form ``label``: offers and no message."""
    # A kit of labels needs nothing of the machinery for messages.
    from pdcheck.intake.given import Given
    from pdcheck.intake.stream import Intake, Stream

    label = read_label(Given("", opened.text_bytes(_MOST_BYTES)).text(), needs_offers=False)
    problems = [Problem("label", remark) for remark in label.remarks]
    problems += list_problems(label.offers, epr_message=any(offer.is_epr for offer in label.offers))
    for offer in label.offers:
        problems += offer_problems(offer, epr_message=offer.is_epr)
    return Stream(
        Intake(
            "label",
            offers=label.offers,
            problems=tuple(problems),
            power_w=label.power_w,
            holds=label.holds,
            ports=label.ports,
        )
    )


def read_label(text: str, *, needs_offers: bool = True) -> Label:
    """Offers of a label, and what a power bank's says of its energy.

    Raises ``InputError`` naming line and offset of what cannot be read, and for a label without offers unless it says
    what a power bank holds and ``needs_offers`` is false.

    >>> [(o.kind, o.min_mv, o.max_mv, o.current_ma) for o in read_label("5V⎓3A, 9V/2,77A; PPS 3.3-11V 3A").offers]
    [('fixed', 5000, 5000, 3000), ('fixed', 9000, 9000, 2770), ('pps', 3300, 11000, 3000)]
    """
    if len(text) > LONGEST:
        raise InputError(f"{len(text)} characters", where="line 1", expected=f"a label of at most {LONGEST}")
    remarks: list[str] = []
    shown, holds = energy_of(half_width(text), remarks)
    ports = read_ports(shown, _one_port, remarks)
    if ports is None:
        return _read_one(text, needs_offers)
    best = ports.best
    if any(set(port.offers) - set(best.offers) for port in ports.ports if port.pd):
        # What one port has and what another has are no choices of one contract.
        remarks.append(f"several ports: the one with the most power is read, {best.called}")
    remarks += [f"{port.called} is a Type-A port, which speaks no PD" for port in ports.ports if not port.pd]
    return Label(best.offers, best.power_w, tuple(remarks), holds, ports)


def _one_port(text: str) -> tuple[tuple[Offer, ...], float | None, tuple[str, ...]]:
    label = _read_one(text, True)
    return label.offers, label.power_w, label.remarks


def _read_one(text: str, needs_offers: bool) -> Label:
    """A label that does not part its figures by ports."""
    reader = _Reader(text)
    shown, holds = energy_of(half_width(text), reader.remarks)
    for piece in _voltage_first(list(pieces(text, reader.remarks, shown)), text):
        reader.take(piece)
    return reader.label(holds, needs_offers)


def _voltage_first(found: list[Piece], text: str) -> list[Piece]:
    """The pieces with each current behind its voltage, where the whole label prints it before (3A @ 5V, 2A @ 9V)."""
    figures = [piece for piece in found if piece.kind in ("amps", "volts", "range")]
    if not figures or figures[0].kind != "amps":
        return found
    if figures[-1].kind == "amps":
        raise label_error(f"{figures[-1].text} belongs to no voltage", text, figures[-1].at)
    turned: list[Piece] = []
    current: Piece | None = None
    for piece in found:
        if piece.kind == "amps":
            current = piece
        elif piece.kind in ("volts", "range") and current is not None:
            turned += [piece, current]
        else:
            turned.append(piece)
    return turned


class _Range(NamedTuple):
    """An AVS range as printed; its current at and above 15 V, or its power."""

    low: int
    high: int
    milliamps: int | None
    milliwatts: int | None
    above: int | None = None


class _Port(NamedTuple):
    """What a label says of one port."""

    name: str
    found: list[Offer]
    ranges: list[_Range]

    def offers(self) -> list[Offer]:
        """Its offers, AVS ranges among them."""
        return self.found + [_adjustable(each, self.found) for each in self.ranges]


class _Reader:
    """Takes the pieces of a label in turn; voltages wait for the current that follows them."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.remarks: list[str] = []
        self.ports: list[_Port] = []
        self._begin_port()
        self.power: float | None = None
        self.mode = ""
        self.waiting: list[Piece] = []

    def _begin_port(self) -> None:
        self.found: list[Offer] = []
        self.ranges: list[_Range] = []
        self.ports.append(_Port("", self.found, self.ranges))

    def take(self, piece: Piece) -> None:
        if piece.kind == "port":
            if self.found or self.ranges:
                self.mode = ""
                self._begin_port()
            self.ports[-1] = self.ports[-1]._replace(name=self.ports[-1].name or piece.text)
        elif piece.kind == "mode":
            self.mode = "" if piece.text in ("fixed", "pdo") else piece.text
        elif piece.kind in ("volts", "range"):
            self.waiting.append(piece)
        elif piece.kind == "watts":
            if self.waiting and self.mode in ("battery", "batt", "avs"):
                self._settle(None, piece.low)
            else:
                self.power = max(self.power or 0.0, piece.low / 1000)
        elif self.waiting:
            self._settle(piece.low, None)
        elif self.mode == "avs" and self.ranges and self.ranges[-1].above is None:
            self.ranges[-1] = self.ranges[-1]._replace(above=piece.low)
        else:
            raise label_error(f"{piece.text} belongs to no voltage", self.text, piece.at)

    def label(self, holds: Holds | None, needs_offers: bool) -> Label:
        if self.waiting:
            raise label_error(f"{self.waiting[0].text} has no current", self.text, self.waiting[0].at)
        ports = [(port.name, port.offers()) for port in self.ports]
        name, found = max(ports, key=lambda port: max((offer.greatest_w for offer in port[1]), default=0.0))
        if any(set(offers) - set(found) for _, offers in ports):
            # What one port has and what another has are no choices of one contract.
            self.remarks.append(f"several ports: the one with the most power is read{name and f', {name}'}")
        if not found and holds is not None:
            if needs_offers:
                raise InputError(HOLDS_ONLY, where="line 1, offset 0", expected=BESIDE)
            return Label((), self.power, tuple(self.remarks), holds)
        if not found:
            raise InputError("no offer found", where="line 1, offset 0", expected=EXPECTED)
        # Ports of one label often repeat a pair; one source offers it once.
        offers = arranged(dict.fromkeys(offer._replace(position=1) for offer in found))
        if len(offers) < len(found):
            self.remarks.append("an offer is printed more than once and counts once")
        return Label(offers, self.power, tuple(self.remarks), holds)

    def _settle(self, milliamps: int | None, milliwatts: int | None) -> None:
        for piece in self.waiting:
            if piece.low == 0 or piece.low > piece.high:
                raise label_error(f"{piece.text} is no range that a source can offer", self.text, piece.at)
            if piece.high > _MOST_MV:
                what = f"{piece.text} is more than any offer can say ({_MOST_MV / 1000:g} V)"
                raise label_error(what, self.text, piece.at)
            try:
                self._add(piece, milliamps, milliwatts)
            except InputError as error:
                raise label_error(f"{piece.text}: {error}", self.text, piece.at) from None
        self.waiting = []

    def _add(self, piece: Piece, milliamps: int | None, milliwatts: int | None) -> None:
        low, high = piece.low, piece.high
        if self.mode in ("battery", "batt"):
            power = milliwatts if milliwatts is not None else (milliamps or 0) * high // 1000
            self.found.append(battery(low, high, power // 250 * 250))
        elif piece.kind == "volts":
            self.found.append(fixed(low, milliamps or 0))
        elif self.mode == "avs":
            self.ranges.append(_Range(low, high, milliamps, milliwatts))
        elif self.mode in ("variable", "var"):
            self.found.append(variable(low, high, milliamps or 0))
        elif low not in PPS_STARTS_MV and self.mode != "pps":
            self.remarks.append(f"{piece.text} begins where no programmable supply begins and is passed over")
        else:
            # The object counts in 50 mA: a printed 2.22 A is never read as more than it says.
            self.found.append(pps(low, high, (milliamps or 0) // 50 * 50))


def _adjustable(each: _Range, found: list[Offer]) -> Offer:
    """AVS: above 20 V by power (EPR), else by one current up to 15 V and one above (SPR)."""
    top, split = round(SPR_AVS_MOST.value * 1000), round(SPR_AVS_SPLIT.value * 1000)
    if each.high > top:
        milliwatts = each.milliwatts if each.milliwatts is not None else (each.milliamps or 0) * each.high // 1000
        return epr_avs(each.low, each.high, milliwatts // 1000)
    if each.milliwatts is not None:
        first = min(each.milliwatts * 1000 // split, MOST_MA) // 10 * 10
        second = min(each.milliwatts * 1000 // top, MOST_MA) // 10 * 10
    else:
        # The standard ties the figure above 15 V to the fixed offer at 20 V.
        first = each.milliamps or 0
        at_top = next((o.current_ma for o in found if o.kind == "fixed" and o.max_mv == top), None)
        second = each.above if each.above is not None else min(first, at_top or first)
    return spr_avs(first, 0 if each.high <= split else second)
