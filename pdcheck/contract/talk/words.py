"""What a packet of a conversation says, in a few words."""

from __future__ import annotations

from pdcheck.bits.header import CAPABILITIES, REQUESTS
from pdcheck.bits.offers import offer_words, volts
from pdcheck.bits.sequence import Told


def says(told: Told) -> str:
    """A message in a few words; empty where its name says all.

    >>> from pdcheck.bits.message import read_message
    >>> from pdcheck.bits.sequence import Listener
    >>> says(Listener().hear(read_message(bytes.fromhex("61112c910108"))))
    '5 V 3 A'
    """
    message = told.message
    inner = message.extended_fields()
    if inner.get("request_chunk"):
        return f"asks for chunk {inner['chunk_number']}"
    if message.type in CAPABILITIES:
        if not told.offers:
            return f"chunk {inner.get('chunk_number', 0)}"
        listed = ", ".join(offer_words(offer) for offer in told.offers if not offer.is_gap)
        return f"chunk {inner['chunk_number']}, together: {listed}" if inner.get("chunk_number") else listed
    if message.type in REQUESTS and told.objects:
        return _request(told)
    if message.type == "EPR_Mode" and told.objects:
        reading = told.objects[0]
        action = reading.meanings().get("action", "?")
        if action == "Enter Failed":
            from pdcheck.bits.power import EPR_MODE_FAILURE

            return f"{action}: {EPR_MODE_FAILURE.get(reading.fields['data'], 'reserved cause')}"
        return f"{action}, {reading.fields['data']} W" if action == "Enter" else action
    if told.block is not None:
        return told.block.meanings().get("type", "")
    if message.type == "Vendor_Defined" and told.objects:
        return _vendor(told)
    return ""


def _vendor(told: Told) -> str:
    meanings = told.objects[0].meanings()
    text = f"{meanings.get('command', '?')} {meanings.get('command_type', '')}".strip()
    marker = next((each for each in told.objects if each.kind in ("passive-cable", "active-cable")), None)
    if marker is not None:
        known = marker.meanings()
        text += f": {known.get('current', '?')}, {known.get('max_voltage', '20 V')}"
        text += ", EPR Capable" if marker.fields.get("epr_capable") else ""
    return text


def _request(told: Told) -> str:
    fields = told.objects[0].fields
    parts = [f"object {fields['position']}"]
    if "output_voltage_mv" in fields:
        parts.append(volts(fields["output_voltage_mv"]))
    if "operating_current_ma" in fields:
        parts.append(f"{fields['operating_current_ma'] / 1000:g} A")
    if "operating_power_mw" in fields:
        parts.append(f"{fields['operating_power_mw'] / 1000:g} W")
    names = {
        "capability_mismatch": "Capability Mismatch",
        "no_usb_suspend": "No USB Suspend",
        "epr_capable": "EPR Capable",
        "give_back": "GiveBack",
    }
    return ", ".join([*parts, *(name for key, name in names.items() if fields.get(key) is True)])
