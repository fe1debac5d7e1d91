"""What ``encode`` says: a line of hex for each message."""

from __future__ import annotations

from pdcheck.intake.encode import EncodeResult
from pdcheck.result import shows


@shows(EncodeResult)
def text(result: EncodeResult) -> str:
    return "\n".join(each.hex.hex(" ") for each in result.messages)
