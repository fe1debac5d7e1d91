"""What ``matrix`` shows: cells as a table."""

from __future__ import annotations

from pdcheck.result import shows
from pdcheck.show.clean import clean
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hours_text
from pdcheck.verdict.matrix.matrix import Matrix


@shows(Matrix)
def text(matrix: Matrix) -> str:
    """Cells as a table, and how many of each verdict there are."""
    cells = matrix.cells
    several = len({cell.rig for cell in cells}) > 1
    unsure = any(cell.not_judged for cell in cells)
    lasting = any(cell.hours for cell in cells)
    rows = [
        [
            *([cell.rig] if several else []),
            *(cell.source, cell.cable, cell.verdict, watts(cell.max_w)),
            *(["-" if cell.hours is None else hours_text(cell.hours.min)] if lasting else []),
            cell.rule or "",
            *([str(cell.not_judged or "")] if unsure else []),
        ]
        for cell in cells
    ]
    headers = [*(["rig"] if several else []), "source", "cable", "verdict", "max load"]
    headers += [*(["lasts"] if lasting else []), "because of"]
    summary = clean(matrix.answer())
    if unsure:
        headers.append("not judged")
        summary += "\n\n" + paragraph("Not judged: so many figures are missing that could change it; check lists them.")
    return f"{table(headers, rows)}\n\n{summary}" if cells else summary


def watts(power_w: float) -> str:
    """Watts, rounded down, so that what is shown is really there.

    >>> watts(35.999), watts(0.0)
    ('35.9 W', '-')
    """
    return f"{int(power_w * 10) / 10:.1f} W" if power_w > 0 else "-"
