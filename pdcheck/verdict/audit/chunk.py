"""Rules on messages in chunks in a captured conversation: each chunk asked for, in order, in time, of one size."""

from __future__ import annotations

from pdcheck.bits.header import CHUNK_BYTES
from pdcheck.bits.sequence import BROKEN_BLOCK
from pdcheck.contract.following.state import INTERRUPTING, OTHER, SINK, SOURCE, Log, Step
from pdcheck.facts.origin import Origin
from pdcheck.facts.timing import timer
from pdcheck.named import NamedTuple
from pdcheck.verdict.audit.rule import Tell, at_least_s, audit_rule, in_turn


class _Block(NamedTuple):
    """A message in chunks: its name, who sends it, its size [bytes], the last chunk that came, the one asked for."""

    name: str
    sender: str
    size: int
    last: Step
    number: int
    asked: Step | None = None

    @property
    def next_number(self) -> int:
        """The chunk that is due."""
        return self.number + 1

    def again(self, step: Step) -> _Block:
        """The same after a message was sent again."""
        if self.asked is not None and self.asked.message.raw == step.message.raw:
            return self._replace(asked=step)
        return self._replace(last=step) if self.last.message.raw == step.message.raw else self


def _inner(step: Step) -> dict[str, int]:
    return {key: int(value) for key, value in step.message.extended_fields().items() if not key.startswith("reserved")}


@audit_rule(
    Origin("PD R3.2 V1.1, Extended Message Header: chunks", "checked"),
    "The receiver drops the whole message: what it says is lost.",
    covers=("word", "answer-order", "answer-stray", "answer-late"),
)
async def chunk(log: Log, tell: Tell) -> None:
    """A message in chunks that is not put together.

    Each chunk and each request for one against what came before; one finding for each message in chunks.
    """
    blocks: dict[str, _Block | None] = {}
    begun = False
    broken: dict[str, str] = {}  # what was told of already: no more is made of its later chunks
    async for step in in_turn(log):
        sop = step.message.sop
        if step.restart or sop == "Hard_Reset" or step.name == "Soft_Reset":
            blocks.clear()
        if not step.read or step.name == "GoodCRC" or sop == "Hard_Reset":
            continue
        block = blocks.get(sop)
        if step.retry:  # from here on the other side's time runs
            blocks[sop] = block and block.again(step)
            continue
        inner = _inner(step)
        if not inner or not inner["chunked"]:
            begun = begun or sop == "SOP"
            if step.name not in INTERRUPTING:
                broken.pop(sop, None)
            if block is not None and step.name not in INTERRUPTING:
                blocks[sop] = None
                if log.steps[step.number - 1].before.blur <= block.last.number:
                    _tell_left(tell, block, step)
            continue
        if inner["request_chunk"]:
            known = block is not None or (begun and broken.get(sop) != step.message.type)
            wrong = _wrong_request(step, block, inner) if known else ""
            if wrong:
                broken[sop] = step.message.type
                blocks[sop] = None
                tell(step, step.sender, wrong)
            elif block is not None:
                text = "the next chunk was asked for {} or more after the one before"
                _tell_late(log, tell, block.last, step, "tChunkReceiverRequest", text)
                blocks[sop] = block._replace(asked=step)
            continue
        number, size = inner["chunk_number"], inner["data_size"]
        if not number:
            # Of a size that no message has there is no more to be waited for: the size is told of.
            whole = step.name != "chunk" or any(each.code == "data-size" for each in step.message.problems)
            blocks[sop] = None if whole else _Block(step.message.type, step.sender, size, step, 0)
            broken.pop(sop, None)
            continue
        wrong = _wrong_chunk(step, block, number)
        if wrong:
            blocks[sop] = None
            if begun and step.before.blur in (-1, step.number) and broken.get(sop) != step.message.type:
                tell(step, step.sender, wrong)
            broken[sop] = step.message.type
            continue
        assert block is not None
        if block.asked is not None:
            text = "the chunk came {} or more after it was asked for"
            _tell_late(log, tell, block.asked, step, "tChunkReceiverResponse", text)
        whole = step.name != "chunk" or (number + 1) * CHUNK_BYTES >= block.size
        blocks[sop] = None if whole else block._replace(last=step, number=number, asked=None)


