"""Manual pages: one for each command, with its options; set without a complaint where a program for it is installed."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from pdcheck.cli.commands import COMMANDS
from pdcheck.cli.man_pages import main, pages


def test_every_command_has_a_page_with_its_options() -> None:
    made = pages()
    assert {f"pdcheck-{name}.1" for name in COMMANDS} | {"pdcheck.1", "pdcheck-kit-add.1"} <= set(made)
    assert "\\-\\-strict" in made["pdcheck-check.1"] and "pdcheck\\-check" in made["pdcheck.1"]
    for name, text in made.items():
        assert text.startswith(f'.TH "{name.removesuffix(".1").upper()}" "1"\n') and "\b" not in text


def test_pages_are_set_without_a_complaint(tmp_path: Path) -> None:
    main(str(tmp_path / "man1"))
    setter = shutil.which("groff")
    if setter is None:
        pytest.skip("groff is not installed")
    for path in (tmp_path / "man1").iterdir():
        done = subprocess.run([setter, "-man", "-Tutf8", "-ww", path], capture_output=True, check=True)
        assert done.stderr == b"" and len(done.stdout) > 200
