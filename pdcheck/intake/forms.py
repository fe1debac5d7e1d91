"""The forms of input, in one table: how each is told from the others, and who reads it, loaded when its turn comes."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pdcheck.intake.opened import Opened
    from pdcheck.intake.stream import How, Stream


class Form(NamedTuple):
    """A form of input; functions by file of this room and name.

    ``reader`` takes an ``Opened`` and a ``How`` and gives the ``Stream``. ``looks`` tells the form by the first bytes
    of an input; it is asked only where one of the characters ``marks`` is among them. ``options`` are those of ``How``
    that are for this form alone or a few. ``files`` is set where typed text cannot be of this form: what it is, and the
    path that is wanted. A ``folder`` is read only where its form is named.
    ``messages`` says whether there can be any in it.
    """

    reader: str
    looks: str = ""
    marks: str = ""
    options: tuple[str, ...] = ()
    files: tuple[str, str] | None = None
    folder: bool = False
    messages: bool = True

    def looks_like(self, head: bytes) -> bool:
        """Whether an input that begins so looks like this form."""
        if not self.looks or (self.marks and not any(mark.encode() in head for mark in self.marks)):
            return False
        return bool(_function(self.looks)(head))

    def read(self, opened: Opened, how: How) -> Stream:
        """The stream of an input of this form."""
        stream: Stream = _function(self.reader)(opened, how)
        return stream


def _function(name: str) -> Any:
    file, _, function = name.partition(":")
    return getattr(import_module(f"pdcheck.intake.{file}"), function)


_WAVE = ("channel", "sample_rate_hz", "threshold_v")
_FILES = ("a waveform", "a VCD or CSV file")

FORMS = {
    "hex": Form("log:read"),
    "label": Form("label:read", "label:looks", "vVｖＶwWhHｈＨ毫瓦", messages=False),
    "sysfs": Form("sysfs.attached:read", folder=True, messages=False),
    "raw": Form("binary:read", "binary:looks"),
    "csv": Form("waveform.told:read_csv", "waveform.looks:looks_like_waveform_csv", "", _WAVE, _FILES),
    "vcd": Form("waveform.told:read_vcd", "waveform.looks:looks_like_vcd", "$", _WAVE, _FILES),
    "pcapng": Form("pcapng:read", "pcapng:looks"),
}
"""Every form by its name for ``--from``. An input is tried for the last first; the first takes what no other does."""


def form_of(head: bytes, how: How, *, typed: bool) -> Form:
    """The form that an input looks like; options that are for some forms alone leave no other.

    >>> from pdcheck.intake.stream import How
    >>> form_of(b"5V 3A", How(), typed=True) is FORMS["label"]
    True
    >>> form_of(b"0,0", How(threshold_v=0.5), typed=False) is FORMS["csv"]
    True
    """
    forms = [form for form in FORMS.values() if any(getattr(how, key) is not None for key in form.options)]
    forms = forms or list(FORMS.values())
    return next((each for each in reversed(forms) if not (typed and each.files) and each.looks_like(head)), forms[0])
