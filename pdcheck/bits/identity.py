"""Tables of the vendor-defined words: VDM header, identity, cable, VPD, UFP and DFP words, and those of DisplayPort."""

from __future__ import annotations

from pdcheck.bits.layout import Field, Word, bit
from pdcheck.facts.origin import Origin, checked

PD_SID = 0xFF00
"""The SVID of the PD standard itself."""

STRUCTURED_VERSION = {0: "1.0", 1: "2.x"}
COMMAND_TYPE = {0: "request", 1: "ACK", 2: "NAK", 3: "BUSY"}
COMMAND = {
    1: "Discover Identity",
    2: "Discover SVIDs",
    3: "Discover Modes",
    4: "Enter Mode",
    5: "Exit Mode",
    6: "Attention",
}


VDM_HEADER = Word(
    "vdm-header",
    "Structured VDM Header",
    [
        Field("svid", 31, 16, "SVID", note="0xFF00 is the PD standard's own"),
        Field("structured", 15, 15, "VDM Type", codes={0: "unstructured", 1: "structured"}),
        Field("version_major", 14, 13, "Structured VDM Version, major", codes=STRUCTURED_VERSION),
        Field("version_minor", 12, 11, "Structured VDM Version, minor", codes={0: "2.0", 1: "2.1"}),
        Field("position", 10, 8, "Object Position", note="1..6 a mode, 7 all modes in Exit Mode, 0 in commands 1..3"),
        Field("command_type", 7, 6, "Command Type", codes=COMMAND_TYPE),
        Field("command", 4, 0, "Command", codes=COMMAND | dict.fromkeys(range(16, 32), "of the SVID")),
    ],
    checked("Tables 6.28 and 6.29"),
)

VDM_HEADER_UNSTRUCTURED = Word(
    "vdm-header-unstructured",
    "Unstructured VDM Header",
    [
        Field("svid", 31, 16, "SVID"),
        Field("structured", 15, 15, "VDM Type", codes={0: "unstructured", 1: "structured"}),
        Field("vendor_use", 14, 0, "For the vendor's use"),
    ],
    checked("Tables 6.28 and 6.29"),
)

PRODUCT_TYPE_CABLE = {0: "none", 3: "passive cable", 4: "active cable", 6: "VCONN-powered USB device"}
PRODUCT_TYPE_PORT = {0: "undefined", 1: "hub", 2: "peripheral", 3: "PSD", 5: "alternate mode adapter"}
PRODUCT_TYPE_DFP = {0: "none", 1: "hub", 2: "host", 3: "power brick"}

ID_HEADER_CABLE = Word(
    "id-header-cable",
    "ID Header VDO of a cable plug (SOP')",
    [
        bit("usb_host", 31, "USB Host"),
        bit("usb_device", 30, "USB Device"),
        Field("product_type", 29, 27, "Product Type", codes=PRODUCT_TYPE_CABLE),
        bit("modal_operation", 26, "Modal Operation"),
        Field("connector_type", 22, 21, "Connector Type", codes={0: "not said", 2: "receptacle", 3: "plug"}),
        Field("vendor_id", 15, 0, "USB Vendor ID", note="0x0000 and 0xFFFF stand for no ID held [common practice]"),
    ],
    checked("Table 6.33"),
)
ID_HEADER_PORT = ID_HEADER_CABLE.varied(
    "id-header-port",
    "ID Header VDO of a port (SOP)",
    [
        Field("product_type", 29, 27, "Product Type as UFP", codes=PRODUCT_TYPE_PORT),
        Field("product_type_dfp", 25, 23, "Product Type as DFP", codes=PRODUCT_TYPE_DFP),
    ],
)

CERT_STAT = Word(
    "cert-stat", "Cert Stat VDO", [Field("certification", 31, 0, "XID", note="zero: none")], checked("Cert Stat VDO")
)
PRODUCT = Word(
    "product",
    "Product VDO",
    [Field("product_id", 31, 16, "USB Product ID"), Field("bcd_device", 15, 0, "bcdDevice")],
    checked("Product VDO"),
)

