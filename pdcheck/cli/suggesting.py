"""A group of commands that names the nearest one for a mistyped one."""

from __future__ import annotations

import click

from pdcheck.cli.helping import HelpedContext

_FOR = {
    "need": "buy shop shopping purchase order least cheapest recommend",
    "check": "verify test judge validate run works compatible evaluate try heat temperature thermal hot warm watch",
    "decode": "charger chargers source label parse read capture hex pdo offers scan usb sniff log identify",
    "cable": "emarker e-marker cables cord lead",
    "encode": "build generate",
    "pick": "voltage volts choose select best offer which converter",
    "runtime": "battery hours bank powerbank power-bank duration energy lasts last",
    "report": "page html pdf export print web",
    "fuse": "fuses breaker protect",
    "wire": "gauge awg wires thickness",
    "led": "leds resistor strip lamp light",
    "drop": "loss resistance ohm voltage-drop loop",
    "new": "init create make start wizard setup begin add-rig",
    "draw": "diagram plot picture schematic svg show graph image",
    "matrix": "compare table all combinations grid",
    "bringup": "measure power-up powerup meter bench readings multimeter",
    "talk": "conversation negotiate negotiation protocol simulate",
    "transient": "inrush startup start-up surge first-second time",
    "change": "unplug event fallback drops derate",
    "settings": "trigger setting set switch",
    "rules": "cautions rule safety sources origins limits",
    "kit": "add remove list own inventory delete edit",
    "demo": "example examples sample tutorial tour intro",
    "envelope": "power watts deliver current amps maximum max output",
    "share": "ports two split both multi",
    "audit": "analyse analyze trace debug follow",
    "schema": "json format api",
}
MEANT = {word: command for command, words in _FOR.items() for word in words.split()}
"""Words that people type for a command, and the command that answers them."""


class SuggestingGroup(click.Group):
    """A click group whose complaint about an unknown command says which was probably meant, with helps that fit."""

    context_class = HelpedContext

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        """As click does; the command's help fits too."""
        cmd.context_class = HelpedContext
        super().add_command(cmd, name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does, with the nearest commands named for a mistyped one."""
        known = self.list_commands(ctx)
        if args and args[0] not in known and not args[0].startswith("-") and not ctx.resilient_parsing:
            from difflib import get_close_matches

            typed = args[0].lower()
            near = get_close_matches(typed, known, n=2, cutoff=0.6)
            also = get_close_matches(typed, [word for word in MEANT if MEANT[word] in known], n=1, cutoff=0.8)
            if not near or typed in MEANT:
                near = [MEANT[word] for word in also] or near
            if typed in ("help", "man", "?", "usage"):
                near = ["--help"]
            hint = f"did you mean {' or '.join(near)}?" if near else f"commands: {', '.join(known)}"
            raise click.UsageError(f"no such command {args[0]!r}; {hint}", ctx)
        return super().resolve_command(ctx, args)
