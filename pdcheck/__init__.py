"""pdcheck: what a USB-C source really offers, and whether the build behind it works.

One function for each question, named as the command that asks it; each is loaded when it is first used. They take what
the commands take: texts, paths, or parts made in code. What is wrong with an input is an ``InputError``.

>>> import pdcheck
>>> rig = pdcheck.Rig(trigger="15V", branch=[pdcheck.Branch("heater", wire="20AWG 1m", load="11.25ohm")])
>>> pdcheck.check(rig, source="5V 3A, 9V 3A, 15V 3A", cable="C-C 3A loop=180mOhm")
<Checked: source with cable: runs>
"""

# A type checker takes this for true; typing itself would be half of what the import costs. A name is added here alone.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from pdcheck.asking.audit import audit as audit
    from pdcheck.asking.bringup import bringup as bringup
    from pdcheck.asking.bringup import measured as measured
    from pdcheck.asking.bringup import next_reading as next_reading
    from pdcheck.asking.cable import cable as cable
    from pdcheck.asking.change import change as change
    from pdcheck.asking.check import check as check
    from pdcheck.asking.decode import attached as attached
    from pdcheck.asking.decode import decode as decode
    from pdcheck.asking.draw import draw as draw
    from pdcheck.asking.drop import drop as drop
    from pdcheck.asking.encode import encode as encode
    from pdcheck.asking.envelope import envelope as envelope
    from pdcheck.asking.fuse import fuse as fuse
    from pdcheck.asking.led import led as led
    from pdcheck.asking.matrix import matrix as matrix
    from pdcheck.asking.need import need as need
    from pdcheck.asking.pick import pick as pick
    from pdcheck.asking.runtime import runtime as runtime
    from pdcheck.asking.settings import settings as settings
    from pdcheck.asking.share import share as share
    from pdcheck.asking.talk import talk as talk
    from pdcheck.asking.transient import transient as transient
    from pdcheck.asking.wire import wire as wire
    from pdcheck.bits.bulk import decode_objects as decode_objects
    from pdcheck.bits.bulk import object_rows as object_rows
    from pdcheck.errors import InputError as InputError
    from pdcheck.facts.origin import Origin as Origin
    from pdcheck.parts.box import Box as Box
    from pdcheck.parts.cable import Cable as Cable
    from pdcheck.parts.converter import Converter as Converter
    from pdcheck.parts.kit import Kit as Kit
    from pdcheck.parts.kit_result import kit as kit
    from pdcheck.parts.kit_result import kit_add as kit_add
    from pdcheck.parts.kit_result import kit_remove as kit_remove
    from pdcheck.parts.limits import Level as Level
    from pdcheck.parts.loads import Load as Load
    from pdcheck.parts.rig import Branch as Branch
    from pdcheck.parts.rig import Rig as Rig
    from pdcheck.parts.rig import Tolerance as Tolerance
    from pdcheck.parts.source import Source as Source
    from pdcheck.parts.trigger import Trigger as Trigger
    from pdcheck.parts.wire import Wire as Wire
    from pdcheck.quantities import Triple as Triple
    from pdcheck.result import Result as Result
    from pdcheck.verdict.case import Case as Case
    from pdcheck.verdict.finding import Find as Find
    from pdcheck.verdict.finding import Finding as Finding
    from pdcheck.verdict.finding import Rule as Rule
    from pdcheck.verdict.finding import rule as rule
    from pdcheck.verdict.rule_list import rules as rules

__version__ = "0.1.0"

_SOURCE = __spec__.loader.get_data(__file__).decode()  # type: ignore[union-attr]
_LINES = (line.split() for line in _SOURCE.splitlines() if line.startswith("    from pdcheck."))
_PLACES = {name: place for _, place, _, name, *_ in _LINES}
"""Where each name comes from: the lines for type checkers, which are the only list of them."""

__all__ = [*_PLACES]  # noqa: PLE0604 - names, all of them


if not TYPE_CHECKING:  # a type checker that sees this takes any name for one of the package

    def __getattr__(name):
        if name not in _PLACES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from importlib import import_module

        found = getattr(import_module(_PLACES[name]), name)
        if hasattr(found, "__code__"):
            found = import_module("pdcheck.asking.door").through_the_door(found, name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
