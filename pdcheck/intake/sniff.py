"""Chooses the reader for an input by what it looks like, and gives its messages and offers."""

from __future__ import annotations

import os.path
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from pdcheck.bits.identity import PD_SID
from pdcheck.bits.message import Message, read_message, reset_message
from pdcheck.bits.objects import Reading, read_request, read_sources, read_vendor
from pdcheck.bits.offers import Offer, list_problems, offer_problems
from pdcheck.bits.problems import Problem
from pdcheck.bits.sequence import Listener, Told
from pdcheck.errors import InputError
from pdcheck.intake.given import Given, file_bytes, given
from pdcheck.intake.hexdump import Frame, read_frames

if TYPE_CHECKING:
    from pathlib import Path

    from pdcheck.bits.cable import CableReading
    from pdcheck.intake.packet import BadPacket

FORMS = ("hex", "label", "sysfs", "vcd", "csv")
"""The forms of input by name; waveforms and system tables are read elsewhere and end as messages or offers too."""

HEAD_BYTES = 1 << 16
GZIP = b"\x1f\x8b"
LARGEST_TEXT = 1 << 28
"""Text that a gzip-compressed log may unfold to [bytes]."""


class Intake(NamedTuple):
    """All that an input says.

    ``offers`` are the last capabilities in it. ``objects`` are bare words that are no offers (requests, identity).
    ``doubtful`` is set where the message that brought the offers has a bad CRC. ``lost`` are packets of a waveform
    that could not be decoded, ``channel`` the one they were on. ``cable`` is the attached one's e-marker in the
    system's tables. ``resolution_s`` is the step of the times [s], ``None`` where it is not known.
    """

    form: str
    told: tuple[Told, ...] = ()
    offers: tuple[Offer, ...] = ()
    objects: tuple[Reading, ...] = ()
    problems: tuple[Problem, ...] = ()
    doubtful: bool = False
    power_w: float | None = None
    lost: tuple[BadPacket, ...] = ()
    channel: str | None = None
    cable: CableReading | None = None
    resolution_s: float | None = None

    def offers_or_error(self) -> tuple[Offer, ...]:
        """The offers that are choices; ``InputError`` where there is none."""
        real = tuple(offer for offer in self.offers if not offer.is_gap)
        if not real:
            raise InputError("holds no source capabilities", expected="a capability list, object words or a label")
        return real

    def bad_crc(self) -> bool:
        """Whether any message in the input has a CRC that does not fit."""
        return any(told.message.crc_ok is False for told in self.told)


def read_any(text: str, form: str | None = None, request_form: str | None = None) -> Intake:
    """Read a text as hex or label; ``form`` overrules what it looks like.

    Raises ``InputError`` naming line and offset.

    >>> read_any("5V 3A, 9V 3A").form
    'label'
    """
    if form == "label" or (form is None and speaks_of_volts(text)):
        from pdcheck.intake.label import read_label

        label = read_label(text)
        problems = list_problems(label.offers, epr_message=any(offer.is_epr for offer in label.offers))
        for offer in label.offers:
            problems += offer_problems(offer, epr_message=offer.is_epr)
        notes = [Problem("label", remark) for remark in label.remarks]
        return Intake("label", offers=label.offers, problems=(*notes, *problems), power_w=label.power_w)
    return read_frames_told(read_frames(text), request_form)


def speaks_of_volts(text: str) -> bool:
    """Whether a text is taken for a label: ``looks_like_label``, without loading a label's patterns for most hex."""
    if not any(letter in text for letter in "vVｖＶ"):
        return False
    from pdcheck.intake.label import looks_like_label

    return looks_like_label(text)


