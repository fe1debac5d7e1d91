"""LongList: what is read of an input, item by item; where that is long, all but the last lies in temporary files."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import IO, TypeVar, overload

from pdcheck.errors import InputError

Item = TypeVar("Item")

BLOCK = 256
"""So many items are put away together: what they share is then kept once."""
_AT_HAND = 32


@contextmanager
def putting_away() -> Iterator[None]:
    """While something is written there: what the system says against it is told of that folder.

    Raises ``InputError`` where the folder is full or cannot be written to.
    """
    try:
        yield
    except OSError as error:
        from tempfile import gettempdir

        what = (error.strerror or "cannot be written to").lower()
        expected = "room there for a long input, or TMPDIR set to a folder that has more"
        raise InputError(what, where=f"temporary files in {gettempdir()}", expected=expected) from None


class LongList(Sequence[Item]):
    """A list that only grows, of which some thousand items are in memory, however long it is.

    Any item can be had; those near to one that was had a moment ago take no reading. Items are copies once they have
    been put away, equal to what was put in. The file has no name and goes with the list.

    >>> squares = LongList(number * number for number in range(20_000))
    >>> len(squares), squares[3], squares[-1], squares[9998:10_000]
    (20000, 9, 399960001, [99960004, 99980001])
    """

    def __init__(self, items: Iterable[Item] = ()) -> None:
        self._size = 0
        self._growing: list[Item] = []
        self._at_hand: OrderedDict[int, list[Item]] = OrderedDict()
        self._places: dict[int, tuple[int, int]] = {}
        self._file: IO[bytes] | None = None
        for item in items:
            self.append(item)

    def append(self, item: Item) -> None:
        """One more."""
        self._growing.append(item)
        self._size += 1
        if len(self._growing) == BLOCK:
            self._hold(self._size // BLOCK - 1, self._growing)
            self._growing = []

    def _hold(self, block: int, items: list[Item]) -> None:
        self._at_hand[block] = items
        if len(self._at_hand) > _AT_HAND:
            number, oldest = self._at_hand.popitem(last=False)
            if number not in self._places:
                self._put_away(number, oldest)

    def _put_away(self, block: int, items: list[Item]) -> None:
        import pickle
        import zlib

        data = zlib.compress(pickle.dumps(items, pickle.HIGHEST_PROTOCOL), 1)
        with putting_away():
            if self._file is None:
                from tempfile import TemporaryFile

                self._file = TemporaryFile("w+b")  # noqa: SIM115 - as long as the list
            self._places[block] = (self._file.seek(0, 2), len(data))
            self._file.write(data)
            self._file.flush()

    def _block(self, block: int) -> list[Item]:
        if block == self._size // BLOCK:
            return self._growing
        held = self._at_hand.get(block)
        if held is None:
            import pickle
            import zlib

            assert self._file is not None
            place, length = self._places[block]
            self._file.seek(place)
            # Nobody else can have written it: the file has no name.
            held = pickle.loads(zlib.decompress(self._file.read(length)))
            self._hold(block, held)
        else:
            self._at_hand.move_to_end(block)
        return held

    def __len__(self) -> int:
        return self._size

    @overload
    def __getitem__(self, at: int) -> Item: ...
    @overload
    def __getitem__(self, at: slice) -> list[Item]: ...
    def __getitem__(self, at: int | slice) -> Item | list[Item]:
        if isinstance(at, slice):
            return [self[each] for each in range(*at.indices(self._size))]
        if at < 0:
            at += self._size
        if not 0 <= at < self._size:
            raise IndexError(at)
        return self._block(at // BLOCK)[at % BLOCK]

    def __iter__(self) -> Iterator[Item]:
        for block in range(self._size // BLOCK + 1):
            yield from self._block(block)

    __hash__ = None  # type: ignore[assignment]  # it grows

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, LongList):
            return NotImplemented
        return len(self) == len(other) and all(one == another for one, another in zip(self, other, strict=True))

    def __reduce__(self) -> tuple[type[LongList[Item]], tuple[list[Item]]]:
        """Its file goes with it and cannot be pickled; its items can."""
        return LongList, (list(self),)
