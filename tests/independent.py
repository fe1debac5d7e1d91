"""A second decoder of the words, typed from the standard's tables with plain shifts; shares nothing with pdcheck."""

FIXED_SOURCE_FLAGS = {
    29: "dual_role_power",
    28: "usb_suspend_supported",
    27: "unconstrained_power",
    26: "usb_communications_capable",
    25: "dual_role_data",
    24: "unchunked_supported",
    23: "epr_capable",
}
FIXED_SINK_FLAGS = {
    29: "dual_role_power",
    28: "higher_capability",
    27: "unconstrained_power",
    26: "usb_communications_capable",
    25: "dual_role_data",
}
REQUEST_FLAGS = {
    26: "capability_mismatch",
    25: "usb_communications_capable",
    24: "no_usb_suspend",
    23: "unchunked_supported",
    22: "epr_capable",
}


def flags(word, table):
    return {name for bit, name in table.items() if word >> bit & 1}


def power_object(word, *, sink=False):
    """Kind and figures of a source's or a sink's object, and its flags as a set."""
    top = word >> 30
    if top == 0:
        table = FIXED_SINK_FLAGS if sink else FIXED_SOURCE_FLAGS
        figures = {"voltage_mv": (word >> 10 & 0x3FF) * 50, "current_ma": (word & 0x3FF) * 10}
        figures |= {"fast_role_swap": word >> 23 & 3} if sink else {"peak_current": word >> 20 & 3}
        return "fixed", figures, flags(word, table)
    if top == 1:
        return "battery", _range(word, 20, 10, 0x3FF, 50) | {"power_mw": (word & 0x3FF) * 250}, set()
    if top == 2:
        return "variable", _range(word, 20, 10, 0x3FF, 50) | {"current_ma": (word & 0x3FF) * 10}, set()
    which = word >> 28 & 3
    if which == 0:
        figures = _range(word, 17, 8, 0xFF, 100) | {"current_ma": (word & 0x7F) * 50}
        return "pps", figures, set() if sink else flags(word, {27: "pps_power_limited"})
    if which == 1:
        figures = {
            "max_voltage_mv": (word >> 17 & 0x1FF) * 100,
            "min_voltage_mv": (word >> 8 & 0xFF) * 100,
            "pdp_w": word & 0xFF,
        }
        return "epr-avs", figures, set()
    if which == 2:
        figures = {"current_15v_ma": (word >> 10 & 0x3FF) * 10, "current_20v_ma": (word & 0x3FF) * 10}
        return "spr-avs", figures, set()
    return "augmented-reserved", {}, set()


def _range(word, high, low, mask, step):
    return {"max_voltage_mv": (word >> high & mask) * step, "min_voltage_mv": (word >> low & mask) * step}


def request(word, form, *, revision_2=False):
    """Figures of a request, and its flags as a set."""
    figures = {"position": word >> 28 & 7 if revision_2 else word >> 28}
    if form == "fixed":
        figures |= {"operating_current_ma": (word >> 10 & 0x3FF) * 10, "max_operating_current_ma": (word & 0x3FF) * 10}
    elif form == "battery":
        figures |= {"operating_power_mw": (word >> 10 & 0x3FF) * 250, "max_operating_power_mw": (word & 0x3FF) * 250}
    elif form == "pps":
        figures |= {"output_voltage_mv": (word >> 9 & 0xFFF) * 20, "operating_current_ma": (word & 0x7F) * 50}
    else:
        figures |= {"output_voltage_mv": (word >> 9 & 0xFFF) * 25, "operating_current_ma": (word & 0x7F) * 50}
    found = flags(word, REQUEST_FLAGS)
    if form in ("fixed", "battery"):
        found |= flags(word, {27: "give_back"})
    return figures, found


def header(word):
    return {
        "extended": word >> 15 == 1,
        "object_count": word >> 12 & 7,
        "id": word >> 9 & 7,
        "power_role": "source" if word >> 8 & 1 else "sink",
        "revision": {0: "1.0", 1: "2.0", 2: "3.x"}.get(word >> 6 & 3, "reserved"),
        "data_role": "DFP" if word >> 5 & 1 else "UFP",
        "type": word & 31,
    }


def cable(header_word, identity, word):
    """What a passive or active cable's words come to: current [mA], voltage [mV], EPR; Revision 2.0 by its header."""
    active = identity >> 27 & 7 == 4
    old = header_word >> 13 & 3 == 0
    # Code 0 is 1.5 A in Revision 2.0 (Linux, an older usb/pd_vdo.h), and reserved later: 3 A, as any C-to-C cable.
    current = {1: 3000, 2: 5000}.get(word >> 5 & 3, 3000)
    if active and not word >> 4 & 1:
        current = 0
    if old:
        old = 1500 if word >> 5 & 3 == 0 and current else current
        return {"current_ma": old, "voltage_mv": 20000, "epr": False, "revision": "2.0"}
    voltage = 50000 if word >> 9 & 3 == 3 else 20000
    epr = bool(word >> 17 & 1) and voltage == 50000 and current == 5000
    return {"current_ma": current, "voltage_mv": voltage, "epr": epr, "revision": "3.x"}


def fixed_request(position, milliamps, *, mismatch=False):
    step = milliamps // 10
    return position << 28 | int(mismatch) << 26 | step << 10 | step


def pps_request(position, millivolts, milliamps, *, mismatch=False):
    return position << 28 | int(mismatch) << 26 | (millivolts // 20) << 9 | milliamps // 50


def avs_request(position, millivolts, milliamps, *, mismatch=False, epr=False):
    steps = millivolts // 100 * 4
    return position << 28 | int(mismatch) << 26 | int(epr) << 22 | steps << 9 | milliamps // 50
