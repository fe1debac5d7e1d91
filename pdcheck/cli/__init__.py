"""The command line: one file per command beside, loaded only when called."""

from __future__ import annotations

import gc
import os
import re
import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

import click

from pdcheck.cli.commands import COMMANDS, HelpedContext, SuggestingGroup
from pdcheck.cli.streams import READER_LEFT, Ended, Lost, heed_signals, leave, losing, open_streams, signalled
from pdcheck.errors import InputError
from pdcheck.intake.read_files import noting

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

COMPLETING = "_PDCHECK_COMPLETE"
"""Set by the shell while it asks for completions."""


class Commands(SuggestingGroup):
    """A group that imports a command's file when the command is called, and suggests the nearest name."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, from its own file."""
        if cmd_name not in COMMANDS:
            return None
        command = import_module(f"pdcheck.cli.{cmd_name}").command
        assert isinstance(command, click.Command)
        command.context_class = HelpedContext
        if COMPLETING in os.environ:
            from pdcheck.cli.completing import equip

            equip(command)
        return command

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        """As click does; what the system says against it is not click's to give a code to."""
        with losing():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        """As ``make_context``."""
        with losing():
            return super().invoke(ctx)

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """The commands' names while one is typed, without importing any; then the options of this level."""
        from click.shell_completion import CompletionItem

        named = [CompletionItem(name, help=told) for name, told in COMMANDS.items() if name.startswith(incomplete)]
        return named + click.Command.shell_complete(self, ctx, incomplete)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands and their helps, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def _version(ctx: click.Context, param: click.Parameter, asked: bool) -> None:
    """Say which version this is; one that was never installed, out of a checkout or an archive, knows none."""
    if asked and not ctx.resilient_parsing:
        from importlib.metadata import PackageNotFoundError, version

        try:
            told = version("pdcheck")
        except PackageNotFoundError:
            told = "of no version: it is not installed"
        click.echo(f"pdcheck {told}")
        ctx.exit()


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "show_default": True})
@click.option("--version", is_flag=True, expose_value=False, is_eager=True, callback=_version, help="Show the version.")
def group() -> None:
    """Tell what a USB-C charger really offers, which voltage to ask it for, and whether cable, trigger, wires and
    converter carry the load.

    Start with:  pdcheck demo
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; one line on standard error and exit code 2 for input that cannot be read."""
    try:
        code = _heeding(arguments)
        gc.freeze()
        leave(code)
    except SystemExit:
        raise
    except BaseException:
        # On the way out, or while something was loaded that makes an error of its own of it: nobody waits for words.
        if (came := signalled()) is None:
            raise
        code = came
    leave(code)


def _heeding(arguments: list[str] | None) -> int:
    """As ``run``, with streams that are all open, and the codes of the signals that end a program."""
    # What a run loads stays to its end: looking through it for what can go is a fifth of a check.
    gc.set_threshold(200_000, 20, 20)
    # No plug-in has a part in reading these files. What would look for them loads what reads mail and archives, and
    # heeds the variable that says so only then: an empty module in its place, which says that there are none.
    none_found: Any = ModuleType("pydantic.plugin._loader")
    none_found.get_plugins = tuple
    sys.modules.setdefault(none_found.__name__, none_found)
    # No command multiplies matrices worth a second thread: one that is waited for by spinning is half of what it
    # costs to load numpy.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        open_streams()
        heed_signals()
        return run(arguments)
    except KeyboardInterrupt:
        return _complain("stopped", 130)
    except Ended as ended:
        return 128 + ended.number


def run(arguments: list[str] | None = None) -> int:
    """As ``main``, but return the exit code: 0 works, 1 found wanting, 2 input not read or answer not written."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")
    if (given := sys.modules.get("pdcheck.asking.given")) is not None:
        given.kits_found.clear()
    try:
        _completion_has_words()
        with noting():
            outcome = group.main(args=arguments, prog_name="pdcheck", standalone_mode=False)
        with losing():
            sys.stdout.flush()
    except InputError as error:
        return _complain(error.told("--"))
    except click.UsageError as error:
        called = error.ctx.command_path if error.ctx else "pdcheck"
        return _complain(f"{error.format_message()} (see {called} --help)")
    except click.ClickException as error:
        return _complain(error.format_message())
    except (click.Abort, KeyboardInterrupt):
        return _complain("stopped", 130)
    except Lost as lost:
        # Nothing is wrong where the reader of a pipe has gone, as head does.
        return lost.code if lost.code == READER_LEFT else _complain(lost.told(), lost.code)
    except OSError as error:
        refused = Lost(error)
        return refused.code if refused.code == READER_LEFT else _complain(refused.told())
    except RecursionError:
        return _complain("the input is nested too deeply")
    except MemoryError:
        return _complain("the input is too large for this machine's memory")
    except (ImportError, SystemError) as error:
        # Code 1 would say that a build was judged. What a native library ends the program with itself never comes here.
        said = [line.strip() for line in str(error.__cause__ or error).splitlines() if line.strip()]
        what = said[0] if said else "no reason given"
        return _complain(f"a library that this needs could not be loaded: {what}; see 'ulimit -a', or install it again")
    if "pdcheck.asking.given" in sys.modules:
        from pdcheck.cli.answering import say_kits_found

        say_kits_found()
    return outcome if isinstance(outcome, int) else 0


def _completion_has_words() -> None:
    """A shell that asks for completions gives the line, and the place of the word that is typed, or fish the word."""
    asked = os.environ.get(COMPLETING, "")
    if asked and not re.fullmatch("(bash|fish|zsh)_(complete|source)", asked):
        raise InputError(f"{asked[:40]!r} is not what a shell sets", where=COMPLETING, expected="bash_source or none")
    for name in ("COMP_WORDS", "COMP_CWORD") if asked.endswith("_complete") else ():
        given = os.environ.get(name)
        if given is None or (name == "COMP_CWORD" and not asked.startswith("fish") and not given.isdecimal()):
            raise InputError("is not what a shell sets", where=name, expected=f"no {COMPLETING}, which asks for it")


def _complain(text: str, code: int = 2) -> int:
    from pdcheck.cli.answering import remark

    remark(f"pdcheck: {text}")
    return code
