"""What each setting comes to on each kind of source and cable, kept as text: contract, request, reason, what was seen.

Outcomes and words are held by other tests, against an encoder of plain shifts; here a reason or a current that moves is
seen. ``python -m tests.contract.told.test_settled`` writes the present text; read the difference before you keep it.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pdcheck.bits.offers import Offer
from pdcheck.contract.available import Available, available, listed
from pdcheck.contract.lowering import contracts_down, left_of, lowered, up_to_voltage
from pdcheck.contract.settle import Contract
from pdcheck.contract.trigger_settings import settings_on, usual_settings
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import parse_request, request_text
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

FILE = Path(__file__).parent / "settled.txt"
SOURCES = {
    "phone": Source(id="phone", offers="5V 3A, 9V 3A; PPS 3.3-11V 3A"),
    "desk": Source(id="desk", offers="5V 3A, 9V 3A, 15V 3A, 20V 5A; PPS 3.3-21V 5A; AVS 9-20V 3A/2.25A"),
    "old": Source(id="old", offers="5V 3A, 9V 2A, 12V 1.5A, 9V 1A", typec_current="3A"),
    "roaming": Source(id="roaming", offers="5V 2A, variable 8-10V 2A, battery 9-12V 60W"),
    "strong": Source(id="strong", offers="5V 3A, 9V 3A, 20V 5A, 28V 5A, 36V 4A; AVS 15-36V 140W", typec_current="1.5A"),
    "no 5 V": Source(id="odd", offers="9V 3A, 15V 2A"),
    "asleep": Source(id="asleep", offers=(0x2801912C, 0x0002D12C, 0, 0x0004B12C)),
    "shuffled": Source(id="shuffled", offers="5V 3A, 9V 3A, 15V 3A, 28V 5A", behaviour={"order": [1, 3, 2]}),
    "with a gap": Source(id="gap", offers=(0x0801912C, 0, 0x0004B12C)),
    "refuses EPR": Source(id="refuses", offers="5V 3A, 20V 5A, 28V 5A", behaviour={"epr_entry": "refused"}),
    "mute": Source(id="mute", offers="5V 3A, 20V 5A, 28V 5A", behaviour={"silent": "capabilities"}),
}
CABLES = ("C-C", "C-C 5A", "EPR", "A-C")
WISHES = (
    "none", "5V", "9V", "12V", "15V 1.23A", "20V 4A", "28V", "highest", "power", "prefer 36V 12V 9V", "prefer 48V 6V",
    "pps 9.03V 2.03A", "pps 20V 6A", "avs 18V", "avs 17.77V 3A", "avs 30V 4.9A",
)  # fmt: skip


def _offer(offer: Offer) -> str:
    volts = f"{offer.max_mv}" if offer.min_mv == offer.max_mv else f"{offer.min_mv}..{offer.max_mv}"
    amounts = [offer.current_ma, offer.current_15v_ma, offer.current_20v_ma, offer.power_mw, offer.pdp_w]
    return f"{offer.position}:{volts} {offer.kind} {'/'.join(str(each) for each in amounts if each is not None)}"


def _offers(offers: Iterable[Offer]) -> str:
    return ", ".join(_offer(offer) for offer in offers) or "none"


def _seen(seen: Available) -> str:
    flags = "".join(f", {name} {value!r}" for name, value in seen._asdict().items() if not isinstance(value, tuple))
    return f"{_offers(seen.offers)}; hidden {_offers(seen.hidden)}; cut {_offers(seen.bounded)}{flags}"


def _contract(found: Contract) -> str:
    words = " ".join(f"{word:08x}" for word in found.request_words) or "no request"
    low, high = found.ends
    text = f"{found.outcome} {found.kind} {found.voltage_v:g} V ({low:g}..{high:g}) {found.current_a:g} A"
    flags = [name for name in ("mismatch", "epr", "limits_current") if getattr(found, name) is True]
    return f"{' '.join([text, f'{found.power_w:g} W', f'object {found.position}', words, *flags])}: {found.reason}"


def _one(source: Source) -> Iterable[str]:
    for name in CABLES:
        cable = Cable(name)
        yield f"-- {name}"
        seen = available(source, cable)
        yield f"listed {_seen(listed(source, cable))}"
        if seen != listed(source, cable):
            yield f"to be had {_seen(seen)}"
        wishes = [parse_request(wish) for wish in (WISHES[:3] if name == "A-C" else WISHES)]
        for fallback in ("next-lower", "5V", "none") if name == "C-C 5A" else ("next-lower",):
            found = settings_on(source, cable, wishes, fallback)
            again, given = found.seen, found.settings
            assert again == seen
            for setting in given:
                if fallback == "next-lower" or setting.contract.outcome in ("fallback", "off"):
                    yield f"{request_text(setting.request)}, else {fallback}: {_contract(setting.contract)}"


def _lowered(source: Source) -> Iterable[str]:
    seen = available(source, Cable("EPR"))
    yield f"up to 9 V {_seen(up_to_voltage(seen, 9.0))}"
    for watts in (15.0, 15.001, 27.0, 60.4):
        yield f"{watts:g} W {_offers(left_of(seen.offers, watts))}"
    assert lowered(seen, Lowered(power_w=27.0)) == seen._replace(offers=left_of(seen.offers, 27.0))
    left = Lowered(offers=Source(id="left", offers="5V 3A, 9V 6A, 28V 5A; PPS 3.3-11V 3A").offers)
    yield f"a list of its own {_seen(lowered(seen, left))}"
    for wish, fallback in (("36V", "next-lower"), ("highest", "next-lower"), ("9V", "none"), ("pps 9V 2A", "5V")):
        down = contracts_down(Trigger(request=wish, fallback=fallback), seen)
        yield f"{wish}, else {fallback}, step by step:"
        yield from (f"    {_contract(contract)}" for contract in down)


def _settled() -> Iterable[str]:
    for name, source in SOURCES.items():
        yield f"== {name}"
        yield from _one(source)
        yield f"-- usual: {', '.join(request_text(each) for each in usual_settings(source))}"
        yield from _lowered(source)
        yield ""


def test_what_it_comes_to_is_what_it_came_to() -> None:
    assert "\n".join(_settled()) == FILE.read_text(encoding="utf-8"), "anew: python -m tests.contract.told.test_settled"


if __name__ == "__main__":
    FILE.write_text("\n".join(_settled()), encoding="utf-8")
