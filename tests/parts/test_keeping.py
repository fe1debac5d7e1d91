"""Kit files kept: what is not changed stays byte for byte, a name in use is safe, a killed writer breaks nothing."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import stat
import time
import tomllib
from functools import partial
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.parts.keeping import add_table, change, remove_table
from pdcheck.parts.kit import Kit
from pdcheck.parts.toml_places import remove_key, set_value, toml_value
from pdcheck.parts.toml_text import read_toml
from pdcheck.parts.writing import write_whole

MIXED = """\
# The file's own comment.
title = "Bench"   # why

[[source]]
id = "wall" # the grey one
offers = "5V 3A, 9V 3A"

# bought twice
[[cable]]
id = "thin"
kind = "C-C"

# about the bank
[[source]]
id = "bank"
offers = "5V 3A"
cable = { rating = "3A", # short
    loop = "170mOhm",
}
# the end
"""


def lines_of(text: str) -> list[str]:
    return text.splitlines()


def test_a_table_is_added_behind_the_last_of_its_kind_and_nothing_else_moves() -> None:
    new = add_table(MIXED, "source", {"id": "desk", "offers": "5V 3A"})
    assert new.startswith(MIXED.rstrip("\n"))
    cable = add_table(MIXED, "cable", {"id": "fat", "kind": "C-C", "rating": "5A"})
    added = [line for line in lines_of(cable) if line not in lines_of(MIXED)]
    assert added == ['id = "fat"', 'rating = "5A"']
    assert cable.index('"fat"') < cable.index("# about the bank")
    assert [each.id for each in Kit.from_toml(cable).cables] == ["thin", "fat"]


def test_a_name_in_use_is_not_overwritten() -> None:
    with pytest.raises(InputError, match="'wall' is the id of another source already; expected replace"):
        add_table(MIXED, "source", {"id": "wall", "offers": "5V 1A"})
    new = add_table(MIXED, "source", {"id": "wall", "offers": "5V 1A"}, replace=True)
    assert Kit.from_toml(new).source("wall").offers[0].current_ma == 1000
    assert lines_of(new)[4:] == ['id = "wall"', 'offers = "5V 1A"', *lines_of(MIXED)[6:]]


def test_a_replaced_table_keeps_the_comments_around_it() -> None:
    new = add_table(MIXED, "source", {"id": "bank", "offers": "5V 2A"}, replace=True)
    assert "# about the bank\n[[source]]" in new
    assert new.endswith('offers = "5V 2A"\n# the end\n')


def test_a_removed_table_takes_its_comment_along_and_no_other() -> None:
    new = remove_table(MIXED, "cable", "thin")
    assert [line for line in lines_of(MIXED) if line not in lines_of(new)] == [
        "# bought twice",
        "[[cable]]",
        'id = "thin"',
        'kind = "C-C"',
    ]
    with pytest.raises(InputError, match=r"no cable 'thim' in this file; expected thin"):
        remove_table(MIXED, "cable", "thim")


def test_line_ends_of_the_other_kind_stay() -> None:
    new = add_table(MIXED.replace("\n", "\r\n"), "cable", {"id": "fat", "kind": "C-C"})
    assert "\n" not in new.replace("\r\n", "")
    assert [each["id"] for each in read_toml(new)["cable"]] == ["thin", "fat"]


def test_a_kit_without_headers_is_refused_not_broken() -> None:
    with pytest.raises(InputError, match=r"source is not written as \[\[source\]\]"):
        add_table('source = [{ id = "a", offers = "5V 1A" }]\n', "source", {"id": "b", "offers": "5V 1A"})


IDS = st.lists(st.sampled_from("abcdefgh"), unique=True, max_size=6)
NOTES = st.sampled_from(["", "# a note\n", "\n", "# one\n\n# two\n", "#\n#\n"])


@given(st.data(), IDS, IDS)
def test_any_order_of_tables_and_comments_survives(data: st.DataObject, sources: list[str], cables: list[str]) -> None:
    rows = [("source", each) for each in sources] + [("cable", each) for each in cables]
    text = data.draw(NOTES) + 'title = "t"\n'
    for kind, name in data.draw(st.permutations(rows)):
        body = 'offers = "5V 1A"' if kind == "source" else "loop = { min = 0.1, typ = 0.1,\n  max = 0.2 } # odd"
        text += data.draw(NOTES) + f'[[{kind}]]\nid = "{name}"\n{body}\n' + data.draw(NOTES)
    old = read_toml(text)
    kind = data.draw(st.sampled_from(["source", "cable"]))
    table = {"id": "new", "offers" if kind == "source" else "kind": "5V 1A" if kind == "source" else "C-C"}
    new = add_table(text, kind, table)
    assert read_toml(new) == old | {kind: [*old.get(kind, []), table]}
    kept = iter(lines_of(new))
    assert all(line in kept for line in lines_of(text) if line)  # in order, none lost
    back = remove_table(new, kind, "new")
    assert read_toml(back) == old
    assert [line for line in lines_of(back) if line] == [line for line in lines_of(text) if line]


@pytest.mark.parametrize(
    "text",
    [
        '[[branch]]\nname = "a"\nwire = { awg = 20, length = "1m" } # w\n[[branch]]\nname = "b"\n',
        '[[branch]]\nname = "a"\nwire = { awg = 20,\n  length = "1m", # w\n}\n[[branch]]\nname = "b"\n',
        '[[branch]]\nname = "a"\n[branch.wire]\nawg = 20\nlength = "1m" # w\n[[branch]]\nname = "b"\n',
        '[[branch]]\nname = "a"\nwire.awg = 20\nwire.length = "1m" # w\n[[branch]]\nname = "b"\n',
    ],
    ids=["inline", "inline on lines", "header", "dotted"],
)
def test_a_value_is_set_wherever_it_stands(text: str) -> None:
    place = ("branch", 0, "wire")
    for key, value in (("contacts", "150mOhm"), ("length", "2m"), ("awg", 22)):
        new = set_value(text, place, key, value)
        assert read_toml(new)["branch"][0]["wire"] == {"awg": 20, "length": "1m", key: value}
        assert read_toml(new)["branch"][1] == {"name": "b"}
        assert "# w" in new
    assert read_toml(remove_key(text, place, "awg"))["branch"][0]["wire"] == {"length": "1m"}
    assert read_toml(remove_key(text, place, "length"))["branch"][0]["wire"] == {"awg": 20}
    assert remove_key(text, place, "mm2") == text
    new = set_value(text, ("branch", 1), "lead", {"awg": 18})
    assert read_toml(new)["branch"][1] == {"name": "b", "lead": {"awg": 18}}


def test_a_table_that_is_not_there_yet_is_made() -> None:
    new = set_value('[trigger]\nrequest = "9V"\n', ("trigger", "resistance"), "typ", "20mOhm")
    assert read_toml(new) == {"trigger": {"request": "9V", "resistance": {"typ": "20mOhm"}}}


def test_mode_and_link_stay(tmp_path: Path) -> None:
    real, link = tmp_path / "real.toml", tmp_path / "kit.toml"
    real.write_text(MIXED)
    real.chmod(0o640)
    link.symlink_to(real)
    write_whole(link, "title = 'x'\n")
    assert link.is_symlink()
    assert real.read_text() == "title = 'x'\n"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert sorted(each.name for each in tmp_path.iterdir()) == ["kit.toml", "real.toml"]


def test_what_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such folder"):
        write_whole(tmp_path / "none" / "kit.toml", "")
    with pytest.raises(InputError, match="no such file"):
        change(tmp_path / "kit.toml", lambda text: text)


def keep_writing(path: Path, start: int, count: int = 10**9) -> None:
    for number in range(start, start + count):
        table = {"id": f"s{number}", "offers": "5V 3A, 9V 3A"}
        change(path, partial(with_one_more, table=table))


def with_one_more(text: str, table: dict[str, str]) -> str:
    return add_table(text, "source", table) if len(text) < 40000 else text.split("[[", maxsplit=1)[0]


def kill_at_random(path: Path, times: int, seed: int = 5) -> int:
    """Kill a writer of the kit at random moments; returns how many of the kills left a piece of a new file beside."""
    chance = random.Random(seed)
    with_one_more("", {"id": "warm"})  # what it imports is there before the writers are split off
    left = 0
    for number in range(times):
        writer = multiprocessing.get_context("fork").Process(target=keep_writing, args=(path, number * 10**6))
        writer.start()
        assert writer.pid is not None
        time.sleep(chance.uniform(0.005, 0.06))
        os.kill(writer.pid, signal.SIGKILL)
        writer.join()
        text = path.read_bytes().decode("utf-8")
        kit = Kit.from_toml(text)
        assert text.startswith("# mine\n")
        assert all(source.offers for source in kit.sources)
        left += any(each.name.endswith(".part") for each in path.parent.iterdir())
    return left


@pytest.mark.skipif(os.name != "posix", reason="kill -9 is of POSIX systems")
def test_a_killed_writer_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_text("# mine\ntitle = 'x'\n")
    assert kill_at_random(path, 60) > 0, "no kill came while a file was being written"
    assert tomllib.loads(path.read_text())["title"] == "x"
    change(path, lambda text: text + "\n")
    assert [each.name for each in tmp_path.iterdir()] == ["kit.toml"]


@pytest.mark.skipif(os.name != "posix", reason="the lock is of POSIX systems")
def test_two_writers_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_text("")
    context = multiprocessing.get_context("fork")
    writers = [context.Process(target=keep_writing, args=(path, start, 15)) for start in (0, 100, 200)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
    assert [writer.exitcode for writer in writers] == [0, 0, 0]
    assert len(Kit.from_toml(path.read_text()).sources) == 45


@pytest.mark.parametrize("name", ["a" * 255, "a" * 250 + ".toml", "ä" * 127])
def test_a_name_as_long_as_the_system_allows_is_written_and_leaves_nothing(name: str, tmp_path: Path) -> None:
    for text in ("old", "new"):
        write_whole(tmp_path / name, text)
        assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {name: text}


@given(
    st.text() | st.floats(allow_nan=False) | st.integers() | st.booleans() | st.datetimes() | st.dates() | st.times()
)
def test_a_value_is_read_back_by_two_readers(value: object) -> None:
    written = f"x = {toml_value(value)}"
    assert tomllib.loads(written)["x"] == tomlkit.parse(written).unwrap()["x"] == value
