"""A group of commands that names the nearest one for a mistyped one."""

from __future__ import annotations

import click


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
            raise click.UsageError(f"no such command {args[0]!r}; {hint}", ctx)
        return super().resolve_command(ctx, args)
