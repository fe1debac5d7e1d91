"""A group of commands that names the nearest one for a mistyped one."""

from __future__ import annotations

import click

MEANT = {
    "buy": "need",
    "shop": "need",
    "shopping": "need",
    "verify": "check",
    "test": "check",
    "judge": "check",
    "validate": "check",
    "charger": "decode",
    "source": "decode",
    "label": "decode",
    "parse": "decode",
    "read": "decode",
    "emarker": "cable",
    "voltage": "pick",
    "choose": "pick",
    "select": "pick",
    "battery": "runtime",
    "hours": "runtime",
    "bank": "runtime",
    "watch": "report",
    "page": "report",
    "html": "report",
    "fuse": "fuse",
    "gauge": "wire",
    "awg": "wire",
    "resistor": "led",
    "init": "new",
    "create": "new",
    "diagram": "draw",
    "plot": "draw",
    "picture": "draw",
    "compare": "matrix",
    "measure": "bringup",
    "power-up": "bringup",
    "conversation": "talk",
    "inrush": "transient",
    "startup": "transient",
    "unplug": "change",
    "trigger": "settings",
    "cautions": "rules",
    "add": "kit",
    "example": "demo",
}
"""Words that people type for a command, and the command that answers them."""


class SuggestingGroup(click.Group):
    """A click group whose complaint about an unknown command says which was probably meant."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does, with the nearest commands named for a mistyped one."""
        known = self.list_commands(ctx)
        if args and args[0] not in known and not args[0].startswith("-") and not ctx.resilient_parsing:
            from difflib import get_close_matches

            near = get_close_matches(args[0], known, n=2, cutoff=0.5)
            hint = f"did you mean {' or '.join(near)}?" if near else f"commands: {', '.join(known)}"
            if args[0].lower() in MEANT and (meant := MEANT[args[0].lower()]) in known:
                hint = f"did you mean {meant}?"
            raise click.UsageError(f"no such command {args[0]!r}; {hint}", ctx)
        return super().resolve_command(ctx, args)
