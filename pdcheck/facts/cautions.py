"""The cautions for people who build from a result: short sentences, one text for command line, page and docs."""

from __future__ import annotations

from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.voltage import EPR_MAX, SAFE_5V, SPR_FIXED_MAX
from pdcheck.named import NamedTuple


class Caution(NamedTuple):
    """One caution, common practice: the heading under which it stands, and the sentence."""

    heading: str
    text: str


LAW = "Before anything else"
CABLE = "Cable and connector"
TRIGGER = "Trigger and bus"
BRANCH = "Wires and fuses"

_TEXTS: dict[str, tuple[str, ...]] = {
    LAW: (
        (
            "Local electrical codes and the law come first, and the instructions of each part's maker come before "
            "these figures."
        ),
        "Where the law or a code asks for a licensed person, that person does the work and has the last word.",
    ),
    CABLE: (
        (
            f"Trust the cable's marker and never bypass it; a cable without one carries {UNMARKED_CURRENT.value:g} A "
            "and no more."
        ),
        "A hot connector is a stop sign: unplug it and find out why before going on.",
    ),
    TRIGGER: (
        (
            "Set the trigger first, then check voltage and polarity with a meter at its output, and only then join the "
            "converter."
        ),
        (
            f"Most triggers have no output switch: the bus is at {SAFE_5V.typ:g} V before the contract and may rise to "
            f"{SPR_FIXED_MAX.value:g} V, in EPR to {EPR_MAX.value:g} V, at once."
        ),
        (
            "Another charger, another cable or a second device on the same charger can change the voltage on the bus: "
            "whatever hangs on it must survive every voltage that the trigger can end up with, and 0 V."
        ),
        (
            f"Low voltage is not low power: {SPR_FIXED_MAX.value:g} V at {CONTRACT_MAX.value:g} A is "
            f"{SPR_FIXED_MAX.value * CONTRACT_MAX.value:g} W, enough to burn a wire or a finger; switch off and unplug "
            "before changing the wiring."
        ),
    ),
    BRANCH: (
        "Fuse each branch for its wire, not for the source.",
        "A fuse must be rated for the DC voltage of the bus: one that is not may go on burning as an arc.",
    ),
    "Batteries and mains": (
        (
            "Lithium packs follow their maker's instructions for charging, protection and storage; never charge one "
            "from the bus without a charger that is made for it."
        ),
        "Parts on the mains side follow their maker's instructions and local codes; do not open a charger.",
    ),
    "What a result is worth": (
        (
            "These are calculations from the figures you gave, not measurements: measure at first power-up, at light "
            "load first, and stop where a reading is outside its limits."
        ),
    ),
}
CAUTIONS = tuple(Caution(heading, text) for heading, texts in _TEXTS.items() for text in texts)

_PACK_TEXTS = (
    (
        "A lithium pack that is charged wrongly burns, and water hardly puts it out. Use only a charger made for this "
        "chemistry and this number of cells, and a protection board that cuts off at too much voltage of any cell, too "
        "little, and too much current."
    ),
    (
        "Never leave it charging alone or while you sleep. Charge on something that does not burn, away from what does "
        "and from the way out, between 0 and 45 degrees C. Never charge swollen, dented, wet or hot cells."
    ),
    (
        "Read the charger's voltage with a meter first and join the pack last. Its leads are live for good and give "
        "hundreds of amperes into a short: fuse them at the pack."
    ),
    (
        "The cell maker's sheet comes before these figures, and so do local rules on storing, posting and flying with "
        "packs. Where you are not sure, buy a ready pack with its charger."
    ),
)
PACK_CAUTIONS = tuple(Caution("Charging a lithium pack", text) for text in _PACK_TEXTS)
"""What is said first wherever a rig charges a pack."""


def cautions_markdown() -> str:
    """The page ``docs/cautions.md``, from the same sentences.

    >>> cautions_markdown().splitlines()[0]
    '# Cautions'
    """
    lines = [
        "# Cautions",
        "",
        "These belong on anything that a person will build. They are common practice, no source, and not complete for",
        "every place and every part: where a local code, a maker's instruction or a licensed person says otherwise,",
        "follow that.",
    ]
    heading = ""
    for caution in (*CAUTIONS, *PACK_CAUTIONS):
        if caution.heading != heading:
            heading = caution.heading
            lines += ["", f"## {heading}", ""]
        lines.append(f"- {caution.text}")
    return "\n".join(lines) + "\n"
