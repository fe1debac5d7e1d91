"""A stream that comes in pieces of any size is read as one that comes at once."""

import io

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.opened import Opened
from pdcheck.intake.sniff import stream_of
from pdcheck.intake.stream import How, Plain
from tests.intake.dresses import CONVERSATION, DRESSES, plain

LIVE = How(gathered=False, live=True, torn=True)


class Pieces(io.RawIOBase):
    """Bytes that come so many at a time, as over a serial line."""

    def __init__(self, data, size):
        self.data, self.size, self.at = data, size, 0

    def read1(self, most):
        piece = self.data[self.at : self.at + min(self.size, most)]
        self.at += len(piece)
        return piece


def items(data, size):
    try:
        told = []
        for time, item in stream_of(Opened("standard input", Pieces(data, size), LIVE), None, LIVE):
            raw = item.data if isinstance(item, Plain) else getattr(item, "raw", None)
            told.append((time, type(item).__name__, raw, str(item) if isinstance(item, InputError) else ""))
        return told
    except InputError as error:
        return str(error)


@pytest.mark.parametrize("name", sorted(DRESSES))
def test_how_much_a_read_brings_does_not_matter(name):
    text = DRESSES[name](CONVERSATION * 6)
    data = text if isinstance(text, bytes) else text.encode()
    whole = items(data, 1 << 20)
    assert isinstance(whole, list) and len([each for each in whole if each[2]]) == 6 * len(CONVERSATION)
    for size in (1, 7, 100, 1500, 5000):
        assert items(data, size) == whole


def test_a_plain_message_is_given_before_the_next_has_come():
    rows = "".join(plain(0, one) for one in CONVERSATION[1:]).encode()
    first = rows.index(b"\n") + 1
    pieces = Pieces(rows, first)
    stream = iter(stream_of(Opened("standard input", pieces, LIVE), None, LIVE))
    assert next(stream)[1].data == CONVERSATION[1].whole
    assert pieces.at <= 2 * first
