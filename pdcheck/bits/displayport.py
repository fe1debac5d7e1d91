"""Tables of the DisplayPort mode words: capabilities, status, configuration."""

from __future__ import annotations

from pdcheck.bits.layout import Field, Word, bit
from pdcheck.facts.origin import Origin

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
