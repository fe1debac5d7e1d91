"""Vendor names from the system's own usb.ids, where it has one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

PLACES = ("/usr/share/hwdata/usb.ids", "/var/lib/usbutils/usb.ids", "/usr/share/misc/usb.ids")
_VENDOR = re.compile(r"([0-9a-fA-F]{4})  (\S.*)")
_LARGEST = 20_000_000


def vendor_name(vendor_id: int, places: Sequence[str] = PLACES) -> str | None:
    """The name of a USB Vendor ID in the first usb.ids there is; ``None`` without one, or where it is not listed.

    >>> vendor_name(0x1234, places=())
    """
    wanted = f"{vendor_id:04x}"
    for place in places:
        try:
            with Path(place).open("rb") as stream:
                text = stream.read(_LARGEST).decode("utf-8", "replace")
        except OSError:
            continue
        for line in text.splitlines():
            # The list of vendors ends where the first of the other lists begins, with its letter and number.
            if re.match(r"[A-Z]{1,3} [0-9a-fA-F]{2}", line):
                break
            found = _VENDOR.match(line)
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
