"""Kit and rig files: the shapes that load, and for every mistake its file, line and key in one line."""

from __future__ import annotations

import importlib.resources
import re
from pathlib import Path

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.toml_reading import LARGEST_BYTES

RIG = """title = "Pier box"
[trigger]
request = "15V"            # or "highest", or "pps 13.2V 3A"
fallback = "next-lower"    # or "5V", "none"
rating = "5A"
resistance = "25mOhm"
[[branch]]
name = "mount"
wire = { awg = 20, length = "0.4m", contacts = "10mOhm" }
converter = { kind = "buck-boost", input = "6V-36V", input_limit = "6A", output = "12V", output_limit = "4A",
              efficiency = 0.92, idle = "0.3W", bulk = "47uF" }
lead = { awg = 18, length = "1.5m" }
load = { power = "24W" }   # or { current = "2A" }
"""
KIT = """[[source]]
id = "wall-45"
offers = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A"
[[cable]]
id = "thin-2m"
kind = "C-C"
rating = "3A"
loop = "240mOhm"
"""


TRIGGER = '[trigger]\nrequest = "15V"\n'
BRANCH = '[[branch]]\nname = "x"\nload = "1W"\n'
REFERENCE = Path(__file__).parents[2] / "docs" / "files.md"


def toml_blocks() -> list[str]:
    """Every TOML example of the file reference."""
    return re.findall(r"```toml\n(.*?)```", REFERENCE.read_text(encoding="utf-8"), re.DOTALL)


def test_rig() -> None:
    rig = Rig.from_toml(RIG)
    branch = rig.branches[0]
    assert branch.wire is not None and branch.converter is not None and branch.lead is not None
    assert (rig.title, rig.trigger.rating_a, branch.wire.awg) == ("Pier box", 5.0, 20)
    converter = branch.converter
    assert (converter.input_v, converter.input_limit_a, converter.output_v) == ((6.0, 36.0), 6.0, 12.0)
    assert (converter.efficiency, converter.idle_w, converter.bulk_f) == (0.92, 0.3, 47e-6)
    assert branch.load.power_w == 24.0


@pytest.mark.parametrize(
    "load", ['current = "2A"', 'resistance = "6ohm"', 'led = { count = 3, vf = "3.4V", current = "250mA" }']
)
def test_every_load(load: str) -> None:
    assert Rig.from_toml(RIG.replace('power = "24W"', load)).branches[0].load.kind == load.split(maxsplit=1)[0]


def test_kit() -> None:
    kit = Kit.from_toml(KIT)
    assert [offer.max_mv for offer in kit.sources[0].offers] == [5000, 9000, 15000, 16000]
    assert kit.cables[0].loop_ohm()[0].typ == 0.24


def test_kit_inside_of_a_rig_either_way() -> None:
    kit = Kit.from_toml(KIT)
    assert Rig.from_toml(RIG + KIT).kit == kit
    assert Rig.from_toml(RIG + KIT.replace("[[", "[[kit.")).kit == kit


def test_inline_table_over_several_lines_with_a_last_comma_and_a_comment() -> None:
    text = RIG.replace('"0.4m", contacts', '"0.4m", # not long\n  contacts').replace('"10mOhm" }', '"10mOhm",\n}')
    assert Rig.from_toml(text) == Rig.from_toml(RIG)


@pytest.mark.parametrize("name", ["pier-box", "pedalboard", "field-sensor"])
def test_packaged_rigs_load(name: str) -> None:
    text = (importlib.resources.files("pdcheck") / "data" / f"{name}.toml").read_text(encoding="utf-8")
    assert Rig.from_toml(text, name).title


def test_packaged_kit_loads() -> None:
    text = (importlib.resources.files("pdcheck") / "data" / "kit.toml").read_text(encoding="utf-8")
    kit = Kit.from_toml(text)
    assert not any(part.problems for part in (*kit.sources, *kit.cables))
    assert len(kit.pairs()) == 6 * 5 + 1


