"""The one way in: an input by path, standard input or text, as a stream of messages or gathered."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO

from pdcheck.errors import InputError
from pdcheck.intake.forms import FORMS, form_of
from pdcheck.intake.given import fits_memory
from pdcheck.intake.opened import Opened, opened
from pdcheck.intake.stream import AS_IT_LOOKS, How, Intake, Stream, gathered

__all__ = ["FORMS", "How", "Intake", "Stream", "gathered", "open_input", "read_any", "read_input", "stream_of"]


@contextmanager
def open_input(argument: str, form: str | None = None, how: How = AS_IT_LOOKS) -> Iterator[Stream]:
    """What a user handed over, to be read: a path, ``-`` for standard input, or the text itself; unpacked from gzip.

    ``form`` is a name of ``FORMS``; without it the first bytes tell. Raises ``InputError`` naming file, line and
    offset, while the stream is read as well.

    >>> with open_input("4100bb6cbba8") as stream:
    ...     [item.type for time, item in stream]
    ['GoodCRC']
    """
    named = None if form is None else FORMS.get(form)
    if named is not None and named.folder:
        yield named.read(Opened(argument, BytesIO()), how)
        return
    with opened(argument, how) as source:
        yield stream_of(source, form, how)


def stream_of(source: Opened, form: str | None, how: How) -> Stream:
    """The stream of an input that is open already."""
    if form is not None and form not in FORMS:
        raise InputError(f"no form {form!r}", expected=", ".join(FORMS))
    typed = not source.name
    chosen = FORMS[form] if form is not None else form_of(source.head, how, typed=typed)
    if typed and chosen.files:
        raise InputError(f"{chosen.files[0]} is read from a file or from -", expected=f"the path of {chosen.files[1]}")
    if how.gathered and not chosen.files:
        fits_memory(source.size, "")
    return chosen.read(source, how)


def read_any(text: str, form: str | None = None, request_form: str | None = None) -> Intake:
    """Read a text as hex or label; ``form`` overrules what it looks like.

    Raises ``InputError`` naming line and offset.

    >>> read_any("5V 3A, 9V 3A").form
    'label'
    """
    source = Opened("", BytesIO(text.encode("utf-8", "surrogatepass")))
    return gathered(stream_of(source, form, AS_IT_LOOKS), request_form)


def read_input(
    argument: str,
    form: str | None = None,
    *,
    request_form: str | None = None,
    channel: str | None = None,
    sample_rate_hz: float | None = None,
    threshold_v: float | None = None,
    torn: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Intake:
    """All that ``open_input`` gives; the options are those of ``How``.

    >>> read_input("5V 3A, 9V 3A").form
    'label'
    """
    with open_input(argument, form, How(channel, sample_rate_hz, threshold_v, progress=progress, torn=torn)) as stream:
        return gathered(stream, request_form)
