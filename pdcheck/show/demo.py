"""The demo: the packaged kit and rigs taken through the whole job, as a newcomer would read it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, ClassVar

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.facts.cautions import CAUTIONS
from pdcheck.marks import UNTOLD, told
from pdcheck.named import NamedTuple
from pdcheck.parts.kit import Kit
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.parts.writing import write_whole
from pdcheck.result import Result, shows
from pdcheck.show.clean import pasted
from pdcheck.show.columns import paragraph, table
from pdcheck.show.on_pairs import on_pairs
from pdcheck.verdict.judge import Judgement, judge_pairs, pairs_of
from pdcheck.verdict.rules.source import power_reading
from pdcheck.verdict.settings import best_setting

RIGS = ("pier-box", "pedalboard", "field-sensor")


class DemoSource(NamedTuple):
    """A source of the packaged kit."""

    id: str
    title: str
    offers: tuple[Offer, ...]


class DemoRig(NamedTuple):
    """A packaged rig on every pair of the kit."""

    id: str
    title: str
    results: tuple[Judgement, ...]
    rig: Annotated[Rig, UNTOLD]

    @property
    def working(self) -> int:
        """The number of pairs that it works on."""
        return sum(each.works for each in self.results)


def demo_kit() -> Kit:
    return Kit.from_toml(_text("kit"), "kit.toml")


def demo_rig(name: str) -> Rig:
    return Rig.from_toml(_text(name), f"{name}.toml")


def _text(name: str) -> str:
    return (Path(__file__).parents[1] / "data" / f"{name}.toml").read_text(encoding="utf-8")


def copy_files(folder: str) -> list[Path]:
    """Put kit and rigs into a folder; a file that is there already is left alone.

    Raises ``InputError`` where a file of the name exists, or the folder cannot be written.
    """
    target = Path(folder)
    paths = [target / f"{name}.toml" for name in ("kit", *RIGS)]
    taken = next((path for path in paths if path.exists()), None)
    if taken is not None:
        raise InputError("is there already", where=str(taken), expected="a folder without the demo's files")
    try:
        target.mkdir(parents=True, exist_ok=True)
        for path in paths:
            write_whole(path, _text(path.stem), new=True)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        what = getattr(error, "strerror", None) or "cannot be written"
        raise InputError(what.lower(), where=str(target)[:80]) from None
    return paths


@dataclass(frozen=True, repr=False)
class DemoResult(Result):
    """The packaged kit and rigs taken through the whole job."""

    SCHEMA: ClassVar[str] = "demo/3"
    TITLE: ClassVar[str] = "The whole job on invented data"
    ROWS: ClassVar[tuple[str, ...]] = ("rigs", "results")

    kit: Annotated[Kit, UNTOLD]
    rigs: tuple[DemoRig, ...]

    @told
    def sources(self) -> tuple[DemoSource, ...]:
        """The sources of the kit."""
        return tuple(DemoSource(each.id, each.title, each.offers) for each in self.kit.sources)

    @told
    def cautions(self) -> tuple[str, ...]:
        """What to heed with all of it."""
        return tuple(caution.text for caution in CAUTIONS)

    def answer(self) -> str:
        """On how many pairs each rig works."""
        return ", ".join(f"{rig.id} on {rig.working} of {len(rig.results)} pairs" for rig in self.rigs)


def demo() -> DemoResult:
    """The whole job on invented data: what each source offers, and every rig judged on every pair."""
    kit = demo_kit()
    rigs = [(name, demo_rig(name)) for name in RIGS]
    return DemoResult(
        kit,
        tuple(DemoRig(name, rig.title, judge_pairs(rig, pairs_of(kit)), rig) for name, rig in rigs),
    )


@shows(DemoResult)
def text(result: DemoResult, folder: str | None = None) -> str:
    kit = result.kit
    parts = [
        paragraph(
            "A demo on invented chargers, cables and builds: what each source offers, which voltage to set, whether "
            "everything carries it, and what to do next."
        ),
        "",
        "1. What the sources offer",
        "",
        table(["source", "looks like", "offers"], [_source_row(source) for source in kit.sources]),
        "",
        "2. What the cables carry",
        "",
        table(["cable", "carries", "loop resistance"], [_cable_row(cable) for cable in kit.cables]),
    ]
    for number, rig in enumerate(result.rigs, 3):
        trigger = rig.rig.trigger
        setting = f"trigger set to {request_text(trigger.request)}, else {trigger.fallback}"
        parts += ["", paragraph(f"{number}. {rig.title}: {setting}", hang=3), ""]
        parts += on_pairs(rig.rig, rig.results, best_setting(rig.rig, kit))
    box, kit_path = (pasted(f"{folder or 'try'}/{name}.toml") for name in ("pier-box", "kit"))
    copied = [] if folder else ["  These files, to change and try again:", "  pdcheck demo --copy try"]
    parts += [
        "",
        "Next",
        "",
        *copied,
        f"  pdcheck check {box} --kit {kit_path} --source wall-45 --cable thin-2m",
        "  Your own charger, by its label or a capture of it:",
        '  pdcheck decode "5V 3A, 9V 3A"',
        "  Your own build, by what you want out:",
        '  pdcheck check --output 12V@2A --source "5V 3A, 9V 3A, 15V 3A"',
        "",
        "Cautions",
        "",
        *(paragraph(f"- {caution}", indent=2, hang=2) for caution in result.cautions),
    ]
    return "\n".join(parts)


def _source_row(source: Any) -> list[str]:
    reading = power_reading(source)
    looks = "?" if reading.judged_w is None else f"{reading.judged_w:g} W"
    listed = ", ".join(_short(offer) for offer in source.offers)
    return [source.id, looks, listed]


def _short(offer: Any) -> str:
    top = f"{offer.max_mv / 1000:g}V"
    if offer.kind == "fixed":
        return f"{top} {offer.current_ma / 1000:g}A"
    span = f"{offer.kind.upper()} {offer.min_mv / 1000:g}-{top}"
    return f"{span} {offer.current_ma / 1000:g}A" if offer.current_ma is not None else f"{span} {offer.pdp_w}W"


def _cable_row(cable: Any) -> list[str]:
    reach = f"{cable.current_a:g} A, up to {cable.voltage_v:g} V" if cable.pd else "5 V only, no PD"
    loop, assumed = cable.loop_ohm()
    resistance = f"{loop.typ * 1000:.0f} mΩ"
    if assumed:
        resistance = f"not measured: {resistance}, at worst {loop.max * 1000:.0f} mΩ"
    return [cable.id, reach + (", EPR" if cable.is_epr else ""), resistance]
