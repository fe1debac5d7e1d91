"""The README as an index shows it: links to files of this checkout, which lead nowhere there, as plain text."""

from __future__ import annotations

import re
from pathlib import Path

from hatchling.metadata.plugin.interface import MetadataHookInterface


class Readme(MetadataHookInterface):
    """Called by the build; ``[tool.hatch.metadata.hooks.custom]``."""

    def update(self, metadata: dict[str, object]) -> None:
        text = (Path(self.root) / "README.md").read_text(encoding="utf-8")
        held = re.sub(r"(?<!!)\[([^\]]*)\]\((?![a-z]+:)[^)]*\)", r"\1", text)
        metadata["readme"] = {"content-type": "text/markdown", "text": held}
