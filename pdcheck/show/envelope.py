"""What ``envelope`` shows: the text, and the columns of the CSV table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from pdcheck.parts.limits import InSeries, rounded
from pdcheck.quantities import Triple, format_quantity
from pdcheck.result import shows
from pdcheck.show.check import contract_line
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import pair_named
from pdcheck.verdict.envelopes import ContractEnvelope, Enveloped, Envelopes
from pdcheck.verdict.finding import Finding
from pdcheck.verdict.greatest import Greatest

_SHARED = (*get_args(InSeries), "connector", "bus", "bus fuse")
THE = {part: f"the {part}" for part in _SHARED} | {"source": "the charger"}
"""What a finding's subject is called within a sentence, where it is no name of a branch."""
# One bit of float over nothing is nothing: below this the table says that there is nothing [W].
NOTHING_W = 1e-6
CSV_COLUMNS = (
    {name: name for name in ("source", "cable", "when")}
    | {"kind": "contract_kind", "contract_v": "contract_voltage_v", "contract_a": "contract_current_a"}
    | {name: name for name in ("branch", "output_v")}
    | {
        f"{name}_{end}_{unit}": f"{name}_{unit}_{end}"
        for name, unit in (("current", "a"), ("power", "w"), ("load", "w"))
        for end in Triple._fields
    }
    | {name: name for name in ("limited_by", "limited_by_typ")}
)
"""The columns of the CSV table, each with the name that its figure has in ``rows``: V, A and W, unrounded."""


@shows(Enveloped)
def enveloped_text(found: Enveloped) -> str:
    return "\n\n".join(text(each) for each in found.results)


def text(found: Envelopes) -> str:
    """What a person reads: for each contract what the loads together and each output can have."""
    parts = [paragraph(f"{pair_named(found.source.id, found.cable.id)}: what each output can deliver", hang=2)]
    for each in found.contracts:
        parts += ["", paragraph(f"{each.when}: {contract_line(each.contract)}", indent=2, hang=2)]
        if each.branches:
            parts.append(paragraph(together_line(each.together), indent=2, hang=2))
            parts += [paragraph(line, indent=2, hang=2) for line in _gets_lines(each)]
            parts += ["", table(["output", "current", "power", "limited by"], list(_rows(each)), indent=4)]
    parts += [
        "",
        paragraph("in the worst case, in brackets with everything as stated; other outputs run as stated", indent=2),
    ]
    return "\n".join(parts)


def together_line(together: Greatest) -> str:
    """What all loads together can have, in one line."""
    first = together.first
    if together.load_w <= NOTHING_W:
        return "the loads cannot run" if first is None else f"the loads cannot run; {first.subject}: {first.text}"
    power = format_quantity(rounded(together.load_w, up=False, digits=3), "W", 3)
    if first is None:
        return f"all loads together: {power} or more, nothing known limits them"
    return f"all loads together: {power}, {together.scale:.3g} times what they take; {beyond(first)} ({first.rule})"


def beyond(first: Finding) -> str:
    """What is in the way of more, as the end of a sentence.

    >>> from pdcheck.facts.origin import COMMON_PRACTICE
    >>> beyond(Finding("source-current", "fail", "source", 3.1, 3.0, "A", COMMON_PRACTICE, "", ""))
    "beyond that the charger's 3 A is the limit"
    """
    whose = THE.get(first.subject, first.subject)
    if first.limit is None:
        return f"beyond that {whose}: {first.text}"
    return f"beyond that {whose}'s {format_quantity(first.limit, first.unit, 3)} is the limit"


def _gets_lines(each: ContractEnvelope) -> Iterator[str]:
    """What the loads straight on the bus get, and what comes of it."""
    for branch in each.branches:
        if branch.gets is not None:
            power, volts = branch.gets.power_w, branch.gets.voltage_v
            meant = each.meant_w(branch.branch)
            of = "" if meant is None else f" of {format_quantity(meant, 'W', 3)}"
            least_w, least_v = format_quantity(power.min, "W", 3), format_quantity(volts.min, "V", 3)
            yield f"{branch.branch} gets {least_w}{of} at {least_v} in the worst case: {branch.gets.text}"


def _rows(each: ContractEnvelope) -> Iterator[list[str]]:
    for branch in each.branches:
        for point in branch.points:
            yield [
                f"{branch.branch} {format_quantity(point.output_v, 'V')}",
                _worst(point.current_a, "A"),
                _worst(point.power_w, "W"),
                point.limited_by
                if point.limited_by == point.limited_by_typ
                else f"{point.limited_by} ({point.limited_by_typ})",
            ]


def _worst(value: Triple, unit: str) -> str:
    """The worst corner first, since it is what may be counted on."""
    if round(value.min, 3) == round(value.typ, 3):
        return f"{value.min:.3f} {unit}"
    return f"{value.min:.3f} {unit} ({value.typ:.3f})"
