"""One supply of the kernel's tables, ``N:fixed_supply`` and its like, to the word that the charger sent."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from pdcheck.bits.layout import Word
from pdcheck.bits.power import SINK_WORDS, SOURCE_WORDS
from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin
from pdcheck.intake.sysfs.tree import Tree
from pdcheck.named import NamedTuple

ABI = Origin("Linux 6.12, Documentation/ABI/testing/sysfs-class-usb_power_delivery and sysfs-class-typec", "checked")
ABI_LATER = Origin("Linux ABI, spr_adjustable_voltage_supply, later than 6.12", "memory")


class Attribute(NamedTuple):
    """A file of a supply: the key of the word's field that it gives, the unit it may end in, whether all have it.

    ``name`` is a pattern where the name is not sure.
    """

    name: str
    key: str
    unit: str = ""
    needed: bool = True
    first_only: bool = False


class Supply(NamedTuple):
    """A kind of supply: its attributes and where their names come from."""

    kind: str
    attributes: tuple[Attribute, ...]
    origin: Origin


def _flag(name: str, key: str | None = None) -> Attribute:
    return Attribute(name, key or name, "flag", first_only=True)


_SHARED_FLAGS = (
    _flag("dual_role_power"),
    _flag("unconstrained_power"),
    _flag("usb_communication_capable", "usb_communications_capable"),
    _flag("dual_role_data"),
)
_SPAN = (
    Attribute("maximum_voltage", "max_voltage_mv", "V"),
    Attribute("minimum_voltage", "min_voltage_mv", "V"),
)
_SPR_AVS = (
    Attribute(r"(?i)maximum_current_0?9V?_to_15V?", "current_15v_ma", "A"),
    Attribute(r"(?i)maximum_current_15V?_to_20V?", "current_20v_ma", "A"),
)

SOURCE_SUPPLIES: Mapping[str, Supply] = {
    "fixed_supply": Supply(
        "fixed",
        (
            Attribute("voltage", "voltage_mv", "V"),
            Attribute("maximum_current", "current_ma", "A"),
            *_SHARED_FLAGS,
            _flag("usb_suspend_supported"),
            _flag("unchunked_extended_messages_supported", "unchunked_supported"),
            # Of October 2023; kernels before it do not have the file.
            Attribute("peak_current", "peak_current", "", needed=False),
        ),
        ABI,
    ),
    "variable_supply": Supply("variable", (*_SPAN, Attribute("maximum_current", "current_ma", "A")), ABI),
    "battery": Supply("battery", (*_SPAN, Attribute("maximum_power", "power_mw", "W")), ABI),
    "programmable_supply": Supply(
        "pps",
        (
            *_SPAN,
            Attribute("maximum_current", "current_ma", "A"),
            Attribute("pps_power_limited", "pps_power_limited", "flag"),
        ),
        ABI,
    ),
    "spr_adjustable_voltage_supply": Supply(
        "spr-avs", (*_SPR_AVS, Attribute("peak_current", "peak_current", "", needed=False)), ABI_LATER
    ),
}
"""What an attached source offers: directory name behind the colon to its attributes."""

SINK_SUPPLIES: Mapping[str, Supply] = {
    "fixed_supply": Supply(
        "fixed",
        (
            Attribute("voltage", "voltage_mv", "V"),
            Attribute("operational_current", "current_ma", "A"),
            *_SHARED_FLAGS,
            Attribute("higher_capability", "higher_capability", "flag", needed=False, first_only=True),
            Attribute("fast_role_swap_current", "fast_role_swap", "", needed=False, first_only=True),
        ),
        ABI,
    ),
    "variable_supply": Supply("variable", (*_SPAN, Attribute("operational_current", "current_ma", "A")), ABI),
    "battery": Supply("battery", (*_SPAN, Attribute("operational_power", "power_mw", "W")), ABI),
    "programmable_supply": Supply("pps", (*_SPAN, Attribute("maximum_current", "current_ma", "A")), ABI),
    "spr_adjustable_voltage_supply": Supply("spr-avs", _SPR_AVS, ABI_LATER),
}
"""What an attached sink wants."""

_VALUE = re.compile(r"(\d{1,9})\s*(u|µ|m|k)?\s*([VAW])?", re.IGNORECASE)
_SCALE = {"u": -6, "µ": -6, "m": -3, "": 0, "k": 3}
_YES = {"1": True, "yes": True, "true": True, "0": False, "no": False, "false": False}


def parse_amount(text: str, unit: str) -> int:
    """A value of the tables in thousandths of ``unit`` (``V``, ``A``, ``W``): with its unit or, as mV, mA, mW, without.

    Raises ``InputError``.

    >>> parse_amount("5000mV", "V"), parse_amount("5000", "V"), parse_amount("5 V", "V")
    (5000, 5000, 5000)
    """
    found = _VALUE.fullmatch(text.strip())
    if found is None or (found[2] and not found[3]) or (found[3] and found[3].upper() != unit):
        raise InputError(f"{text[:40]!r} is no value", expected=f"a whole number of m{unit}")
    power = _SCALE[(found[2] or "").lower()] if found[3] else -3
    count = int(found[1])
    if power >= -3:
        return count * int(10 ** (power + 3))
    whole, rest = divmod(count, 1000)
    if rest:
        raise InputError(f"{text[:40]!r} is no whole number of m{unit}")
    return whole


def supply_word(tree: Tree, path: Path, position: int, supplies: Mapping[str, Supply]) -> int | None:
    """The word of one supply; ``None``, with problems in the tree, where a figure that it needs cannot be read."""
    supply = supplies.get(path.name.partition(":")[2])
    if supply is None:
        tree.note("unknown-supply", "is a kind of supply that is not known here", path)
        return None
    layout = (SOURCE_WORDS if supplies is SOURCE_SUPPLIES else SINK_WORDS)[supply.kind]
    values: dict[str, int | bool] = {}
    whole = True
    present = tree.names(path, needed=True)
    for attribute in supply.attributes:
        if attribute.first_only and position != 1:
            continue
        file = path / _file_name(attribute, present)
        text = tree.text(file, needed=attribute.needed)
        value = None if text is None else _value(tree, file, text, attribute)
        if value is not None and not _fits(layout, attribute, value):
            tree.note("off-step", f"{text} does not fit the word's field", file)
            value = None
        if value is not None:
            values[attribute.key] = value
        elif attribute.unit in ("V", "A", "W"):
            # A flag that is not known stands at zero; a figure that is not known is not made up.
            whole = False
    if not whole:
        tree.note("left-out", "is left out: a figure of it is not known", path)
        return None
    return layout.encode(values)


def _file_name(attribute: Attribute, present: list[str]) -> str:
    if not attribute.name.startswith("(?i)"):
        return attribute.name
    pattern = re.compile(attribute.name)
    return next((name for name in present if pattern.fullmatch(name)), re.sub(r"\(\?i\)|0\?|\?", "", attribute.name))


def _value(tree: Tree, file: Path, text: str, attribute: Attribute) -> int | bool | None:
    if attribute.unit == "flag":
        flag = _YES.get(text.lower())
        if flag is None:
            tree.note("no-value", f"{text[:40]!r} is neither 0 nor 1", file)
        return flag
    try:
        if attribute.unit:
            return parse_amount(text, attribute.unit)
        if not re.fullmatch(r"\d{1,4}", text):
            raise InputError(f"{text[:40]!r} is no value", expected="a code")
        return int(text)
    except InputError as error:
        tree.note("no-value", str(error), file)
        return None


def _fits(layout: Word, attribute: Attribute, value: int) -> bool:
    field = layout.field(attribute.key)
    count, rest = divmod(int(value), field.scale)
    return not rest and count <= field.mask
