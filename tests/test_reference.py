"""The API reference has everything that the front door gives, and no link in it leads nowhere."""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest

import pdcheck
from tests.reference import broken, build, modules

pytest.importorskip("pdoc", reason="pdoc is with the tools of a developer")


def test_the_reference_is_whole(tmp_path: Path) -> None:
    assert build(tmp_path) == []
    front = (tmp_path / "pdcheck.html").read_text(encoding="utf-8")
    for name in pdcheck.__all__:
        assert f'id="{name}"' in front, name
        found = getattr(pdcheck, name)
        if inspect.isfunction(found):
            assert inspect.getmodule(found).__name__ in modules()  # type: ignore[union-attr]
    for name in modules():
        assert (tmp_path / f"{name.replace('.', '/')}.html").exists(), name


def test_a_broken_link_is_noticed(tmp_path: Path) -> None:
    (tmp_path / "one.html").write_text('<a href="two.html#here">x</a><a href="gone.html">y</a><a href="#there">z</a>')
    (tmp_path / "two.html").write_text('<p id="here"><a href="https://example.org/">out</a></p>')
    assert broken(tmp_path) == ["one.html: gone.html", "one.html: #there"]
