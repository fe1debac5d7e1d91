"""Tables of the less common data objects: BIST, batteries, alerts, country, USB mode, source information, revision."""

from __future__ import annotations

from pdcheck.bits.identity import USB_SPEED
from pdcheck.bits.layout import Field, Word, bit
from pdcheck.facts.origin import Origin, checked

TEST_DATA_MODE = 8
TEST_DATA_OBJECTS = 7
"""The BIST object and six words of test data (PD R3.2 V1.1, Table 6.27) [checked]."""

_BIST_MODE = {5: "Carrier Mode", TEST_DATA_MODE: "Test Data", 9: "Shared Test Mode Entry", 10: "Shared Test Mode Exit"}
_BIST_NOTE = (
    "0..4, 6 and 7 were receiver, transmitter, counter, carrier and eye tests before; "
    "six words of test data follow mode 8"
)
BIST = Word(
    "bist",
    "BIST data object",
    [Field("mode", 31, 28, "BIST mode", codes=_BIST_MODE, note=_BIST_NOTE)],
    checked("Table 6.27"),
)

_BIST_MODE_R2 = {
    0: "Receiver Mode",
    1: "Transmit Mode",
    2: "Returned BIST Counters",
    **{3 + carrier: f"Carrier Mode {carrier}" for carrier in range(4)},
    7: "Eye Pattern",
    TEST_DATA_MODE: "Test Data",
}
BIST_R2 = Word(
    "bist-r2",
    "BIST data object, Revision 2.0",
    [
        Field("mode", 31, 28, "BIST mode", codes=_BIST_MODE_R2),
        Field("error_counters", 15, 0, "Returned error counters", note="with Returned BIST Counters only"),
    ],
    Origin("PD R2.0, BIST data object", "memory"),
)

UNKNOWN_CAPACITY = 0xFFFF
CAPACITY_MWH = 100
"""One count of a battery's capacity, 0.1 Wh."""

_CHARGING = {0: "charging", 1: "discharging", 2: "idle"}
BATTERY_STATUS = Word(
    "battery-status",
    "Battery Status data object",
    [
        Field(
            "present_capacity_mwh",
            31,
            16,
            "Battery present capacity",
            CAPACITY_MWH,
            special={UNKNOWN_CAPACITY: "unknown"},
            void=UNKNOWN_CAPACITY,
        ),
        Field("charging_status", 11, 10, "Charging status", codes=_CHARGING, note="only with a battery present"),
        bit("battery_present", 9, "Battery is present"),
        bit("invalid_reference", 8, "Invalid battery reference"),
    ],
    checked("Tables 6.46 to 6.49, 6.51 and 6.52"),
)

_EXTENDED_EVENT = {
    0: "none",
    1: "power state change",
    2: "power button press",
    3: "power button release",
    4: "controller initiated wake",
}
ALERT = Word(
    "alert",
    "Alert data object",
    [
        bit("extended_alert", 31, "Extended alert"),
        bit("over_voltage", 30, "OVP event"),
        bit("source_input_change", 29, "Source input change"),
        bit("operating_condition_change", 28, "Operating condition change"),
        bit("over_temperature", 27, "OTP event"),
        bit("over_current", 26, "OCP event", "from a source only"),
        bit("battery_status_change", 25, "Battery status change"),
        *(bit(f"fixed_battery_{number}", 20 + number, f"Fixed battery {number}") for number in range(4)),
        *(bit(f"swappable_battery_{number}", 12 + number, f"Hot-swappable battery {number}") for number in range(4, 8)),
        Field(
            "extended_event", 3, 0, "Extended alert event", codes=_EXTENDED_EVENT, note="zero without Extended alert"
        ),
    ],
    checked("Tables 6.46 to 6.49, 6.51 and 6.52"),
)

LETTERS = {ord(letter): letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}

COUNTRY_INFO_REQUEST = Word(
    "get-country-info",
    "Country code data object of Get_Country_Info",
    [
        Field("letter_1", 31, 24, "First letter of the country code", codes=LETTERS),
        Field("letter_2", 23, 16, "Second letter of the country code", codes=LETTERS),
    ],
    checked("Tables 6.46 to 6.49, 6.51 and 6.52"),
)

_CABLE_TYPE = {0: "passive", 1: "retimer", 2: "redriver", 3: "optically isolated"}
_CABLE_CURRENT = {0: "no VBUS", 2: "3 A", 3: "5 A"}
ENTER_USB = Word(
    "enter-usb",
    "Enter_USB data object",
    [
        Field("mode", 30, 28, "USB mode", codes={0: "USB 2.0", 1: "USB 3.2", 2: "USB4"}),
        bit("usb4_capable", 26, "USB4 device capable"),
        bit("usb32_capable", 25, "USB 3.2 device capable"),
        Field("cable_speed", 23, 21, "Cable speed", codes=USB_SPEED),
        Field("cable_type", 20, 19, "Cable type", codes=_CABLE_TYPE),
        Field("cable_current", 18, 17, "Cable current", codes=_CABLE_CURRENT, note="not the code of the cable VDO"),
        bit("pcie_tunnelled", 16, "PCIe tunnelling"),
        bit("dp_tunnelled", 15, "DisplayPort tunnelling"),
        bit("thunderbolt_tunnelled", 14, "Thunderbolt tunnelling"),
        bit("host_present", 13, "Host present"),
    ],
    checked("Tables 6.46 to 6.49, 6.51 and 6.52"),
)

_REPORTED = "whole part of the largest voltage x current among the fixed objects sent"
SOURCE_INFO = Word(
    "source-info",
    "Source Info data object",
    [
        Field("port_type", 31, 31, "Port type", codes={0: "managed capability", 1: "guaranteed capability"}),
        Field("port_maximum_pdp_w", 23, 16, "Port Maximum PDP"),
        Field("port_present_pdp_w", 15, 8, "Port Present PDP"),
        Field("port_reported_pdp_w", 7, 0, "Port Reported PDP", note=_REPORTED),
    ],
    checked("Tables 6.46 to 6.49, 6.51 and 6.52"),
)

REVISION_WORD = Word(
    "revision",
    "Revision data object",
    [
        Field("revision_major", 31, 28, "Revision, major"),
        Field("revision_minor", 27, 24, "Revision, minor"),
        Field("version_major", 23, 20, "Version, major"),
        Field("version_minor", 19, 16, "Version, minor"),
    ],
    checked("Tables 6.46 to 6.49, 6.51 and 6.52"),
)

DATA_OBJECTS: dict[str, Word] = {
    "BIST": BIST,
    "Battery_Status": BATTERY_STATUS,
    "Alert": ALERT,
    "Get_Country_Info": COUNTRY_INFO_REQUEST,
    "Enter_USB": ENTER_USB,
    "Source_Info": SOURCE_INFO,
    "Revision": REVISION_WORD,
}
"""The table of the one object that a data message carries, by message name."""

DATA_OBJECTS_R2: dict[str, Word] = {"BIST": BIST_R2}
"""The same where Revision 2.0 laid the object out otherwise."""

DATA_WORDS = (*DATA_OBJECTS.values(), *DATA_OBJECTS_R2.values())
