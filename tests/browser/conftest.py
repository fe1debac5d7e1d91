"""A browser for the page. Where it, playwright or axe-core is missing the tests are skipped and say so.

Where PDCHECK_AXE names axe-core's file, as in ``.ci/run``, nothing is skipped: what is missing is then a failure.
"""

import os
import shutil
from pathlib import Path

import pytest

from tests.conftest import call

DATA = Path(__file__).parents[2] / "pdcheck" / "data"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def missing(what):
    if os.environ.get("PDCHECK_AXE"):
        pytest.fail(f"{what} is missing")
    pytest.skip(f"{what} is not installed")


@pytest.fixture(scope="session")
def browser():
    """The system's Chromium."""
    path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
    if path is None:
        missing("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright (pip install '.[browser]')")
    with sync_playwright() as tool:
        opened = tool.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def axe():
    """The script of axe-core."""
    named = os.environ.get("PDCHECK_AXE")
    path = Path(named or Path(__file__).parents[2] / "node_modules" / "axe-core" / "axe.min.js")
    if not path.is_file():
        missing("axe-core (npm install axe-core, or PDCHECK_AXE=path/to/axe.min.js)")
    return path.read_text(encoding="utf-8")


def made(folder, *arguments):
    path = folder / "page.html"
    outcome = call("report", *arguments, "-o", path)
    assert outcome.code in (0, 1), outcome.err
    return path


@pytest.fixture(scope="session")
def pages(tmp_path_factory, browser):
    """Pages by name: one that runs, one that fails, one with awkward names and a source of every kind of offer."""
    kit = DATA / "kit.toml"
    awkward = tmp_path_factory.mktemp("rig") / "awkward.toml"
    awkward.write_text(AWKWARD, encoding="utf-8")
    old = ("--source", "wall-45", "--cable", "a-to-c")
    return {
        "runs": made(tmp_path_factory.mktemp("runs"), DATA / "pier-box.toml", "--kit", kit),
        "fails": made(tmp_path_factory.mktemp("fails"), DATA / "pedalboard.toml", "--kit", kit, *old),
        "awkward": made(tmp_path_factory.mktemp("awkward"), awkward),
    }


AWKWARD = r"""
title = "<script>document.title = 'run'</script>"
[trigger]
title = "<img src=x onerror=alert(2)>"
request = "20V"
rating = "3A"
[[branch]]
name = "a-name-of-one-word-that-goes-on-for-as-long-as-a-name-may-go-on"
converter = { kind = "buck", input = "9V-24V", output = "12V", output_range = "3V-15V", title = "</li>" }
load = { power = "24W" }
[[branch]]
name = "strip"
load = { led = { count = 3, vf = "3.4V", current = "250mA" } }
[[source]]
id = "brick-with-an-id-of-one-word-that-is-long"
title = "140 W charger with four ports, a folding plug and a title that goes on as sellers write them, and on and on"
offers = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; PPS 3.3-21V 5A; AVS 15-28V 140W"
captured_over = "EPR"
[[cable]]
id = "long-one-for-extended-power-range-from-the-drawer"
kind = "EPR"
loop = "150mOhm"
"""


@pytest.fixture(scope="session")
def big_page(tmp_path_factory, browser):
    """The page for a kit of 50 sources and 20 cables."""
    labels = [
        "5V 3A, 9V 3A, PPS 3.3-11V 3A",
        "5V 3A, 9V 3A, 15V 3A, PPS 3.3-16V 3A",
        "5V 3A, 9V 3A, 15V 3A, 20V 5A, PPS 3.3-21V 5A",
        "5V 3A, 9V 2A, 12V 1.5A",
        "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A, AVS 15-28V 140W",
    ]
    sources = "".join(f'[[source]]\nid = "s{at:02}"\noffers = "{labels[at % 5]}"\n' for at in range(50))
    ratings = ["3A", "5A"]
    cables = "".join(
        f'[[cable]]\nid = "c{at:02}"\nkind = "C-C"\nrating = "{ratings[at % 2]}"\nloop = "{100 + 10 * at}mOhm"\n'
        for at in range(20)
    )
    folder = tmp_path_factory.mktemp("big")
    kit = folder / "kit.toml"
    kit.write_text(sources + cables, encoding="utf-8")
    return made(folder, DATA / "pier-box.toml", "--kit", kit)
