"""What an e-marker says, with the name of its vendor where this machine knows it."""

from __future__ import annotations

from typing import Annotated

from pdcheck.bits.cable import CableReading
from pdcheck.marks import AMONG, told
from pdcheck.named import NamedTuple


class Marker(NamedTuple):
    """An e-marker, and on what reading of it."""

    reading: Annotated[CableReading, AMONG]

    @told
    def vendor(self) -> str | None:
        """The name of the vendor in this machine's own list."""
        from pdcheck.intake.sysfs.vendor import vendor_name

        return None if self.reading.vendor_id is None else vendor_name(self.reading.vendor_id)
