"""Targets that read text and captures: hex, labels, waveforms, e-marker words, descriptions, quantities."""

from __future__ import annotations

import gzip
import io
import math
import tempfile
from pathlib import Path

from pdcheck.asking.given import cable_of, source_of
from pdcheck.bits.message import read_message
from pdcheck.bits.objects import read_request, read_sink, read_sources, read_vendor
from pdcheck.contract.talk.events import parse_event
from pdcheck.errors import InputError
from pdcheck.intake.opened import Opened
from pdcheck.intake.sniff import How, Intake, gathered, read_any, read_input, stream_of
from pdcheck.intake.waveform.options import sample_rate
from pdcheck.parts.behaviour import read_lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.cable_face import words_in
from pdcheck.parts.converter import Converter
from pdcheck.parts.kit_entry import cable_entry, source_entry
from pdcheck.parts.request import parse_request
from pdcheck.parts.rig_answers import read_output
from pdcheck.parts.source import Source
from pdcheck.quantities import format_quantity, parse_quantity, parse_range
from pdcheck.show.decode_result import DecodeResult
from pdcheck.verdict.cable import CableResult
from tests.contract.audited import audit
from tests.fuzz.chooser import Chooser
from tests.fuzz.judging import answered, same, told

UNITS = ("V", "A", "W", "ohm", "F", "m", "mm2", "s", "C", "K", "%")
REQUESTS = (None, None, None, "fixed", "battery", "pps", "avs")
CHARGER = Source.model_validate({"id": "s", "offers": "5V 3A, 9V 3A, 20V 5A", "captured_over": "5A"})


def _text(data: bytes) -> str:
    return data.decode("utf-8", "replace")


def _shown(intake: Intake) -> None:
    answered(DecodeResult(intake))


def hex_text(data: bytes) -> None:
    """A hex log: read, shown, audited."""
    choice = Chooser(data)
    form = choice.one_of(REQUESTS)
    intake = read_any(_text(choice.rest()), "hex", form)
    _shown(intake)
    if intake.told:
        answered(audit(intake.told, intake.resolution_s, intake.lost))


def message(data: bytes) -> None:
    """The bytes of a message, and the same bytes as words of every kind."""
    words = [int.from_bytes(data[at : at + 4], "little") for at in range(0, len(data) - 3, 4)][:12]
    for word in words:
        for form in REQUESTS[3:]:
            read_request(word, (), form=form)
        read_sink(word, 1)
    if words:
        read_sources(words, epr_message=len(words) > 7)
        read_vendor(words)
    read_message(data, "SOP", None)


def label(data: bytes) -> None:
    """The text printed on a charger, as an input and as a source of a kit."""
    text = _text(data)
    _shown(read_any(text, "label"))
    source_entry("x", text, "label")


def typed(data: bytes) -> None:
    """A text that is typed, whatever it is."""
    text = _text(data).replace("/", " ")
    if text in ("-", ".", ".."):
        return
    _shown(read_input(text))
    source_of(text)


def file(data: bytes) -> None:
    """A file of which nothing is known, gzip or plain."""
    choice = Chooser(data)
    packed = choice.chance(2)
    form = choice.one_of((None, None, "hex", "label", "vcd", "csv"))
    body = choice.rest()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "capture"
        path.write_bytes(gzip.compress(body, 1) if packed else body)
        _shown(read_input(str(path), form))


def _wave(data: bytes, form: str) -> None:
    choice = Chooser(data)
    packed = choice.chance(8)
    threshold = choice.one_of((None, None, None, 0.55, -1.0, 1e-9))
    rate = choice.one_of((None, None, None, 2e6, 1e-300, 1e300))
    channel = choice.one_of((None, None, None, "CC1", "1", "2", "top.cc"))
    body = choice.rest()
    how = How(channel, rate, threshold)
    opened = Opened("capture", io.BytesIO(gzip.compress(body, 1) if packed else body), how)
    _shown(gathered(stream_of(opened, form, how)))


def vcd(data: bytes) -> None:
    """A value change dump."""
    _wave(data, "vcd")


def csv(data: bytes) -> None:
    """A table of times and levels."""
    _wave(data, "csv")


def marker(data: bytes) -> None:
    """The words of an e-marker."""
    text = _text(data)
    words_in(text)
    answered(CableResult(cable_of(text), None, 3.0))


def cable(data: bytes) -> None:
    """The description of a cable in one line, as typed and as it goes into a kit."""
    text = _text(data)
    for at in (None, 3.0):
        answered(CableResult(Cable(text), None, at))
    cable_entry("x", text)


def converter(data: bytes) -> None:
    """A converter in one word."""
    choice = Chooser(data)
    volts = choice.one_of((5.0, 12.0, 0.001, 1000.0))
    Converter(_text(choice.rest()), output=volts)


def quantity(data: bytes) -> None:
    """A quantity in every unit, and an output; what is printed of a quantity reads as itself."""
    text = _text(data)
    for unit in UNITS:
        for signed in (None, True):
            try:
                value = parse_quantity(text, unit, signed=signed)
            except InputError as error:
                told(error)
                continue
            printed = format_quantity(value, unit, 17)
            same(f"{text!r} in {unit}", math.isclose(parse_quantity(printed, unit, signed=True), value), True)
        try:
            parse_range(text, unit)
        except InputError as error:
            told(error)
    read_output(text)


def request(data: bytes) -> None:
    """What a trigger asks for, an event, a lowered offer, a sample rate."""
    text = _text(data)
    for read in (parse_request, lambda it: parse_event(it, CHARGER), read_lowered, sample_rate):
        try:
            read(text)
        except InputError as error:
            told(error)
