"""The form ``hex``: a log, read as plain lines where its first rows are plain, else by its content."""

from __future__ import annotations

from pdcheck.intake.hexline import LONG_LINE
from pdcheck.intake.hexlog import HexLog, mostly_proved, plain_crc
from pdcheck.intake.opened import Opened
from pdcheck.intake.stream import How

# A shorter text is read sooner than the pattern of a row is compiled [bytes].
_QUICK_FROM = 1 << 11
ROWS = 400


def read(opened: Opened, how: How) -> HexLog:
    """The form ``hex``; what is typed has no torn lines, only mistakes."""
    if opened.name or b"\n" in opened.head:
        dressed = _dressed(opened, how)
        if dressed is not None:
            return dressed
    quick, torn = len(opened.head) > _QUICK_FROM or not how.gathered, how.torn and bool(opened.name)
    log = HexLog(opened.read, quick=quick, torn=torn, measured=how.measured)
    log.size = opened.size
    if torn:
        told = [plain_crc(row) for row in opened.head.decode("utf-8", "replace").splitlines()[:ROWS]]
        log.expects_crc = mostly_proved(told.count(True), told.count(False))
    return log


def _dressed(opened: Opened, how: How) -> HexLog | None:
    """The log by its content, where its first rows are not plain ones."""
    first = [row for row in opened.head[: 4 * LONG_LINE].decode("utf-8", "replace").splitlines() if row.strip()][:3]
    if None not in map(plain_crc, first):
        return None
    from pdcheck.intake.content_log import content_log

    return content_log(opened, how)
