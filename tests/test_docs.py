"""Every example in README and docs is run: its output must be what the page shows.

A block of kind ``console`` holds commands after ``$`` and what they print. They run in a folder with the demo's files.
``docs/python.md`` is a notebook: its blocks of kind ``python`` run one after the other, each before what it prints.
``python -m tests.test_docs`` puts the present output into the pages.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from pdcheck.bits.pages import page as words_page
from pdcheck.contract.talk.pages import page as states_page
from pdcheck.facts.cautions import cautions_markdown
from pdcheck.show.demo import copy_files
from pdcheck.show.rules import markdown
from pdcheck.show.schema_files import markdown as schemas_page
from tests.patience import PATIENCE_S

ROOT = Path(__file__).parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
CELL = re.compile(r"^```python\n(.*?)^```$\n(?:\n```text\n(.*?)^```$\n)?", re.MULTILINE | re.DOTALL)
NOTEBOOK = ROOT / "docs" / "python.md"
RULES_PAGE = ROOT / "docs" / "rules.md"
ANEW = "the page is made anew by: python -m tests.test_docs"


def run(command: str, folder: Path) -> str:
    """What a command prints, standard error after standard output; pipes and redirections work."""
    environment = os.environ | {"COLUMNS": "80", "NO_COLOR": "1", "LC_ALL": "C.UTF-8"}
    tool = f"{shlex.quote(sys.executable)} -m pdcheck"
    line = re.sub(r"(^|\|\s*)pdcheck\b", lambda match: match[1] + tool, command)
    done = subprocess.run(
        ["sh", "-c", line], cwd=folder, env=environment, capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )
    said = done.stdout + done.stderr
    assert "Traceback" not in said, said  # a page never shows one
    return said


def rendered(block: str, folder: Path) -> str:
    """The block with the present output of its commands."""
    commands = [line for line in block.splitlines() if line.startswith("$ ")]
    return "".join(f"{line}\n{run(line[2:], folder)}" for line in commands)


def demo_folder(folder: Path) -> Path:
    copy_files(str(folder))
    return folder


EXAMPLES = [
    pytest.param(page, index, id=f"{page.name}-{index}")
    for page in PAGES
    for index, _ in enumerate(BLOCK.findall(page.read_text(encoding="utf-8")))
]


@pytest.mark.parametrize(("page", "index"), EXAMPLES)
def test_the_page_shows_what_the_command_prints(page: Path, index: int, tmp_path: Path) -> None:
    block = BLOCK.findall(page.read_text(encoding="utf-8"))[index]
    assert rendered(block, demo_folder(tmp_path)) == block, ANEW


def cells(page: str) -> list[str]:
    """The blocks of code of the notebook."""
    return [code for code, _ in CELL.findall(page)]


def run_cells(codes: list[str], folder: Path) -> list[str]:
    """What each block prints, run one after the other in a folder with the demo's files."""
    copy_files(str(folder))
    names: dict[str, object] = {"__name__": "notebook"}
    printed = []
    with contextlib.chdir(folder):
        for code in codes:
            with contextlib.redirect_stdout(io.StringIO()) as out:
                exec(compile(code, NOTEBOOK.name, "exec"), names)
            printed.append(out.getvalue())
    return printed


def fresh_notebook(page: str, folder: Path) -> str:
    """The notebook with the present output of its blocks."""
    printed = iter(run_cells(cells(page), folder))

    def fresh(match: re.Match[str]) -> str:
        said = next(printed)
        return f"```python\n{match[1]}```\n" + (f"\n```text\n{said}```\n" if said else "")

    return CELL.sub(fresh, page)


def test_the_notebook_shows_what_its_blocks_print(tmp_path: Path) -> None:
    page = NOTEBOOK.read_text(encoding="utf-8")
    assert len(cells(page)) > 8
    assert fresh_notebook(page, tmp_path) == page, ANEW


def test_the_page_of_rules_is_the_rules() -> None:
    assert RULES_PAGE.read_text(encoding="utf-8") == markdown(), ANEW


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), f"{page.name} points at {target}"


def refresh() -> None:
    """Put the present output into every page."""
    made = {"words": words_page, "states": states_page, "cautions": cautions_markdown, "schemas": schemas_page}
    for name, make in {"rules": markdown, **made}.items():
        (ROOT / "docs" / f"{name}.md").write_text(make(), encoding="utf-8")
    with tempfile.TemporaryDirectory() as name:
        new = fresh_notebook(NOTEBOOK.read_text(encoding="utf-8"), Path(name))
    NOTEBOOK.write_text(new, encoding="utf-8")
    for page in PAGES:
        text = page.read_text(encoding="utf-8")

        def fresh(match: re.Match[str]) -> str:
            with tempfile.TemporaryDirectory() as name:
                return f"```console\n{rendered(match[1], demo_folder(Path(name)))}```"

        new = BLOCK.sub(fresh, text)
        if new != text:
            page.write_text(new, encoding="utf-8")
            print(f"refreshed {page.relative_to(ROOT)}")


if __name__ == "__main__":
    refresh()
