"""What ``envelope`` shows: the JSON document, the CSV table and the text."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any

from pdcheck.quantities import Triple, format_quantity
from pdcheck.show.clean import csv_cell
from pdcheck.show.columns import paragraph, table
from pdcheck.show.judged import contract_json, contract_line, finding_json, triple_json
from pdcheck.verdict.envelopes import BranchEnvelope, ContractEnvelope, Envelopes, OutputPoint
from pdcheck.verdict.greatest import Greatest

SCHEMA = "pdcheck/envelope/1"
# One bit of float over nothing is nothing: below this the table says that nothing can be had [W].
NOTHING_W = 1e-6
CSV_HEADER = (
    *("source", "cable", "when", "kind", "contract_v", "contract_a", "branch", "output_v"),
    *(
        f"{name}_{end}_{unit}"
        for name, unit in (("current", "a"), ("power", "w"), ("load", "w"))
        for end in Triple._fields
    ),
    *("limited_by", "limited_by_typ"),
)


def document(found: Sequence[Envelopes], title: str = "") -> dict[str, Any]:
    """The JSON document: ``results``, and the one result's own keys beside it where there is one."""
    results = [envelopes_json(each) for each in found]
    out: dict[str, Any] = {"schema": SCHEMA, "rig": title}
    if len(results) == 1:
        out |= results[0]
    return out | {"results": results}


def envelopes_json(found: Envelopes) -> dict[str, Any]:
    """One rig on one source and cable."""
    return {
        "source": found.source.id,
        "cable": found.cable.id,
        "contracts": [
            {
                "when": each.when,
                "contract": contract_json(each.contract),
                "loads_w": each.together.load_w,
                "loads_scale": each.together.scale,
                "loads_limited_by": None if each.together.first is None else finding_json(each.together.first),
                "branches": [_branch_json(branch) for branch in each.branches],
            }
            for each in found.contracts
        ],
    }


def _branch_json(branch: BranchEnvelope) -> dict[str, Any]:
    best = branch.best if branch.points else None
    return {
        "branch": branch.branch,
        "greatest_w": None if best is None else best.power_w.min,
        "limited_by": None if best is None else best.limited_by,
        "points": [
            {
                "output_v": point.output_v,
                "current_a": triple_json(point.current_a),
                "power_w": triple_json(point.power_w),
                "load_w": triple_json(point.load_w),
                "limited_by": point.limited_by,
                "limited_by_typ": point.limited_by_typ,
            }
            for point in branch.points
        ],
    }


def csv_text(found: Sequence[Envelopes]) -> str:
    """One line for each point, figures in V, A and W, unrounded; what looks like a formula gets an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_HEADER)
    for each in found:
        for row in each.contracts:
            contract = row.contract
            start = [each.source.id, each.cable.id, row.when, contract.kind, contract.voltage_v, contract.current_a]
            for branch in row.branches:
                for point in branch.points:
                    triples = (*point.current_a, *point.power_w, *point.load_w)
                    ends = (point.limited_by, point.limited_by_typ)
                    cells = [*start, branch.branch, point.output_v, *triples, *ends]
                    writer.writerow([csv_cell(each) if isinstance(each, str) else each for each in cells])
    return out.getvalue()


def text(found: Envelopes) -> str:
    """What a person reads: for each contract what the loads together and each output can have."""
    parts = [paragraph(f"{found.source.id} over {found.cable.id}: what each output can deliver", hang=2)]
    for each in found.contracts:
        parts += ["", paragraph(f"{each.when}: {contract_line(each.contract)}", indent=2, hang=2)]
        if each.branches:
            parts.append(paragraph(together_line(each.together), indent=2, hang=2))
            parts += ["", table(["output", "current", "power", "limited by"], list(_rows(each)), indent=4)]
    parts += [
        "",
        paragraph("  at the worst corner, in brackets with everything as stated; other outputs run as stated"),
    ]
    return "\n".join(parts)


def together_line(together: Greatest) -> str:
    """What all loads together can have, in one line."""
    first = together.first
    if together.load_w <= NOTHING_W:
        return "the loads cannot run" if first is None else f"the loads cannot run; {first.subject}: {first.text}"
    power = format_quantity(together.load_w, "W")
    if first is None:
        return f"all loads together: {power} or more, nothing known limits them"
    return f"all loads together: {power}, {together.scale:.3g} x as stated; limited by {first.subject} ({first.rule})"


def _rows(each: ContractEnvelope) -> Iterator[list[str]]:
    for branch in each.branches:
        for point in branch.points:
            yield [
                f"{branch.branch} {format_quantity(point.output_v, 'V')}",
                _worst(point.current_a, "A"),
                _worst(point.power_w, "W"),
                _part(point),
            ]


def _worst(value: Triple, unit: str) -> str:
    """The worst corner first, since it is what may be counted on."""
    if round(value.min, 3) == round(value.typ, 3):
        return f"{value.min:.3f} {unit}"
    return f"{value.min:.3f} {unit} ({value.typ:.3f})"


def _part(point: OutputPoint) -> str:
    if point.limited_by == point.limited_by_typ:
        return point.limited_by
    return f"{point.limited_by} ({point.limited_by_typ})"
