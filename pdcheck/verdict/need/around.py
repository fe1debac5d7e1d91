"""Around a need: wires, other settings and fall-backs of the trigger, what one change would spare, why nothing does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any, ClassVar, Literal, get_args

from pdcheck.facts.capabilities import EPR_POWER_MAX
from pdcheck.facts.copper import SMALLEST_AWG, THINNEST_STRIPPED_AWG
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.power_rules import NORMATIVE_VOLTAGES
from pdcheck.marks import AMONG, UNLISTED, UNTOLD, Mark, Named, Schema, passed, told
from pdcheck.named import NamedTuple
from pdcheck.parts.choices import CableClass, Fallback
from pdcheck.parts.request import AS_SETTING, FixedRequest, HighestRequest, NoRequest, Request, request_text
from pdcheck.parts.rig import Branch, Rig
from pdcheck.quantities import Triple, format_quantity
from pdcheck.records import keys_of
from pdcheck.result import Result, object_schema
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE, WORKS, Finding
from pdcheck.verdict.gravest import does_its_job
from pdcheck.verdict.judge import Judgement, judge
from pdcheck.verdict.need.least import (
    CLASSES,
    PDPS_W,
    Market,
    Need,
    cable_of,
    class_limit_ohm,
    kind_of_source,
    runs,
    source_of,
    works,
    works_as_set,
)
from pdcheck.verdict.need.spans import Place, Span, spans_on
from pdcheck.verdict.not_judged import NotJudged

FALLBACKS: tuple[Fallback, ...] = get_args(Fallback)

# Rules whose finding means that something does not come on, or that a heater or a string gets too little of its power,
# as against something that is asked too much.
_STAYS_OFF = ("contract-off", "converter-start", "start-blocked", "load-weak", "led-dark")
# Below its least input under load alone a converter comes on first and sags: only one that is off all along is safe.
_OFF_ALL_ALONG = ("converter-input-low", "led-headroom")
# Least inputs that converters are sold with and that a lower voltage of the power rules reaches [V; common practice].
_LOWER_INPUTS_V = (24.0, 18.0, 13.0, 8.0, 4.5)
# Where nobody states the end of an input range, one that every voltage stays below [V].
_FAR_V = 60.0


class WireNeed(NamedTuple):
    """The thinnest wire that a place takes, everything else as it stands; ``awg`` None where not even the thickest.

    ``loop_ohm`` is that of the cable that it holds on.
    """

    branch: str
    place: Annotated[Literal["wire", "lead"], Named("part")]
    awg: int | None
    loop_ohm: float


class SettingNeed(NamedTuple):
    """What a setting of the trigger asks for: the lowest PDP [W] and class of cable on which the rig works as set.

    ``unsafe_from_w`` is the lowest PDP [W] on which it must not be connected, None where there is none.
    """

    request: Annotated[Request, AS_SETTING, Named("setting")]
    pdp_w: int | None
    cable_class: CableClass | None
    unsafe_from_w: int | None


class LesserSource(NamedTuple):
    """What happens on a run of lesser sources that end up at one bus voltage: ``works``, ``off`` (what does not work
    stays off), ``overload`` (something is asked too much), ``unsafe``; and the rule that decides."""

    bus_v: float
    from_w: int
    to_w: int
    state: Literal["works", "off", "overload", "unsafe"]
    rule: str | None


class FallbackNeed(NamedTuple):
    """A fall-back rule on every source below the one that gives what is asked for."""

    fallback: Fallback
    lesser: tuple[LesserSource, ...]

    @told
    def safe(self) -> bool:
        """Whether everything works or stays safely off on all of them."""
        return all(each.state in ("works", "off") for each in self.lesser)

    @property
    def working(self) -> int:
        """On how many PDPs it works."""
        return sum(each.to_w - each.from_w + 1 for each in self.lesser if each.state == "works")


class Spared(NamedTuple):
    """One change, and the need as set before and after it; None where no charger works."""

    change: str
    pdp_w: int
    cable_class: CableClass
    before_pdp_w: int | None
    before_class: CableClass | None


def least_gauges(rig: Rig, need: Need, loop_ohm: float) -> list[WireNeed]:
    """The thinnest gauge of each wire and lead, on the needed source over a cable of its class with ``loop_ohm``.

    None that is hard to strip: a thinner one would do no better.
    """
    cable = cable_of(need.cable_class, loop_ohm)
    found: list[WireNeed] = []
    for branch in rig.branches:
        for place, wire in (("wire", branch.wire), ("lead", branch.lead)):
            if wire is None:
                continue
            thinnest_first = range(round(THINNEST_STRIPPED_AWG.value), SMALLEST_AWG - 1, -1)
            gauges = ((awg, wire.model_copy(update={"awg": awg, "mm2": None})) for awg in thinnest_first)
            able = (awg for awg, thin in gauges if works_on(rig.with_branch(branch, **{place: thin}), need, cable))
            found.append(WireNeed(branch.name, "wire" if place == "wire" else "lead", next(able, None), loop_ohm))
    return found


def works_on(rig: Rig, need: Need, cable: Any) -> bool:
    """Whether a rig works on the needed source over a cable."""
    return does_its_job(Case(rig, need.case.source, cable))


def setting_needs(market: Market, rig: Rig) -> list[SettingNeed]:
    """What each setting of the trigger would ask for: its own, every voltage of the power rules, and the highest."""
    own = rig.trigger.request
    others: list[Request] = [*(FixedRequest(volts) for volts in NORMATIVE_VOLTAGES), HighestRequest()]
    found: list[SettingNeed] = []
    for request in [own, *(each for each in others if each != own)]:
        changed = rig.with_trigger(request=request)
        cable_class, pdp_w = market.lowest(changed, works_as_set) or (None, None)
        found.append(SettingNeed(request, pdp_w, cable_class, market.unsafe_from_w(changed)))
    return found


def fallback_needs(market: Market, rig: Rig, as_set: Need | None) -> list[FallbackNeed]:
    """What each fall-back rule does on every source that does not give what is asked for."""
    if isinstance(rig.trigger.request, NoRequest):
        return []
    cable_class: CableClass = "3A" if as_set is None else as_set.cable_class
    below = PDPS_W if as_set is None else range(PDPS_W[0], as_set.pdp_w)
    return [
        FallbackNeed(each, tuple(_lesser(market, rig.with_trigger(fallback=each), cable_class, below)))
        for each in FALLBACKS
    ]


def _lesser(market: Market, rig: Rig, cable_class: CableClass, pdps_w: Sequence[int]) -> Iterator[LesserSource]:
    def alike(span: Span) -> tuple[float, str]:
        return span.contract.voltage_v, "works" if span.verdict in WORKS else span.verdict

    cable = cable_of(cable_class, class_limit_ohm(cable_class))
    kind = kind_of_source(rig.trigger.request)
    below = spans_on(cable_class, pdps_w, market.at_limits(rig))
    for (bus_v, verdict), run in groupby(below, alike):
        listed = list(run)
        from_w, to_w = listed[0].from_w, listed[-1].to_w
        # Within a run the least source is asked most of.
        found = judge(rig, source_of(from_w, kind), cable)
        yield LesserSource(bus_v, from_w, to_w, _state(verdict, found), found.rule)


def _state(verdict: str, found: Judgement) -> Literal["works", "off", "overload", "unsafe"]:
    if verdict == "works":
        return "works"
    if verdict == "unsafe":
        return "unsafe"
    grave = [finding for finding in found.findings if finding.level in GRAVE]
    return "off" if all(_stays_off(found, finding) for finding in grave) else "overload"


def _stays_off(found: Judgement, finding: Finding) -> bool:
    return finding.rule in _STAYS_OFF or (finding.rule in _OFF_ALL_ALONG and finding.subject in found.case.off)


def best_fallback(found: Sequence[FallbackNeed], own: Fallback) -> FallbackNeed | None:
    """The rule that keeps everything working or safely off and works most often; its own one among equals."""
    safe = [each for each in found if each.safe]
    return max(safe, key=lambda each: (each.working, each.fallback == own), default=None)


def spared(market: Market, rig: Rig, settings: Sequence[SettingNeed]) -> list[Spared]:
    """Single changes that lower the need as set: the PDP, or the class of cable.

    ``settings`` are the needs of the rig as it stands: a change with another setting counts only where it spares
    something on that setting too.
    """
    known = {each.request: each for each in settings}
    own = known[rig.trigger.request]
    found: list[Spared] = []
    for changes in _changes(rig):
        for change, changed in changes:
            before = (own, known[changed.trigger.request])
            # Where no cable is less, a source has to be.
            if all(each.cable_class == CLASSES[0] for each in before) and market.surely_none(
                changed, works_as_set, range(PDPS_W[0], min(each.pdp_w or 0 for each in before))
            ):
                continue
            after = market.lowest(changed, works_as_set)
            if after is not None and all(_less(after, each) for each in before):
                found.append(Spared(change, after[1], after[0], own.pdp_w, own.cable_class))
                break
    return found


def _less(after: Place, before: SettingNeed) -> bool:
    if before.pdp_w is None or before.cable_class is None:
        return True
    return after[1] < before.pdp_w or CLASSES.index(after[0]) < CLASSES.index(before.cable_class)


def _changes(rig: Rig) -> Iterator[list[tuple[str, Rig]]]:
    """Changes to try, of each kind the mildest first."""
    for branch in rig.branches:
        yield list(_lower_inputs(rig, branch))
        for place, wire in (("wire", branch.wire), ("lead", branch.lead)):
            if wire is not None:
                short = wire.model_copy(update={"length_m": wire.length_m / 2})
                half = format_quantity(wire.length_m / 2, "m", 3)
                yield [
                    (f"{branch.name}: a {place} of half the length, {half}", rig.with_branch(branch, **{place: short}))
                ]
    if rig.trigger.resistance.max > 0:
        yield [("a trigger without resistance of its own", rig.with_trigger(resistance=Triple.exact(0.0)))]
    rated = rig.trigger.rating_a
    if rated is not None and rated < CONTRACT_MAX.value:
        yield [(f"a trigger rated for {CONTRACT_MAX.value:g} A", rig.with_trigger(rating_a=CONTRACT_MAX.value))]


def _lower_inputs(rig: Rig, branch: Branch) -> Iterator[tuple[str, Rig]]:
    """The rig with a converter of a lower least input in a branch, on its own setting and on every lower one."""
    converter, own = branch.converter, rig.trigger.request
    if converter is None:
        return
    most = _FAR_V if converter.input_v is None else converter.input_v[1]
    settings: list[Request] = [own]
    if isinstance(own, FixedRequest):
        settings += [FixedRequest(volts) for volts in reversed(NORMATIVE_VOLTAGES) if volts < own.voltage_v]
    for volts in _LOWER_INPUTS_V:
        if not volts < max(converter.minimum_input_v(), converter.start_v or 0.0) or not volts < most:
            continue
        kind = "buck-boost" if converter.kind == "buck" and volts < converter.output_v else converter.kind
        update = {"input_v": (volts, most), "start_v": None, "dropout_v": 0.0, "kind": kind}
        changed = rig.with_branch(branch, converter=converter.model_copy(update=update))
        what = f"{branch.name}: a {kind} converter that works from {volts:g} V"
        for request in settings:
            told = what if request == own else f"{what}, with the trigger set to {request_text(request)}"
            yield told, changed.with_trigger(request=request)


def why_nothing_does(rig: Rig) -> list[str]:
    """Why no source and cable will do, judged on the greatest source over the best cable: reasons in words."""
    best = judge(
        rig, source_of(PDPS_W[-1], kind_of_source(rig.trigger.request)), cable_of("EPR", 0.01 * class_limit_ohm("EPR"))
    )
    contract = best.case.contract
    # A fall-back is no failure and would go untold; that the trigger gives nothing is one, and told below.
    reasons = [contract.reason] if contract.outcome == "fallback" else []
    typical = None if best.case.point is None else best.case.point.typical
    if typical is not None and typical.source_w > EPR_POWER_MAX.value:
        text = f"it draws {typical.source_w:.4g} W and no USB-C source gives more than {EPR_POWER_MAX.value:g} W"
        reasons.append(f"{text} [{EPR_POWER_MAX.origin}]")
    reasons += [f"{each.subject}: {each.text}" for each in best.findings if each.level in GRAVE][:3]
    return reasons


class Way(NamedTuple):
    """A need, and what the rig does on it: it ``works``, ``works as set``, ``runs``."""

    so_that: str
    need: Annotated[Need, AMONG]


@dataclass(frozen=True, repr=False)
class Needs(Result):
    """All of it: needs of a rig that works, works as set, and runs; each None where nothing does.

    ``wires`` and ``not_judged`` hold on the least source with a cable of its class of ``wires_loop_ohm``, half of
    what it may have: at the greatest resistance nothing could be any worse. ``reasons`` say why nothing does, where
    nothing does.
    """

    SCHEMA: ClassVar[str] = "need/3"
    TITLE: ClassVar[str] = "The least charger and cable that are enough"
    ROWS: ClassVar[tuple[str, ...]] = ("ways",)

    rig: Annotated[Rig, Mark(lambda rig: rig.title, {"type": "string"})]
    reasons: tuple[str, ...]
    least: Annotated[Need | None, AMONG, UNLISTED]
    as_set: Annotated[Need | None, UNLISTED]
    in_hand: Annotated[Need | None, UNLISTED]
    wires: tuple[WireNeed, ...]
    wires_loop_ohm: Annotated[float | None, UNTOLD]
    settings: tuple[SettingNeed, ...]
    fallbacks: tuple[FallbackNeed, ...]
    spared: Annotated[tuple[Spared, ...], Named("changes")]
    not_judged: tuple[NotJudged, ...] = ()

    setting = passed[Annotated[Request, AS_SETTING]]("rig.trigger.request", "What the trigger is set to.")
    fallback = passed[Fallback]("rig.trigger.fallback", "What it does without that.")

    @told
    def possible(self) -> bool:
        """Whether any source and cable will do."""
        return self.least is not None

    @told
    def best_fallback(self) -> Fallback | None:
        """The fall-back that keeps everything working or safely off and works most often, if any does."""
        best = best_fallback(self.fallbacks, self.fallback)
        return None if best is None else best.fallback

    @property
    def works(self) -> bool:
        """Whether any source and cable will do: exit code 0."""
        return self.possible

    def answer(self) -> str:
        """The least source and the class of cable."""
        return "no charger works" if self.least is None else f"{self.least.pdp_w} W, {self.least.cable_class} cable"

    @property
    def ways(self) -> tuple[Way, ...]:
        """Each need that there is: of a rig that works, works as set, and runs."""
        needs = {"works": self.least, "works as set": self.as_set, "runs": self.in_hand}
        return tuple(Way(what, each) for what, each in needs.items() if each is not None)

    def to_dict(self) -> dict[str, Any]:
        """The JSON document: where nothing does, what would be needed is null."""
        document = super().to_dict()
        return document | {each.key: None for each in keys_of(Need) if each.key not in document}

    @classmethod
    def json_schema(cls, shared: dict[str, Schema]) -> Schema:
        """The schema of that."""
        schema = object_schema(cls, shared)
        among = schema.pop("dependentRequired")
        schema["required"] += among
        for key in among:
            known = schema["properties"][key]
            schema["properties"][key] = {"anyOf": [known, {"type": "null"}]}
        return schema


def all_needs(rig: Rig) -> Needs:
    """What a rig needs, and what would change it."""
    market = Market()
    least, as_set, in_hand = (market.need(rig, accept) for accept in (works, works_as_set, runs))
    settings = setting_needs(market, rig)
    loop_ohm: float | None = None
    opened: tuple[NotJudged, ...] = ()
    if least is not None:
        loop_ohm = 0.5 * min(class_limit_ohm(least.cable_class), least.loop_ohm or float("inf"))
        opened = judge(rig, least.case.source, cable_of(least.cable_class, loop_ohm)).not_judged
    return Needs(
        rig,
        tuple(why_nothing_does(rig)) if least is None else (),
        least,
        as_set,
        in_hand,
        () if least is None or loop_ohm is None else tuple(least_gauges(rig, least, loop_ohm)),
        loop_ohm,
        tuple(settings),
        tuple(fallback_needs(market, rig, as_set)),
        tuple(spared(market, rig, settings)),
        opened,
    )
