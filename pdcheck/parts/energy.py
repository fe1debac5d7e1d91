"""Energy: how a power bank states what it holds, as a charge of its cells or as what is rated to come out."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pdcheck.errors import InputError
from pdcheck.named import NamedTuple
from pdcheck.parts.fields import Reader, quantity, read_bounded
from pdcheck.quantities import format_quantity, quantity_text, quoted

STATE_IT = 'energy = "74Wh", capacity = "20000mAh" or rated_output = "12000mAh at 5V" in its table of the kit'
"""How a power bank's energy is stated."""
_AT = re.compile(r"\s*@\s*|\s+at\s+")
_LEAST_AH, _MOST_AH, _MOST_V = 0.01, 100e3, 60.0


class Charge(NamedTuple):
    """A charge [Ah] at a voltage [V]; None where nobody says at which one."""

    charge_ah: float
    voltage_v: float | None = None

    def __str__(self) -> str:
        charge = f"{self.charge_ah * 1000:g} mAh"
        return charge if self.voltage_v is None else f"{charge} at {format_quantity(self.voltage_v, 'V')}"


def _charge(example: str, *, needs_v: bool) -> Reader:
    def read(value: Any) -> Charge:
        if isinstance(value, tuple | list) and len(value) == 2:
            parts = [each for each in value if each is not None]
        else:
            parts = _AT.split(value.strip()) if isinstance(value, str) else [value]
        if isinstance(value, int | float) or len(parts) != (2 if needs_v else len(parts)) or len(parts) > 2:
            raise InputError(f"{quoted(value)} is not such a capacity", expected=f"one such as {example}")
        charge = read_bounded(parts[0], "Ah", _MOST_AH, zero=False, least=_LEAST_AH)
        return Charge(charge, read_bounded(parts[1], "V", _MOST_V, zero=False) if len(parts) == 2 else None)

    def write(value: Charge) -> str:
        charge = quantity_text(value.charge_ah, "Ah")
        return charge if value.voltage_v is None else f"{charge} at {quantity_text(value.voltage_v, 'V')}"

    return Reader(read, {"type": ["string", "array"]}, write)


CellCharge = Annotated[Charge, _charge("20000mAh, or 20000mAh at 3.7V", needs_v=False)]
SleepAmps = Annotated[float, quantity("A", 5)]
RatedCharge = Annotated[Charge, _charge("12000mAh at 5V", needs_v=True)]
