"""The JSON document of what an input says, written while it is read."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from pdcheck.bits.message_record import message_json
from pdcheck.bits.objects import Reading
from pdcheck.bits.sequence import Told
from pdcheck.intake.sniff import Intake
from pdcheck.intake.stream import BusReading
from pdcheck.records import as_dict
from pdcheck.result import Result
from pdcheck.show.clean import clean_json
from pdcheck.show.decode_result import DecodeResult
from pdcheck.show.written import Aside, Written

_MOST = 1 << 12


class AsJson(Written):
    """The document of ``DecodeResult``, byte for byte."""

    def __init__(self, write: Callable[[str], object]) -> None:
        super().__init__(write)
        self._known: dict[Any, str] = {}
        self._between = "["

    def begin(self, said: Intake) -> None:
        self.put(f'{{\n  "schema": "pdcheck/{DecodeResult.SCHEMA}",\n  "form": {_dumps(said.form, 1)},\n  "messages": ')

    def message(self, told: Told, index: int) -> None:
        message = told.message
        asked = tuple((each.kind, each.word, each.problems) for each in told.objects)
        key = (message.raw, message.crc_given, message.sop, told.offers, asked, told.problems)
        # What of a block is said hangs on the chunks before it.
        body = None if told.block is not None else self._known.get(key)
        if body is None:
            record = message_json(told, index)
            body = _dumps({name: each for name, each in record.items() if name not in ("index", "time_s")}, 2)[1:]
            if told.block is None:
                if len(self._known) >= _MOST:
                    self._known.clear()
                self._known[key] = body
        time = "null" if message.time_s is None else repr(message.time_s)
        self.put(f'{self._between}\n    {{\n      "index": {index},\n      "time_s": {time},{body}')
        self._between = ","

    def object(self, reading: Reading) -> None:
        self.objects.add(_dumps(as_dict(reading), 2))

    def reading(self, reading: BusReading) -> None:
        self.readings.add(_dumps(as_dict(reading), 2))

    def end(self, said: Intake, messages: int) -> None:
        self.put("\n  ]" if messages else "[]")
        if self.readings.count:
            said = said._replace(readings=(BusReading(None, 0.0, None),))
        own = [_dumps(as_dict(each), 2) for each in said.objects]
        for name, value in DecodeResult(said).to_dict().items():
            if name in ("schema", "form", "messages"):
                continue
            self.put(f',\n  "{name}": ')
            if name == "objects":
                self._list([*own], self.objects)
            elif name == "readings":
                self._list([], self.readings)
            else:
                self.put(_dumps(value, 1))
        self.put("\n}\n")

    def _list(self, own: list[str], aside: Aside) -> None:
        between = "["
        for texts in (own, aside):
            for text in texts:
                self.put(f"{between}\n    {text}")
                between = ","
        self.put("[]" if between == "[" else "\n  ]")


def long_json(result: Result, name: str, rows: Iterable[Any]) -> Iterator[str]:
    """The JSON document of a result piece by piece, with very many records in the place of its empty list ``name``."""
    head, _, tail = clean_json(result.to_json()).partition(f'\n  "{name}": []')
    between = f'{head}\n  "{name}": ['
    for row in rows:
        yield f"{between}\n    {_dumps(as_dict(row), 2)}"
        between = ","
    yield f"\n  ]{tail}\n" if between == "," else f"{between}]{tail}\n"


def _dumps(value: Any, deep: int) -> str:
    """A value as it stands in the document, so many steps deep; the module that knows them all takes twice as long.

    >>> _dumps({"a": [1, "\\u202e"], "b": []}, 1)
    '{\\n    "a": [\\n      1,\\n      "\\\\u202e"\\n    ],\\n    "b": []\\n  }'
    """
    if isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
        return text if text.isprintable() else clean_json(text)
    if not value or not isinstance(value, dict | list | tuple):
        return json.dumps(value, allow_nan=False)
    pad = "\n" + "  " * (deep + 1)
    if isinstance(value, dict):
        inner = [f"{_dumps(name, 0)}: {_dumps(each, deep + 1)}" for name, each in value.items()]
        return f"{{{pad}{f',{pad}'.join(inner)}{pad[:-2]}}}"
    return f"[{pad}{f',{pad}'.join([_dumps(each, deep + 1) for each in value])}{pad[:-2]}]"
