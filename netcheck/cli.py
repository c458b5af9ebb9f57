"""The command line: finds the command, turns what goes wrong into a message and exit code."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

import click
from click.exceptions import NoArgsIsHelpError

from .errors import EngineError, InputError
from .terminal import CAUTION, NO_ANSWER, STOPPED, UNUSABLE, complain, steady_output

# Matrices here have ten rows: threads that share one only wait for each other. It has to be said
# before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_SELDOM = 100_000  # new objects after which Python looks for garbage in rings [count]

_COMMANDS = {
    "bench": "Ask for readings one at a time until the part is named.",
    "check": "Look for mistakes in a bias section, on paper and at its worst corner.",
    "circuits": "List the example circuits that come with the program.",
    "compare": "Hold readings against what the section should give.",
    "completion": "Print what makes a shell complete commands and names.",
    "demo": "Go through one whole job, on invented data.",
    "diagnose": "Name the part that explains the readings.",
    "draw": "Draw the bias section as a schematic with its voltages.",
    "export": "Write the ngspice deck that a prediction runs.",
    "failures": "Say what each part does to the valves when it fails, and what makes it safe.",
    "format": "Print a circuit file in its canonical form.",
    "idle": "Turn idle currents into dissipation, and say what is wanted.",
    "new": "Enter a bias section by answering questions.",
    "parts": "List the parts to order, each with the reason.",
    "predict": "Predict the grid voltage over the travel of the pot.",
    "remedy": "Find what to solder in so that the idle current can be set.",
    "report": "Write up the job on one screen, or as a page for customer and bench.",
    "rules": "List the rules of the check, or explain one.",
    "schema": "Print the JSON Schema of a command's --json output.",
    "sweep": "Turn a substitution box across a part, or in its place, on paper.",
    "valves": "List the output valve types that are known, or show one.",
}
"""Each lives in the module of its name in `netcheck.commands`, loaded when it is called."""


class _Commands(click.Group):
    """A group whose commands are imported when they are needed, for a quick start."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"netcheck.commands.{cmd_name}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            near = _nearest(args[0])
            raise click.UsageError(f"{error.message.rstrip('.')}{near}", ctx) from None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))


def _nearest(word: str) -> str:
    import difflib  # noqa: PLC0415 - only on the way to an error

    near = difflib.get_close_matches(word, _COMMANDS, n=1)
    return f'; did you mean "{near[0]}"?' if near else '; "netcheck --help" lists the commands'


def _show_version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if not wanted or ctx.resilient_parsing:
        return
    from . import __version__  # noqa: PLC0415
    from .engine.service import default_service  # noqa: PLC0415

    click.echo(f"netcheck {__version__}")
    try:
        click.echo(f"simulates with {default_service().version()}")
    except EngineError as error:
        click.echo(str(error))
    ctx.exit(0)


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=CAUTION,
    no_args_is_help=True,
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Show the version, and which ngspice was found.",
)
def _netcheck() -> None:
    """Check and predict the bias supply of a valve amplifier.

    Exit codes: 0 clean, 1 something was found, 2 the input or the command is at fault,
    3 the simulation could not answer.
    """


def run(arguments: Sequence[str] | None = None) -> int:
    """Carry out a command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        What follows the program's name; by default what it was called with.

    Returns
    -------
    int
        The exit code: 0 clean, 1 findings, 2 input or command at fault, 3 no answer from the
        simulation, 130 stopped by Ctrl-C.
    """
    steady_output()
    try:
        outcome = _netcheck.main(
            args=None if arguments is None else list(arguments),
            prog_name="netcheck",
            standalone_mode=False,
        )
    except EngineError as error:
        complain(f"no prediction: {error}")
        return NO_ANSWER
    except (click.Abort, KeyboardInterrupt):
        complain("stopped")
        return STOPPED
    except (click.ClickException, InputError) as error:
        complain(_explained(error))
        return UNUSABLE
    return outcome if isinstance(outcome, int) else 0


def _explained(error: BaseException) -> str:
    """What the user is told of an error in the input or the command."""
    if isinstance(error, InputError):
        return _input_explained(error)
    if isinstance(error, click.UsageError) and not isinstance(error, NoArgsIsHelpError):
        where = error.ctx.command_path if error.ctx else "netcheck"
        return f'{where}: {error.format_message()}\n  "{where} --help" shows how it is used'
    return error.format_message() if isinstance(error, click.ClickException) else str(error)


def _input_explained(error: InputError) -> str:
    from .report.findings import render, tally  # noqa: PLC0415 - only on the way to an error

    if not error.findings:
        return str(error)
    return f"{render(error.findings)}\n\n{tally(error.findings)}"


def main() -> NoReturn:
    """Run as a program."""
    # Modules are read by the hundred, and none of what they make is garbage: to look for some
    # over and over takes a tenth of a short command.
    gc.set_threshold(_SELDOM)
    sys.exit(run())
