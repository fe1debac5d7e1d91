"""Tables of the power words: objects that a source and a sink send, and the requests."""

from __future__ import annotations

from pdcheck.bits.layout import Field, Word, bit
from pdcheck.facts.capabilities import AVS_CURRENT_STEP
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.origin import checked

PEAK_CURRENT = {
    0: "no overload, or see Peak Current1..3 of Source_Capabilities_Extended",
    1: "150 % for 1 ms at 5 % duty, 125 % for 2 ms at 10 %, 110 % for 10 ms at 50 %",
    2: "200 % for 1 ms at 5 % duty, 150 % for 2 ms at 10 %, 125 % for 10 ms at 50 %",
    3: "200 % for 1 ms at 5 % duty, 175 % for 2 ms at 10 %, 150 % for 10 ms at 50 %",
}

# In print the layout tables of the variable and battery objects carry each other's code; Table 6.7 and the text decide.
_CODE = {"fixed": 0, "battery": 1, "variable": 2, "augmented": 3}
_AUGMENTED = {"pps": 0, "epr-avs": 1, "spr-avs": 2, "augmented-reserved": 3}


def _kind(name: str) -> list[Field]:
    """The bits that make a power data object the kind that it is."""
    if name in _CODE:
        return [Field("supply", 31, 30, "Kind of supply", fixed=_CODE[name])]
    return [
        Field("supply", 31, 30, "Kind of supply", fixed=_CODE["augmented"]),
        Field("augmented", 29, 28, "Kind of augmented supply", fixed=_AUGMENTED[name]),
    ]


def _ranged(kind: str, side: str, most: Field, table: str) -> Word:
    """A supply whose voltage wanders in a range, as a source or a sink says it, with what bounds it besides."""
    title = {"variable": "Variable supply (no battery)", "battery": "Battery supply"}[kind]
    fields = [
        *_kind(kind),
        Field("max_voltage_mv", 29, 20, "Maximum Voltage", 50),
        Field("min_voltage_mv", 19, 10, "Minimum Voltage", 50),
        most,
    ]
    return Word(f"{kind}-{side}", f"{title}, {side}", fields, checked(table))


_MAXIMUM, _OPERATIONAL = (Field("current_ma", 9, 0, f"{which} Current", 10) for which in ("Maximum", "Operational"))
FIXED_SOURCE = Word(
    "fixed-source",
    "Fixed supply, source",
    [
        *_kind("fixed"),
        bit("dual_role_power", 29, "Dual-Role Power", "only in the first object"),
        bit("usb_suspend_supported", 28, "USB Suspend Supported", "only in the first object"),
        bit("unconstrained_power", 27, "Unconstrained Power", "only in the first object"),
        bit("usb_communications_capable", 26, "USB Communications Capable", "only in the first object"),
        bit("dual_role_data", 25, "Dual-Role Data", "only in the first object"),
        bit("unchunked_supported", 24, "Unchunked Extended Messages Supported", "only in the first object"),
        bit("epr_capable", 23, "EPR Capable", "only in the first object"),
        Field("peak_current", 21, 20, "Peak Current", codes=PEAK_CURRENT),
        Field("voltage_mv", 19, 10, "Voltage", 50),
        _MAXIMUM,
    ],
    checked("Table 6.9"),
)

VARIABLE_SOURCE = _ranged("variable", "source", _MAXIMUM, "Table 6.11")
BATTERY_SOURCE = _ranged("battery", "source", Field("power_mw", 9, 0, "Maximum Allowable Power", 250), "Table 6.12")

PPS_SOURCE = Word(
    "pps-source",
    "SPR programmable supply (PPS), source",
    [
        *_kind("pps"),
        bit("pps_power_limited", 27, "PPS Power Limited", "sure of PDP / V only, above the nominal 9, 15, 20 V"),
        Field("max_voltage_mv", 24, 17, "Maximum Voltage", 100),
        Field("min_voltage_mv", 15, 8, "Minimum Voltage", 100),
        Field("current_ma", 6, 0, "Maximum Current", 50),
    ],
    checked("SPR PPS object"),
)

