"""Vendor names from the system's own usb.ids, where it has one; what an e-marker says, with the name of its vendor."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Annotated

from pdcheck.bits.cable import CableReading
from pdcheck.marks import AMONG, told
from pdcheck.named import NamedTuple

PLACES = ("/usr/share/hwdata/usb.ids", "/var/lib/usbutils/usb.ids", "/usr/share/misc/usb.ids")
_LARGEST = 20_000_000


def vendor_name(vendor_id: int, places: Sequence[str] = PLACES) -> str | None:
    """The name of a USB Vendor ID in the first usb.ids there is; ``None`` without one, or where it is not listed.

    >>> vendor_name(0x1234, places=())
    """
    wanted = f"{vendor_id:04x}"
    for place in places:
        try:
            with open(place, "rb") as stream:  # noqa: PTH123 - pathlib is not loaded by most commands
                text = stream.read(_LARGEST).decode("utf-8", "replace")
        except OSError:
            continue
        for line in text.splitlines():
            # The list of vendors ends where the first of the other lists begins, with its letter and number.
            if re.match(r"[A-Z]{1,3} [0-9a-fA-F]{2}", line):
                break
            found = re.match(r"([0-9a-fA-F]{4})  (\S.*)", line)
            if found and found[1].lower() == wanted:
                return found[2].strip()
        return None
    return None


def vendor_text(vendor_id: int, places: Sequence[str] = PLACES) -> str:
    """A Vendor ID for people: its number, and its name where the system knows it.

    >>> vendor_text(0x1234, places=())
    '0x1234'
    """
    name = vendor_name(vendor_id, places)
    return f"0x{vendor_id:04X}" if name is None else f"0x{vendor_id:04X} ({name})"


class Marker(NamedTuple):
    """An e-marker, and on what reading of it."""

    reading: Annotated[CableReading, AMONG]

    @told
    def vendor(self) -> str | None:
        """The name of the vendor in this machine's own list."""
        return None if self.reading.vendor_id is None else vendor_name(self.reading.vendor_id)