# what is put in place of what, the line it stands on, the key, a piece of the reason, a piece of what was expected
RIG_MISTAKES = [
    ('"24W"', '"24V"', 13, "branch.load.power", "a voltage, not a power", "a power such as 24W"),
    ('"24W"', "nan", 13, "branch.load.power", "out of range", "a power"),
    ('"24W"', "-3", 13, "branch.load.power", "is negative", "a power"),
    ('"24W"', "[1]", 13, "branch.load.power", "is not a quantity", "a power"),
    ('power = "24W"', 'pwoer = "24W"', 13, "branch.load.pwoer", "unknown key", "power"),
    ('power = "24W"', 'power = "24W", current = "1A"', 13, "branch.load.current", "power and current", "one of them"),
    ('{ power = "24W" }', "{ }", 13, "branch.load", "says nothing", "one of them"),
    ("[trigger]", "[triger]", 2, "triger", "unknown key", "trigger"),
    ('request = "15V"', 'requests = "15V"', 3, "trigger.requests", "unknown key", "request"),
    ('"15V"', '"higest"', 3, "trigger.request", "is not a request", "highest"),
    ('"next-lower"', '"next"', 4, "trigger.fallback", "not a fall-back", "next-lower"),
    ("awg = 20", "awg = 99", 9, "branch.wire.awg", "not a wire gauge", "0 to 40"),
    ("awg = 20, ", "", 9, "branch.wire", "has no size", "awg or mm2"),
    ("awg = 20", "agw = 20, mm2 = 1", 9, "branch.wire.agw", "unknown key", "awg"),
    ('"6V-36V"', '"36V-6V"', 10, "branch.converter.input", "starts above its end", "6V-36V"),
    (
        "efficiency = 0.92",
        "efficiency = 92",
        11,
        "branch.converter.efficiency",
        "92 is not an efficiency: write 92%",
        "",
    ),
    (
        "efficiency = 0.92",
        "efficiency = { input = [5], output = [1], values = [[2]] }",
        11,
        "branch.converter.efficiency.values",
        "out of range",
        "100 %",
    ),
    ('name = "mount"', 'name = "a b"', 8, "branch.name", "is not a name", "one word"),
    ("[[branch]]", "[branch]", 7, "branch", "is one table", "[[branch]]"),
    ('title = "Pier box"', "title = 5", 1, "title", "is not a title", "one line"),
]


@pytest.mark.parametrize(("old", "new", "line", "key", "reason", "expected"), RIG_MISTAKES)
def test_mistake_in_a_rig(old: str, new: str, line: int, key: str, reason: str, expected: str) -> None:
    assert old in RIG
    with pytest.raises(InputError) as caught:
        Rig.from_toml(RIG.replace(old, new, 1), "box.toml")
    assert str(caught.value).startswith(f"box.toml, line {line}: {key}: ")
    assert reason in caught.value.what
    assert any(part in caught.value.expected for part in expected.split("|"))


KIT_MISTAKES = [
    ('"240mOhm"', '"240mA"', 8, "cable.loop", "a current, not a resistance", "a resistance"),
    ('kind = "C-C"', 'kind = "Z-C"', 6, "cable.kind", "not a kind of cable", "c-c"),
    ("rating", "ratting", 7, "cable.ratting", "unknown key", "rating"),
    ('offers = "5V', 'offers = "5X', 3, "source.offers", "", ""),
    ("offers", "ofers", 3, "source.ofers", "unknown key", "offers"),
    ('id = "wall-45"', 'id = "wall-45"\ncolour = "red"', 3, "source.colour", "unknown key", "one of: id, title"),
    ("[[cable]]", "[[cabel]]", 4, "cabel", "unknown key", "cable"),
    ('[[cable]]\nid = "thin-2m"', "[[cables]]\nid = 5", 5, "cables.id", "is not a name", "one word"),
    ('loop = "240mOhm"', "readings = { source = 5, sink = 6, at = 1 }", 8, "cable.readings.sink", "above", "source"),
    ('loop = "240mOhm"', '[[cable]]\nid = "thin-2m"', 9, "cable.id", "is the id of another cable", "not in use"),
    ('offers = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A"', 'capture = "gone.log"', 3, "source.capture", "gone.log", ""),
]


@pytest.mark.parametrize(("old", "new", "line", "key", "reason", "expected"), KIT_MISTAKES)
def test_mistake_in_a_kit(old: str, new: str, line: int, key: str, reason: str, expected: str) -> None:
    assert old in KIT
    with pytest.raises(InputError) as caught:
        Kit.from_toml(KIT.replace(old, new, 1), "kit.toml")
    assert str(caught.value).startswith(f"kit.toml, line {line}: {key}: ")
    assert reason in caught.value.what
    assert expected in caught.value.expected


