"""The command line: one module a command, and here only how they hang together and how they fail."""

import os
import sys
from importlib.metadata import version
from typing import Annotated

import typer

from rampwarden.cli.convert import convert
from rampwarden.cli.exit_status import FINE, UNUSABLE
from rampwarden.cli.export import export
from rampwarden.cli.rehearse import rehearse
from rampwarden.cli.replay import replay
from rampwarden.cli.schedules import schedules
from rampwarden.cli.show_settings import show_settings
from rampwarden.cli.watch import watch
from rampwarden.errors import RampwardenError

app = typer.Typer(
    name="rampwarden",
    help="Watches a crucible's heat and says in time when it leaves its schedule. It only watches: it is no interlock.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command()(watch)
app.command()(rehearse)
app.command()(replay)
# A temperature below zero is an argument here, not an option.
app.command(context_settings={"ignore_unknown_options": True})(convert)
app.command()(export)
app.command("settings")(show_settings)
app.add_typer(schedules, name="schedule")


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"rampwarden {version('rampwarden')}")
        raise typer.Exit


@app.callback()
def _options(
    version_wanted: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


def run() -> None:
    """Run the command line: every mistake a person can make ends in one line and an exit status, never a traceback."""
    sys.exit(_run(sys.argv[1:]))


def _run(arguments: list[str]) -> int:
    try:
        status = app(args=arguments, prog_name="rampwarden", standalone_mode=False)
        sys.stdout.flush()
    except typer.TyperException as error:
        return _refuse(f"{_sentence(error)} (see rampwarden --help)")
    except RampwardenError as error:
        return _refuse(str(error))
    except (KeyboardInterrupt, typer.Abort):
        return 130
    except BrokenPipeError:
        # Whoever read our output has seen enough. Python would complain once more while closing standard output.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    return status if isinstance(status, int) else FINE


def _sentence(error: Exception) -> str:
    format_message = getattr(error, "format_message", None)
    return str(format_message() if format_message else error)


def _refuse(message: str) -> int:
    for line in message.splitlines():
        print(f"rampwarden: {line}", file=sys.stderr)
    return UNUSABLE