USB_SPEED = {0: "USB 2.0", 1: "USB 3.2 Gen1", 2: "USB 3.2/USB4 Gen2", 3: "USB4 Gen3", 4: "USB4 Gen4"}
CABLE_CURRENT = {1: "3 A", 2: "5 A"}
# 30 V and 40 V were withdrawn and are to be read as 20 V.
CABLE_VOLTAGE = {0: "20 V", 1: "20 V (was 30 V)", 2: "20 V (was 40 V)", 3: "50 V"}
PLUG_TYPE = {2: "USB Type-C", 3: "captive"}
_LATENCY = {code: f"<{code}0 ns (about {code} m)" for code in range(1, 8)}
LATENCY_PASSIVE = _LATENCY | {8: ">70 ns (more than about 7 m)"}
LATENCY_ACTIVE = _LATENCY | {8: "1000 ns (about 100 m)", 9: "2000 ns (about 200 m)", 10: "3000 ns (about 300 m)"}
TERMINATION_PASSIVE = {0: "VCONN not required", 1: "VCONN required"}
TERMINATION_ACTIVE = {2: "one end active", 3: "both ends active"}

_VERSIONS = [
    Field("hardware_version", 31, 28, "HW Version"),
    Field("firmware_version", 27, 24, "FW Version"),
]

PASSIVE_CABLE = Word(
    "passive-cable",
    "Passive Cable VDO",
    [
        *_VERSIONS,
        Field("vdo_version", 23, 21, "VDO Version", codes={0: "1.0"}),
        Field("plug_type", 19, 18, "Plug type", codes=PLUG_TYPE),
        bit("epr_capable", 17, "EPR Capable", "reserved before R3.1"),
        Field("latency", 16, 13, "Cable latency", codes=LATENCY_PASSIVE),
        Field("termination", 12, 11, "Termination", codes=TERMINATION_PASSIVE),
        Field("max_voltage", 10, 9, "Maximum VBUS voltage", codes=CABLE_VOLTAGE),
        Field("current", 6, 5, "VBUS current", codes=CABLE_CURRENT),
        Field("speed", 2, 0, "USB highest speed", codes=USB_SPEED),
    ],
    checked("Table 6.41"),
)

ACTIVE_CABLE_1 = PASSIVE_CABLE.varied(
    "active-cable-1",
    "Active Cable VDO1",
    [
        Field("vdo_version", 23, 21, "VDO Version", codes={0: "1.0", 3: "1.3"}),
        Field("latency", 16, 13, "Cable latency", codes=LATENCY_ACTIVE),
        Field("termination", 12, 11, "Termination", codes=TERMINATION_ACTIVE),
        Field("sbu_supported", 8, 8, "SBU", codes={0: "supported", 1: "not supported"}),
        Field("sbu_type", 7, 7, "SBU type", codes={0: "passive", 1: "active"}),
        bit("vbus_through", 4, "VBUS through cable"),
        bit("sop2_present", 3, "SOP'' controller present"),
    ],
    origin=checked("Table 6.42"),
)

_U3_POWERS = (">10 mW", "5..10 mW", "1..5 mW", "0.5..1 mW", "0.2..0.5 mW", "50..200 uW", "<50 uW")
ACTIVE_CABLE_2 = Word(
    "active-cable-2",
    "Active Cable VDO2",
    [
        Field("operating_temperature_c", 31, 24, "Maximum operating temperature"),
        Field("shutdown_temperature_c", 23, 16, "Shutdown temperature"),
        Field("u3_power", 14, 12, "U3/CLd power", codes=dict(enumerate(_U3_POWERS))),
        Field("u3_to_u0", 11, 11, "U3 to U0", codes={0: "direct", 1: "through U3S"}),
        Field("physical", 10, 10, "Physical connection", codes={0: "copper", 1: "optical"}),
        Field("active_element", 9, 9, "Active element", codes={0: "redriver", 1: "retimer"}),
        Field("usb4", 8, 8, "USB4", codes={0: "supported", 1: "not supported"}),
        Field("usb2_hub_hops", 7, 6, "USB 2.0 hub hops consumed"),
        Field("usb2", 5, 5, "USB 2.0", codes={0: "supported", 1: "not supported"}),
        Field("usb32", 4, 4, "USB 3.2", codes={0: "supported", 1: "not supported"}),
        Field("lanes", 3, 3, "Lanes", codes={0: "one", 1: "two"}),
        bit("optically_isolated", 2, "Optically isolated"),
        bit("usb4_asymmetric", 1, "USB4 asymmetric mode"),
        Field("generation", 0, 0, "USB generation", codes={0: "Gen1", 1: "Gen2 or higher"}),
    ],
    checked("Table 6.43"),
)

