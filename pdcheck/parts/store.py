"""Store: what a power bank holds, what of it comes out at a voltage, and the current below which it switches off."""

from __future__ import annotations

from pdcheck.facts.origin import Range
from pdcheck.facts.trade import BANK_EFFICIENCY, CELL_VOLTAGE, SLEEPS_BELOW
from pdcheck.named import NamedTuple
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple


def triple_of(span: Range) -> Triple:
    """A fact with both its ends as a triple.

    >>> triple_of(CELL_VOLTAGE)
    Triple(min=3.6, typ=3.7, max=3.85)
    """
    least, most = span.require_min(), span.require_max()
    return Triple(least, 0.5 * (least + most) if span.typ is None else span.typ, most)


class Store(NamedTuple):
    """A power bank's energy: what its cells hold, what comes out at a voltage [Wh], and what was assumed for it.

    ``cells_wh`` is None where only what comes out is known.
    """

    cells_wh: Triple | None
    output_wh: Triple
    assumed: tuple[str, ...]

    @property
    def inside(self) -> float | None:
        """The part of the cells' energy that comes out, with everything as stated; None where nothing says."""
        return None if self.cells_wh is None else self.output_wh.typ / self.cells_wh.typ


def cells_wh(source: Source) -> Triple | None:
    """What a source's cells hold [Wh]: as stated, else its charge at the voltage of its cells; None without either.

    Where both are stated the Wh count [common practice].

    >>> cells_wh(Source("5V 3A", capacity="20000mAh at 3.7V"))
    Triple(min=74.0, typ=74.0, max=74.0)
    """
    if source.energy_wh is not None:
        return Triple.exact(source.energy_wh)
    if source.capacity is None:
        return None
    charge, volts = source.capacity
    cell = triple_of(CELL_VOLTAGE) if volts is None else Triple.exact(volts)
    return Triple(*(charge * each for each in cell))


def store_at(source: Source, voltage_v: float) -> Store | None:
    """What comes out of a source at a voltage [V] of its output; None for one that states no energy.

    A rated output counts as it is at its own voltage, and less by what is not known of the converter inside at another.
    One that is more than the cells can give is not believed.

    >>> bank = Source("5V 3A, 9V 2A", energy="50Wh", efficiency="90%")
    >>> found = store_at(bank, 9.0)
    >>> found and found.output_wh, store_at(Source("5V 3A"), 5.0)
    (Triple(min=45.0, typ=45.0, max=45.0), None)
    """
    cells, rated = cells_wh(source), source.rated_output
    if cells is None and rated is None:
        return None
    assumed: list[str] = []
    known = source.efficiency is not None
    usual = triple_of(BANK_EFFICIENCY)
    part = usual if source.efficiency is None else Triple.exact(source.efficiency)
    found: Triple | None = None
    if rated is not None and rated.voltage_v is not None:
        at_rated = rated.charge_ah * rated.voltage_v
        off = Triple.exact(1.0)
        if not known and abs(rated.voltage_v - voltage_v) > 0.1 * rated.voltage_v:
            least = usual.min / usual.max
            off = Triple(least, 0.5 * (least + 1.0), 1.0)
            assumed.append(
                f"its rated capacity is at {rated.voltage_v:g} V: at {voltage_v:g} V it is taken to give "
                f"{least:.0%} to 100 % of that"
            )
        found = Triple(*(at_rated * each for each in off))
    if cells is not None:
        if source.energy_wh is None and source.capacity is not None and source.capacity.voltage_v is None:
            low, _, high = triple_of(CELL_VOLTAGE)
            assumed.append(f"its mAh are taken at {low:g} to {high:g} V, the voltage of its cells")
        out = Triple(*(whole * each for whole, each in zip(cells, part, strict=True)))
        if found is not None and found.max > out.max:
            found = None
            assumed = ["its rated capacity is more than its cells can give, and is not counted"]
        if not known and found is None:
            assumed.append(f"{usual.min:.0%} to {usual.max:.0%} of its cells' energy reaches its output")
        found = out if found is None else found
    if known and cells is None and rated is not None and rated.voltage_v is not None and source.efficiency:
        cells = Triple.exact(rated.charge_ah * rated.voltage_v / source.efficiency)
    assert found is not None, "one of the two is known"
    return Store(cells, found, tuple(assumed))


def is_bank(source: Source) -> bool:
    """Whether a source says what it holds: then it is a power bank."""
    return source.energy_wh is not None or source.capacity is not None or source.rated_output is not None


def sleeps_below(source: Source) -> Triple | None:
    """The current [A] below which a source switches itself off: as stated, else what is usual of power banks.

    None for a source that states neither this nor an energy: nothing says that it is a power bank.

    >>> sleeps_below(Source("5V 3A", sleeps_below="60mA")), sleeps_below(Source("5V 3A"))
    (Triple(min=0.06, typ=0.06, max=0.06), None)
    """
    if source.sleeps_below_a is not None:
        return Triple.exact(source.sleeps_below_a)
    return triple_of(SLEEPS_BELOW) if is_bank(source) else None
