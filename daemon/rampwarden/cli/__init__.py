"""The command line: one module a command, and here only how they hang together and how they fail.

A command's module is imported when it is called for, and none where they are only listed: whoever lists crucibles must
not wait for serial ports and brokers to be loaded, which takes longer than the answer.
"""

import io
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.cli.exit_status import FINE, UNUSABLE
from rampwarden.cli.menu import COMMANDS
from rampwarden.errors import RampwardenError
from rampwarden.terminal_text import error_lines

_HELP = "Watches a crucible's heat and says in time when it leaves its schedule. It only watches: it is no interlock."

__all__ = ["run"]


def _application(arguments: list[str]) -> typer.Typer:
    """Give the application, with the one command that is called, or with every name where a person looks for one."""
    app = typer.Typer(
        name="rampwarden",
        help=_HELP,
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_options)
    called = next((argument for argument in arguments if not argument.startswith("-")), "")
    if called in COMMANDS:
        command = COMMANDS[called].load()
        if isinstance(command, typer.Typer):
            app.add_typer(command, name=called)
        else:
            app.command(called, **COMMANDS[called].options)(command)
        return app
    for name, listed in COMMANDS.items():
        app.command(name, help=listed.line, **listed.options)(_stand_in)
    return app


def _stand_in() -> None:
    """Stand for a command in a list of names; what is called has been imported instead."""


def _print_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version  # noqa: PLC0415 (for nothing else)

        typer.echo(f"rampwarden {version('rampwarden')}")
        raise typer.Exit


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
        status = _application(arguments)(args=arguments, prog_name="rampwarden", standalone_mode=False)
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
    for line in error_lines(message):
        print(f"rampwarden: {line}", file=sys.stderr)
    return UNUSABLE
