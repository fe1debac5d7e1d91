"""What happens after plugging in, in words and in order; what comes again and again is told once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pdcheck.circuit.transient.given import Branch, Circuit
from pdcheck.circuit.transient.result import Moment
from pdcheck.named import NamedTuple
from pdcheck.quantities import format_quantity
from pdcheck.show.talk import Line, folded

TOGETHER_S = 0.3e-3
"""What happens to several branches within this time is told in one sentence."""
STARTING_S = 0.02
"""A converter that stops so soon after its start has failed to start."""
_DULL = ("converter up", "regulates", "wakes")


class Told(NamedTuple):
    """One sentence: when [s], and what; ``until_s`` [s] is where something that repeats ends."""

    time_s: float
    text: str
    until_s: float | None = None


class _Group(NamedTuple):
    first: Moment
    names: tuple[str, ...]
    lowest_v: float | None


def story(moments: Sequence[Moment], circuit: Circuit) -> list[Told]:
    """The sentences, in order."""
    lines: list[Line] = []
    skips: dict[float, Moment] = {}
    limit_a, started_s = 0.0, dict.fromkeys((branch.name for branch in circuit.branches), -1.0)
    for group in _groups(_of_interest(moments, circuit)):
        moment = group.first
        if moment.what in ("plugged in", "contract", "level"):
            limit_a = moment.current_a or 0.0
        elif moment.what in ("unplugged", "trips", "reset"):
            limit_a = 0.0
        elif moment.what == "converter starts":
            started_s |= dict.fromkeys(group.names, moment.time_s)
        if moment.what == "goes on so":
            if lines:
                skips[lines[-1].time_s] = moment
            continue
        fresh = all(moment.time_s - started_s.get(name, -1.0) < STARTING_S for name in group.names)
        text = _words(group, circuit, limit_a if fresh else 0.0)
        lines.append(Line(moment.time_s, moment.what, text, "", f"{moment.what} {group.names}"))
    return _told(lines, skips)


def _told(lines: Sequence[Line], skips: dict[float, Moment]) -> list[Told]:
    found: list[Told] = []
    shown = folded(lines)
    ends = {line.time_s: at for at, line in enumerate(lines)}
    for each in shown:
        line = each.line
        if not each.times:
            found.append(Told(line.time_s, line.text))
            continue
        last = ends[line.time_s]
        first = last - each.block * (each.times + 1) + 1
        begin_s = lines[first].time_s
        skipped = [skip.lasts_s for at, skip in skips.items() if begin_s <= at <= line.time_s and skip.lasts_s]
        period_s = skipped[0] if skipped else (line.time_s - lines[first + each.block - 1].time_s) / each.times
        count = round((line.time_s - lines[first + each.block - 1].time_s) / period_s)
        again = f"this repeats every {_figure(period_s, 's')}, {count} times, until {_figure(line.time_s, 's')}"
        found.append(Told(lines[min(first + each.block, last)].time_s, again, line.time_s))
    for at, skip in skips.items():
        if not any(each.until_s is not None and each.time_s <= at <= each.until_s for each in found):
            again = f"this repeats every {_figure(skip.lasts_s or 0.0, 's')}, {skip.times} times more"
            found.append(Told(at, again, skip.time_s + (skip.lasts_s or 0.0) * (skip.times or 0)))
    return sorted(found, key=lambda each: each.time_s)


def _of_interest(moments: Sequence[Moment], circuit: Circuit) -> Iterable[Moment]:
    converted = {branch.name for branch in circuit.branches if branch.converter is not None}
    failing_s = [moment.time_s for moment in moments if moment.what in ("converter stops", "browns out", "trips")]
    arrived = False
    for moment in moments:
        if moment.what in _DULL:
            continue
        if moment.what == "limits" and any(0.0 <= at - moment.time_s < STARTING_S for at in failing_s):
            continue
        if moment.what == "load starts" and moment.subject in converted:
            continue
        if moment.what == "arrives" and not arrived and moment.voltage_v == circuit.source.plain.voltage_v:
            arrived = True
            continue
        yield moment


def _groups(moments: Iterable[Moment]) -> list[_Group]:
    """Moments of one kind of several branches, each of them once, within a short time of each other."""
    found: list[_Group] = []
    for moment in moments:
        last = found[-1] if found else None
        if (
            last is not None
            and moment.what == last.first.what
            and moment.subject not in ("source", "trigger", *last.names)
            and moment.time_s - last.first.time_s <= TOGETHER_S
        ):
            volts = [each for each in (last.lowest_v, moment.voltage_v) if each is not None]
            names = tuple(sorted((*last.names, moment.subject)))
            found[-1] = _Group(last.first, names, min(volts, default=None))
        else:
            found.append(_Group(moment, (moment.subject,), moment.voltage_v))
    return found


_SAID = {
    "plugged in": "plugged in: the charger gives {volts}, up to {amps}",
    "unplugged": "the plug is pulled",
    "limits": "the charger is at its limit of {amps}",
    "trips": "the charger switches off: more than its limit is drawn, the bus is at {volts}",
    "contract": "the contract comes: {volts}, up to {amps}",
    "level": "the charger goes to {volts}, up to {amps}",
    "arrives": "the charger is at {volts}",
    "reset": "Hard Reset: the charger takes its voltage away",
    "browns out": "the bus is down to {volts}: the trigger restarts and forgets its contract",
    "joined": "{names} is plugged into the bus, which is at {volts}",
    "converter starts": "{names} {start} at {volts}",
    "converter stops": "{names} {stop}: {why}the voltage at the converter falls to {lowest}",
    "load on": "{names} {are} switched on",
    "load off": "{names} {are} switched off",
    "load starts": "{names} {run}",
    "load stops": "{names} {stop}: {they_get} only {lowest}",
}
"""What is said of each moment; of those that are not named here, their own word."""
_OF_ONE = {"start": "starts", "stop": "stops", "are": "is", "run": "runs", "they_get": "it gets"}
_OF_MANY = {verb: verb.replace("_", " ") for verb in _OF_ONE}


def _words(group: _Group, circuit: Circuit, limit_a: float) -> str:
    moment = group.first
    return _SAID.get(moment.what, moment.what).format(
        names=_listed(group.names),
        volts=_figure(moment.voltage_v, "V"),
        lowest=_figure(group.lowest_v, "V"),
        amps=_figure(moment.current_a, "A"),
        why=_why(group.names, circuit, limit_a) if moment.what == "converter stops" else "",
        **(_OF_MANY if len(group.names) > 1 else _OF_ONE),
    )


def _why(names: Sequence[str], circuit: Circuit, limit_a: float) -> str:
    """Where what has just started wants more than the charger gives, the two figures."""
    branches = [branch for branch in circuit.branches if branch.name in names and branch.converter is not None]
    wanted_a = sum(wanted_w(branch) / branch.converter.start_v for branch in branches if branch.converter is not None)
    if not branches or not limit_a or wanted_a <= limit_a:
        return ""
    start_v = min(branch.converter.start_v for branch in branches if branch.converter is not None)
    who = "they want" if len(branches) > 1 else "it wants"
    return f"{who} {_figure(wanted_a, 'A')} at {_figure(start_v, 'V')} and the charger holds {_figure(limit_a, 'A')}; "


def wanted_w(branch: Branch) -> float:
    """What a branch's converter takes at its input once its load runs [W].

    >>> from pdcheck.circuit.transient.given import Converter, Load
    >>> module = Converter(12.0, 0.9, 0.3, 4.5, 4.0, 3e-3)
    >>> round(wanted_w(Branch("x", 0.0, 0.0, 1e-5, 0.0, module, 0.0, Load("power", 27.0))), 6)
    30.3
    """
    converter, load = branch.converter, branch.load
    if converter is None:
        return 0.0
    output_v = converter.output_v
    match load.kind:
        case "power":
            output_w = load.value
        case "current":
            output_w = load.value * output_v
        case _:
            output_w = max(output_v - load.string_v, 0.0) / (load.value + branch.lead_ohm) * output_v
    return output_w / converter.efficiency + converter.idle_w


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _figure(value: float | None, unit: str) -> str:
    return "?" if value is None else format_quantity(value, unit, 3)


def early_stops(moments: Iterable[Moment]) -> frozenset[str]:
    """Branches whose converter stops while the source is plugged in and no contract stands.

    >>> early_stops([Moment(0.0, "source", "plugged in"), Moment(0.1, "amp", "converter stops")])
    frozenset({'amp'})
    """
    waiting, found = False, set()
    for moment in moments:
        if moment.what in ("plugged in", "browns out"):
            waiting = True
        elif moment.what in ("contract", "unplugged", "trips", "reset"):
            waiting = moment.what == "trips"
        elif moment.what == "converter stops" and waiting:
            found.add(moment.subject)
    return frozenset(found)
