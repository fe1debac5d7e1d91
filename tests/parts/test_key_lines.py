"""Lines of keys, and inline tables put on one line, against the standard library's reader of TOML."""

from __future__ import annotations

import tomllib
from typing import Any

import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import Place
from pdcheck.parts.toml_text import key_lines, one_line_tables


def paths(value: Any, path: Place = ()) -> set[Place]:
    found = {path} if path else set()
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        found |= paths(inner, (*path, key))
    return found


keys = st.one_of(
    st.text("abcXYZ-_019", min_size=1, max_size=6),
    st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=6),
)
scalars = st.one_of(
    st.integers(-1000, 1000),
    st.booleans(),
    st.text(st.characters(codec="utf-8", exclude_categories=["C"]), max_size=12),
    st.sampled_from(["a # b", "} ] ,", 'say "x"', "it's", "two\nlines", "\\"]),
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(keys, values, max_size=5))
def test_every_key_has_a_line(document: dict[str, Any]) -> None:
    text = tomlkit.dumps(document)
    assert set(key_lines(text)) == paths(tomllib.loads(text))
    assert tomllib.loads(one_line_tables(text)) == tomllib.loads(text)


@given(st.dictionaries(keys, scalars, min_size=1, max_size=5))
def test_lines_are_those_of_a_plain_list_of_keys(document: dict[str, Any]) -> None:
    rows = [f"{tomlkit.dumps({key: value}).rstrip()}  # note" for key, value in document.items()]
    lines = key_lines("\n\n".join(rows))
    at = 1
    for key, row in zip(document, rows, strict=True):
        assert lines[(key,)] == at
        at += row.count("\n") + 2


def test_headers_dotted_keys_strings_and_lists() -> None:
    text = '''# first
title = """
two lines # no comment
[not.a.header]"""
[a.b] # table
c.d = [ 1, # one
  { e = "}" },
]
[[list]]
x = 1
[list.sub]
y = \'\'\'it's\'\'\'
[[list]]
"quoted key" = 2
[[list.inner]]
z = { p = { q = 1 } }
'''
    lines = key_lines(text)
    assert lines[("title",)] == 2
    assert lines[("a",)] == lines[("a", "b")] == 5
    assert lines[("a", "b", "c", "d")] == 6
    assert lines[("a", "b", "c", "d", 1, "e")] == 7
    assert lines[("list", 0, "x")] == 10
    assert lines[("list", 0, "sub", "y")] == 12
    assert lines[("list", 1)] == 13
    assert lines[("list", 1, "quoted key")] == 14
    assert lines[("list", 1, "inner", 0, "z", "p", "q")] == 16
    assert set(lines) == paths(tomllib.loads(text))


@given(
    st.dictionaries(keys, scalars, min_size=1, max_size=4),
    st.lists(st.sampled_from(["\n", " # {x}, 'a\n", "\n\n"]), min_size=8, max_size=8),
)
def test_inline_tables_may_be_broken_anywhere(table: dict[str, Any], gaps: list[str]) -> None:
    pairs = [tomlkit.dumps({key: value}).strip() for key, value in table.items() if "\n" not in str(value)]
    broken = (
        "{" + gaps[0] + "".join(f"{pair},{gap}" for pair, gap in zip(pairs, gaps[1:], strict=False)) + gaps[-1] + "}"
    )
    text = f"t = {broken}\nlast = 1\n"
    joined = one_line_tables(text)
    assert tomllib.loads(joined) == tomllib.loads("t = { " + ", ".join(pairs) + " }\nlast = 1\n")
    assert joined.count("\n") == text.count("\n")
    assert key_lines(text)[("last",)] == joined[: joined.index("last")].count("\n") + 1
