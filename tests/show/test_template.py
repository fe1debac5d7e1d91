"""The compiled template of the page: kept where byte code is kept, and a page without it all the same."""

import errno
import sys
from importlib.util import cache_from_source
from pathlib import Path

import pytest
from jinja2.bccache import Bucket

from pdcheck.show.page import template


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    folder = Path(cache_from_source(template.__file__)).parent
    folder.mkdir(parents=True)
    return folder


@pytest.mark.parametrize("left", [0, 5, 20, 60, 400])
def test_one_that_is_damaged_is_compiled_anew(folder, left):
    template.template()
    (kept,) = folder.iterdir()
    whole = kept.read_bytes()
    kept.write_bytes(whole[:left])
    template.template()
    assert kept.read_bytes() == whole


def test_a_disk_that_is_full_leaves_nothing_behind(folder, monkeypatch):
    def full(self, file):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Bucket, "write_bytecode", full)
    assert template.template().name == "page.html.j2" and not list(folder.iterdir())