def _wrong_request(step: Step, block: _Block | None, inner: dict[str, int]) -> str:
    number = inner["chunk_number"]
    if block is None:
        blurred = step.before.blur >= 0
        return "" if blurred else f"asks for chunk {number} of {step.message.type}, of which chunk 0 did not come"
    if step.message.type != block.name:
        return f"asks for a chunk of {step.message.type}, where {block.name} comes in chunks"
    if step.sender == block.sender:
        return f"asks for chunk {number} of its own {block.name}"
    if number != block.next_number:
        return f"asks for chunk {number} of {block.name}, where chunk {block.next_number} is next"
    if inner["data_size"]:
        return f"asks for chunk {number} of {block.name} with Data Size {inner['data_size']} in place of 0"
    return ""


def _wrong_chunk(step: Step, block: _Block | None, number: int) -> str:
    name = step.message.type
    odd = next((each.text for each in step.told.problems if each.code in BROKEN_BLOCK and "Data Size" in each.text), "")
    if odd:
        return f"{name}: {odd}"
    if block is None or block.name != name:
        return f"sends chunk {number} of {name}, of which chunk 0 did not come"
    if number != block.next_number:
        return f"sends chunk {number} of {name}, where chunk {block.next_number} was due"
    if block.asked is None:
        return f"sends chunk {number} of {name}, which was not asked for"
    return ""


def _tell_late(log: Log, tell: Tell, since: Step, step: Step, name: str, text: str) -> None:
    elapsed = at_least_s(log, since.time_s, since.message, step.time_s)
    tell.late(step, step.sender, f"{step.message.type}: {text} ({name})", elapsed, timer(name))


def _tell_left(tell: Tell, block: _Block, step: Step) -> None:
    """A message in chunks of which no more comes."""
    receiver, due = OTHER[block.sender], f"chunk {block.next_number} of {block.name}"
    if block.asked is not None:
        tell(block.asked, block.sender, f"{due} was asked for and did not come; then came {step.name}")
    elif receiver in step.before.heard:
        tell(block.last, receiver, f"did not ask for {due}; then came {step.name}")


@audit_rule(
    Origin("PD R3.2 V1.1, 6.2.1.2, Unchunked Extended Messages Supported", "memory"),
    "A receiver that knows only chunks loses the message: both have to say that they support it.",
    covers=("word",),
)
async def unchunked(log: Log, tell: Tell) -> None:
    """A long message in one piece without leave.

    Where one side has not said that it takes them so; told once for each side.
    """
    leave: dict[str, bool] = {}
    told: set[str] = set()
    async for step in in_turn(log):
        if step.restart or step.name == "Hard_Reset":
            leave, told = {}, set()
        if not step.read or step.message.sop != "SOP":
            continue
        if step.told.offers and step.sender == SOURCE:
            leave[SOURCE] = "unchunked_supported" in step.told.offers[0].flags
        asked = step.after.asked
        if asked is not None and asked.number == step.number:
            leave[SINK] = bool(asked.reading.fields.get("unchunked_supported"))
        if not step.message.extended or step.message.extended_fields()["chunked"] or step.sender in told:
            continue
        refusing = [side for side in (SOURCE, SINK) if leave.get(side) is False]
        if refusing:
            told.add(step.sender)
            sides = " and ".join(f"the {side}" for side in refusing)
            them = "it supports" if len(refusing) == 1 else "they support"
            text = f"sends {step.message.type} unchunked, though {sides} did not say that {them} this"
            tell(step, step.sender, text)