_LIMITED = (
    f"the current limit is PDP / voltage, down to {AVS_CURRENT_STEP.value * 1000:g} mA, "
    f"never above {CONTRACT_MAX.value:g} A"
)
EPR_AVS_SOURCE = Word(
    "epr-avs-source",
    "EPR adjustable voltage supply (AVS), source",
    [
        *_kind("epr-avs"),
        Field("peak_current", 27, 26, "Peak Current", codes=PEAK_CURRENT),
        Field("max_voltage_mv", 25, 17, "Maximum Voltage", 100),
        Field("min_voltage_mv", 15, 8, "Minimum Voltage", 100),
        Field("pdp_w", 7, 0, "PDP", note=_LIMITED),
    ],
    checked("EPR AVS object"),
)

SPR_AVS_SOURCE = Word(
    "spr-avs-source",
    "SPR adjustable voltage supply (AVS), source",
    [
        *_kind("spr-avs"),
        Field("peak_current", 27, 26, "Peak Current", codes=PEAK_CURRENT),
        Field("current_15v_ma", 19, 10, "Maximum Current, 9 V to 15 V", 10),
        Field("current_20v_ma", 9, 0, "Maximum Current, above 15 V to 20 V", 10, note="zero: the source stops at 15 V"),
    ],
    checked("SPR AVS object"),
)

AUGMENTED_RESERVED = Word(
    "augmented-reserved", "Augmented supply, reserved code", _kind("augmented-reserved"), checked("Table 6.8")
)

FAST_ROLE_SWAP = {0: "none", 1: "default USB power", 2: "1.5 A at 5 V", 3: "3 A at 5 V"}

FIXED_SINK = FIXED_SOURCE.varied(
    "fixed-sink",
    "Fixed supply, sink",
    [
        bit("higher_capability", 28, "Higher Capability", "only in the first object"),
        Field("fast_role_swap", 24, 23, "Fast Role Swap required current", codes=FAST_ROLE_SWAP),
        _OPERATIONAL,
    ],
    drop=("peak_current",),
    origin=checked("Table 6.17"),
)
VARIABLE_SINK = _ranged("variable", "sink", _OPERATIONAL, "Table 6.18")
BATTERY_SINK = _ranged("battery", "sink", Field("power_mw", 9, 0, "Operational Power", 250), "Table 6.19")

# The augmented objects of a sink keep the source's layout less the source-only bits, which are reserved there.
_SINK_OBJECTS = checked("Tables 6.20 to 6.22")
PPS_SINK = PPS_SOURCE.varied(
    "pps-sink", "SPR programmable supply (PPS), sink", drop=("pps_power_limited",), origin=_SINK_OBJECTS
)
SPR_AVS_SINK = SPR_AVS_SOURCE.varied(
    "spr-avs-sink", "SPR adjustable voltage supply (AVS), sink", drop=("peak_current",), origin=_SINK_OBJECTS
)
EPR_AVS_SINK = EPR_AVS_SOURCE.varied(
    "epr-avs-sink", "EPR adjustable voltage supply (AVS), sink", drop=("peak_current",), origin=_SINK_OBJECTS
)

SOURCE_WORDS = {
    "fixed": FIXED_SOURCE,
    "variable": VARIABLE_SOURCE,
    "battery": BATTERY_SOURCE,
    "pps": PPS_SOURCE,
    "epr-avs": EPR_AVS_SOURCE,
    "spr-avs": SPR_AVS_SOURCE,
    "augmented-reserved": AUGMENTED_RESERVED,
}
SINK_WORDS = {
    "fixed": FIXED_SINK,
    "variable": VARIABLE_SINK,
    "battery": BATTERY_SINK,
    "pps": PPS_SINK,
    "epr-avs": EPR_AVS_SINK,
    "spr-avs": SPR_AVS_SINK,
    "augmented-reserved": AUGMENTED_RESERVED,
}

_KIND_OF_CODE = {code: name for name, code in _CODE.items()}
_KIND_OF_AUGMENTED = {code: name for name, code in _AUGMENTED.items()}


def kind_of(word: int) -> str:
    """The kind of a power data object, from its top bits.

    >>> kind_of(0xC0DC213C), kind_of(0x0801912C)
    ('pps', 'fixed')
    """
    kind = _KIND_OF_CODE[(word >> 30) & 3]
    return _KIND_OF_AUGMENTED[(word >> 28) & 3] if kind == "augmented" else kind


