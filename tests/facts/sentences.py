"""What people are told: rules and what breaks them, helps, cautions, and what the commands print of odd builds."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterator
from typing import Any

import click

import pdcheck
from pdcheck.bits.pages import page as words_page
from pdcheck.cli import group
from pdcheck.cli.commands import COMMANDS
from pdcheck.contract.talk.pages import page as states_page
from pdcheck.errors import InputError
from pdcheck.facts.cautions import CAUTIONS, PACK_CAUTIONS
from pdcheck.facts.cautions import cautions_markdown as cautions_page
from pdcheck.show.rules import markdown as rules_page
from pdcheck.show.schema_files import markdown as schemas_page
from tests.contract.test_audit_rules import FAULTS, MORE
from tests.verdict.test_rules_each import CASES

# Figures that no fact has: what shows a fact's figure then has it from the fact.
RIG = """
title = "Pond station"
[trigger]
request = "15V"
rating = "4.3A"
[box]
size = "131mm x 83mm x 41mm"
[[branch]]
name = "pump"
fuse = "3.15A"
wire = { awg = 21, length = "1.3m", contacts = "11mOhm" }
converter = { kind = "buck", input = "6.1V-27V", output = "11.7V", output_limit = "2.3A", rise = "17K/W" }
load = { power = "13.7W", peak = "17W" }
[[branch]]
name = "strip"
load = { led = { count = 3, vf = "3.3V", current = "230mA", driver = "resistor" } }
[[branch]]
name = "pack"
converter = { kind = "buck-boost", output = "12.9V" }
load = { pack = { cells = 3, end = "4.15V", current = "0.7A" } }
"""
OFFERS = "5V 2.9A, 9V 2.9A, 15V 2.9A, 20V 2.3A; PPS 3.4-15.7V 2.9A"
BANK = "Rated capacity 11700mAh 5V 2.9A, 19000mAh at 3.65V, 69Wh; 5V 2.9A, 9V 2.9A, 15V 2.9A"


def all_sentences(*, captures: bool = True) -> Iterator[str]:
    """Without ``captures`` no words of a log are asked about: their figures are in hex."""
    for make in _asked(captures):
        try:
            text = make()
        except (InputError, ArithmeticError, ValueError, LookupError, AssertionError):
            continue  # with a fact halved, not every build is one
        yield from sentences(text)


def sentences(text: str) -> Iterator[str]:
    """The sentences of a text that was wrapped for a terminal, one for each item of a list or row of a table."""
    for part in re.split(r"\n(?=\S)|\n\s*\n|\n(?=\s*(?:->|-|\*|!|[a-z/-]+  ))", text):
        yield from re.split(r"(?<=[.;:])\s+(?=[A-Z])", " ".join(part.split()))


def _asked(captures: bool) -> Iterator[Callable[[], str]]:
    for name in COMMANDS:
        yield lambda name=name: _help(name)
    for name in pdcheck.__all__:
        yield lambda name=name: _doc(getattr(pdcheck, name))
    yield lambda: str(pdcheck.rules())
    yield lambda: "\n".join(f"{each.title} {each.origin} {each.advice}" for each in pdcheck.rules().rules)
    yield lambda: "\n".join(each.text for each in (*CAUTIONS, *PACK_CAUTIONS))
    for broken, _ in CASES.values():
        yield lambda broken=broken: "\n".join(f"- {each.text}\n- {each.advice}" for each in broken().findings)
    yield from (states_page, rules_page, schemas_page, cautions_page)
    if captures:
        yield words_page  # its figures are the codes
    for *_, make in (*FAULTS, *MORE) if captures else ():
        yield lambda make=make: "\n".join(
            f"- {one.finding.text}\n- {one.finding.advice}" for one in make().judge().remarks
        )
    yield from _questions()


def _questions() -> Iterator[Callable[[], str]]:
    rig, source, cable = pdcheck.Rig.from_toml(RIG), pdcheck.Source(OFFERS), pdcheck.Cable("C-C 3A 1.1m")
    pair: dict[str, Any] = {"source": source, "cable": cable}
    yield lambda: str(pdcheck.check(rig, **pair))
    yield lambda: str(pdcheck.check(rig, source=source, cable=pdcheck.Cable("A-C")))
    yield lambda: str(pdcheck.bringup(rig, **pair))
    yield lambda: str(pdcheck.envelope(rig, **pair))
    yield lambda: str(pdcheck.change(rig, **pair))
    yield lambda: str(pdcheck.fuse(rig, **pair))
    yield lambda: str(pdcheck.runtime(rig, source=pdcheck.Source(BANK), cable=cable))
    yield lambda: str(pdcheck.settings(source, cable=cable))
    yield lambda: str(pdcheck.talk(rig, **pair))
    yield lambda: str(pdcheck.matrix(rig, pdcheck.Kit(sources=(source,), cables=(cable,))))
    yield lambda: str(pdcheck.share([rig], "C1 57W, C2 29W, C1+C2: 43W+17W", cable=cable))
    for output in ("11.7V@2.3A", "14.3V@2.1A", "4.1V@0.3A"):
        for converter in (None, "buck", "buck-boost:6.1-37V:4.7A:91%"):
            yield lambda output=output, converter=converter: str(pdcheck.pick(source, output, converter=converter))
    for what in ("C-C", "C-C 5A 2.1m", "A-C", "captive 3A", "EPR", "unmarked 1.7m"):
        yield lambda what=what: str(pdcheck.cable(what, at="2.3A"))
    yield lambda: str(pdcheck.cable("0xFF00A041 0x18600000 0x00000000 0x00010001 0x000A2640", at="5.7A"))
    yield lambda: str(pdcheck.wire("1.7m", "2.3A", drop="0.17V"))
    yield lambda: str(pdcheck.wire("1.7m", "7.1A", awg="23"))
    for more in ({"headroom": "1.1V"}, {}):
        yield lambda more=more: str(pdcheck.led(3, "3.3V", "230mA", on="9V,13V,19V", **more))
    yield lambda: str(pdcheck.drop("5.13V", "4.41V", at="2.3A"))


def _help(name: str) -> str:
    command = group.get_command(click.Context(group), name)
    assert command is not None
    return command.get_help(click.Context(command, info_name=name, terminal_width=200, max_content_width=200))


def _doc(shown: Any) -> str:
    """What ``help`` says, without its examples."""
    return re.sub(r"(?m)^\s*(>>>|\.\.\.).*\n(?:(?!\s*$|\s*>>>).*\n?)*", "", f"{inspect.getdoc(shown) or ''}\n")


def _found(make: Callable[[], Any]) -> Iterator[pdcheck.Finding]:
    yield from (remark.finding for remark in make().judge().remarks)
