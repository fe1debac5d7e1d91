"""Drawings for the page, and single plots as files."""

from __future__ import annotations

from typing import Any

from pdcheck.show.page.offers_plot import WorkingPoint
from pdcheck.show.page.plot import Plot
from pdcheck.show.page.svg import inline_svg
from pdcheck.verdict.case import Case


def drawing(plot: Plot, prefix: str) -> Any:
    """A plot as markup that the template leaves as it is."""
    from markupsafe import Markup

    return Markup(inline_svg(plot, prefix))


def working_point(case: Case) -> WorkingPoint | None:
    """Where the rig sits on its source, typically."""
    volts, amps = case.node_voltage("source"), case.node_current("source")
    return None if volts is None or amps is None else WorkingPoint(volts.typ, amps.typ)
