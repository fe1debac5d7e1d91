"""Rules on a charger with several ports: which one the rig is judged on."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rig_rule


@rig_rule(
    "note", COMMON_PRACTICE, "Ask 'pdcheck share' what is left to this port while another is in use.", scope="source"
)
def source_shares(case: Case, find: Find) -> Iterator[Finding]:
    """A charger with several ports, judged on one of them alone."""
    source = case.source
    if source.ports is None or source.port_name is None:
        return
    name = source.port_name
    others = [each for each in source.ports.names if each != name]
    if not others:
        return
    left = []
    for each in source.ports.together:
        if name in each.ports and each.given:
            given = each.given[each.ports.index(name)]
            beside = "+".join(other for other in each.ports if other != name)
            left.append(
                f"{given.power_w:g} W beside {beside}" if given.power_w is not None else f"less beside {beside}"
            )
    told = (
        f"what is printed leaves it {', '.join(left)}"
        if left
        else f"what {', '.join(others)} in use leave to it is not said"
    )
    yield find("source", f"judged on its port {name} alone; {told}: see 'pdcheck share'")
