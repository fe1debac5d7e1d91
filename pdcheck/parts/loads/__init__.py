"""Loads: what hangs at the end of a branch. A kind is one file here, found by itself: key, figures, physics."""

from importlib import import_module
from pkgutil import iter_modules

from pdcheck.parts.loads.load import Load, Turns

for _found in iter_modules(__path__):
    import_module(f"{__name__}.{_found.name}")
Load.settle()

__all__ = ["Load", "Turns"]
