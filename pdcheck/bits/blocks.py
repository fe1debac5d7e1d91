"""Tables of the data blocks of extended messages, and which block each message carries."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pdcheck.bits.block_layout import ZERO, Block, Length, block, byte, flag, maker, part
from pdcheck.bits.data_words import CAPACITY_MWH, LETTERS, UNKNOWN_CAPACITY
from pdcheck.bits.header import MAX_DATA_SIZE
from pdcheck.bits.identity import VDM_HEADER_UNSTRUCTURED
from pdcheck.bits.layout import Field
from pdcheck.facts.origin import Origin, checked


def _load(key: str, offset: int, title: str, last: Field) -> list[Field]:
    """Two bytes that say how large, how long and how often an overload may be."""
    return [
        part(f"{key}_overload_percent", offset, 4, 0, f"{title}: overload", scale=10, note="at most 250 %"),
        part(f"{key}_period_ms", offset, 10, 5, f"{title}: overload period", scale=20),
        part(f"{key}_duty_percent", offset, 14, 11, f"{title}: duty cycle", scale=5),
        last,
    ]


def _peak(number: int, offset: int) -> list[Field]:
    droop = part(f"peak_current_{number}_droop", offset, 15, 15, f"Peak Current{number}: VBUS droop")
    return _load(f"peak_current_{number}", offset, f"Peak Current{number}", droop)


def _compliance(offset: int, title: str) -> list[Field]:
    return [flag(name.lower(), offset, at, f"{title}: {name}") for at, name in enumerate(("LPS", "PS1", "PS2"))]


def _batteries(offset: int, *, in_use: bool = False) -> list[Field]:
    if in_use:
        return [
            part("swappable_batteries", offset, 7, 4, "Hot-swappable batteries in use", note="one bit a battery"),
            part("fixed_batteries", offset, 3, 0, "Fixed batteries in use", note="one bit a battery"),
        ]
    return [
        part("swappable_slots", offset, 7, 4, "Hot-swappable battery slots", note="0..4"),
        part("fixed_batteries", offset, 3, 0, "Fixed batteries", note="0..4"),
    ]


_REGULATION = "Voltage regulation: load step"
LOAD_STEP = {0: "150 mA/us", 1: "500 mA/us"}
TOUCH_SOURCE = {0: "IEC 60950-1", 1: "IEC 62368-1 TS1", 2: "IEC 62368-1 TS2"}
# One higher than in the source's block.
TOUCH_SINK = {0: "not applicable"} | {code + 1: name for code, name in TOUCH_SOURCE.items()}

SOURCE_EXTENDED = block(
    "Source_Capabilities_Extended",
    25,
    [
        *maker(),
        byte("firmware_version", 8, "FW version"),
        byte("hardware_version", 9, "HW version"),
        part("load_step", 10, 1, 0, _REGULATION, codes=LOAD_STEP),
        part("load_step_size", 10, 2, 2, f"{_REGULATION} size, of the operating current", codes={0: "25 %", 1: "90 %"}),
        byte("holdup_ms", 11, "Holdup time"),
        *_compliance(12, "Compliance"),
        flag("low_touch_current", 13, 0, "Touch current: low"),
        flag("ground_pin", 13, 1, "Touch current: ground pin"),
        flag("ground_pin_protective", 13, 2, "Touch current: ground pin for protective earth"),
        *_peak(1, 14),
        *_peak(2, 16),
        *_peak(3, 18),
        byte("touch_temperature", 20, "Touch temperature", codes=TOUCH_SOURCE),
        flag("external_supply", 21, 0, "Source input: external supply"),
        flag("external_unconstrained", 21, 1, "Source input: unconstrained"),
        flag("internal_battery", 21, 2, "Source input: internal battery"),
        *_batteries(22),
        part("spr_pdp_w", 23, 6, 0, "SPR Source PDP Rating"),
        byte("epr_pdp_w", 24, "EPR Source PDP Rating", note="zero for an SPR source"),
    ],
    older=(Length(24, "before EPR", Origin("PD R3.0", "memory")),),
)

TEMPERATURE = {0: "not supported", 1: "below 2 °C"}
POWER_STATE = {0: "not supported", 1: "S0", 2: "modern standby", 3: "S3", 4: "S4", 5: "S5", 6: "G3"}
TEMPERATURE_STATUS = {0: "not supported", 1: "normal", 2: "warning", 3: "over temperature"}

STATUS = block(
    "Status",
    7,
    [
        byte("temperature_c", 0, "Internal temperature", special=TEMPERATURE, void=0),
        flag("external_power", 1, 1, "Present input: external power"),
        flag("external_ac", 1, 2, "Present input: the external power is AC"),
        flag("internal_battery", 1, 3, "Present input: internal, from battery"),
        flag("internal_power", 1, 4, "Present input: internal, not from battery"),
        *_batteries(2, in_use=True),
        flag("over_current", 3, 1, "OCP event"),
        flag("over_temperature", 3, 2, "OTP event"),
        flag("over_voltage", 3, 3, "OVP event"),
        flag("pps_current_limit", 3, 4, "PPS: in current limit"),
        part("temperature_status", 4, 2, 1, "Temperature status", codes=TEMPERATURE_STATUS),
        flag("limited_by_cable", 5, 1, "Power limited by the cable"),
        flag("limited_by_ports", 5, 2, "Power limited by other ports"),
        flag("limited_by_input", 5, 3, "Power limited by external power"),
        flag("limited_by_events", 5, 4, "Power limited by event flags"),
        flag("limited_by_temperature", 5, 5, "Power limited by temperature"),
        part("power_state", 6, 2, 0, "Power state", codes=POWER_STATE),
        part("led", 6, 5, 3, "Power state LED", codes={0: "off", 1: "on", 2: "blinking", 3: "breathing"}),
    ],
    older=(
        Length(6, "in Revision 3.0", Origin("R3.0 layouts of public kernel and controller headers", "checked")),
        Length(5, "at first", Origin("earliest R3.0", "checked")),
    ),
    where=" on SOP",
)

STATUS_CABLE = block(
    "Status",
    2,
    [
        byte("temperature_c", 0, "Internal temperature", special=TEMPERATURE, void=0),
        flag("thermal_shutdown", 1, 0, "Thermal shutdown"),
    ],
    where=" on SOP' and SOP''",
    name="status-cable",
)


def _or_none(count: int) -> dict[str, Any]:
    """Of a figure: this count says that the source does not measure it."""
    return {"special": {count: "not supported"}, "void": count}


PPS_STATUS = block(
    "PPS_Status",
    4,
    [
        byte("output_voltage_mv", 0, "Output voltage", 2, scale=20, **_or_none(0xFFFF), note="+/- 3 %"),
        byte("output_current_ma", 2, "Output current", scale=50, **_or_none(0xFF), note="+/- 150 mA"),
        part("temperature_status", 3, 2, 1, "Temperature status", codes=TEMPERATURE_STATUS),
        flag("current_limit", 3, 3, "In current limit"),
    ],
)

SINK_EXTENDED = block(
    "Sink_Capabilities_Extended",
    24,
    [
        *maker(),
        byte("firmware_version", 8, "FW version"),
        byte("hardware_version", 9, "HW version"),
        byte("block_version", 10, "Version of the block", codes={1: "1.0"}),
        part("load_step", 11, 1, 0, "Load step", codes=LOAD_STEP),
        *_load("load", 12, "Load", part("load_droop", 12, 15, 15, "Load: can take VBUS droop")),
        *_compliance(14, "Compliance needed"),
        byte("touch_temperature", 15, "Touch temperature", codes=TOUCH_SINK),
        *_batteries(16),
        flag("pps_charging", 17, 0, "Mode: PPS charging"),
        flag("vbus_powered", 17, 1, "Mode: VBUS powered"),
        flag("ac_powered", 17, 2, "Mode: AC powered"),
        flag("battery_powered", 17, 3, "Mode: battery powered"),
        flag("battery_unlimited", 17, 4, "Mode: battery, unlimited"),
        flag("avs_supported", 17, 5, "Mode: AVS"),
        part("spr_minimum_pdp_w", 18, 6, 0, "SPR Sink Minimum PDP"),
        part("spr_operational_pdp_w", 19, 6, 0, "SPR Sink Operational PDP"),
        part("spr_maximum_pdp_w", 20, 6, 0, "SPR Sink Maximum PDP"),
        byte("epr_minimum_pdp_w", 21, "EPR Sink Minimum PDP"),
        byte("epr_operational_pdp_w", 22, "EPR Sink Operational PDP"),
        byte("epr_maximum_pdp_w", 23, "EPR Sink Maximum PDP"),
    ],
    older=(Length(21, "before EPR", Origin("PD R3.0", "memory")),),
)

_REFERENCE_NOTE = "0..3 fixed, 4..7 swappable"
BATTERY_CAPABILITY_REQUEST = block("Get_Battery_Cap", 1, [byte("battery", 0, "Battery number", note=_REFERENCE_NOTE)])
BATTERY_STATUS_REQUEST = block("Get_Battery_Status", 1, [byte("battery", 0, "Battery number", note=_REFERENCE_NOTE)])


def _capacity(key: str, offset: int, title: str) -> Field:
    special = {0: "not present", UNKNOWN_CAPACITY: "unknown"}
    return byte(key, offset, title, 2, scale=CAPACITY_MWH, special=special, void=UNKNOWN_CAPACITY)


BATTERY_CAPABILITIES = block(
    "Battery_Capabilities",
    9,
    [
        *maker(certified=False),
        _capacity("design_capacity_mwh", 4, "Battery design capacity"),
        _capacity("full_capacity_mwh", 6, "Battery last full charge capacity"),
        flag("invalid_reference", 8, 0, "Invalid battery reference"),
    ],
)

MANUFACTURER_REQUEST = block(
    "Get_Manufacturer_Info",
    2,
    [
        byte("target", 0, "Target", codes={0: "port or cable plug", 1: "battery"}),
        byte("battery", 1, "Battery number", note=_REFERENCE_NOTE),
    ],
)
MANUFACTURER = block("Manufacturer_Info", 4, maker(certified=False), "text", 5, 26)

COUNTRY_CODES = block("Country_Codes", 2, [byte("count", 0, "Number of country codes")], "letters", 4, 26)
COUNTRY_INFO = block(
    "Country_Info",
    4,
    [
        byte("letter_1", 0, "First letter of the country code", codes=LETTERS),
        byte("letter_2", 1, "Second letter of the country code", codes=LETTERS),
    ],
    "bytes",
    4,
    26,
)

EPR_CONTROL = {1: "EPR_Get_Source_Cap", 2: "EPR_Get_Sink_Cap", 3: "EPR_KeepAlive", 4: "EPR_KeepAlive_Ack"}
EXTENDED_CONTROL = block(
    "Extended_Control",
    2,
    [
        byte("type", 0, "Type", codes=EPR_CONTROL),
        byte("control_data", 1, "Data", note=ZERO),
    ],
    origin=checked("Tables 6.66 and 6.67"),
)

VENDOR_EXTENDED = block("Vendor_Defined_Extended", 4, VDM_HEADER_UNSTRUCTURED.named, "bytes", 4, MAX_DATA_SIZE)


def _foreign(message: str) -> Block:
    return block(message, 0, [], "bytes", 4, MAX_DATA_SIZE, where=", of another standard")


BLOCKS: Mapping[str, Block] = {
    each.message: each
    for each in (
        SOURCE_EXTENDED,
        STATUS,
        BATTERY_CAPABILITY_REQUEST,
        BATTERY_STATUS_REQUEST,
        BATTERY_CAPABILITIES,
        MANUFACTURER_REQUEST,
        MANUFACTURER,
        *map(
            _foreign, ("Security_Request", "Security_Response", "Firmware_Update_Request", "Firmware_Update_Response")
        ),
        PPS_STATUS,
        COUNTRY_INFO,
        COUNTRY_CODES,
        SINK_EXTENDED,
        EXTENDED_CONTROL,
        VENDOR_EXTENDED,
    )
}
"""The block of each extended message whose data is not power data objects, as sent on SOP."""

BLOCKS_CABLE: Mapping[str, Block] = {STATUS_CABLE.message: STATUS_CABLE}
"""Blocks that are laid out otherwise on SOP' and SOP''."""


def block_of(name: str, sop: str = "SOP") -> Block | None:
    """The block of an extended message, ``None`` where there is no table for it.

    >>> block_of("Status", "SOP'").head_bytes, block_of("Status").head_bytes
    (2, 7)
    """
    if sop != "SOP" and name in BLOCKS_CABLE:
        return BLOCKS_CABLE[name]
    return BLOCKS.get(name)
