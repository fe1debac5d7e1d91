"""The page's template, compiled once for all pages: kept where Python keeps the byte code of this file."""

from __future__ import annotations

import os
import sys
from importlib.util import cache_from_source
from pathlib import Path
from pickle import PickleError
from typing import Any

from jinja2 import BytecodeCache, DictLoader, Environment, StrictUndefined, Template
from jinja2.bccache import Bucket
from markupsafe import Markup

from pdcheck.show.clean import clean
from pdcheck.show.page.palette import packaged

_NAME = "page.html.j2"
# No text of a file is longer on the page.
_LONGEST = 4000


class _Kept(BytecodeCache):
    """Compiled templates beside compiled modules; the engine looks whether one is of this text and this Python."""

    def load_bytecode(self, bucket: Bucket) -> None:
        """What was kept of a template, if anything."""
        try:
            with _place().open("rb") as kept:
                bucket.load_bytecode(kept)
        except (OSError, EOFError, ValueError, PickleError):
            bucket.reset()

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a template, whole or not at all, where byte code is kept and can be."""
        if sys.dont_write_bytecode:
            return
        part = _place().with_suffix(f".{os.getpid()}")
        try:
            with part.open("wb") as kept:
                bucket.write_bytecode(kept)
            part.replace(_place())
        except OSError:
            part.unlink(missing_ok=True)


def _place() -> Path:
    return Path(cache_from_source(str(Path(__file__).with_name(_NAME))))


def template() -> Template:
    """The page's template; every text that it puts in is cleaned of control characters and then escaped."""
    loader = DictLoader({_NAME: packaged(_NAME)})
    return Environment(
        autoescape=True, undefined=StrictUndefined, finalize=_shown, loader=loader, bytecode_cache=_Kept()
    ).get_template(_NAME)


def _shown(value: Any) -> Any:
    return value if isinstance(value, Markup) or not isinstance(value, str) else clean(value, _LONGEST)