VPD = Word(
    "vpd",
    "VPD VDO",
    [
        *_VERSIONS,
        Field("vdo_version", 23, 21, "VDO Version", codes={0: "1.0"}),
        Field("max_voltage", 16, 15, "Maximum VBUS voltage", codes=CABLE_VOLTAGE | {3: "20 V (was 50 V)"}),
        Field("charge_through_current", 14, 14, "Charge-through current", codes={0: "3 A", 1: "5 A"}),
        Field("vbus_impedance_mohm", 12, 7, "VBUS impedance", 2),
        Field("ground_impedance_mohm", 6, 1, "Ground impedance", 1),
        bit("charge_through", 0, "Charge-through supported"),
    ],
    checked("Table 6.44"),
)

# Revision 2.0 (structured version 1.0) laid the same words out otherwise; the structured version decides.
_R2 = Origin("PD R2.0, as an older Linux kernel header pd_vdo.h has it", "checked")
_R2_MEMORY = Origin("PD R2.0, cable words", "memory")
_SPEED_R2 = {0: "USB 2.0", 1: "USB 3.1 Gen1", 2: "USB 3.1 Gen1 and Gen2"}
_LANES = ("ssrx2", "ssrx1", "sstx2", "sstx1")


def _lanes(lowest: int) -> list[Field]:
    """Which way each lane of a cable or an adapter goes: a bit a lane, from the lowest one on."""
    codes = {0: "fixed", 1: "configurable"}
    return [
        Field(lane, at, at, f"{lane.upper()} directionality", codes=codes) for at, lane in enumerate(_LANES, lowest)
    ]


_IN_R2 = [
    *_lanes(7),
    bit("vbus_through", 4, "VBUS through cable"),
    bit("sop2_present", 3, "SOP'' controller present"),
    Field("plug_type", 19, 18, "Plug type", codes={0: "USB Type-A", 1: "USB Type-B"} | PLUG_TYPE, origin=_R2_MEMORY),
    Field("current", 6, 5, "VBUS current", codes={0: "1.5 A"} | CABLE_CURRENT, origin=_R2_MEMORY),
    Field("speed", 2, 0, "USB highest speed", codes=_SPEED_R2, origin=_R2_MEMORY),
]
PASSIVE_CABLE_R2, ACTIVE_CABLE_R2 = (
    word.varied(
        f"{which}-cable-r2",
        f"{which.capitalize()} Cable VDO, Revision 2.0",
        _IN_R2,
        drop=("vdo_version", "epr_capable", "max_voltage"),
        origin=_R2,
    )
    for which, word in (("passive", PASSIVE_CABLE), ("active", ACTIVE_CABLE_1))
)

VCONN_POWER = {0: "1 W", 1: "1.5 W", 2: "2 W", 3: "3 W", 4: "4 W", 5: "5 W", 6: "6 W"}
AMA_PRODUCT = 5
AMA_R2 = Word(
    "ama-r2",
    "AMA VDO (alternate mode adapter), Revision 2.0",
    [
        *_VERSIONS,
        *_lanes(8),
        Field("vconn_power", 7, 5, "VCONN power", codes=VCONN_POWER),
        bit("vconn_required", 4, "VCONN required"),
        bit("vbus_required", 3, "VBUS required"),
        Field("speed", 2, 0, "USB highest speed", codes=_SPEED_R2 | {3: "USB 2.0, billboard only"}),
    ],
    Origin("PD R2.0, AMA VDO", "memory"),
)
AMA = AMA_R2.varied(
    "ama",
    "AMA VDO (alternate mode adapter), early Revision 3.0",
    [Field("vdo_version", 23, 21, "VDO Version", codes={0: "1.0"})],
    drop=_LANES,
    origin=Origin("PD R3.0, AMA VDO", "memory"),
)