_REQUEST = [
    Field("position", 31, 28, "Object Position", note="1..7 SPR, 8..11 EPR (in EPR_Request only)"),
    bit("capability_mismatch", 26, "Capability Mismatch"),
    bit("usb_communications_capable", 25, "USB Communications Capable"),
    bit("no_usb_suspend", 24, "No USB Suspend"),
    bit("unchunked_supported", 23, "Unchunked Extended Messages Supported"),
    bit("epr_capable", 22, "EPR Capable"),
]
_GIVE_BACK = bit("give_back", 27, "GiveBack", "deprecated, zero as of R3.2 V1.1")

FIXED_REQUEST = Word(
    "fixed-request",
    "Request of a fixed or variable supply",
    [
        *_REQUEST,
        _GIVE_BACK,
        Field("operating_current_ma", 19, 10, "Operating Current", 10),
        Field("max_operating_current_ma", 9, 0, "Maximum Operating Current", 10, note="the minimum with GiveBack"),
    ],
    checked("Table 6.23"),
)
BATTERY_REQUEST = Word(
    "battery-request",
    "Request of a battery supply",
    [
        *_REQUEST,
        _GIVE_BACK,
        Field("operating_power_mw", 19, 10, "Operating Power", 250),
        Field("max_operating_power_mw", 9, 0, "Maximum Operating Power", 250, note="the minimum with GiveBack"),
    ],
    checked("Tables 6.23 to 6.26"),
)
PPS_REQUEST = Word(
    "pps-request",
    "Request of a programmable supply (PPS)",
    [
        *_REQUEST,
        Field("output_voltage_mv", 20, 9, "Output Voltage", 20),
        Field("operating_current_ma", 6, 0, "Operating Current", 50),
    ],
    checked("Tables 6.23 to 6.26"),
)
AVS_REQUEST = PPS_REQUEST.varied(
    "avs-request",
    "Request of an adjustable voltage supply (AVS)",
    [Field("output_voltage_mv", 20, 9, "Output Voltage", 25, note="the two low bits are zero: a step of 100 mV")],
    origin=checked("Table 6.26"),
)
REQUEST_WORDS = {"fixed": FIXED_REQUEST, "battery": BATTERY_REQUEST, "pps": PPS_REQUEST, "avs": AVS_REQUEST}

# Before EPR the position had three bits and bit 31 was reserved.
REQUEST_WORDS_SHORT = {
    form: word.varied(
        word.name + "-short", word.title + ", Revision 2.0", [Field("position", 30, 28, "Object Position")]
    )
    for form, word in REQUEST_WORDS.items()
    # PPS and AVS came with Revision 3.0: such a request is read by its own table whatever the header says.
    if form in ("fixed", "battery")
}

REQUEST_FORM = {
    "fixed": "fixed",
    "variable": "fixed",
    "battery": "battery",
    "pps": "pps",
    "epr-avs": "avs",
    "spr-avs": "avs",
}
"""Which form of request asks for which kind of offer."""

EPR_MODE_ACTION = {1: "Enter", 2: "Enter Acknowledged", 3: "Enter Succeeded", 4: "Enter Failed", 5: "Exit"}
EPR_MODE_FAILURE = {
    0: "unknown cause",
    1: "cable not EPR capable",
    2: "source failed to become VCONN source",
    3: "EPR Capable bit not set in the request",
    4: "source unable to enter EPR mode now",
    5: "EPR Capable bit not set in the source's first object",
}
_CAUSES = ", ".join(f"{code} {cause}" for code, cause in EPR_MODE_FAILURE.items())
_EPR_DATA = f"for Enter the sink's operational PDP in W; for Enter Failed the cause: {_CAUSES}"
EPR_MODE = Word(
    "epr-mode",
    "EPR_Mode data object",
    [Field("action", 31, 24, "Action", codes=EPR_MODE_ACTION), Field("data", 23, 16, "Data", note=_EPR_DATA)],
    checked("Table 6.50"),
)

POWER_WORDS = (
    *SOURCE_WORDS.values(),
    *(word for kind, word in SINK_WORDS.items() if kind != "augmented-reserved"),
    *REQUEST_WORDS.values(),
    EPR_MODE,
)
