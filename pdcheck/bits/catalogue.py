"""What the less common messages carry: data objects by message name, their tables loaded when needed; a read block."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any

from pdcheck.bits.layout import Word
from pdcheck.bits.objects import TEST_DATA, UNREAD, Reading, read
from pdcheck.bits.problems import Problem
from pdcheck.marks import AMONG, AS_HEX, UNTOLD, Mark, Named, told
from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pdcheck.bits.block_layout import Length


_SIMPLE = Mark(schema={"type": ["integer", "number", "boolean", "string", "null", "array"]})


class BlockReading(NamedTuple):
    """The data block of an extended message: its bytes, its fields by key, and what is odd about it.

    Beside the fields of the table there are ``text``, ``countries`` or ``payload`` (hex) for what follows its fixed
    part, ``block_bytes`` where the block is shorter than the table, and ``rest`` (hex) for bytes that no table names.
    ``length`` is set where the length is that of an earlier revision.
    """

    kind: str
    data: Annotated[bytes, AS_HEX]
    layout: Annotated[Word | None, UNTOLD]
    fields: Annotated[Mapping[str, Annotated[Any, _SIMPLE]], AMONG]
    problems: tuple[Problem, ...] = ()
    length: Annotated[Length | None, UNTOLD] = None

    @told
    def named(self) -> Annotated[Mapping[str, str], Named("meanings")]:
        """The names of the codes, by key."""
        return self.meanings()

    @told
    def recalled(self) -> Annotated[Mapping[str, str], Named("marks")]:
        """What the reading rests on, with its mark."""
        return self.marks()

    def meanings(self) -> dict[str, str]:
        """The names of the codes, by key."""
        if self.layout is None:
            return {}
        named = self.layout.meanings(int.from_bytes(self.data, "little"))
        # People read a block from its first byte on, which is the last of the table.
        return {key: name for key, name in reversed(named.items()) if key in self.fields}

    def marks(self) -> dict[str, str]:
        """What the reading rests on, with its mark: the ``layout``, single fields, the ``length`` of an older block."""
        marks = {} if self.layout is None else self.layout.marks()
        if self.length is not None:
            marks["length"] = self.length.text()
        return marks


def data_object_word(name: str, revision: str = "3.x") -> Word | None:
    """The table of the one object that a data message carries, ``None`` where the message has none here.

    >>> data_object_word("Revision").title
    'Revision data object'
    """
    from pdcheck.bits.data_words import DATA_OBJECTS, DATA_OBJECTS_R2

    if revision in ("1.0", "2.0") and name in DATA_OBJECTS_R2:
        return DATA_OBJECTS_R2[name]
    return DATA_OBJECTS.get(name)


def read_data_objects(name: str, words: Sequence[int], revision: str = "3.x") -> list[Reading]:
    """The objects of a data message that has a table here; bare words for any other, and said so.

    >>> read_data_objects("Revision", [0x32110000])[0].fields["revision_minor"]
    2
    >>> [reading.kind for reading in read_data_objects("reserved data 13", [1])]
    ['unread']
    """
    layout = data_object_word(name, revision)
    if layout is None:
        text = f"objects of {name} have no table here: shown as bare words"
        return [
            Reading(UNREAD, word, None, {}, (Problem("no-table", text),) if not at else ())
            for at, word in enumerate(words)
        ]
    if not words:
        return []
    first = read(layout.name, layout, words[0], layout.title)
    found = list(first.problems)
    due, kind = 1, UNREAD
    if name == "BIST" and first.meanings()["mode"] == "Test Data":
        from pdcheck.bits.data_words import TEST_DATA_OBJECTS

        due, kind = TEST_DATA_OBJECTS, TEST_DATA
    if len(words) != due:
        text = f"a {name} has {due} object{'s' * (due > 1)} here, this one {len(words)}"
        found.append(Problem("object-count", text, layout.title))
    found += _contradictions(name, first, layout.title)
    rest = [Reading(kind, word, None, {}) for word in words[1:]]
    return [first._replace(problems=tuple(found)), *rest]


def _contradictions(name: str, reading: Reading, where: str) -> list[Problem]:
    """Fields that must be zero as long as another one is."""
    fields = reading.fields
    text = ""
    if name == "Alert" and fields["extended_event"] and not fields["extended_alert"]:
        text = "an extended event without the Extended Alert bit"
    elif name == "Battery_Status" and fields["charging_status"] and not fields["battery_present"]:
        text = "a charging status without a battery"
    return [Problem("contradiction", text, where)] if text else []
