"""The sign that goes with each verdict, so that none is told by colour alone."""

from __future__ import annotations

MARKS = {"runs": "✓", "limited": "◐", "fails": "✕", "unsafe": "⚠"}
