"""One supply of the kernel's tables, ``N:fixed_supply`` and its like, to the word that the charger sent."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from pdcheck.bits.layout import Field
from pdcheck.bits.power import SINK_WORDS, SOURCE_WORDS
from pdcheck.errors import InputError
from pdcheck.intake.sysfs.tree import Tree

# Names by the ABI documents sysfs-class-usb_power_delivery and sysfs-class-typec of Linux 6.12 [checked]; those of
# spr_adjustable_voltage_supply are of a later one [memory], and patterns, since they are not sure.
_FLAGS = {
    "dual_role_power": "dual_role_power",
    "unconstrained_power": "unconstrained_power",
    "usb_communication_capable": "usb_communications_capable",
    "dual_role_data": "dual_role_data",
}
_SPAN = {"maximum_voltage": "max_voltage_mv", "minimum_voltage": "min_voltage_mv"}
_SPR_AVS = {
    r"(?i)maximum_current_0?9V?_to_15V?": "current_15v_ma",
    r"(?i)maximum_current_15V?_to_20V?": "current_20v_ma",
}

Supply = tuple[str, Mapping[str, str]]
"""A kind of supply: what the word is, and the key of its field that each file gives."""

SOURCE_SUPPLIES: Mapping[str, Supply] = {
    "fixed_supply": (
        "fixed",
        {
            "voltage": "voltage_mv",
            "maximum_current": "current_ma",
            **_FLAGS,
            "usb_suspend_supported": "usb_suspend_supported",
            "unchunked_extended_messages_supported": "unchunked_supported",
            "peak_current": "peak_current",
        },
    ),
    "variable_supply": ("variable", _SPAN | {"maximum_current": "current_ma"}),
    "battery": ("battery", _SPAN | {"maximum_power": "power_mw"}),
    "programmable_supply": (
        "pps",
        _SPAN | {"maximum_current": "current_ma", "pps_power_limited": "pps_power_limited"},
    ),
    "spr_adjustable_voltage_supply": ("spr-avs", _SPR_AVS | {"peak_current": "peak_current"}),
}
"""What an attached source offers, by the directory's name behind the colon."""

SINK_SUPPLIES: Mapping[str, Supply] = {
    "fixed_supply": (
        "fixed",
        {
            "voltage": "voltage_mv",
            "operational_current": "current_ma",
            **_FLAGS,
            "higher_capability": "higher_capability",
            "fast_role_swap_current": "fast_role_swap",
        },
    ),
    "variable_supply": ("variable", _SPAN | {"operational_current": "current_ma"}),
    "battery": ("battery", _SPAN | {"operational_power": "power_mw"}),
    "programmable_supply": ("pps", _SPAN | {"maximum_current": "current_ma"}),
    "spr_adjustable_voltage_supply": ("spr-avs", _SPR_AVS),
}
"""What an attached sink wants."""

# Files that kernels before October 2023, or some controllers, do not have.
_NOT_IN_ALL = ("peak_current", "higher_capability", "fast_role_swap_current")

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
    kind, files = supply
    layout = (SOURCE_WORDS if supplies is SOURCE_SUPPLIES else SINK_WORDS)[kind]
    values: dict[str, int | bool] = {}
    whole = True
    present = tree.names(path, needed=True)
    for name, key in files.items():
        field = layout.field(key)
        if kind == "fixed" and position != 1 and (field.flag or key == "fast_role_swap"):
            # These are said in the first object alone.
            continue
        file = path / _file_name(name, present)
        text = tree.text(file, needed=name not in _NOT_IN_ALL)
        value = None if text is None else _value(tree, file, text, field)
        if value is not None and not _fits(field, value):
            tree.note("off-step", f"{text} does not fit the word's field", file)
            value = None
        if value is not None:
            values[key] = value
        elif field.unit:
            # A flag that is not known stands at zero; a figure that is not known is not made up.
            whole = False
    if not whole:
        tree.note("left-out", "is left out: a figure of it is not known", path)
        return None
    return layout.encode(values)


def _file_name(name: str, present: list[str]) -> str:
    if not name.startswith("(?i)"):
        return name
    pattern = re.compile(name)
    return next((each for each in present if pattern.fullmatch(each)), re.sub(r"\(\?i\)|0\?|\?", "", name))


def _value(tree: Tree, file: Path, text: str, field: Field) -> int | bool | None:
    if field.flag:
        flag = _YES.get(text.lower())
        if flag is None:
            tree.note("no-value", f"{text[:40]!r} is neither 0 nor 1", file)
        return flag
    try:
        if field.unit:
            return parse_amount(text, field.unit.removeprefix("m"))
        if not re.fullmatch(r"\d{1,4}", text):
            raise InputError(f"{text[:40]!r} is no value", expected="a code")
        return int(text)
    except InputError as error:
        tree.note("no-value", str(error), file)
        return None


def _fits(field: Field, value: int) -> bool:
    count, rest = divmod(int(value), field.scale)
    return not rest and count <= field.mask
