"""The targets by name."""

from __future__ import annotations

from collections.abc import Callable

from tests.fuzz import commands, files, intakes, logs, trees

TARGETS: dict[str, Callable[[bytes], None]] = {
    "hex": intakes.hex_text,
    "log": logs.log,
    "message": intakes.message,
    "label": intakes.label,
    "typed": intakes.typed,
    "file": intakes.file,
    "vcd": intakes.vcd,
    "csv": intakes.csv,
    "sysfs": trees.sysfs,
    "marker": intakes.marker,
    "cable": intakes.cable,
    "converter": intakes.converter,
    "quantity": intakes.quantity,
    "request": intakes.request,
    "kit": files.kit,
    "rig": files.rig,
    "built": files.built,
    "worked": files.worked,
    "sheet": files.sheet,
    "keeping": files.keeping,
    "command": commands.command,
}
