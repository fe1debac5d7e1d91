"""Rules on what a log says of the bus between the messages: VBUS against the contract that stands."""

from __future__ import annotations

from pdcheck.contract.following.state import SOURCE, Agreed, Log
from pdcheck.facts.cable import LOOP_DROP
from pdcheck.facts.capabilities import UNREGULATED
from pdcheck.facts.voltage import CONNECTOR, PROGRAMMED_TOLERANCE, fixed_band
from pdcheck.verdict.audit.rule import Tell, audit_rule
from pdcheck.verdict.audit.words import agreed_text


@audit_rule(CONNECTOR, "Measure it with a second meter at the charger's end of the cable.")
async def bus_voltage(log: Log, tell: Tell) -> None:
    """VBUS outside of what the contract allows (vSrcNew).

    Readings while a contract stands and nothing is being changed; the first of each contract, above and below.

    Below, the greatest drop of a cable is allowed on top, since few loggers sit at the charger. In PPS there is no
    lower bound: at its current limit the source lets the voltage fall.
    """
    told: set[tuple[int, bool]] = set()
    for reading in log.readings:
        if not 0 <= reading.after < len(log.steps):
            continue
        step = log.steps[reading.after]
        if reading.time_s is not None and step.time_s is not None and reading.time_s < step.time_s:
            continue
        state = step.after
        contract = state.contract
        if contract is None or state.accepted is not None or state.swap is not None or state.blur > contract.number:
            continue
        window = _window(contract)
        if window is None:
            continue
        least, greatest = window
        high = reading.voltage_v > greatest
        if (not high and reading.voltage_v >= least) or (contract.number, high) in told:
            continue
        told.add((contract.number, high))
        limit = greatest if high else least
        when = "" if reading.time_s is None else f" at {reading.time_s:.6g} s"
        allowed = f"{greatest:.4g} V at most" if high else f"{least:.4g} V at least, even behind a cable"
        text = f"VBUS is {reading.voltage_v:.4g} V{when}; the contract is {agreed_text(contract.asked)}: {allowed}"
        tell(step, SOURCE, text, reading.voltage_v, limit, "V")


def _window(contract: Agreed) -> tuple[float, float] | None:
    """Least and greatest VBUS [V] where a reading may be taken, ``None`` where the offer is not known."""
    offer, millivolts = contract.asked.offer, contract.asked.voltage_mv
    if offer is None or millivolts is None:
        return None
    if offer.kind == "fixed":
        least, greatest = fixed_band(millivolts / 1000)
        return least - LOOP_DROP.value, greatest
    share = PROGRAMMED_TOLERANCE.value
    if offer.kind in UNREGULATED:
        return offer.min_mv / 1000 * (1 - share) - LOOP_DROP.value, offer.max_mv / 1000 * (1 + share)
    least = 0.0 if offer.kind == "pps" else millivolts / 1000 * (1 - share) - LOOP_DROP.value
    return least, millivolts / 1000 * (1 + share)
