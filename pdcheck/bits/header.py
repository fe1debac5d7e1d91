"""Tables of the message headers and the names of the message types."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

from pdcheck.bits.layout import Field, Word, bit
from pdcheck.facts.origin import checked

Revision = Literal["2.0", "3.x"]
"""Revisions of Power Delivery that words are laid out by."""
REVISION = {0: "1.0", 1: "2.0", 2: "3.x"}

HEADER = Word(
    "message-header",
    "Message Header on SOP",
    [
        bit("extended", 15, "Extended"),
        Field("object_count", 14, 12, "Number of Data Objects"),
        Field("id", 11, 9, "MessageID", note="rolls over after 7"),
        Field("power_role", 8, 8, "Port Power Role", codes={0: "sink", 1: "source"}),
        Field("revision", 7, 6, "Specification Revision", codes=REVISION),
        Field("data_role", 5, 5, "Port Data Role", codes={0: "UFP", 1: "DFP"}),
        Field("type", 4, 0, "Message Type", note="bits 3..0 in Revision 2.0"),
    ],
    checked("Message Header"),
    16,
)
HEADER_CABLE = HEADER.varied(
    "message-header-cable",
    "Message Header on SOP' and SOP''",
    [Field("cable_plug", 8, 8, "Cable Plug", codes={0: "port", 1: "cable plug"})],
    drop=("data_role",),
)

EXTENDED_HEADER = Word(
    "extended-header",
    "Extended Message Header",
    [
        bit("chunked", 15, "Chunked"),
        Field("chunk_number", 14, 11, "Chunk Number"),
        bit("request_chunk", 10, "Request Chunk"),
        Field("data_size", 8, 0, "Data Size", note="bytes of the whole block, 0..260"),
    ],
    checked("Extended Message Header"),
    16,
)

CHUNK_BYTES = 26
"""Most data bytes in one chunk (PD R3.2 V1.1, Extended Message Header) [checked]."""
MAX_DATA_SIZE = 260
"""Most data bytes in one extended message (PD R3.2 V1.1, Extended Message Header) [checked]."""

CONTROL = {
    1: "GoodCRC",
    2: "GotoMin",
    3: "Accept",
    4: "Reject",
    5: "Ping",
    6: "PS_RDY",
    7: "Get_Source_Cap",
    8: "Get_Sink_Cap",
    9: "DR_Swap",
    10: "PR_Swap",
    11: "VCONN_Swap",
    12: "Wait",
    13: "Soft_Reset",
    14: "Data_Reset",
    15: "Data_Reset_Complete",
    16: "Not_Supported",
    17: "Get_Source_Cap_Extended",
    18: "Get_Status",
    19: "FR_Swap",
    20: "Get_PPS_Status",
    21: "Get_Country_Codes",
    22: "Get_Sink_Cap_Extended",
    23: "Get_Source_Info",
    24: "Get_Revision",
}
"""Control messages, no data object (PD R3.2 V1.1, Table 6.5) [checked]."""

DATA = {
    1: "Source_Capabilities",
    2: "Request",
    3: "BIST",
    4: "Sink_Capabilities",
    5: "Battery_Status",
    6: "Alert",
    7: "Get_Country_Info",
    8: "Enter_USB",
    9: "EPR_Request",
    10: "EPR_Mode",
    11: "Source_Info",
    12: "Revision",
    15: "Vendor_Defined",
}
"""Data messages, one to seven data objects (PD R3.2 V1.1, Table 6.6) [checked]."""

REQUESTS = ("Request", "EPR_Request")
CAPABILITIES = ("Source_Capabilities", "EPR_Source_Capabilities")
"""What a source offers, in SPR and in EPR mode."""

EXTENDED = {
    1: "Source_Capabilities_Extended",
    2: "Status",
    3: "Get_Battery_Cap",
    4: "Get_Battery_Status",
    5: "Battery_Capabilities",
    6: "Get_Manufacturer_Info",
    7: "Manufacturer_Info",
    8: "Security_Request",
    9: "Security_Response",
    10: "Firmware_Update_Request",
    11: "Firmware_Update_Response",
    12: "PPS_Status",
    13: "Country_Info",
    14: "Country_Codes",
    15: "Sink_Capabilities_Extended",
    16: "Extended_Control",
    17: "EPR_Source_Capabilities",
    18: "EPR_Sink_Capabilities",
    30: "Vendor_Defined_Extended",
}
"""Extended messages (PD R3.2 V1.1, Table 6.53) [checked]."""

# Types of Revision 2.0, whose field has four bits: what 3.x put into its gaps is reserved there.
CONTROL_R2 = {code: name for code, name in CONTROL.items() if code <= 13}
DATA_R2 = {code: name for code, name in DATA.items() if code <= 4 or code == 15}


@lru_cache(1024)
def type_name(header: int) -> str:
    """The message type of a header word, ``reserved`` with its code where the table has none.

    >>> type_name(0x61A1), type_name(0x0041), type_name(0x009B)
    ('Source_Capabilities', 'GoodCRC', 'reserved control 27')
    """
    revision = HEADER.field("revision").take(header)
    code = HEADER.field("type").take(header)
    count = HEADER.field("object_count").take(header)
    old = REVISION.get(revision) in ("1.0", "2.0")
    if header >> 15:
        table, family = EXTENDED, "extended"
    elif count:
        table, family = (DATA_R2, "data") if old else (DATA, "data")
    else:
        table, family = (CONTROL_R2, "control") if old else (CONTROL, "control")
    if old and family != "extended":
        code &= 0xF
    # A GoodCRC's revision carries no meaning, so its type is looked up alike in both.
    return table.get(code) or f"reserved {family} {code}"


HEADER_WORDS = (HEADER, HEADER_CABLE, EXTENDED_HEADER)
