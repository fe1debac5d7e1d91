"""Rules on the header of each message in a captured conversation: power role, cable plug, data role, revision."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from pdcheck.bits.header import CAPABILITIES, REVISION
from pdcheck.bits.line import RESETS
from pdcheck.contract.following.sender import ONLY_FROM, stated_sender
from pdcheck.contract.following.state import OTHER, PLUG, PORT, POWER_SWAPS, SINK, Log, Step
from pdcheck.facts.origin import Origin
from pdcheck.verdict.audit.rule import Tell, audit_rule, in_turn

_ROLES = Origin("PD R3.2 V1.1, Message Header: roles", "memory")
_USUAL = 0.5
"""Data roles in GoodCRC are judged where at least this share of a side's are right: some ports never set them."""
_ORDER = {name: code for code, name in REVISION.items()}


def _is_swapping(log: Log, step: Step) -> bool:
    """Whether a swap of the power role is under way, amid which the bit may say either."""
    before = step.before
    if before.swap is not None and before.swap.name in POWER_SWAPS:
        return True
    return step.name == "GoodCRC" and _ended_swap(log, step.number - 1)


def _ended_swap(log: Log, number: int) -> bool:
    if number < 0:
        return False
    swap = log.steps[number].before.swap
    return log.steps[number].name == "PS_RDY" and swap is not None and swap.name in POWER_SWAPS


def _has_swapped(log: Log, number: int) -> bool:
    """Whether a message is the second PS_RDY of a swap of the power role, which ends it."""
    return _ended_swap(log, number) and log.steps[number].after.swap is None


def _who(sender: str) -> str:
    return {PLUG: "the cable plug", PORT: "a port"}.get(sender, f"the {sender}")


@audit_rule(_ROLES, "The sender's role bit is wrong: the other side may drop the message, or reset.", covers=("*",))
async def role(log: Log, tell: Tell) -> None:
    """A message that says it comes from the other side.

    The power role, or on SOP' the cable plug bit, against who has sent the message by all else.
    """
    turned = _turned(log)
    async for step in in_turn(log):
        if not step.read or step.retry or step.message.sop in RESETS or _is_swapping(log, step):
            continue
        said = stated_sender(step.message)
        field = "Port Power Role" if step.message.sop == "SOP" else "Cable Plug"
        if turned is not None and step.number >= turned and step.message.sop == "SOP":
            if step.number == turned:
                text = f"from here on both sides say the other role ({field}), and there was no PR_Swap"
                tell(step, step.sender, text)
            continue
        if said == step.sender:
            only = ONLY_FROM.get(step.name)
            if step.message.sop == "SOP" and only not in (None, said) and not step.name.startswith("EPR_Mode"):
                tell(step, step.sender, f"sends {step.name}, which only the {only} may send")
            if step.name in CAPABILITIES and said == SINK and step.answered is None and _is_known(step):
                tell(step, SINK, f"sends {step.name}, which a sink sends only where it is asked for them")
            continue
        if step.name != "GoodCRC":
            text = f"{step.name} of {_who(step.sender)} says that it comes from {_who(said)} ({field})"
            tell(step, step.sender, text)
        elif step.before.due is not None and step.before.due.sop == step.message.sop:
            asked = log.steps[step.before.due.number]
            text = f"the GoodCRC for {asked.name} says that it comes from {_who(said)}, who sent that message ({field})"
            tell(step, step.sender, text)


def _is_known(step: Step) -> bool:
    """Whether the message before this one is in the log and could be read."""
    last = step.before.last
    return last is not None and step.before.blur < last[0] and step.before.block is None


def _turned(log: Log) -> int | None:
    """The message from which on both ports say the other power role, to the end of the log; ``None`` for none."""
    turned: int | None = None
    sides: set[str] = set()
    for step in reversed(log.steps):
        if step.message.sop != "SOP" or not step.read:
            continue
        if stated_sender(step.message) == step.sender or _is_swapping(log, step):
            break
        turned = step.number
        sides.add(step.sender)
    return turned if len(sides) == 2 else None


