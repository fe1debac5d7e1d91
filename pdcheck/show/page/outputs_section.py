"""The section about what each output can deliver on each contract that can occur."""

from __future__ import annotations

from itertools import pairwise

from pdcheck.parts.rig import Branch
from pdcheck.show.page.section import Figure, Section, Sheet
from pdcheck.show.pictures.outputs_picture import Bar, Curve, bars_picture, curves_picture
from pdcheck.show.pictures.shapes import Picture
from pdcheck.verdict.case import Case
from pdcheck.verdict.envelopes import BranchEnvelope, Envelopes, envelopes

_BETWEEN = 4
"""Parts that a curve has between two voltages of the table."""


def outputs_section(found: Envelopes, case: Case) -> Section:
    """Pictures and tables of every branch."""
    figures: list[Figure] = []
    aids: set[str] = set()
    for branch in found.rig.branches:
        if _of(found, branch.name):
            title = f"What {branch.name} {'gets' if branch.converter is None else 'can deliver'}"
            aid = [] if _reading_aid(branch) in aids else [_reading_aid(branch)]
            aids.update(aid)
            figures.append(Figure(branch_picture(found, case, branch.name, title), title, aid))
    text = [
        "The greatest output of each branch while the others keep running, in the worst case and typically, on each "
        "contract that can occur, with the part that sets the limit."
    ]
    tables = [_sheet(found, branch.name) for branch in found.rig.branches if _of(found, branch.name)]
    return Section("outputs", "What the outputs can deliver", "Outputs", text, figures, tables=tables)


def branch_picture(found: Envelopes, case: Case, name: str, title: str) -> Picture:
    """The picture of one branch; what the case asks of it is drawn beside the power."""
    branch = next(each for each in found.rig.branches if each.name == name)
    listed = _of(found, name)
    if branch.converter is None:
        # What such a load gets is told, and not what another in its place could have.
        bars = [
            Bar(when, each.gets.power_w.min, each.gets.power_w.typ, each.gets.text)
            for when, each in listed
            if each.gets
        ]
        return bars_picture(title, bars, branch.load.meant_w(found.rig.design_v), "what it is made for")
    if all(len(each.points) == 1 for _, each in listed):
        bars = [
            Bar(when, point.power_w.min, point.power_w.typ, f"limit: {point.limited_by}")
            for when, each in listed
            for point in each.points
        ]
        volts, amps = case.node_voltage(f"{name}/out"), case.node_current(f"{name}/out")
        given_w = volts.typ * amps.typ if volts is not None and amps is not None and amps.typ > 0 else None
        return bars_picture(title, bars, given_w, "what it takes as it is set")
    return curves_picture(title, _curves(found, name))


def _curves(found: Envelopes, name: str) -> list[Curve]:
    """The curves of one branch: what is listed, and between two listed voltages as many as a straight line needs."""
    listed = sorted({point.output_v for _, each in _of(found, name) for point in each.points})
    between = [
        round(low + (high - low) * at / _BETWEEN, 6) for low, high in pairwise(listed) for at in range(1, _BETWEEN)
    ]
    fine = envelopes(found.rig, found.source, found.cable, branch=name, voltages=sorted([*listed, *between]))
    return [
        Curve(
            when,
            [point.output_v for point in each.points],
            [point.current_a.min for point in each.points],
            [point.output_v in listed for point in each.points],
            [point.limited_by for point in each.points],
        )
        for when, each in _of(fine, name)
    ]


def _reading_aid(branch: Branch) -> str:
    if branch.converter is not None and branch.converter.output_range_v is not None:
        return "Each line a contract, in the worst case."
    if branch.converter is None:
        return "Bar: what this load gets in the worst case; upright stroke: typically; dashed: what it is made for."
    return "Bar: in the worst case; upright stroke: typically; dashed: what it takes as it is set."


def _of(found: Envelopes, name: str) -> list[tuple[str, BranchEnvelope]]:
    rows: list[tuple[str, BranchEnvelope]] = []
    for each in found.contracts:
        title = f"{each.contract.voltage_v:g} V {each.contract.current_a:g} A, {each.when}"
        rows += [(title, branch) for branch in each.branches if branch.branch == name and branch.points]
    return rows


def _sheet(found: Envelopes, name: str) -> Sheet:
    rows: list[list[str]] = []
    for title, branch in _of(found, name):
        points = branch.points
        if len(points) > 1 and not any(point.current_a.typ for point in points):
            span = f"{points[0].output_v:g} to {points[-1].output_v:g} V"
            rows.append([title, span, "nothing", "nothing", points[0].limited_by])
            continue
        rows += [
            [
                title,
                f"{point.output_v:.2f} V",
                f"{point.current_a.min:.3f} A ({point.current_a.typ:.3f})",
                f"{point.power_w.min:.2f} W ({point.power_w.typ:.2f})",
                point.limited_by,
            ]
            for point in points
        ]
    headers = ["contract", "output", "current, worst (typ)", "power, worst (typ)", "limited by"]
    return Sheet(f"Branch {name}", headers, rows)
