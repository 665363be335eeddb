"""The command line: one module a command, and here only how they hang together and how they fail."""

import io
import os
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.cli.check import check
from rampwarden.cli.commands import acknowledge, end_heat, mark, note, shelve, skip_segment, unshelve
from rampwarden.cli.convert import convert
from rampwarden.cli.crucible import crucible
from rampwarden.cli.exit_status import FINE, UNUSABLE
from rampwarden.cli.export import export
from rampwarden.cli.install_service import install_service
from rampwarden.cli.listen import listen
from rampwarden.cli.plan import plan
from rampwarden.cli.rehearse import rehearse
from rampwarden.cli.replay import replay
from rampwarden.cli.report import report
from rampwarden.cli.schedules import schedules
from rampwarden.cli.show_settings import show_settings
from rampwarden.cli.spot import spot
from rampwarden.cli.status import status
from rampwarden.cli.watch import watch
from rampwarden.errors import RampwardenError
from rampwarden.log_setup import printable

app = typer.Typer(
    name="rampwarden",
    help="Watches a crucible's heat and says in time when it leaves its schedule. It only watches: it is no interlock.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command()(check)
app.command()(plan)
app.command()(watch)
app.command()(rehearse)
for each in (status, acknowledge, shelve, unshelve, note, mark, skip_segment, end_heat):
    app.command(rich_help_panel="Ask and tell a running watch")(each)
app.command(rich_help_panel="Ask and tell a running watch")(spot)
app.command()(replay)
app.command()(report)
# A temperature below zero is an argument here, not an option.
app.command(context_settings={"ignore_unknown_options": True})(convert)
app.command()(export)
app.command()(listen)
app.command()(install_service)
app.command("settings")(show_settings)
app.add_typer(schedules, name="schedule")
app.add_typer(crucible, name="crucible")


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
    _mend_streams()
    sys.exit(_run(sys.argv[1:]))


def _mend_streams() -> None:
    """Give every standard stream somewhere to go, and a way to write what its encoding lacks.

    A stream may be closed by whoever starts us, and the next file to be opened, perhaps a record, would take its place.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115  (for good)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _run(arguments: list[str]) -> int:
    try:
        status = app(args=arguments, prog_name="rampwarden", standalone_mode=False)
        sys.stdout.flush()
    except typer.TyperException as error:
        sentence = _sentence(error)
        # Without a sentence it has been said already: a command without arguments shows its help.
        return _refuse(f"{sentence} (see rampwarden --help)") if sentence else UNUSABLE
    except RampwardenError as error:
        return _refuse(str(error))
    except (KeyboardInterrupt, typer.Abort):
        return 130
    except (BrokenPipeError, SystemExit):
        # Whoever read our output has seen enough; typer makes an exit of it, and of nothing else.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except OSError as error:
        _let_go_of_output()
        return _refuse(f"{error.filename or 'standard output'}: {error.strerror}")
    return status if isinstance(status, int) else FINE


def _let_go_of_output() -> None:
    """Drop what standard output does not take: Python would complain once more while closing it."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _sentence(error: Exception) -> str:
    format_message = getattr(error, "format_message", None)
    return str(format_message() if format_message else error)


def _refuse(message: str) -> int:
    for line in message.splitlines():
        print(f"rampwarden: {printable(line)}", file=sys.stderr)
    return UNUSABLE