UFP = Word(
    "ufp",
    "UFP VDO",
    [
        Field("vdo_version", 31, 29, "UFP VDO Version", codes={3: "1.3"}),
        bit("usb4_capable", 27, "USB4 device"),
        bit("usb32_capable", 26, "USB 3.2 device"),
        bit("billboard_only", 25, "USB 2.0 device, billboard only"),
        bit("usb2_capable", 24, "USB 2.0 device"),
        Field("connector_type", 23, 22, "Connector Type (legacy)"),
        Field("vconn_power", 10, 8, "VCONN power", codes=VCONN_POWER),
        bit("vconn_required", 7, "VCONN required"),
        Field("vbus_required", 6, 6, "VBUS required", codes={0: "yes", 1: "no"}),
        bit("modes_no_reconfigure", 5, "Alternate modes that do not reconfigure the connector"),
        bit("modes_reconfigure", 4, "Alternate modes that reconfigure the connector"),
        bit("thunderbolt3", 3, "Thunderbolt 3 alternate mode"),
        Field("speed", 2, 0, "USB highest speed", codes=USB_SPEED),
    ],
    checked("Table 6.39"),
)
DFP = Word(
    "dfp",
    "DFP VDO",
    [
        Field("vdo_version", 31, 29, "DFP VDO Version", codes={2: "1.2"}),
        bit("usb4_capable", 26, "USB4 host"),
        bit("usb32_capable", 25, "USB 3.2 host"),
        bit("usb2_capable", 24, "USB 2.0 host"),
        Field("connector_type", 23, 22, "Connector Type (legacy)"),
        Field("port_number", 4, 0, "Port Number"),
    ],
    checked("Table 6.40"),
)

DISPLAYPORT_SVID = 0xFF01
"""The SVID of DisplayPort over Type-C (PD R3.2 V1.1, Table 6.28) [checked]."""

_VESA = Origin("VESA DisplayPort Alt Mode on USB Type-C", "memory")
_PINS = {0: "none", 1: "A", 2: "B", 4: "C", 8: "D", 16: "E", 32: "F"}
_ENDS = {0: "none", 1: "DFP_D", 2: "UFP_D", 3: "both"}

DP_CAPABILITIES = Word(
    "displayport-mode",
    "DisplayPort capabilities (mode word of SVID 0xFF01)",
    [
        Field("ufp_d_pins", 23, 16, "UFP_D pin assignments", note="one bit each, A in the lowest"),
        Field("dfp_d_pins", 15, 8, "DFP_D pin assignments", note="one bit each, A in the lowest"),
        bit("no_usb2", 7, "USB 2.0 signalling not needed"),
        Field("receptacle", 6, 6, "Receptacle indication", codes={0: "plug", 1: "receptacle"}),
        Field("signalling", 5, 2, "Signalling for the transport", note="one bit each, DisplayPort rates the lowest"),
        Field("capability", 1, 0, "Port capability", codes={1: "UFP_D", 2: "DFP_D", 3: "both"}),
    ],
    _VESA,
)
DP_STATUS = Word(
    "displayport-status",
    "DisplayPort status (command 16 and Attention of SVID 0xFF01)",
    [
        bit("irq_hpd", 8, "IRQ_HPD since the last status"),
        Field("hpd", 7, 7, "HPD", codes={0: "low", 1: "high"}),
        bit("exit_request", 6, "Exit DisplayPort mode wanted"),
        bit("usb_request", 5, "USB configuration wanted"),
        bit("multi_function", 4, "Multi-function preferred"),
        bit("enabled", 3, "Adapter enabled"),
        bit("power_low", 2, "Power low"),
        Field("connected", 1, 0, "Connected", codes=_ENDS),
    ],
    _VESA,
)
DP_CONFIGURE = Word(
    "displayport-configure",
    "DisplayPort configuration (command 17 of SVID 0xFF01)",
    [
        Field("pins", 15, 8, "Pin assignment", codes=_PINS),
        Field("signalling", 5, 2, "Signalling for the transport", note="DisplayPort rates the lowest bit"),
        Field("configuration", 1, 0, "Configuration", codes={0: "USB", 1: "DFP_D", 2: "UFP_D"}),
    ],
    _VESA,
)
DP_COMMANDS = {6: DP_STATUS, 16: DP_STATUS, 17: DP_CONFIGURE}
"""What the first object of a command of this SVID is read by, by command number."""

DISPLAYPORT_WORDS = (DP_CAPABILITIES, DP_STATUS, DP_CONFIGURE)

IDENTITY_WORDS = (
    VDM_HEADER,
    VDM_HEADER_UNSTRUCTURED,
    ID_HEADER_CABLE,
    ID_HEADER_PORT,
    CERT_STAT,
    PRODUCT,
    PASSIVE_CABLE,
    PASSIVE_CABLE_R2,
    ACTIVE_CABLE_1,
    ACTIVE_CABLE_R2,
    ACTIVE_CABLE_2,
    VPD,
    AMA_R2,
    AMA,
    UFP,
    DFP,
)
