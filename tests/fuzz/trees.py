"""Target that reads a copied tree of the system: directories, attributes and links made from choices."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from pdcheck.intake.sysfs.attached import read_attached, read_sysfs
from pdcheck.show.decode_result import DecodeResult
from tests.fuzz.chooser import Chooser
from tests.fuzz.judging import answered, document, shown

PLACES = (
    "class/typec/port0",
    "class/typec/port0-partner",
    "class/typec/port0-partner/identity",
    "class/typec/port0-partner/usb_power_delivery",
    "class/typec/port0-partner/pd1/source-capabilities/1:fixed_supply",
    "class/typec/port0-cable",
    "class/typec/port0-cable/identity",
    "class/typec/port1",
    "class/typec/port1-partner",
    "class/usb_power_delivery/pd0",
    "class/usb_power_delivery/pd0/source-capabilities/1:fixed_supply",
    "class/usb_power_delivery/pd0/source-capabilities/2:programmable_supply",
    "class/usb_power_delivery/pd0/source-capabilities/3:battery",
    "class/usb_power_delivery/pd0/source-capabilities/8:fixed_supply",
    "class/usb_power_delivery/pd0/source-capabilities/99:fixed_supply",
    "class/usb_power_delivery/pd0/source-capabilities/4:spr_adjustable_voltage_supply",
    "class/usb_power_delivery/pd0/sink-capabilities/1:variable_supply",
    "class/usb_power_delivery/pd1",
    "devices/a",
)
FILES = (
    "voltage",
    "maximum_current",
    "maximum_voltage",
    "minimum_voltage",
    "maximum_power",
    "operational_current",
    "dual_role_power",
    "peak_current",
    "maximum_current_9V_to_15V",
    "maximum_current_15V_to_20V",
    "id_header",
    "cert_stat",
    "product",
    "product_type_vdo1",
    "product_type_vdo2",
    "supports_usb_power_delivery",
    "usb_power_delivery_revision",
    "power_role",
    "power_operation_mode",
    "type",
    "plug_type",
    "revision",
)
TEXTS = (
    b"5000mV\n",
    b"3000mA\n",
    b"20000mV",
    b"60000mW",
    b"yes",
    b"1",
    b"3.0",
    b"2.0",
    b"0xff00a041",
    b"0x1c6012ab",
    b"0x110a2042",
    b"source [sink]",
    b"usb_power_delivery",
    b"\x1b[31m\xe2\x80\xae",
    b"9" * 5000,
    b"-1mV",
    b"",
    b"\0\0",
    b"\xff",
    "５mV".encode(),
)
LINKS = ("../pd0", "..", ".", "/etc", "/proc/self/root", "self", "../../usb_power_delivery/pd0", "nowhere", "\x1b[2J")
MOST_ENTRIES = 40


def sysfs(data: bytes) -> None:
    """A tree: listed, and read."""
    choice = Chooser(data)
    with tempfile.TemporaryDirectory() as folder:
        top = Path(folder)
        (top / "class" / "typec").mkdir(parents=True)
        for _ in range(MOST_ENTRIES):
            if choice.at >= len(data):
                break
            _entry(top, choice)
        found = read_attached(top)
        shown(str(found).replace(folder, ""))
        document(found.to_dict())
        for port in (None, "port0", "pd0"):
            intake = read_sysfs(top, port)
            answered(DecodeResult(intake))


def _entry(top: Path, choice: Chooser) -> None:
    place, name = top / choice.one_of(PLACES), choice.one_of(FILES)
    # Nothing is made through a link, which may lead out of the folder of this target.
    if not os.path.realpath(place).startswith(os.path.realpath(top) + os.sep):
        return
    try:
        place.mkdir(parents=True, exist_ok=True)
        match choice.up_to(15):
            case 12:
                link = place / choice.one_of(("usb_power_delivery", "identity", "pd3", name))
                link.symlink_to(choice.one_of(LINKS))
            case 13:
                (place / name).mkdir()
            case 14:
                os.mkfifo(place / name)
            case 15:
                _write(place / name, choice.text(30).encode())
            case _:
                _write(place / name, choice.one_of(TEXTS))
    except OSError:  # what the choices ask for cannot be made: a link is there already, a file is no directory
        return


def _write(path: Path, content: bytes) -> None:
    with path.open("xb") as stream:
        stream.write(content)
