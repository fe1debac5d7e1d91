"""Pictures as parts of the page."""

from __future__ import annotations

from typing import Any

from pdcheck.show.pictures.shapes import Picture


def drawing(picture: Picture) -> Any:
    """A picture as markup that the template leaves as it is."""
    from markupsafe import Markup

    return Markup(picture.inline())
