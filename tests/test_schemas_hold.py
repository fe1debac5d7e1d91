"""Documents of inputs that nobody chose fit their schemas: every message there is, random builds, kits and trees."""

from __future__ import annotations

import ast
import json
import os
import random
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

import pdcheck
from pdcheck.bits.crc import with_crc
from pdcheck.bits.header import EXTENDED_HEADER, HEADER
from pdcheck.bits.identity import DISPLAYPORT_SVID, ID_HEADER_CABLE, PD_SID, VDM_HEADER
from pdcheck.bits.line import ORDERED_SETS, RESETS
from pdcheck.bits.power import REQUEST_WORDS
from pdcheck.bits.problems import Code
from pdcheck.cli import run
from pdcheck.errors import InputError
from pdcheck.parts.kit_result import KitResult
from pdcheck.show.record_text import LINE
from pdcheck.show.schema_files import FOLDER
from pdcheck.show.word_schemas import KINDS, TYPES
from tests.parts import random_parts

PACKAGE = Path(pdcheck.__file__).parent
TIMES = int(os.environ.get("PDCHECK_MORE", "1"))
"""How many times as many examples as usual."""
SPOKEN = tuple(name for name in ORDERED_SETS if name not in RESETS)
CHARGER = "5V 3A, 9V 3A, 20V 5A; PPS 3.3-21V 5A; AVS 9-20V 5A/5A; 28V 5A; AVS 15-28V 140W"


