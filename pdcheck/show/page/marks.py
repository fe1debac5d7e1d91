"""The sign that goes with each verdict, so that no verdict hangs on colour alone."""

from __future__ import annotations

MARKS = {"runs": "✓", "limited": "◐", "fails": "✕", "unsafe": "⚠"}
