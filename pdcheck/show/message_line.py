"""MessageLine: a line of ``decode --jsonl``, for whoever checks one against its schema."""

from __future__ import annotations

from typing import ClassVar

from pdcheck.bits.message_record import MessageRecord
from pdcheck.result import Result, shows
from pdcheck.show.record_text import LINE


class MessageLine(Result, MessageRecord):
    """One message, as the document of ``decode`` has it among its messages."""

    SCHEMA: ClassVar[str] = LINE
    TITLE: ClassVar[str] = "A line of decode --jsonl: one message"
    SHOWN: ClassVar[str] = "message_line"


@shows(MessageLine)
def text(line: MessageLine) -> str:
    """The line itself."""
    return line.to_json(indent=None)
