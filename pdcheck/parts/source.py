"""Source: a charger or power bank on hand, with what it offers and what its label, or its capture, leaves open."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, get_args

from pydantic import ValidationInfo, model_validator

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.facts.current import USB_2_CURRENT
from pdcheck.facts.voltage import NEW_TOLERANCE
from pdcheck.intake.ports import Ports, offers_by_rules
from pdcheck.parts import fields
from pdcheck.parts.behaviour import Behaviour, fit_to_offers
from pdcheck.parts.cable import Cable, captive_cable
from pdcheck.parts.cable_description import statement_of
from pdcheck.parts.choices import CableClass
from pdcheck.parts.energy import CellCharge, RatedCharge, SleepAmps
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.offer_text import as_offers, hex_words, is_words, offers_text, power_alone
from pdcheck.parts.port_table import read_port_table, with_offers, write_port_table
from pdcheck.quantities import quoted

if TYPE_CHECKING:
    from pdcheck.intake.label_energy import Holds

_CAPTURED = fields.one_of("a cable to capture over", *(each.lower() for each in get_args(CableClass)))
_CLASSES = {"enum": list(get_args(CableClass))}
_EXPECTED = 'a label such as "5V 3A, 9V 3A", or hex, or a capture'
DOUBTFUL = "the message that brought these offers has a bad CRC"
_WAYS = ("offers", "hex", "capture")
_HEARD_ANYWAY = ("offers", "problems", "by_rules")


def _read_captured_over(value: Any) -> str:
    return str(_CAPTURED.read(value.replace(" ", "") if isinstance(value, str) else value)).upper()


def _read_offers(value: Any) -> tuple[Offer, ...]:
    offers = as_offers(value)
    if offers is None:
        raise InputError(f"{quoted(value)} is no list of offers", expected=_EXPECTED)
    return offers


_PORT_SCHEMA = {"anyOf": [*fields.NUMBER_OR_TEXT["anyOf"], {"type": "array", "items": {"type": "string"}}]}
_PORTS_SCHEMA = {"anyOf": [{"type": "string"}, {"type": "object", "additionalProperties": _PORT_SCHEMA}]}
OverCurrent = Literal["hold", "hiccup"]


class Source(fields.Part, init=False):
    """A charger or power bank; as text what is printed on it, ``"5V 3A, 9V 3A"``, or hex.

    ``offers`` may be given as Offers, as the text of a label, or as 32-bit words; a file may give ``hex`` or a
    ``capture`` (a path, beside the file) instead. ``captured_over`` says over which cable the offers were read: a
    source shows more than 3 A only over a 5 A cable. ``tolerance`` is that of its voltage (a ratio),
    ``typec_current_a`` [A] what it gives at 5 V without PD, ``pdp_w`` [W] the power printed on it. ``captive`` marks a
    cable fixed to it; where ``cable`` says nothing of it, it is taken to carry what the source offers. ``over_current``
    says whether past its limit it holds the current or switches off (hiccup) and tries again after ``retry_s``.
    ``behaviour`` is how it acts in a conversation. A power bank says what its cells hold, ``energy_wh`` [Wh] or their
    ``capacity``, or its ``rated_output``; what part of it comes out (``efficiency``), and the current below which it
    switches off (``sleeps_below_a`` [A]). A label that prints them says so as well.
    ``ports`` says of a charger with several what each gives alone and together; ``offers`` are those of ``port`` alone,
    or of the one that gives most.

    >>> source = Source("5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A", id="wall-45")
    >>> [(offer.kind, offer.max_mv) for offer in source.offers]
    [('fixed', 5000), ('fixed', 9000), ('fixed', 15000), ('pps', 16000)]
    """

    file_keys: ClassVar[tuple[str, ...]] = ("hex",)
    rules_out: ClassVar[dict[str, tuple[str, ...]]] = {
        "offers": ("capture", "pdp_w", "problems", "ports", "port", "by_rules"),
        "capture": ("offers", "pdp_w", "problems", "by_rules"),
        "ports": ("offers", "capture", "pdp_w", "problems", "typec_current_a", "port", "by_rules"),
        "port": ("offers", "capture", "pdp_w", "problems", "typec_current_a", "by_rules"),
    }
    unless_said: ClassVar[dict[str, str]] = {"id": "source"}

    id: fields.Name
    title: fields.Title = ""
    offers: Annotated[tuple[Offer, ...], fields.Reader(_read_offers, {"type": ["string", "array"]}, offers_text)] = ()
    capture: str | None = None
    captured_over: Annotated[CableClass, fields.Reader(_read_captured_over, _CLASSES)] | None = None
    tolerance: fields.Tolerated = NEW_TOLERANCE.value
    typec_current_a: fields.Amps | None = None
    captive: bool = False
    cable: Cable | None = None
    pdp_w: fields.Watts | None = None
    over_current: Annotated[OverCurrent, fields.one_of("a way to limit current", "hold", "hiccup")] | None = None
    retry_s: fields.Seconds | None = None
    energy_wh: fields.WattHours | None = None
    capacity: CellCharge | None = None
    rated_output: RatedCharge | None = None
    efficiency: fields.Efficiency | None = None
    sleeps_below_a: SleepAmps | None = None
    ports: Annotated[Ports, fields.Reader(read_port_table, _PORTS_SCHEMA, write_port_table)] | None = None
    port: fields.Name | None = None
    behaviour: Behaviour = Behaviour()
    problems: tuple[str, ...] = ()
    by_rules: bool = False

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        return {**cls.unless_said, "offers": said}

    @classmethod
    def _stated(cls, data: dict[str, Any], info: ValidationInfo) -> dict[str, Any]:
        ways = [key for key in _WAYS if data.get(key) not in (None, (), [])]
        known = as_offers(data["offers"]) if data.get("offers") else None
        # A source made from another one's fields has its capture and the offers out of it; so has its file.
        if len(ways) > 1 and not (ways == ["offers", "capture"] and (known or is_words(data["offers"]))):
            raise InputError(f"{' and '.join(ways)} both say what it offers", expected="one of them", key=(ways[1],))
        if not ways and data.get("ports") is not None:
            return cls._of_ports(data)
        if not ways and data.get("typec_current", data.get("typec_current_a")) is None:
            meant = next((key for key in data if nearest(key, _WAYS)[:6] in ("offers", "captur")), None)
            if meant is not None:
                raise InputError(f"unknown key {quoted(meant)}", expected=nearest(meant, _WAYS), key=(meant,))
            raise InputError(
                "nothing says what it offers", expected=f"{_EXPECTED}, or typec_current for one without PD"
            )
        cable = data.get("cable")
        if cable is not None:
            data["captive"] = True
            if isinstance(cable, str):
                cable = statement_of(cable)
            if isinstance(cable, Mapping):
                kind = {} if "construction" in cable else {"kind": "captive"}
                data["cable"] = {"id": f"{data.get('id', 'source')}-cable", **kind, **cable}
        if ways and known is None:
            folder = (info.context or {}).get("folder")
            try:
                heard = _heard(ways[0], data.get(ways[0]), folder)
            except InputError as error:
                raise error.below(ways[0]) from None
            data.pop("hex", None)
            at_hand = data | ({} if data.get("pdp_w") is None else {"pdp": data["pdp_w"]})
            anew = {key: told for key, told in heard.items() if key in _HEARD_ANYWAY or at_hand.get(key) is None}
            data |= {key: told for key, told in anew.items() if told is not None}
            if anew.get("ports") is not None:
                return cls._of_ports(data)
        if data.get("ports") is not None:
            return cls._heard_at_port(data)
        if data.get("port") is not None:
            raise InputError("there are no ports to choose from", expected="ports beside it, or no port", key=("port",))
        return data

    @classmethod
    def _chosen(cls, data: dict[str, Any]) -> tuple[Ports, str]:
        """The ports and the name of the one that is meant."""
        try:
            ports = read_port_table(data["ports"])
        except InputError as error:
            raise error.below("ports") from None
        longest = max(len(name) for name in ports.names)
        if len(str(data.get("id", ""))) + 1 + longest > fields.LONGEST_NAME:
            raise InputError("its id is too long to name its ports by", expected="a shorter one", key=("id",))
        if data.get("port") is None:
            return ports, ports.best.name
        try:
            data["port"] = ports.port(str(data["port"])).name
        except InputError as error:
            raise error.below("port") from None
        return ports, data["port"]

    @classmethod
    def _of_ports(cls, data: dict[str, Any]) -> dict[str, Any]:
        """The fields with the offers of the port that is meant; of one without PD, what it gives at 5 V."""
        ports, name = cls._chosen(data)
        port = ports.port(name)
        data |= {"ports": ports, "offers": port.offers if port.pd else ()}
        data.pop("pdp", None)
        data["pdp_w"] = port.power_w if port.pd else None
        if not data["offers"] and data.get("typec_current", data.get("typec_current_a")) is None:
            least = USB_2_CURRENT.value if port.power_w is None else min(port.power_w / 5, USB_2_CURRENT.value)
            most = port.typec_a()
            data["typec_current_a"] = least if most is None else most
        return data

    @classmethod
    def _heard_at_port(cls, data: dict[str, Any]) -> dict[str, Any]:
        """The fields, what was heard of one port taking the place of what is printed of it."""
        ports, name = cls._chosen(data)
        offers = as_offers(data["offers"]) or ()
        data["ports"] = with_offers(ports, name, offers)
        if data.get("port") is None:
            data.pop("port", None)
        if data.get("pdp", data.get("pdp_w")) is None and ports.port(name).power_w is not None:
            data["pdp_w"] = ports.port(name).power_w
        return data

    @property
    def port_name(self) -> str | None:
        """The port that it is judged on; None for a charger of which no ports are known.

        >>> Source(id="desk", ports={"C1": "65W", "C2": "30W"}).port_name
        'C1'
        """
        return None if self.ports is None else self.port or self.ports.best.name

    def at_port(self, name: str) -> Source:
        """The source as one of its ports alone, its id with the port's name.

        Raises InputError for a port that there is not.

        >>> desk = Source(id="desk", ports={"C1": "65W", "C2": "30W"})
        >>> desk.at_port("c2").id, [offer.max_mv for offer in desk.at_port("c2").offers]
        ('desk:C2', [5000, 9000, 15000])
        """
        if self.ports is None:
            raise InputError(f"{self.id} has no ports that are known", expected="no port behind its id")
        chosen = self.ports.port(name).name
        if chosen == self.port_name:
            return self.model_copy(update={"id": f"{self.id}:{chosen}", "port": chosen})
        return self.replace(id=f"{self.id}:{chosen}", port=chosen)

    @model_validator(mode="after")
    def _fixed_cable(self) -> Source:
        if self.captive and self.cable is None:
            # The model is frozen once it stands; this is its last field being filled in.
            object.__setattr__(self, "cable", self._unknown_cable())
        return self

    def _unknown_cable(self) -> Cable:
        most = max((offer.current_ma_at(offer.max_mv) for offer in self.offers), default=0) / 1000
        return captive_cable(f"{self.id}-cable", most, any(offer.is_epr for offer in self.offers))

    @model_validator(mode="after")
    def _behaviour_fits(self) -> Source:
        fit_to_offers(self.behaviour, self.offers)
        return self

    def to_dict(self) -> dict[str, Any]:
        """The source as the table of a kit file."""
        table = super().to_dict()
        if self.capture is not None:
            # The capture may lie elsewhere by now; the words beside it are what it said.
            table["offers"] = hex_words(offer.word for offer in self.offers)
        if self.ports is not None and self.capture is None:
            table.pop("offers", None)
            if self.pdp_w == self.ports.port(self.port_name or "").power_w:
                table.pop("pdp", None)
        if self.cable == self._unknown_cable():
            del table["cable"]
        elif self.cable is not None:
            del table["captive"]
            cable = table["cable"]
            if not {"kind", "construction", "words"} & set(cable):
                cable["kind"] = "C-C"
            usual = {"id": f"{self.id}-cable", "kind": "captive"}
            keys = [key for key in ("id", "title", "kind", *cable) if key in cable]
            table["cable"] = {key: cable[key] for key in keys if usual.get(key) != cable[key]}
        return table


def _heard(way: str, value: Any, folder: Path | None) -> dict[str, Any]:
    """The keys of a source that what is said in some way stands for."""
    if isinstance(value, tuple | list) and value and all(type(word) is int and 0 <= word < 2**32 for word in value):
        way, value = "hex", " ".join(f"0x{word:08X}" for word in value)
    if isinstance(value, tuple | list) and value and all(isinstance(part, str) for part in value):
        value = ", ".join(value)
    if not isinstance(value, str):
        raise InputError(f"{quoted(value)} is not a text", expected=_EXPECTED)
    if way == "capture":
        from pdcheck.parts.kit_entry import capture_text

        path, text = capture_text(value, folder)
        try:
            return _read(way, text)
        except InputError as error:
            # What stands in a file that a kit names is not told: the file need not be a capture at all.
            line = error.where.partition(":")[0]
            where = f"{path}, {line}" if re.fullmatch(r"line \d+(, offset \d+)?", line) else str(path)
            what = "holds no offers that can be read"
            raise InputError(what, where=where, expected="a capture or a label; decode says more") from None
    return _read(way, value)


def _read(way: str, value: str) -> dict[str, Any]:
    from pdcheck.intake.label import looks_like_label, read_label

    power_w = power_alone(value) if way == "offers" else None
    if power_w is not None:
        return {"offers": offers_by_rules(power_w), "pdp": power_w, "by_rules": True}
    # A label needs nothing of the machinery for messages, and most kits hold labels only.
    if way != "hex" and looks_like_label(value):
        label = read_label(value)
        return {"offers": label.offers, "pdp": label.power_w or None, "ports": label.ports, **printed(label.holds)}
    from pdcheck.intake.sniff import read_any

    intake = read_any(value, "hex" if way == "hex" else None)
    doubts = {"problems": (DOUBTFUL,)} if intake.doubtful else {}
    told = {"offers": intake.offers_or_error(), "pdp": intake.power_w or None, "ports": intake.ports, **doubts}
    return told | printed(intake.holds)


def printed(holds: Holds | None) -> dict[str, Any]:
    """The keys of a source for what a label says of a power bank's energy.

    >>> from pdcheck.intake.label_energy import Holds
    >>> printed(Holds(energy_wh=74.0, rated_ah=12.0, rated_v=5.0))
    {'energy': 74.0, 'rated_output': (12.0, 5.0)}
    """
    if holds is None:
        return {}
    told: dict[str, Any] = {} if holds.energy_wh is None else {"energy": holds.energy_wh}
    if holds.capacity_ah is not None:
        told["capacity"] = (holds.capacity_ah, holds.cell_v)
    if holds.rated_ah is not None:
        told["rated_output"] = (holds.rated_ah, holds.rated_v)
    return told
