"""The page's template, compiled once for all pages: kept where Python keeps the byte code of this file."""

from __future__ import annotations

import os
import sys
from importlib.util import cache_from_source
from pathlib import Path
from typing import Any

from jinja2 import DictLoader, Environment, FileSystemBytecodeCache, StrictUndefined, Template
from markupsafe import Markup

from pdcheck.show.clean import clean
from pdcheck.show.page.palette import packaged

_NAME = "page.html.j2"
# No text of a file is longer on the page.
_LONGEST = 4000


def template() -> Template:
    """The page's template; every text that it puts in is cleaned of control characters and then escaped."""
    folder = Path(cache_from_source(__file__)).parent
    keeps = not sys.dont_write_bytecode and os.access(folder, os.W_OK)
    return Environment(
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        loader=DictLoader({_NAME: packaged(_NAME)}),
        bytecode_cache=FileSystemBytecodeCache(str(folder)) if keeps else None,
    ).get_template(_NAME)


def _shown(value: Any) -> Any:
    return value if isinstance(value, Markup) or not isinstance(value, str) else clean(value, _LONGEST)