def read_input(
    argument: str,
    form: str | None = None,
    *,
    request_form: str | None = None,
    channel: str | None = None,
    sample_rate_hz: float | None = None,
    threshold_v: float | None = None,
    progress: Callable[[int, int], None] | None = None,
    taken: Given | None = None,
) -> Intake:
    """Read what a user handed over: a path, ``-`` for standard input, or the text itself; gzip where it is that.

    The first bytes tell a waveform from text. ``channel``, ``sample_rate_hz`` [Hz] and ``threshold_v`` [V] are for
    waveforms; with one of them given the input is taken for one. ``taken`` is what was read already.
    Raises ``InputError`` naming file, line and offset.

    >>> read_input("5V 3A, 9V 3A").form
    'label'
    """
    path = argument if taken is None and argument != "-" and os.path.isfile(argument) else None
    source = taken or (Given(argument, b"") if path is not None else given(argument))
    wave = form in ("vcd", "csv") or (form is None and (channel, sample_rate_hz, threshold_v) != (None, None, None))
    if path is not None or source.name:
        head = file_head(path) if path is not None else source.data[:HEAD_BYTES]
        from pdcheck.intake.waveform.looks import looks_like_vcd, looks_like_waveform_csv

        wave = wave or (form is None and (looks_like_vcd(head) or looks_like_waveform_csv(head)))
    elif wave:
        raise InputError("a waveform is read from a file or from -", expected="the path of a VCD or CSV file")
    if wave:
        from pathlib import Path

        from pdcheck.intake.waveform.told import read_captured

        return read_captured(
            Path(path) if path is not None else source.data,
            form,
            channel=channel,
            sample_rate_hz=sample_rate_hz,
            threshold_v=threshold_v,
            request_form=request_form,
            progress=progress,
        )
    if path is not None:
        source = Given(argument, file_bytes(path))
    try:
        text = unpacked(source).text()
        intake = read_any(text, form, request_form)
    except InputError as error:
        raise source.blame(error) from None
    if intake.form == "hex" and any(told.message.time_s is not None for told in intake.told):
        from pdcheck.intake.stamp_step import stamp_step

        intake = intake._replace(resolution_s=stamp_step(text))
    return intake


def file_head(path: str | Path) -> bytes:
    """The first bytes of a file."""
    try:
        with open(path, "rb") as stream:
            return stream.read(HEAD_BYTES)
    except OSError as error:
        what = (error.strerror or "cannot be read").lower()
        raise InputError(what, where=str(path), expected="a readable file") from None


def unpacked(source: Given) -> Given:
    """The input without its gzip; as it is where it has none."""
    if not source.data.startswith(GZIP):
        return source
    import zlib

    unpack = zlib.decompressobj(31)
    try:
        data = unpack.decompress(source.data, LARGEST_TEXT)
    except zlib.error:
        raise InputError("begins as gzip but cannot be unpacked", expected="a whole gzip file") from None
    if unpack.unconsumed_tail:
        raise InputError(f"unpacks to more than {LARGEST_TEXT} bytes", expected="a log of reasonable size")
    if not unpack.eof:
        raise InputError("the gzip data end before their end", expected="a whole gzip file")
    return source._replace(data=data)


def read_frames_told(frames: list[Frame], request_form: str | None = None) -> Intake:
    """Frames of a hex text, in order: messages told in turn, bare words read as offers, requests or identity."""
    messages: list[Message] = []
    offers: tuple[Offer, ...] = ()
    objects: list[Reading] = []
    problems: list[Problem] = []
    for frame in frames:
        if frame.words:
            if request_form is not None:
                objects += [read_request(word, offers, form=request_form) for word in frame.words]
            elif frame.words[0] >> 16 == PD_SID:
                objects += read_vendor(frame.words)
            else:
                offers, odd = read_sources(frame.words, epr_message=len(frame.words) > 7)
                problems += odd
        else:
            messages.append(frame_message(frame))
    for reading in objects:
        problems += reading.problems
    intake = told_intake("hex", messages, request_form)
    return intake._replace(
        offers=offers or intake.offers,
        objects=tuple(objects),
        problems=(*intake.problems, *problems),
        doubtful=intake.doubtful and not offers,
    )


def frame_message(frame: Frame) -> Message:
    """The message of a frame, its line named in any error."""
    if frame.sop.endswith("Reset"):
        return reset_message(frame.sop, frame.time_s)
    try:
        return read_message(frame.data, frame.sop, frame.time_s)
    except InputError as error:
        raise error.inside(f"line {frame.line}") from None


def told_intake(form: str, messages: list[Message], request_form: str | None = None) -> Intake:
    """An intake from messages in order, whatever they were read from."""
    listener = Listener(request_form)
    told = tuple(listener.hear(message) for message in messages)
    bringing = [each for each in told if each.offers]
    last = bringing[-1] if bringing else None
    return Intake(
        form,
        told,
        last.offers if last else (),
        problems=tuple(listener.unfinished()),
        doubtful=last is not None and last.message.crc_ok is False,
    )
