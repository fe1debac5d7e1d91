"""Tables loaded anew, and reading afresh."""

import importlib
import sys

import pytest

import pdcheck
from pdcheck.bits.header import type_name
from pdcheck.bits.objects import read


@pytest.fixture(autouse=True, scope="module")
def nothing_remembered():
    """What one module has read is not an answer to the next."""
    read.cache_clear()
    type_name.cache_clear()


@pytest.fixture
def anew(monkeypatch):
    """Loads a module of bits and all that it needs of bits once more, apart from those in use."""
    monkeypatch.setattr(pdcheck, "bits", pdcheck.bits)
    for name in [name for name in sys.modules if name.startswith("pdcheck.bits")]:
        monkeypatch.delitem(sys.modules, name)
    return lambda name: importlib.import_module(f"pdcheck.bits.{name}")