@audit_rule(
    _ROLES, "Both sides taking themselves for the same end leads to Error Recovery: VBUS goes off and comes again."
)
async def data_role(log: Log, tell: Tell) -> None:
    """A data role that is not the port's.

    DFP on one side and UFP on the other, changed by DR_Swap alone; told once for each attach.
    """
    roles: dict[str, str] = {}
    told = False
    part = counted = 0
    # Of each side since the last change of roles: its GoodCRCs, right and wrong, and the first wrong one; before that
    # those to tell of.
    heard: Counter[tuple[str, bool]] = Counter()
    first: dict[str, tuple[Step, str]] = {}
    odd: list[tuple[Step, str]] = []
    async for step in in_turn(log):
        if step.restart or step.name == "Hard_Reset":
            roles, told, part = {}, False, step.number
        if step.message.sop != "SOP" or not step.read:
            continue
        said = step.message.data_role or ""
        if step.name == "GoodCRC":
            if step.sender in roles and not _just_swapped(log, step):
                if part != counted:
                    odd += _odd(heard, first)
                    heard, first, counted = Counter(), {}, part
                heard[step.sender, said == roles[step.sender]] += 1
                if said != roles[step.sender]:
                    first.setdefault(step.sender, (step, roles[step.sender]))
            continue
        if step.retry:
            continue  # it says what it said before
        wrong = ""
        if roles.get(step.sender, said) != said:
            wrong = f"{step.name} says {said}, the {step.sender} was {roles[step.sender]} and there was no DR_Swap"
        elif roles.get(OTHER.get(step.sender, "")) == said:
            wrong = f"{step.name} says {said}, which the {OTHER[step.sender]} is already"
        if wrong and not told:
            told = True
            tell(step, step.sender, wrong)
        if not wrong:
            roles[step.sender] = said
        if step.answered is not None and step.name == "Accept" and step.answered.name == "DR_Swap":
            flip = {"DFP": "UFP", "UFP": "DFP"}
            roles, part = {side: flip.get(role, role) for side, role in roles.items()}, step.number
        if step.name == "Accept" and step.answered is None:
            roles, part = {}, step.number  # of what is not in the log: of a DR_Swap, maybe
        if _has_swapped(log, step.number):
            roles, part = {OTHER[side]: role for side, role in roles.items()}, step.number
    if not told:
        for step, due in (*odd, *_odd(heard, first)):
            text = f"a GoodCRC says {step.message.data_role}, the {step.sender} is {due}"
            tell(step, step.sender, text, level="warn")


def _just_swapped(log: Log, step: Step) -> bool:
    """Whether this acknowledges the message with which the data roles change."""
    due = step.before.due
    if due is None or due.number < 0:
        return True
    asked = log.steps[due.number]
    return asked.name == "Accept" or _ended_swap(log, due.number)


def _odd(heard: Counter[tuple[str, bool]], first: dict[str, tuple[Step, str]]) -> Iterator[tuple[Step, str]]:
    """The first wrong GoodCRC of each side that sets the role as it should by most of them."""
    for side, wrong in first.items():
        if heard[side, True] >= _USUAL * (heard[side, True] + heard[side, False]):
            yield wrong


@audit_rule(
    Origin("PD R3.2 V1.1, Message Header: Specification Revision", "memory"),
    "Both are to speak the lower revision of the two; otherwise messages are read by the wrong tables.",
    covers=("word", "answer-order", "answer-stray", "epr-order"),
)
async def revision(log: Log, tell: Tell) -> None:
    """A Specification Revision that the two did not agree on.

    The lower of what both sides began with, from then on; told once for each attach.
    """
    spoken: dict[str, _Revisions] = {}
    async for step in in_turn(log):
        swapped = _has_swapped(log, step.number)
        if step.restart or step.name == "Hard_Reset" or swapped:
            spoken = {}
        # After a swap its sender is the other side. A GoodCRC's revision carries no meaning.
        if swapped or not step.read or step.retry or step.name == "GoodCRC" or step.message.sop in RESETS:
            continue
        sop, said = step.message.sop, step.message.revision
        on = spoken.setdefault(sop, _Revisions())
        # A reserved one is told of by itself.
        if said in _ORDER and not on.told:
            wrong = on.of_ports(step, said) if sop == "SOP" else on.of_cable(step, said)
            if wrong:
                on.told = True
                tell(step, step.sender, wrong)


class _Revisions:
    """The revisions spoken on one ordered set: what each side began with, and what is agreed; whether it was told."""

    def __init__(self) -> None:
        self.told = False
        self._first: dict[str, str] = {}
        self._agreed: str | None = None

    def of_cable(self, step: Step, said: str) -> str:
        """What is wrong with a revision on SOP' or SOP''; empty where nothing is."""
        first, sender, wrong = self._first, step.sender, ""
        # What a port says to a cable may come down with the other port's; a plug never goes above the question.
        if sender == PLUG and _ORDER[said] > _ORDER[first.get(PORT, said)]:
            wrong = f"{step.name} is of Revision {said}, the question was of Revision {first[PORT]}"
        first[sender] = said
        return wrong

    def of_ports(self, step: Step, said: str) -> str:
        """What is wrong with a revision between the two ports; empty where nothing is."""
        first, sender, other, wrong = self._first, step.sender, OTHER[step.sender], ""
        if self._agreed is not None:
            if said == self._agreed:
                return ""
            if first[sender] != self._agreed and said == first[sender]:
                return (
                    f"{step.name} is still of Revision {said}, though the {other} answered at Revision {self._agreed}"
                )
            return f"{step.name} is of Revision {said}, agreed was {self._agreed}"
        both = {**first, sender: first.get(sender, said)}
        if sender in first and said != first[sender] and other not in first:
            wrong = f"{step.name} is of Revision {said}, before it was {first[sender]}"
        elif other in both and sender not in first and _ORDER[said] > _ORDER[both[other]]:
            wrong = f"{step.name} is of Revision {said}, though the {other} speaks Revision {both[other]}"
        self._first = both
        if len(both) == 2:
            self._agreed = min(both.values(), key=_ORDER.__getitem__)
        return wrong
