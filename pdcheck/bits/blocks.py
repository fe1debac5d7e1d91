"""Tables of the other data blocks of extended messages, and which block each message carries."""

from __future__ import annotations

from collections.abc import Mapping

from pdcheck.bits.block_layout import BLOCKS_ORIGIN, ZERO, Block, byte, checked, flag, maker
from pdcheck.bits.blocks_power import PPS_STATUS, SINK_EXTENDED, SOURCE_EXTENDED, STATUS, STATUS_CABLE
from pdcheck.bits.data_words import CAPACITY_MWH, LETTERS, UNKNOWN_CAPACITY
from pdcheck.bits.header import MAX_DATA_SIZE
from pdcheck.bits.identity import VDM_HEADER_UNSTRUCTURED
from pdcheck.bits.layout import Field, Word

_REFERENCE_NOTE = "0..3 fixed, 4..7 swappable"
BATTERY_CAPABILITY_REQUEST = Block(
    Word(
        "get-battery-cap",
        "Get Battery Cap data block",
        8,
        [byte("battery", 0, "Battery number", note=_REFERENCE_NOTE)],
        BLOCKS_ORIGIN,
    )
)
BATTERY_STATUS_REQUEST = Block(
    Word(
        "get-battery-status",
        "Get Battery Status data block",
        8,
        [byte("battery", 0, "Battery number", note=_REFERENCE_NOTE)],
        BLOCKS_ORIGIN,
    )
)


def _capacity(key: str, offset: int, title: str) -> Field:
    special = {0: "not present", UNKNOWN_CAPACITY: "unknown"}
    return byte(key, offset, title, 2, scale=CAPACITY_MWH, special=special, void=UNKNOWN_CAPACITY)


BATTERY_CAPABILITIES = Block(
    Word(
        "battery-capabilities",
        "Battery Capabilities data block",
        8 * 9,
        [
            *maker(certified=False),
            _capacity("design_capacity_mwh", 4, "Battery design capacity"),
            _capacity("full_capacity_mwh", 6, "Battery last full charge capacity"),
            flag("invalid_reference", 8, 0, "Invalid battery reference"),
        ],
        BLOCKS_ORIGIN,
    )
)

MANUFACTURER_REQUEST = Block(
    Word(
        "get-manufacturer-info",
        "Get Manufacturer Info data block",
        8 * 2,
        [
            byte("target", 0, "Target", codes={0: "port or cable plug", 1: "battery"}),
            byte("battery", 1, "Battery number", note=_REFERENCE_NOTE),
        ],
        BLOCKS_ORIGIN,
    )
)
MANUFACTURER = Block(
    Word(
        "manufacturer-info",
        "Manufacturer Info data block",
        8 * 4,
        maker(certified=False),
        BLOCKS_ORIGIN,
    ),
    "text",
    5,
    26,
)

COUNTRY_CODES = Block(
    Word(
        "country-codes",
        "Country Codes data block",
        8 * 2,
        [byte("count", 0, "Number of country codes")],
        BLOCKS_ORIGIN,
    ),
    "letters",
    4,
    26,
)
COUNTRY_INFO = Block(
    Word(
        "country-info",
        "Country Info data block",
        8 * 4,
        [
            byte("letter_1", 0, "First letter of the country code", codes=LETTERS),
            byte("letter_2", 1, "Second letter of the country code", codes=LETTERS),
        ],
        BLOCKS_ORIGIN,
    ),
    "bytes",
    4,
    26,
)

EXTENDED_CONTROL = Block(
    Word(
        "extended-control",
        "Extended Control data block",
        8 * 2,
        [
            byte(
                "type",
                0,
                "Type",
                codes={1: "EPR_Get_Source_Cap", 2: "EPR_Get_Sink_Cap", 3: "EPR_KeepAlive", 4: "EPR_KeepAlive_Ack"},
            ),
            byte("control_data", 1, "Data", note=ZERO),
        ],
        checked("Tables 6.66 and 6.67"),
    )
)

VENDOR_EXTENDED = Block(
    Word(
        "vendor-defined-extended",
        "Vendor Defined Extended data block",
        8 * 4,
        VDM_HEADER_UNSTRUCTURED.named,
        BLOCKS_ORIGIN,
    ),
    "bytes",
    4,
    MAX_DATA_SIZE,
)


def _foreign(name: str, title: str) -> Block:
    return Block(
        Word(name, f"{title} data block, of another standard", 0, [], BLOCKS_ORIGIN), "bytes", 4, MAX_DATA_SIZE
    )


BLOCKS: Mapping[str, Block] = {
    "Source_Capabilities_Extended": SOURCE_EXTENDED,
    "Status": STATUS,
    "Get_Battery_Cap": BATTERY_CAPABILITY_REQUEST,
    "Get_Battery_Status": BATTERY_STATUS_REQUEST,
    "Battery_Capabilities": BATTERY_CAPABILITIES,
    "Get_Manufacturer_Info": MANUFACTURER_REQUEST,
    "Manufacturer_Info": MANUFACTURER,
    "Security_Request": _foreign("security-request", "Security Request"),
    "Security_Response": _foreign("security-response", "Security Response"),
    "Firmware_Update_Request": _foreign("firmware-update-request", "Firmware Update Request"),
    "Firmware_Update_Response": _foreign("firmware-update-response", "Firmware Update Response"),
    "PPS_Status": PPS_STATUS,
    "Country_Info": COUNTRY_INFO,
    "Country_Codes": COUNTRY_CODES,
    "Sink_Capabilities_Extended": SINK_EXTENDED,
    "Extended_Control": EXTENDED_CONTROL,
    "Vendor_Defined_Extended": VENDOR_EXTENDED,
}
"""The block of each extended message whose data is not power data objects, as sent on SOP."""

BLOCKS_CABLE: Mapping[str, Block] = {"Status": STATUS_CABLE}
"""Blocks that are laid out otherwise on SOP' and SOP''."""


def block_of(name: str, sop: str = "SOP") -> Block | None:
    """The block of an extended message, ``None`` where there is no table for it.

    >>> block_of("Status", "SOP'").head_bytes, block_of("Status").head_bytes
    (2, 7)
    """
    if sop != "SOP" and name in BLOCKS_CABLE:
        return BLOCKS_CABLE[name]
    return BLOCKS.get(name)
