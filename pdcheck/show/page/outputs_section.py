"""The section about what each output can deliver on each contract that can occur."""

from __future__ import annotations

from pdcheck.parts.rig import Branch
from pdcheck.show.page.drawing import drawing
from pdcheck.show.page.outputs_plot import EnvelopeLine, outputs_plot
from pdcheck.show.page.plot import Plot
from pdcheck.show.page.section import Figure, Section, Sheet
from pdcheck.verdict.case import Case
from pdcheck.verdict.envelopes import BranchEnvelope, Envelopes


def outputs_section(found: Envelopes, case: Case) -> Section:
    """Pictures and tables of every branch."""
    figures: list[Figure] = []
    for index, branch in enumerate(found.rig.branches):
        if _of(found, branch.name):
            svg = drawing(branch_plot(found, case, branch.name), f"outputs{index}")
            figures.append(Figure(svg, f"What {branch.name} can deliver", [_reading_aid(branch)]))
    text = [
        "The greatest output of each branch while the others keep running, in the worst case and typically, on each "
        "contract that can occur, with the part that sets the limit."
    ]
    tables = [_sheet(found, branch.name) for branch in found.rig.branches if _of(found, branch.name)]
    return Section("outputs", "What the outputs can deliver", "Outputs", text, figures, tables=tables)


def branch_plot(found: Envelopes, case: Case, name: str, **options: object) -> Plot:
    """The picture of one branch; what the case asks of it is drawn beside the power."""
    lines = [
        EnvelopeLine(
            title,
            [point.output_v for point in branch.points],
            [point.current_a.min for point in branch.points],
            [point.current_a.typ for point in branch.points],
            [point.power_w.min for point in branch.points],
            [point.power_w.typ for point in branch.points],
            [point.limited_by for point in branch.points],
        )
        for title, branch in _of(found, name)
    ]
    return outputs_plot(lines, _asked_w(case, name), **options)  # type: ignore[arg-type]


def _asked_w(case: Case, name: str) -> float | None:
    """What the branch gives now where the envelope is measured: at the converter's output, else at the load [W]."""
    for node in (f"{name}/out", f"{name}/load"):
        volts, amps = case.node_voltage(node), case.node_current(node)
        if volts is not None and amps is not None and amps.typ > 0:
            return volts.typ * amps.typ
    return None


def _reading_aid(branch: Branch) -> str:
    if branch.converter is not None and branch.converter.output_range_v is not None:
        return "Each line a contract, in the worst case."
    return "Bar: in the worst case; upright stroke: typically; dashed: what it asks for as it is set."


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