@cache
def validator(name: str) -> Draft202012Validator:
    return Draft202012Validator(json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8")))


def misfits(document: dict[str, Any]) -> list[str]:
    """What does not fit the schema that a document names, by its place."""
    name = document["schema"].removeprefix("pdcheck/").split("/")[0]
    found = validator(name).iter_errors(document)
    return [f"{name} {'/'.join(map(str, each.absolute_path))}: {each.message[:400]}" for each in found]


def any_word(chance: random.Random) -> int:
    """Words of all bits, of few, and of none: what is reserved comes up as often as what is usual."""
    return chance.choice((chance.getrandbits(32), chance.getrandbits(32) & chance.getrandbits(32) & 0x3FFFFFFF, 0))


def lines(chance: random.Random) -> Iterator[str]:
    """A log of every type of message in every revision, with words and blocks that nobody chose."""
    for code in range(32):
        for revision in range(4):
            for family in ("control", "data", "extended"):
                head = {"type": code, "revision": revision, "id": chance.getrandbits(3)}
                head |= {"power_role": chance.getrandbits(1), "data_role": chance.getrandbits(1)}
                yield line(chance, head, family, [any_word(chance) for _ in range(chance.randint(1, 7))])
    for name in RESETS:
        yield f"{name.replace('_', ' ')}"


def line(chance: random.Random, head: dict[str, int], family: str, words: list[int], sop: str | None = None) -> str:
    payload = b"".join(word.to_bytes(4, "little") for word in words)
    if family == "control":
        payload = b""
    elif family == "data":
        head |= {"object_count": len(words)}
    else:
        size = chance.choice((0, 1, 2, 5, 10, 24, 25, 26))
        inner = {"data_size": size, "chunked": chance.getrandbits(1), "request_chunk": chance.random() < 0.1}
        text = chance.choice((b"AB\x01\x02Field sensor\0", b"\x02\x00\x00\x00DEIT", chance.randbytes(26)))
        payload = EXTENDED_HEADER.encode(inner).to_bytes(2, "little") + (text + bytes(26))[:size]
        head |= {"extended": 1, "object_count": 0 if not inner["chunked"] else -(-len(payload) // 4)}
        payload += bytes(-len(payload) % 4) if inner["chunked"] else b""
    raw = HEADER.encode(head).to_bytes(2, "little") + payload
    spoken = with_crc(raw) if chance.random() < 0.9 else with_crc(raw)[:-1] + b"\0"
    return f"{sop or chance.choice(SPOKEN)} {spoken.hex()}"


def vendor_lines(chance: random.Random) -> Iterator[str]:
    """Every command of a structured vendor message, asked and answered, of every kind of product."""
    head = {"type": 15, "revision": 2}
    for command in range(32):
        for answer in range(4):
            for svid in (PD_SID, DISPLAYPORT_SVID, 0x1234):
                kind = {"svid": svid, "command": command, "command_type": answer, "structured": 1}
                words = [any_word(chance) for _ in range(chance.randint(0, 6))]
                yield line(chance, dict(head), "data", [VDM_HEADER.encode(kind), *words])
    for product in range(8):
        for revision in (0, 1):
            for count in range(7):
                kind = {"svid": PD_SID, "command": 1, "command_type": 1, "structured": 1, "version_major": revision}
                identity = ID_HEADER_CABLE.encode({"product_type": product, "vendor_id": 0x1234})
                words = [VDM_HEADER.encode(kind), identity, *(any_word(chance) for _ in range(count))]
                yield line(chance, head | {"revision": 1 + revision}, "data", words[:7], chance.choice(SPOKEN[:2]))


def log_of(made: Iterator[str]) -> str:
    return "".join(f"{0.01 * (at + 1):.3f} {text}\n" for at, text in enumerate(made))


@pytest.mark.parametrize("seed", range(TIMES))
@pytest.mark.parametrize("made", [lines, vendor_lines])
def test_every_message_fits(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], made: Callable[[random.Random], Iterator[str]], seed: int
) -> None:
    chance = random.Random(seed)
    log = tmp_path / "log"
    log.write_text(log_of(each for each in made(chance) if TIMES > 1 or chance.random() < 0.4))
    assert run(["decode", "--json", str(log)]) in (0, 1)
    document = json.loads(capsys.readouterr().out)
    assert run(["decode", "--jsonl", str(log)]) in (0, 1)
    records = [json.loads(each) for each in capsys.readouterr().out.splitlines()]
    named = {"schema": f"pdcheck/{LINE}"}
    assert records == [named | each for each in document["messages"]] and len(records) > 100
    assert not [each for record in records for each in misfits(record)][:5]
    # The messages are those of the lines.
    assert not misfits(document | {"messages": document["messages"][:20]})[:5]
    assert run(["audit", "--json", str(log)]) in (0, 1)
    assert not misfits(json.loads(capsys.readouterr().out))[:5]


def test_what_the_schemas_name_is_what_comes() -> None:
    """Types, kinds and codes of problems: none of them is named and never made."""
    types, kinds = (
        set(RESETS),
        {pdcheck.decode("0x1304B12C", request_as=form).objects[0].kind for form in REQUEST_WORDS},
    )
    for seed in range(4):
        chance = random.Random(seed)
        made = (text for makes in (lines, vendor_lines) for text in makes(chance))
        for each in pdcheck.decode(log_of(made)).messages:
            types |= {each.header.type} if each.header else set()
            kinds |= {one.kind for one in each.objects}
    assert types == set(TYPES)
    assert kinds - {"gap"} == set(KINDS)
    assert set(get_args(Code)) <= {text for path in PACKAGE.rglob("*.py") for text in texts(path)}


def texts(path: Path) -> Iterator[str]:
    """Every text in a module, but for those of a list of words."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    lists = {
        id(text)
        for node in ast.walk(tree)
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "Literal"
        for text in ast.walk(node)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in lists:
            yield node.value


BANKS = ("20,000 mAh / 74 Wh, rated capacity 12000mAh 5V 3A; output 5V 3A, 9V 2A", "74Wh 5V 3A, 9V 3A, 20V 3A")
SHARED = ("C1 65W, C2 30W, C1+C2: 45W+18W", "C1 65W, A 5V 2.4A, C1+A: 45W+7W", "C1 65W, C2 65W, C1+C2 65W total")
EVENTS = (
    "lower to 20W at 1s",
    "request 9V at 1s",
    "unplug at 1s",
    "hard reset at 1s",
    "second port at 1s",
    "soft reset at 1s",
)
TO = ("unplug", "9V", "30W", "second port", None)


@settings(max_examples=5 * TIMES, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_every_answer_about_any_build_fits(data: st.DataObject) -> None:
    rig, source, cable = (data.draw(each) for each in (random_parts.rigs, random_parts.sources, random_parts.cables))
    if data.draw(st.booleans()):
        source = pdcheck.Source(data.draw(st.sampled_from((*BANKS, CHARGER))))
    pair = {"source": source, "cable": cable}
    event, to = data.draw(st.sampled_from(EVENTS)), data.draw(st.sampled_from(TO))
    asked: dict[str, Callable[[], Any]] = {
        "check": lambda: pdcheck.check(rig, **pair),
        "envelope": lambda: pdcheck.envelope(rig, **pair),
        "draw": lambda: pdcheck.draw(rig, **pair),
        "fuse": lambda: pdcheck.fuse(rig, **pair),
        "change": lambda: pdcheck.change(rig, to=to, **pair),
        "talk": lambda: pdcheck.talk(rig, events=[event], seed=1, **pair),
        "transient": lambda: pdcheck.transient(rig, until="100ms", **pair),
        "runtime": lambda: pdcheck.runtime(rig, **pair),
        "bringup": lambda: pdcheck.bringup(rig, **pair),
        "settings": lambda: pdcheck.settings(source, cable=cable),
        "matrix": lambda: pdcheck.matrix(rig, pdcheck.Kit(sources=(source,), cables=(cable,))),
        "share": lambda: pdcheck.share([rig], data.draw(st.sampled_from(SHARED)), cable=cable),
        "kit": lambda: KitResult(pdcheck.Kit(sources=(source,), cables=(cable,))),
    }
    for name, ask in asked.items():
        try:
            told = ask()
        except InputError:
            continue
        assert not misfits(told.to_dict())[:5], name
