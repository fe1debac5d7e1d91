"""Files broken at random: a part or one line that names the file, whatever was typed."""

from __future__ import annotations

import importlib.resources
import re
from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig

DATA = importlib.resources.files("pdcheck") / "data"
TEXTS = [(DATA / f"{name}.toml").read_text("utf-8") for name in ("kit", "pier-box", "pedalboard", "field-sensor")]
VALUE = re.compile(r'= ("[^"\n]*"|[0-9.]+)')
PIECES = st.text(max_size=8) | st.sampled_from(
    [
        *('"', "{", "}", "[", "]", "=", "\n", "#", "\\", "\x00", "é", "[[source]]\n", "length_m = 1"),
        *('"5V"', '"x"', '""', '"5V 3A"', "nan", "inf", "-1", "1e309", "9" * 30, "9" * 5000),
        *("true", "1979-05-27", "[1,2]", "[]", "{a=1}"),
    ]
)


@given(st.sampled_from(TEXTS), st.data(), PIECES, st.booleans())
def test_a_broken_file_is_told_in_one_line(text: str, data: st.DataObject, piece: str, is_value: bool) -> None:
    if is_value:
        found = data.draw(st.sampled_from(list(VALUE.finditer(text))))
        start, end = found.span(1)
    else:
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 6)))
    broken = text[:start] + piece + text[end:]
    for parse in (Kit.from_toml, Rig.from_toml):
        try:
            parse(broken, "box.toml")
        except InputError as error:
            told = str(error)
            assert told.startswith("box.toml, line ")
            assert "\n" not in told and "\x1b" not in told
            assert len(told) < 500


@pytest.mark.parametrize("text", ["".join(f"k{at} = 1\n" for at in range(400)), "[[source]]\n" * 400])
def test_what_was_meant_is_sought_for_the_mistake_that_is_told_alone(text: str) -> None:
    """A file of noise has many thousand mistakes, and one line tells the first."""
    with patch("difflib.get_close_matches", return_value=[]) as sought, pytest.raises(InputError, match="399 more"):
        Kit.from_toml(text, "kit.toml")
    assert sought.call_count <= 1


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("".join(f"k{at} = 1\n" for at in range(20_001)), "kit.toml: has 20001 entries"),
        ("source = [" + "1," * 20_001 + "]", "kit.toml: 'source': has 20001 entries"),
        ("[[source]]\noffers = { a = [" + "{}," * 20_001 + "] }", "kit.toml: 'a': has 20001 entries"),
    ],
)
def test_a_file_of_noise_is_refused_before_each_mistake_in_it_is_told(text: str, told: str) -> None:
    for parse in (Kit.from_toml, Rig.from_toml):
        with pytest.raises(InputError, match="expected at most 20000 entries") as caught:
            parse(text, "kit.toml")
        assert str(caught.value).startswith(told)
