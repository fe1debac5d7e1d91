"""The first example in the help of a command: how tests call a command that they know nothing else of."""

from __future__ import annotations

import shlex

from pdcheck.cli import group


def example(command: str) -> list[str]:
    """What stands behind the command's name in the first example of its help, which follows a line of ``\\b``."""
    found = group.get_command(None, command)  # type: ignore[arg-type]
    told = (found.help if found is not None else None) or ""
    lines = told.partition("\b\n")[2].replace("\\\n", " ").splitlines()
    called = [line.split(maxsplit=2) for line in lines]
    calls = [rest for line in called if line[:2] == ["pdcheck", command] for rest in [" ".join(line[2:])]]
    assert calls, f"pdcheck/cli/{command}.py has no example in its help: \\b, then a line `pdcheck {command} ...`"
    return shlex.split(calls[0])
