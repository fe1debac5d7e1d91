"""A rule of one's own: the bus stays above 14 V."""

from collections.abc import Iterator

import pdcheck


@pdcheck.rule("stiff-bus", "fail", "The bus stays above 14 V", "my scope's manual", "Take a shorter cable.")
def stiff_bus(case: pdcheck.Case, find: pdcheck.Find) -> Iterator[pdcheck.Finding]:
    low = case.worst_low("bus")
    if 0 < low < 14:
        yield find("bus", f"sags to {low:.2f} V", low, 14.0, "V")


for cable in ("thin-2m", "short-5a"):
    result = pdcheck.check("pier-box.toml", "kit.toml", "wall-45", cable, rules=[stiff_bus])
    print(cable, bool(result), [finding.text for finding in result.results[0].findings if finding.rule == "stiff-bus"])