def test_mistake_in_the_kit_inside_of_a_rig() -> None:
    start = RIG.count("\n")
    bad = KIT.replace('"240mOhm"', '"240mA"')
    with pytest.raises(InputError, match="not a resistance") as caught:
        Rig.from_toml(RIG + bad, "box.toml")
    assert caught.value.where == f"box.toml, line {start + 8}: cable.loop"
    with pytest.raises(InputError) as caught:
        Rig.from_toml(RIG + bad.replace("[[", "[[kit."), "box.toml")
    assert caught.value.where == f"box.toml, line {start + 8}: kit.cable.loop"
    with pytest.raises(InputError) as caught:
        Rig.from_toml(RIG + KIT.replace("rating", "ratting"), "box.toml")
    assert caught.value.where == f"box.toml, line {start + 7}: cable.ratting"
    assert caught.value.expected.startswith("rating (of: ")


def test_several_mistakes_are_counted_and_the_first_line_told() -> None:
    with pytest.raises(InputError) as caught:
        Rig.from_toml(RIG.replace("24W", "24V").replace("25mOhm", "x"), "box.toml")
    assert caught.value.where == "box.toml, line 6: trigger.resistance"
    assert caught.value.what.endswith("(and 1 more)")


SYNTAX = [
    ("a = ", 1),
    ('title = "x"\nrequest = 15V\n', 2),
    ("[trigger\n", 1),
    ("a = 1\na = 2\n", 2),
    ('title = "x\n', 1),
    ("a = { b = 1\n", 1),
    ("x = \x00", 1),
    ("\n\na == 1", 3),
    ("t = { a = 1,\n  b = 2 }\n\nc = d\n", 4),
    ("[" * 5000, None),
    ("a = " + "[" * 5000, None),
    ("b = 1\na = " + "9" * 5000, 2),
]


@pytest.mark.parametrize(("text", "line"), SYNTAX, ids=lambda x: str(x)[:20])
def test_syntax_errors_name_their_line(text: str, line: int | None) -> None:
    with pytest.raises(InputError) as caught:
        Rig.from_toml(text, "box.toml")
    told = str(caught.value)
    assert told.startswith("box.toml")
    assert len(told) < 300
    if line is not None:
        assert told.startswith(f"box.toml, line {line}: ")


def test_what_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="directory"):
        Rig.read(tmp_path)
    with pytest.raises(InputError, match="no such file"):
        Kit.read(tmp_path / "none.toml")
    with pytest.raises(InputError):
        Kit.read("a\0b")


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "box.toml"
    path.write_bytes(b'title = "x"\ntitle2 = "\xff"\n')
    with pytest.raises(InputError) as caught:
        Rig.read(path)
    assert caught.value.where == f"{path}, line 2"
    assert "0xFF" in caught.value.what
    path.write_bytes(bytes(range(256)) * 1000)
    with pytest.raises(InputError):
        Rig.read(path)


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_bytes(b"\xef\xbb\xbf" + KIT.replace("\n", "\r\n").encode())
    assert Kit.read(path) == Kit.from_toml(KIT)


def test_noise_of_any_size_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "noise.toml"
    for data in (b"x" * (LARGEST_BYTES + 1), b"{" * LARGEST_BYTES, b"x" * LARGEST_BYTES, b"a = [" + b"{}," * 300_000):
        path.write_bytes(data)
        with pytest.raises(InputError):
            Kit.read(path)


def test_an_empty_file_is_an_empty_kit_and_no_rig() -> None:
    assert Kit.from_toml("").sources == ()
    with pytest.raises(InputError) as caught:
        Rig.from_toml('[trigger]\nrequest = "9V"')
    assert str(caught.value) == "rig, line 1: branch: is missing; expected [[branch]]"


@pytest.mark.parametrize("block", toml_blocks(), ids=lambda block: block.splitlines()[0])
def test_examples_of_the_reference_load(block: str) -> None:
    whole = block if "[[branch]]" in block or "[trigger]" not in block else block + BRANCH
    whole = whole if "[trigger]" in whole or "[[branch]]" not in whole else TRIGGER + whole
    if "[box]" in whole:
        whole = TRIGGER + whole + BRANCH
    if "[trigger]" in whole:
        assert Rig.from_toml(whole, "docs/files.md").branches
    else:
        kit = Kit.from_toml(whole, "docs/files.md")
        assert len(kit.sources) + len(kit.cables) > 0


def test_files_with_windows_line_ends_read_alike():
    text = (
        '[trigger]\nrequest = "9V"\n[[branch]]\nname = "fan"\n'
        'converter = { kind = "buck", output = "5V",\n              efficiency = 0.9 }\nload = "1W"\n'
    )
    assert Rig.from_toml(text.replace("\n", "\r\n")) == Rig.from_toml(text)
