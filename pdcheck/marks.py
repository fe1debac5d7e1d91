"""Marks: how a key of a document is written, said in the type of a field; and what is told beside the fields.

A key of the document is the name of a field, or of a method marked ``@told``; its type says how it is written:

- ``Annotated[int, Hex(8)]`` is a word in hex digits, ``Annotated[Origin, AS_TEXT]`` the text of a value,
  ``Annotated[Source, BY_ID]`` the id of a part;
- ``Annotated[X | None, IF_KNOWN]`` is left out where it is None, ``Annotated[X, UNTOLD]`` is never written,
  ``Annotated[X, UNLISTED]`` stands in the document and in no row; ``@listed`` is told in rows and in no document;
- ``Annotated[X, Named("class")]`` is written under another name than Python would take;
- ``Annotated[X, IF_ANY]`` is left out where it is empty, zero or false;
- ``Annotated[X, AMONG]`` is a mapping, or a record, whose keys stand among those of its class: all of them or none
  where it may be None, those of one where it is one of several;
- ``Annotated[Literal[...], WORDS]`` is a text whose words may become more without another number of the document.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Annotated, Any, Generic, Self, TypeVar, overload

T = TypeVar("T")

Schema = dict[str, Any]


class Mark:
    """How a value is written: ``write`` turns it into what JSON holds, ``schema`` says what that is."""

    __slots__ = ("schema", "write")

    def __init__(self, write: Callable[[Any], Any] | None = None, schema: Schema | None = None) -> None:
        self.write, self.schema = write, schema


class Named(Mark):
    """The key's name in the document, where it is not the field's own."""

    __slots__ = ("name",)

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name = name


UNTOLD = Mark()
UNLISTED = Mark()
IF_KNOWN = Mark()
IF_ANY = Mark()
AMONG = Mark()
WORDS = Mark()
BY_ID = Mark(lambda part: part.id, {"type": "string"})
AS_TEXT = Mark(str, {"type": "string"})
AS_UNIT = Mark(lambda unit: "1" if unit == "%" else unit, {"type": "string"})
"""A unit beside its value: a share stands there as a number, and as a percentage only in words."""
AS_HEX = Mark(bytes.hex, {"type": "string", "pattern": "^([0-9a-f]{2})*$"})


def Hex(digits: int) -> Mark:  # noqa: N802 - reads as the type that it stands for
    """A word as hex digits, no mark before them.

    >>> from pdcheck.records import plain
    >>> plain(0x0801912C, HexWord)
    '0801912C'
    """
    return Mark(lambda word: f"{word:0{digits}X}", {"type": "string", "pattern": f"^[0-9A-F]{{{digits}}}$"})


HexWord = Annotated[int, Hex(8)]


if TYPE_CHECKING:
    # A property whose type is kept under another name; to the interpreter it is one, which is read in no time.
    class told(Generic[T]):  # noqa: N801
        """A property that stands in the document under its own name."""

        def __init__(self, read: Callable[[Any], T]) -> None: ...
        @overload
        def __get__(self, instance: None, owner: type) -> Self: ...
        @overload
        def __get__(self, instance: object, owner: type) -> T: ...
        def __get__(self, instance: object | None, owner: type) -> T | Self: ...

    class listed(told[T]):  # noqa: N801
        """A property that stands in rows under its own name, and in no document."""

    class passed(told[T]):  # noqa: N801
        """A property that hands on what a field has, as in ``rig = passed[str]("plan.rig", "The rig's title.")``."""

        def __init__(self, path: str, means: str) -> None: ...

else:

    class told(property):  # noqa: N801 - a decorator, as property is
        """A property that stands in the document under its own name."""

    class listed(property):  # noqa: N801 - a decorator, as property is
        """A property that stands in rows under its own name, and in no document."""

    class passed:  # noqa: N801 - reads as a decorator does
        """A property that hands on what a field has, as in ``rig = passed[str]("plan.rig", "The rig's title.")``."""

        def __class_getitem__(cls, hint):
            def made(path, means):
                read = attrgetter(path)

                def passing(self):
                    return read(self)

                passing.__doc__, passing.__annotations__ = means, {"return": hint}
                found = told(passing)
                found.path = path
                return found

            return made
